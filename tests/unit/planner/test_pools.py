"""The spare pools of old models along a plan."""

from dataclasses import replace
from datetime import UTC, date, datetime
from decimal import Decimal
from itertools import combinations

import numpy as np

from inventory.core.campus_risk import CampusRisk, assess_risk
from inventory.core.catalogue import Catalogue, Method, Model, NodeKind, Spare
from inventory.core.lives import FailureLog, Outcome
from inventory.core.snapshot import Snapshot
from inventory.core.spares import BEARABLE_ODDS, NEVER, run_pools
from planner.core.plans import Order, Placed
from planner.core.pools import Forward, PoolsFound, bring_forward, month_of, pools_along
from tests.campuses import Draft

CATALOGUE = Catalogue(
    models=(Model(key="WS-20", kind=NodeKind.STATION), Model(key="WS-70", kind=NodeKind.STATION)),
    methods=(
        Method(key="M1", old_model="WS-20", new_model="WS-70", new_protocol="N"),
        Method(key="M2", old_model="WS-20", new_model="WS-70", new_protocol="N"),
    ),
    spares=(Spare(model="WS-20", on_hand=2),),
)
START = date(2026, 11, 2)


def campus(unknown: int = 0) -> Snapshot:
    draft = Draft(catalogue=CATALOGUE)
    draft.building("B1")
    draft.bus("L1")
    for at in range(20):
        draft.node(f"S{at:02}", "WS-20", "L1", installed=f"{2000 + at % 5}-05-01" if at >= unknown else None)
    return draft.snapshot()


def risk_of(snapshot: Snapshot, failures: int = 6) -> CampusRisk:
    node = np.arange(20 - failures, 20, dtype=np.int32)
    day = np.array([f"{2012 + at}-03-01" for at in range(failures)], dtype="datetime64[D]")
    outcome = np.full(failures, Outcome.REPLACED, dtype=np.int8)
    return assess_risk(snapshot, FailureLog(node=node, day=day, outcome=outcome, starts=date(2010, 1, 1)))


def order(key: str, *stations: str, freed: int | None = None) -> Order:
    count = len(stations) if freed is None else freed
    return Order(
        key=key, building="B1", district=None, segments=(), stations=stations, rooms=(), people=2, setup_min=0, outage_min=60,
        restore_min=0, parts=(), freed=(("WS-20", count),), cost_parts=Decimal(0), cost_labour=Decimal(0), cost_outage=Decimal(0),
        currency="EUR", unpriced=(), benefit=1.0, oldest=None,
    )  # fmt: skip


def placed(key: str, night: date) -> Placed:
    at = datetime(night.year, night.month, night.day, 20, tzinfo=UTC)
    return Placed(order=key, crew="A", phase="P", night=night, start=at, end=at, dark_from=at, dark_to=at)


def found(orders: tuple[Order, ...], *nights: Placed, unknown: int = 0, **facts: float) -> PoolsFound:
    snapshot = campus(unknown)
    return pools_along(snapshot, risk_of(snapshot), orders, nights, start=START, **facts)  # type: ignore[arg-type]


def test_each_station_leaves_in_the_month_of_its_order_and_the_others_never() -> None:
    pool = found((order("O1", "S00", "S01"), order("O2", "S02")), placed("O1", date(2027, 1, 31))).pools[0]
    assert pool.model == "WS-20"
    assert pool.on_hand == 2
    assert list(pool.leaves_month[:3]) == [2, 2, NEVER]
    assert (pool.leaves_month[3:] == NEVER).all()


def test_an_old_model_of_two_methods_is_one_pool() -> None:
    assert len(found(()).pools) == 1


def test_what_is_done_before_the_first_month_counts_in_it() -> None:
    assert found((order("O1", "S00"),), placed("O1", date(2026, 9, 1))).pools[0].leaves_month[0] == 0


def test_spares_that_an_order_takes_are_taken_in_its_month() -> None:
    pool = found((order("O1", "S00", freed=-3),), placed("O1", date(2026, 12, 1))).pools[0]
    assert pool.taken == ((1, 3),)


def test_a_placed_order_that_is_not_there_moves_nothing() -> None:
    assert (found((), placed("O9", date(2026, 12, 1))).pools[0].leaves_month == NEVER).all()


def test_units_of_unknown_age_stay_in_the_count_at_the_median_age_and_are_told() -> None:
    result = found((), unknown=3)
    assert result.guessed_ages == (("WS-20", 3),)
    pool = result.pools[0]
    assert pool.age_years.size == 20
    assert np.isfinite(pool.age_years).all()
    assert pool.age_years[0] == np.median(pool.age_years[3:])


