"""Orders split and merged by hand: what is chosen is kept, and refused in words where it cannot hold."""

from dataclasses import replace
from decimal import Decimal
from itertools import combinations, product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.core.brief import Brief
from planner.core.choices import Sharing
from planner.core.grouping import EXACT_PIECES, Limits, Piece, group_pieces
from planner.core.orders import group_orders
from tests.laws.settings import LAW
from tests.unit.planner.test_orders import BRIEF, LINES, _draft, _report

Groups = tuple[tuple[int, ...], ...]


def one(name: str, *parts: str) -> Sharing:
    """Return a choice; the segments of a part are written one after another: L1L2."""
    return Sharing(name=name, parts=tuple(tuple(f"L{key}" for key in part.split("L")[1:]) for part in parts))


def grouped(
    *sharings: Sharing, brief: Brief = BRIEF, buildings: str = "B1 B1 B1 B1"
) -> tuple[list[tuple[str, ...]], dict[str, str]]:
    """Return the orders of L1 to L4 by their segments, and why choices do not hold. L3 and L4 hang on one gateway."""
    reports = tuple(
        replace(_report(line), building=building) for line, building in zip(LINES, buildings.split(), strict=True)
    )
    draft = _draft()
    draft.building("B2")
    found = group_orders(draft.snapshot(), reports, brief, sharings)
    return [order.segments for order in found.orders], {one.about: one.why for one in found.refused}


def test_left_to_itself_the_room_that_two_segments_share_joins_them() -> None:
    assert grouped() == ([("L1", "L2"), ("L3", "L4")], {})


def test_a_split_is_kept() -> None:
    assert grouped(one("1", "L1", "L2")) == ([("L1",), ("L2",), ("L3", "L4")], {})


def test_a_merge_is_kept_although_nothing_is_saved_by_it() -> None:
    assert grouped(one("1", "L2L3"), one("2", "L1", "L2")) == ([("L1",), ("L2", "L3", "L4")], {})


def test_a_choice_about_segments_that_do_not_convert_waits_for_them() -> None:
    assert grouped(one("1", "L1L9")) == ([("L1", "L2"), ("L3", "L4")], {})


def test_a_shared_gateway_cannot_be_parted() -> None:
    groups, why = grouped(one("1", "L3", "L4"))
    assert groups == [("L1", "L2"), ("L3", "L4")]
    assert why == {"1": "L3 and L4 hang on gateway G3, which is changed once: they share one outage."}


# 55 min a station (see test_orders): three in one order are dark 165 min.
def test_an_outage_longer_than_the_longest_is_refused_with_its_minutes() -> None:
    brief = replace(BRIEF, longest_outage_min=164)
    groups, why = grouped(one("1", "L1L3"), brief=brief)
    assert groups == [("L1", "L2"), ("L3", "L4")]
    assert why == {"1": "Together L1, L3 and L4 take 165 min, the longest outage is 164 min."}
    assert grouped(one("1", "L1L3"), brief=replace(brief, longest_outage_min=165))[1] == {}


def test_a_stay_longer_than_the_night_is_refused_with_its_minutes() -> None:
    brief = replace(BRIEF, work_from_min=0, work_to_min=199)  # 165 min and 35 min to set up and restore are 200
    assert grouped(one("1", "L1L3"), brief=brief)[1] == {
        "1": "Together L1, L3 and L4 take 200 min, the longest stay is 199 min."
    }


def test_two_buildings_are_refused() -> None:
    why = grouped(one("1", "L1L2"), buildings="B1 B2 B1 B1")[1]
    assert why == {"1": "L1 and L2 are in 2 buildings (B1, B2); an order is work in one."}


def test_of_two_choices_that_contradict_the_later_one_falls() -> None:
    groups, why = grouped(one("1", "L1", "L2"), one("2", "L1L2"))
    assert groups == [("L1",), ("L2",), ("L3", "L4")]
    assert why == {"2": "An earlier choice keeps L1 and L2 apart."}
    groups, why = grouped(one("1", "L1L2"), one("2", "L1", "L2"))
    assert groups == [("L1", "L2"), ("L3", "L4")]
    assert list(why) == ["2"]


def test_a_choice_that_only_hangs_together_with_others_contradicts_too() -> None:
    why = grouped(one("1", "L1L2"), one("2", "L2", "L3"), one("3", "L1L4"))[1]
    assert list(why) == ["3"]


# --- against every grouping there is


def every_grouping(items: tuple[int, ...]) -> list[Groups]:
    """Return all ways to put items into groups: the first one alone or in any group of the others."""
    if not items:
        return [()]
    first, rest = items[0], every_grouping(items[1:])
    found: list[Groups] = []
    for groups in rest:
        found.append(((first,), *groups))
        found += [(*groups[:at], (first, *groups[at]), *groups[at + 1 :]) for at in range(len(groups))]
    return found


