"""The take-off: netting by phase, allowance, packs, dates and money, each worked by hand."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

import pytest

from inventory.core.catalogue import Catalogue, Delivery, Model, NodeKind, Part
from inventory.core.snapshot import Building, Snapshot
from planner.core.brief import Brief
from planner.core.materials import TakeoffLine
from planner.core.plans import Order, PartNeed, Phase, PhaseSummary, Placed, Plan
from planner.core.takeoff import take_off
from tests.campuses import Draft
from tests.unit.planner.test_windows import ORDER

PART = Part(
    key="P-1",
    unit="piece",
    pack=Decimal(10),
    price=Decimal("2.50"),
    currency="EUR",
    lead_time_days=14,
    supplier="Northquay Supply",
    on_hand=Decimal(3),
    spare_allowance_pct=Decimal(5),
)
GATEWAY = Model(key="GW-2", kind=NodeKind.GATEWAY, part="P-1")
STATION = Model(key="WS-20", kind=NodeKind.STATION, part="P-1")
PHASES = (
    Phase(key="P1", start=date(2027, 3, 1), end=date(2027, 3, 31)),
    Phase(key="P2", start=date(2027, 4, 1), end=date(2027, 4, 30)),
)


def _order(key: str, quantity: str, freed: tuple[tuple[str, int], ...] = (), part: str = "P-1") -> Order:
    return replace(ORDER, key=key, parts=(PartNeed(part=part, quantity=Decimal(quantity)),), freed=freed)


def _placed(order: str, night: date, phase: str = "P1") -> Placed:
    start = datetime(night.year, night.month, night.day, 20, tzinfo=UTC)
    end = start + timedelta(hours=4)
    return Placed(order=order, crew="A", phase=phase, night=night, start=start, end=end, dark_from=start, dark_to=end)


def _plan(*placed: Placed) -> Plan:
    summaries = tuple(
        PhaseSummary(
            phase=phase.key, start=phase.start, end=phase.end, orders=0, stations=0, cost=Decimal(0), budget=None,
            currency="EUR", first_night=None, last_night=None, materials_order_by=None,
        )
        for phase in PHASES
    )  # fmt: skip
    return Plan(
        placed=placed, unplanned=(), objective=0, bound=0, gap=0.0, list_objective=0, method="list", check=(),
        phases=summaries, seed=0, seconds=0.0,
    )  # fmt: skip


def _campus(*parts: Part, holidays: str | None = "DE-BY") -> Snapshot:
    draft = Draft(catalogue=Catalogue(parts=parts, models=(GATEWAY, STATION)))
    draft.buildings.append(Building(key="B1", time_zone="Europe/Berlin", holidays=holidays))
    return draft.snapshot()


def _lines(plan: Plan, *orders: Order, part: Part = PART, brief: Brief | None = None) -> tuple[TakeoffLine, ...]:
    return take_off(plan, orders, _campus(part), brief or Brief()).lines


def test_gross_allowance_stock_packs_and_cost_of_one_phase() -> None:
    # 21 + 4 = 25 needed; 5 % of 25 = 1.25, so 2 spare; 27 - 3 in stock = 24 net = 3 packs of 10 = 75.00 EUR.
    plan = _plan(_placed("O1", date(2027, 3, 10)), _placed("O2", date(2027, 3, 9)))
    (line,) = _lines(plan, _order("O1", "21"), _order("O2", "4"))
    assert (line.gross, line.allowance, line.from_stock, line.net) == (25, 2, 3, 24)
    assert (line.packs, line.bought, line.cost, line.currency) == (3, 30, Decimal("75.00"), "EUR")
    assert (line.first_need, line.note) == (date(2027, 3, 9), None)


def test_what_packs_leave_over_serves_the_next_phase() -> None:
    # Phase 1 buys 10 for 8 - 3 + 1 spare = 6, leaves 4; phase 2 needs 3 + 1 spare = 4.
    plan = _plan(_placed("O1", date(2027, 3, 10)), _placed("O2", date(2027, 4, 9), "P2"))
    first, second = _lines(plan, _order("O1", "8"), _order("O2", "3"))
    assert (first.phase, first.net, first.bought) == ("P1", 6, 10)
    assert (second.phase, second.from_stock, second.net, second.packs, second.order_by) == ("P2", 4, 0, 0, None)


def test_gateways_freed_by_earlier_work_are_used_and_old_stations_are_not() -> None:
    plan = _plan(_placed("O1", date(2027, 3, 9)), _placed("O2", date(2027, 3, 10)))
    orders = _order("O1", "3", (("GW-2", 2), ("WS-20", 5))), _order("O2", "6")
    (line,) = _lines(plan, *orders, part=replace(PART, spare_allowance_pct=Decimal(0)))
    assert (line.gross, line.from_freed, line.from_stock, line.net) == (9, 2, 3, 4)


def test_what_is_freed_later_or_on_the_same_night_is_not_there_yet() -> None:
    plan = _plan(_placed("O1", date(2027, 3, 9)), _placed("O2", date(2027, 3, 9)))
    (line,) = _lines(plan, _order("O1", "4", (("GW-2", 9),)), _order("O2", "6"))
    assert line.from_freed == 0


@pytest.mark.parametrize(("unit", "allowance"), [("piece", "2"), (None, "2"), ("m", "1.25")])
def test_the_allowance_is_whole_where_units_are_counted_and_exact_where_they_are_measured(
    unit: str | None, allowance: str
) -> None:
    (line,) = _lines(_plan(_placed("O1", date(2027, 3, 9))), _order("O1", "25"), part=replace(PART, unit=unit))
    assert line.allowance == Decimal(allowance)


@pytest.mark.parametrize(
    ("night", "lead_days", "reserve_days", "order_by"),
    [
        (date(2027, 3, 10), 14, 3, date(2027, 2, 19)),  # Wed - 3 = Fri 5 March, - 14 = Fri 19 February
        (date(2027, 3, 10), 13, 3, date(2027, 2, 19)),  # Saturday 20 February: the Friday before
        (date(2027, 3, 10), 0, 0, date(2027, 3, 10)),
        (date(2027, 3, 30), 0, 1, date(2027, 3, 25)),  # Easter 2027: 26 and 29 March are holidays
    ],
)
def test_the_order_by_date_counts_back_lead_time_and_working_days(
    night: date, lead_days: int, reserve_days: int, order_by: date
) -> None:
    (line,) = _lines(
        _plan(_placed("O1", night)),
        _order("O1", "25"),
        part=replace(PART, lead_time_days=lead_days),
        brief=Brief(receiving_reserve_days=reserve_days),
    )
    assert line.order_by == order_by


@pytest.mark.parametrize(
    ("blank", "note"),
    [
        ({"lead_time_days": None}, "lead time is not known: no order-by date"),
        ({"price": None}, "price is not known: cost left open"),
        ({"on_hand": None}, "stock is not known: counted as none"),
        ({"pack": None}, "pack size is not known: bought singly"),
        ({"spare_allowance_pct": None}, "spare allowance is not known: none added"),
        ({"currency": None}, "currency is not known: left out of the sums"),
    ],
)
def test_what_is_not_known_is_said_and_never_a_zero(blank: dict[str, None], note: str) -> None:
    (line,) = _lines(_plan(_placed("O1", date(2027, 3, 9))), _order("O1", "25"), part=replace(PART, **blank))
    assert line.note == note
    assert (line.order_by is None) == ("lead_time_days" in blank)
    assert (line.cost is None) == ("price" in blank)


def test_unknown_holidays_are_told() -> None:
    plan = _plan(_placed("O1", date(2027, 3, 9)))
    (line,) = take_off(plan, (_order("O1", "25"),), _campus(PART, holidays=None), Brief()).lines
    assert line.note == "holidays of building B1 are not known: none counted"


def test_two_currencies_are_never_added() -> None:
    parts = PART, replace(PART, key="P-2", currency="CHF")
    orders = _order("O1", "13"), _order("O2", "13", part="P-2")
    plan = _plan(_placed("O1", date(2027, 3, 9)), _placed("O2", date(2027, 3, 9)))
    found = take_off(plan, orders, _campus(*parts), Brief())
    assert found.cost_by_currency == (("CHF", Decimal("50.00")), ("EUR", Decimal("50.00")))
    assert found.by_order == (("O1", "P-1", Decimal(13)), ("O2", "P-2", Decimal(13)))


def test_a_part_that_is_not_in_the_catalogue_is_listed_all_the_same() -> None:
    (line,) = _lines(_plan(_placed("O1", date(2027, 3, 9))), _order("O1", "2", part="P-9"))
    assert (line.part, line.net, line.cost, line.order_by) == ("P-9", 2, None, None)


def test_orders_that_are_not_planned_need_nothing() -> None:
    assert _lines(_plan(), _order("O1", "5")) == ()


def _due(day: date, quantity: int) -> Delivery:
    return Delivery(part="P-1", due=day, quantity=Decimal(quantity))


BARE = replace(PART, spare_allowance_pct=Decimal(0), pack=None, on_hand=Decimal(3))


def test_what_is_due_by_the_night_is_taken_before_anything_is_bought() -> None:
    # 3 on hand and 4 due on Wednesday 3 March; three working days to receive: Monday 8 March.
    plan = _plan(_placed("O1", date(2027, 3, 8)), _placed("O2", date(2027, 3, 9)))
    part = replace(BARE, deliveries=(_due(date(2027, 3, 3), 4),))
    (line,) = _lines(plan, _order("O1", "5"), _order("O2", "4"), part=part)
    assert (line.from_stock, line.from_due, line.net, line.short_on) == (3, 4, 2, date(2027, 3, 9))


def test_what_is_due_a_day_too_late_is_no_help() -> None:
    plan = _plan(_placed("O1", date(2027, 3, 7)))
    (line,) = _lines(plan, _order("O1", "5"), part=replace(BARE, deliveries=(_due(date(2027, 3, 3), 4),)))
    assert (line.from_due, line.net) == (0, 2)


def test_the_order_by_date_counts_back_from_the_first_night_that_is_short() -> None:
    # Stock serves 9 March; 24 March is short: less 3 working days is Friday 19 March, less 14 days Friday 5 March.
    plan = _plan(_placed("O1", date(2027, 3, 9)), _placed("O2", date(2027, 3, 24)))
    (line,) = _lines(plan, _order("O1", "3"), _order("O2", "1"), part=BARE)
    assert (line.first_need, line.short_on, line.order_by) == (
        date(2027, 3, 9),
        date(2027, 3, 24),
        date(2027, 3, 5),
    )