def test_where_nothing_failed_the_pool_is_untold_and_says_why() -> None:
    snapshot = campus()
    result = pools_along(snapshot, risk_of(snapshot, 0), (), (), start=START)
    assert result.pools == ()
    assert result.untold == (("WS-20", "no failure is on record, so no risk can be told"),)


def test_where_no_age_is_known_the_pool_is_untold_and_says_why() -> None:
    snapshot = campus()
    risk = risk_of(snapshot)
    blank = replace(risk, lives=replace(risk.lives, age_years=np.full(20, np.nan)))
    assert pools_along(snapshot, blank, (), (), start=START).untold == (
        ("WS-20", "no unit's day of installation is known"),
    )


def test_floor_scrap_and_how_sure_the_rate_is_reach_the_pool() -> None:
    pool = found((), floor=3, scrapped_share=0.25).pools[0]
    assert (pool.floor, pool.scrapped_share, pool.behind_rate) == (3, 0.25, 6.0)


def test_freeing_most_stations_early_keeps_alive_a_pool_that_runs_out_when_they_come_last() -> None:
    orders = tuple(order(f"O{at}", *(f"S{n:02}" for n in range(at * 5, at * 5 + 5))) for at in range(4))
    early = tuple(placed(f"O{at}", date(2027, 1 + at, 5)) for at in range(4))
    late = tuple(placed(f"O{at}", date(2031, 1 + at, 5)) for at in range(4))
    first, last = (run_pools(found(orders, *nights).pools, 60)[0] for nights in (early, late))
    assert first.run_out_odds[-1] < last.run_out_odds[-1]
    assert first.buy_least < last.buy_least
    assert last.first_month is not None


ORDERS = tuple(order(f"O{at}", *(f"S{n:02}" for n in range(at * 5, at * 5 + 5))) for at in range(4))
LATE = tuple(placed(f"O{at}", date(2031, 1 + at, 5)) for at in range(4))


def forward_of(result: PoolsFound, months: int = 60) -> Forward | None:
    (pool,) = result.pools
    return bring_forward(pool, result.movers[0], run_pools([pool], months)[0], months=months)


def odds_with(earlier: tuple[str, ...], month: int) -> float:
    """Return the odds to run out if these orders are done in the month before one, the others as late as planned."""
    day = date(START.year + (START.month - 2 + month) // 12, (START.month - 2 + month) % 12 + 1, 1)
    nights = tuple(placed(one.order, day) if one.order in earlier else one for one in LATE)
    return float(run_pools(found(ORDERS, *nights).pools, 60)[0].run_out_odds[-1])


def test_the_fewest_orders_that_make_a_short_pool_last_are_named() -> None:
    result = found(ORDERS, *LATE)
    forward = forward_of(result)
    assert forward is not None
    assert forward.units == 5 * len(forward.orders)
    assert odds_with(forward.orders, forward.before_month) == forward.run_out_odds <= BEARABLE_ODDS
    for fewer in combinations([one.order for one in LATE], len(forward.orders) - 1):
        assert odds_with(fewer, forward.before_month) > BEARABLE_ODDS, fewer


def test_those_that_free_most_come_first_and_those_not_planned_last() -> None:
    orders = (
        order("O0", "S00"),
        order("O1", *(f"S{n:02}" for n in range(1, 10))),
        order("O2", *(f"S{n:02}" for n in range(10, 20))),
    )
    assert forward_of(found(orders, placed("O0", date(2031, 1, 5)), placed("O1", date(2031, 2, 5)))).orders[0] == "O1"  # type: ignore[union-attr]
    forward = forward_of(found(orders))
    assert forward is not None
    assert forward.orders[0] == "O2"
    pool = found(orders).movers[0]
    assert [(one.order, one.month, one.rows.size) for one in pool] == [
        ("O0", NEVER, 1),
        ("O1", NEVER, 9),
        ("O2", NEVER, 10),
    ]


def test_no_order_is_named_where_the_pool_lasts_where_none_is_left_or_where_none_suffices() -> None:
    early = tuple(placed(f"O{at}", date(2026, 12, 1 + at)) for at in range(4))
    assert forward_of(found(ORDERS, *early), 12) is None, "it lasts"
    assert forward_of(found(())) is None, "there is none"
    one = order("O1", "S00")
    assert forward_of(found((one,), placed("O1", date(2031, 1, 5)))) is None, "one unit is not enough"


def test_months_are_counted_by_the_calendar() -> None:
    assert month_of(date(2026, 12, 1), date(2026, 11, 30)) == 1
    assert month_of(date(2026, 11, 30), date(2026, 11, 1)) == 0
