"""What differs between plans, held against the first: by segments, since names change from brief to brief."""

from dataclasses import replace
from datetime import timedelta
from decimal import Decimal

from planner.core.comparison import Difference, Entry, Row, compare, sums_of, tally
from tests.unit.planner.nights import MONDAY, order, put

A, B, C = order("a", benefit=3.0), order("b", benefit=1.0, building="South"), order("c", benefit=0.0)
S, M, N, L, G = Difference


def dated(each: object, night: int = 0, hour: float = 20, by: str = "Red") -> Entry:
    assert hasattr(each, "key")
    return Entry(order=each, placed=put(each, night, hour, by=by))  # type: ignore[arg-type]


def left_out(each: object) -> Entry:
    return Entry(order=each, placed=None, reason="budget spent")  # type: ignore[arg-type]


def told(rows: tuple[Row, ...], plan: int = 1) -> dict[str, Difference]:
    return {row.key: row.differences[plan] for row in rows}


def test_each_way_in_which_an_order_can_differ() -> None:
    first = (dated(A), dated(B), left_out(C))
    second = (dated(A, 1), left_out(B), dated(C))
    assert told(compare((first, second))) == {"a": M, "b": L, "c": N}
    assert told(compare((first, first))) == {"a": S, "b": S, "c": S}


def test_a_minute_or_another_crew_is_a_move_and_another_name_is_none() -> None:
    renamed = replace(B, key="z")
    rows = compare(
        ((dated(A), dated(B)), (dated(A, hour=20 + 1 / 60), dated(renamed)), (dated(A, by="Blue"), dated(B)))
    )
    assert [row.differences for row in rows] == [(S, M, M), (S, S, S)]


def test_segments_done_in_another_group_are_neither_added_nor_left_out() -> None:
    both = order("ab", segments=(*A.segments, *B.segments))
    rows = compare(((dated(A), dated(B)), (dated(both),)))
    assert told(rows) == {"a": G, "b": G, "ab": G}
    assert tally(rows, 1) == {S: 0, M: 0, N: 0, L: 0, G: 3}
    # where the group is not dated, its parts are left out, and the group itself is nothing new
    assert told(compare(((dated(A), dated(B)), (left_out(both),)))) == {"a": L, "b": L, "ab": S}


def test_sums_by_hand() -> None:
    priced = replace(B, cost_labour=Decimal("20.50"))
    sums = sums_of((dated(A), dated(priced, 0, 23), dated(order("d", benefit=0.0), 3, by="Blue"), left_out(C)))
    assert (sums.orders, sums.dated, sums.stations, sums.benefit_share) == (4, 3, 3, 1.0)
    assert sums.costs == (("EUR", Decimal("320.50")),)
    assert (sums.nights, sums.journeys) == (2, 3)
    assert sums.finish == MONDAY + timedelta(days=3)
    assert sums.finish_by_phase == (("P1", MONDAY + timedelta(days=3)),)


def test_a_plan_of_nothing_says_so() -> None:
    sums = sums_of(())
    assert (sums.benefit_share, sums.finish, sums.costs) == (None, None, ())
