"""The page Spares, the planner's rule and the independent check go by the same figures: shelf, floor, failures, scrap."""

import re
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta

import numpy as np
import pytest

from inventory.core.ageing import DAYS_PER_YEAR
from inventory.core.campus_risk import CampusRisk, assess_risk
from inventory.core.catalogue import Spare
from inventory.core.lives import FailureLog, Outcome
from inventory.core.snapshot import Snapshot
from inventory.core.spares import MONTHS_PER_YEAR, Pool, PoolCourse, run_pools
from planner.core.audit import audit
from planner.core.brief import Brief
from planner.core.demands import Demands, demands_for
from planner.core.plans import Places, Wear
from planner.core.pools import pools_along, wear_of
from planner.core.schedule.network import UNITS_SCALE, build_network
from planner.core.schedule.objective import prices
from tests.unit.planner import nights
from tests.unit.planner.test_pools import START, campus
from tests.unit.planner.test_pools import order as order_of

ON_HAND, FLOOR, SCRAPPED_PCT, MONTHS = 12, 2, 25, 24
SHELF = (Spare(model="WS-20", on_hand=ON_HAND),)
BRIEF = Brief(spare_floor=FLOOR, scrapped_pct=SCRAPPED_PCT)
TAKER, GIVER = order_of("T", freed=-1), order_of("G", "S00", "S01", "S02", "S03")
PHASE = replace(nights.PHASE, start=START, end=START + timedelta(days=600), materials_ordered_on=START)
NOW = datetime.combine(START, time(), UTC)


def risk_of(snapshot: Snapshot) -> CampusRisk:
    """Return what a log says in which repairs, which take no spare, come before and between replacements."""
    rows = [
        (at, f"{2012 + at % 9}-03-0{1 + at % 3}", Outcome.REPAIRED if at % 3 else Outcome.REPLACED) for at in range(20)
    ]
    node, day, outcome = zip(*rows, strict=True)
    log = FailureLog(
        node=np.array(node, dtype=np.int32),
        day=np.array(day, dtype="datetime64[D]"),
        outcome=np.array(outcome, dtype=np.int8),
        starts=date(2010, 1, 1),
    )
    return assess_risk(snapshot, log)


def page() -> tuple[Pool, PoolCourse]:
    """Return the pool as the page reckons it, with nothing taken down."""
    snapshot = campus()
    snapshot = replace(snapshot, taken_on=START, catalogue=replace(snapshot.catalogue, spares=SHELF))
    found = pools_along(
        snapshot, risk_of(snapshot), (), (), start=START, floor=FLOOR, scrapped_share=SCRAPPED_PCT / 100
    )
    return found.pools[0], run_pools(found.pools, MONTHS)[0]


def rule() -> Wear:
    """Return what planner and check are given of the same campus."""
    snapshot = replace(campus(), taken_on=START)
    (wear,) = wear_of(snapshot, risk_of(snapshot))
    return wear


def demands() -> Demands:
    return demands_for(
        (TAKER, GIVER), (), (nights.crew(),), (PHASE,), BRIEF, Places(places=()),
        parts=(), spares=SHELF, now=NOW, wear=(rule(),),
    )  # fmt: skip


def failed_by(course: PoolCourse, day: float) -> float:
    """Return the failures that the page expects within so many days, between its month ends in a straight line."""
    ends = np.arange(MONTHS + 1) * DAYS_PER_YEAR / MONTHS_PER_YEAR
    return float(np.interp(day, ends, np.concatenate(([0.0], np.cumsum(course.expected_failures)))))


def test_lives_and_ages_are_the_same() -> None:
    pool, wear = page()[0], rule()
    assert (pool.curve.shape, pool.curve.scale_years) == (wear.shape, wear.scale_years)
    assert sorted(pool.age_years.tolist()) == sorted(age for _, age in wear.ages)
    assert wear.as_of == START


def test_shelf_floor_and_scrap_of_the_planner_are_those_of_the_page() -> None:
    pool, _ = page()
    (store,) = build_network(demands(), prices(demands())).network.pools
    assert (store.initial, store.floor) == (UNITS_SCALE * pool.on_hand, UNITS_SCALE * pool.floor)
    (gain,) = (at_end for _, at_start, at_end in store.changes if at_start == 0)
    assert gain == UNITS_SCALE * 4 * (1 - pool.scrapped_share)


def test_the_floor_of_the_planner_rises_by_the_failures_of_the_page() -> None:
    pool, course = page()
    (store,) = build_network(demands(), prices(demands())).network.pools
    level, first = store.floor, int(NOW.timestamp()) // 60
    assert len(store.rises) > 10
    for minute, amount in store.rises:
        level += amount
        by_end_of_step = failed_by(course, (minute - first) / 1440 + 30)
        wanted = min(UNITS_SCALE * (pool.floor + by_end_of_step), store.initial)
        assert level == pytest.approx(wanted, abs=1 + 0.02 * UNITS_SCALE)


@pytest.mark.parametrize("days", [40, 200, 555])
def test_the_check_tells_the_failures_of_the_page(days: int) -> None:
    pool, course = page()
    moment = NOW + timedelta(days=days)
    taken = replace(
        nights.put(TAKER, 0, 20), night=moment.date(), start=moment, end=moment + timedelta(hours=1),
        dark_from=moment, dark_to=moment,
    )  # fmt: skip
    lines = audit(
        (taken,), (TAKER,), (), (nights.crew(),), (PHASE,), replace(BRIEF, spare_floor=ON_HAND), Places(places=()),
        (), SHELF, NOW, wear=(rule(),),
    )  # fmt: skip
    breach = next(line.breach for line in lines if line.number == 8)
    assert breach is not None
    found = re.search(r"fall to ([\d.]+) at .* with ([\d.]+) failures", breach)
    assert found is not None
    assert float(found[2]) == pytest.approx(failed_by(course, days), abs=0.01)
    assert float(found[1]) == pytest.approx(pool.on_hand - failed_by(course, days) - 1, abs=0.01)