def allowed(
    group: tuple[int, ...], pieces: tuple[Piece, ...], limits: Limits, apart: frozenset[tuple[int, int]]
) -> bool:
    """Tell whether a group may be one order: linked, within the limits, and nobody in it who is kept apart."""
    if len(group) == 1:
        return True
    reached, ahead = {group[0]}, [group[0]]
    while ahead:
        at = ahead.pop()
        fresh = {other for other in group if other not in reached and pieces[at].links & pieces[other].links}
        reached |= fresh
        ahead += fresh
    dark = sum(pieces[at].dark_min for at in group)
    onsite = dark + sum(pieces[at].live_min for at in group) + limits.setup_and_restore_min
    fits = dark <= limits.longest_dark_min and onsite <= limits.longest_onsite_min
    parted = any(pair in apart for pair in combinations(sorted(group), 2))
    return reached == set(group) and fits and not parted and all(pieces[at].dated for at in group)


def cost(groups: Groups, pieces: tuple[Piece, ...], limits: Limits) -> tuple[Decimal, int, int]:
    """Return money for outages and call-outs, dark room-minutes and rooms that go dark."""
    money, room_min, rooms = Decimal(0), 0, 0
    for group in groups:
        dark_rooms = len(frozenset().union(*(pieces[at].rooms for at in group)))
        minutes = dark_rooms * sum(pieces[at].dark_min for at in group)
        money += limits.outage_rate * minutes / 60 + limits.call_out
        room_min, rooms = room_min + minutes, rooms + dark_rooms
    return money, room_min, rooms


LINKS = [("room", "B", str(number)) for number in range(3)]
PIECES = st.builds(
    Piece,
    rooms=st.frozensets(st.sampled_from([("B", str(number)) for number in range(4)]), min_size=1, max_size=3),
    links=st.frozensets(st.sampled_from(LINKS), min_size=1, max_size=2),
    dark_min=st.sampled_from((20, 45, 60, 90)),
    live_min=st.sampled_from((0, 10)),
    dated=st.sampled_from((True, True, True, False)),
)
LIMITS = st.builds(
    Limits,
    longest_dark_min=st.sampled_from((90, 150, 480)),
    longest_onsite_min=st.sampled_from((180, 780)),
    setup_and_restore_min=st.just(35),
    outage_rate=st.sampled_from((Decimal(0), Decimal(12))),
    call_out=st.sampled_from((Decimal(0), Decimal(15), Decimal(80))),
)


@LAW
@given(st.lists(PIECES, min_size=1, max_size=6).map(tuple), LIMITS, st.data())
def test_no_grouping_of_a_few_pieces_costs_less(pieces: tuple[Piece, ...], limits: Limits, data: st.DataObject) -> None:
    pairs = list(combinations(range(len(pieces)), 2))
    apart = (
        frozenset(data.draw(st.lists(st.sampled_from(pairs), max_size=3))) if pairs else frozenset[tuple[int, int]]()
    )
    assert len(pieces) <= EXACT_PIECES
    found = group_pieces(pieces, limits, apart)
    assert sorted(at for group in found for at in group) == list(range(len(pieces)))
    assert all(allowed(group, pieces, limits, apart) for group in found)
    best = min(
        cost(groups, pieces, limits)
        for groups in every_grouping(tuple(range(len(pieces))))
        if all(allowed(group, pieces, limits, apart) for group in groups)
    )
    assert cost(found, pieces, limits) == best


@LAW
@given(st.lists(PIECES, min_size=EXACT_PIECES + 1, max_size=14).map(tuple), LIMITS, st.data())
def test_many_pieces_are_never_grouped_worse_than_each_alone_and_keep_apart_what_must(
    pieces: tuple[Piece, ...], limits: Limits, data: st.DataObject
) -> None:
    pairs = list(combinations(range(len(pieces)), 2))
    apart = frozenset(data.draw(st.lists(st.sampled_from(pairs), max_size=5)))
    found = group_pieces(pieces, limits, apart)
    assert all(allowed(group, pieces, limits, apart) for group in found)
    alone = tuple((at,) for at in range(len(pieces)))
    assert cost(found, pieces, limits) <= cost(alone, pieces, limits)


@pytest.mark.parametrize(("count", "bell"), [(1, 1), (2, 2), (3, 5), (4, 15), (5, 52), (6, 203)])
def test_every_grouping_is_counted_by_the_bell_numbers(count: int, bell: int) -> None:
    # Bell numbers, OEIS A000110; from memory
    assert len(set(every_grouping(tuple(range(count))))) == bell


def test_the_product_of_choices_never_loses_a_segment() -> None:
    for first, second in product(("L1L2", "L1L3", "L2L4"), repeat=2):
        groups, _ = grouped(one("1", first), one("2", second))
        assert sorted(key for group in groups for key in group) == list(LINES)
