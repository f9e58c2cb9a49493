"""How good the search is for its time: objective against the plain list, gap to the proved bound. Run with -s to read."""

from typing import Any

import pytest

from planner.core.plans import Plan
from planner.core.schedule import make_plan
from tests.bench.campaigns import NOW, Campaign, make_campaign


def plan_of(campaign: Campaign, seconds: float) -> Plan:
    return make_plan(
        campaign.orders,
        campaign.windows,
        campaign.crews,
        campaign.phases,
        campaign.brief,
        campaign.places,
        parts=campaign.parts,
        spares=(),
        now=NOW,
        seconds=seconds,
        seed=1,
        workers=1,
    )


@pytest.mark.parametrize(("count", "seconds", "share_of_list"), [(50, 8.0, 0.5), (200, 12.0, 0.5)])
def test_search_against_the_list(benchmark: Any, count: int, seconds: float, share_of_list: float) -> None:
    plan = benchmark.pedantic(plan_of, (make_campaign(1, count), seconds), rounds=1, iterations=1)
    listed_gap = (plan.list_objective - plan.bound) / plan.list_objective
    ratio = plan.objective / plan.list_objective
    benchmark.extra_info.update(gap=plan.gap, list_gap=listed_gap, ratio=ratio)
    print(f"\n{count} orders: {ratio:.2f} of the list, gap {plan.gap:.1%}, the list's gap {listed_gap:.1%}")  # noqa: T201
    assert ratio <= share_of_list


def test_the_list_beyond_200_orders_has_a_real_bound(benchmark: Any) -> None:
    plan = benchmark.pedantic(plan_of, (make_campaign(2, 400), 10.0), rounds=1, iterations=1)
    print(f"\n400 orders: {plan.method}, gap {plan.gap:.1%}")  # noqa: T201
    assert plan.method == "list"
    assert 0 < plan.bound <= plan.objective
