"""The spare floor as a rule of the planner: what orders take, what they free less what is scrapped, and failures to expect."""

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest

from inventory.core.catalogue import Spare
from inventory.core.spares import NEVER, monthly_failures
from inventory.core.weibull import Weibull
from planner.core.brief import Brief
from planner.core.plans import Plan, Wear
from planner.core.pools import losses
from tests.unit.planner.nights import NOW, Job, broken, crew, order, put, window

GIVER = replace(order("a"), freed=(("old", 1),))
TAKER = replace(order("b"), freed=(("old", -1),))
SPANS = tuple(window(key, night, crew=by) for key in "ab" for night in (0, 1) for by in ("Red", "Blue"))
JOB = Job(
    orders=(GIVER, TAKER),
    spans=SPANS,
    crews=(crew(), crew("Blue")),
    spares=(Spare(model="old", on_hand=2),),
    brief=Brief(spare_floor=1, scrapped_pct=0),
)


def wear(units: int) -> Wear:
    """Return so many units that each fail once in two years, whatever their age."""
    return Wear(
        model="old", shape=1.0, scale_years=2.0, as_of=NOW.date(), ages=tuple((f"s{n}", 5.0) for n in range(units))
    )


def placed(plan: Plan) -> list[str]:
    assert all(line.holds for line in plan.check)
    return [each.order for each in plan.placed]


def test_a_spare_that_failures_will_need_is_not_taken() -> None:
    alone = JOB.but(orders=(TAKER,), spans=tuple(span for span in SPANS if span.order == "b"))
    assert placed(alone.plan()) == ["b"], "two are there, one may go"
    assert placed(alone.but(wear=(wear(10),)).plan()) == []


def test_it_is_taken_once_earlier_work_has_freed_another() -> None:
    plan = JOB.but(wear=(wear(10),)).plan()
    assert placed(plan) == ["a", "b"]
    giver, taker = plan.placed
    assert giver.end <= taker.start


def test_what_is_scrapped_is_not_counted_on() -> None:
    scarce = JOB.but(spares=(Spare(model="old", on_hand=1),))
    assert placed(scarce.plan()) == ["a", "b"]
    assert placed(scarce.but(brief=Brief(spare_floor=1, scrapped_pct=50)).plan()) == ["a"]


def test_where_failures_alone_empty_the_shelf_no_order_takes_from_it_and_a_plan_is_made() -> None:
    assert placed(JOB.but(orders=(TAKER, GIVER), wear=(wear(500),), brief=Brief(spare_floor=1)).plan()) == ["a"]


def test_the_check_counts_failures_only_of_what_still_hangs_there() -> None:
    # 40 units fail 20 times in a year, so 0.44 times from 1 to 9 March; those that the giver takes down first fail less.
    some = wear(40)
    named = replace(GIVER, stations=tuple(name for name, _ in some.ages), freed=(("old", 0),))
    job = JOB.but(orders=(named, TAKER), wear=(some,), spares=(Spare(model="old", on_hand=10),))
    floor = Brief(spare_floor=9, scrapped_pct=0)
    night = (put(named, 0, 20), put(TAKER, 1, 20, by="Blue"))
    (line,) = (line for line in job.but(brief=floor).audit(night) if line.number == 8)
    assert line.breach is not None
    until_down, until_end = (NOW.date(), put(named, 0, 20).end), put(TAKER, 1, 20).end
    days = (until_down[1] - NOW).total_seconds() / 86400 + 0.5  # ages are counted to the midnight before NOW
    assert f"{40 * days / 365.2425 / 2:.2f} failures" in line.breach
    assert until_end > until_down[1]


@pytest.mark.parametrize("shape", [0.8, 1.0, 3.4])
def test_what_the_planner_expects_is_what_the_page_shows(shape: float) -> None:
    ages = (3.0, 11.5, 24.0)
    some = Wear(
        model="old", shape=shape, scale_years=20.0, as_of=date(2027, 1, 1), ages=tuple(zip("abc", ages, strict=True))
    )
    stay = np.full(3, NEVER, dtype=np.int32)
    shown = np.cumsum(monthly_failures(Weibull(shape=shape, scale_years=20.0), ages, stay, 24))
    ends = [(day - some.as_of).days + 30 for day, _ in losses(some, some.as_of + timedelta(days=690))]
    at_ends = np.interp(ends, np.arange(1, 25) * 365.2425 / 12, shown)
    assert [count for _, count in losses(some, some.as_of + timedelta(days=690))] == pytest.approx(at_ends, rel=0.02)


def test_nothing_is_broken_where_no_order_takes_a_spare() -> None:
    only = JOB.but(orders=(GIVER,), wear=(wear(500),))
    assert broken(only.audit((put(GIVER, 0, 20),))) == []
