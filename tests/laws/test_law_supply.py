"""The dated record of a part and the take-off of a plan are two reckonings of one thing: both must buy the same."""

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal

from hypothesis import given
from hypothesis import strategies as st

from inventory.core.catalogue import Delivery
from planner.core.brief import Brief
from planner.core.shelves import due_units
from planner.core.supply import Need, calendar_days_before, supply_record
from planner.core.takeoff import take_off
from tests.laws.settings import LAW
from tests.unit.planner.test_takeoff import PART, _campus, _order, _placed, _plan

FIRST = date(2027, 3, 1)
NEEDS = st.lists(st.tuples(st.integers(1, 40), st.integers(0, 59)), min_size=1, max_size=8)
DUE = st.lists(st.tuples(st.integers(0, 50), st.integers(1, 30)), max_size=3)


@LAW
@given(needs=NEEDS, due=DUE, stock=st.integers(0, 60), pack=st.integers(1, 12))
def test_the_record_of_a_part_buys_for_each_phase_what_the_take_off_buys(
    needs: list[tuple[int, int]], due: list[tuple[int, int]], stock: int, pack: int
) -> None:
    part = replace(
        PART,
        pack=Decimal(pack),
        on_hand=Decimal(stock),
        spare_allowance_pct=Decimal(0),
        deliveries=tuple(Delivery(part="P-1", due=FIRST + timedelta(days=day), quantity=Decimal(n)) for day, n in due),
    )
    nights = [FIRST + timedelta(days=days) for _, days in needs]
    phases = ["P1" if night.month == 3 else "P2" for night in nights]
    orders = tuple(_order(f"O{at}", str(need)) for at, (need, _) in enumerate(needs))
    placed = tuple(_placed(f"O{at}", *where) for at, where in enumerate(zip(nights, phases, strict=True)))
    lines = take_off(_plan(*placed), orders, _campus(part), Brief()).lines
    record = supply_record(
        [
            Need(day=night, quantity=Decimal(need), phase=phase)
            for (need, _), night, phase in zip(needs, nights, phases, strict=True)
        ],
        list(due_units(part, Brief().receiving_reserve_days, None)),
        on_hand=Decimal(stock),
        pack=Decimal(pack),
        release=calendar_days_before(14),
    )
    received = {line.phase: sum(day.receipt for day in record if day.phase == line.phase) for line in lines}
    assert received == {line.phase: line.bought for line in lines}
    assert all(day.on_hand >= 0 for day in record)
    for line in lines:
        first = next((day.day for day in record if day.phase == line.phase and day.receipt), None)
        assert first == line.short_on
