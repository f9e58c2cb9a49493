"""Laws of the take-off: nothing is lost, nothing is used twice."""

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal

from hypothesis import given, settings
from hypothesis import strategies as st

from inventory.core.catalogue import Delivery
from planner.core.brief import Brief
from planner.core.plans import Order, Placed
from planner.core.takeoff import take_off
from tests.unit.planner.test_takeoff import GATEWAY, PART, _campus, _order, _placed, _plan

FIRST = date(2027, 3, 1)
WORK = st.lists(
    st.tuples(st.integers(1, 40), st.integers(0, 5), st.integers(0, 59)), min_size=1, max_size=8
)  # need, gateways freed, days after 1 March
PARTS = st.builds(
    lambda pack, stock, allowance, due: replace(
        PART,
        pack=pack,
        on_hand=stock,
        spare_allowance_pct=allowance,
        deliveries=tuple(Delivery(part="P-1", due=FIRST + timedelta(days=day), quantity=Decimal(n)) for day, n in due),
    ),
    pack=st.integers(1, 25).map(Decimal),
    stock=st.integers(0, 60).map(Decimal),
    allowance=st.integers(0, 30).map(Decimal),
    due=st.lists(st.tuples(st.integers(0, 40), st.integers(1, 20)), max_size=3),
)


def _work(rows: list[tuple[int, int, int]]) -> tuple[tuple[Order, ...], tuple[Placed, ...]]:
    nights = [date(2027, 3, 1) + timedelta(days=days) for _, _, days in rows]
    orders = tuple(
        _order(f"O{at}", str(need), ((GATEWAY.key, freed),) if freed else ())
        for at, (need, freed, _) in enumerate(rows)
    )
    placed = tuple(_placed(f"O{at}", night, "P1" if night.month == 3 else "P2") for at, night in enumerate(nights))
    return orders, placed


@settings(max_examples=60, deadline=None)
@given(rows=WORK, part=PARTS)
def test_need_and_allowance_are_met_and_no_unit_is_used_twice(rows: list[tuple[int, int, int]], part: object) -> None:
    orders, placed = _work(rows)
    found = take_off(_plan(*placed), orders, _campus(part), Brief())  # type: ignore[arg-type]
    need = sum(line.gross + line.allowance for line in found.lines)
    bought = sum(line.bought for line in found.lines)
    freed = sum(count for _, count, _ in rows)
    due = sum(each.quantity for each in part.deliveries)  # type: ignore[attr-defined]
    assert need <= part.on_hand + freed + due + bought  # type: ignore[attr-defined]
    assert sum(line.from_due for line in found.lines) <= due
    assert sum(line.from_freed for line in found.lines) <= freed
    for line in found.lines:
        assert line.gross + line.allowance == line.from_stock + line.from_freed + line.from_due + line.net
        assert line.bought == line.packs * line.pack
        assert 0 <= line.bought - line.net < line.pack
    assert sum(line.gross for line in found.lines) == sum(quantity for _, _, quantity in found.by_order)


@settings(max_examples=40, deadline=None)
@given(rows=WORK, part=PARTS)
def test_the_order_of_orders_and_places_changes_nothing(rows: list[tuple[int, int, int]], part: object) -> None:
    orders, placed = _work(rows)
    campus = _campus(part)  # type: ignore[arg-type]
    assert take_off(_plan(*placed), orders, campus, Brief()) == take_off(
        _plan(*placed[::-1]), orders[::-1], campus, Brief()
    )
