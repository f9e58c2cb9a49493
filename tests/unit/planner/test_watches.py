"""Rooms that need a watch while they are dark: which they are, and that every paper of the plan says so."""

from dataclasses import replace
from io import BytesIO

import pytest
from icalendar import Calendar
from openpyxl import load_workbook

from planner.core.orders import make_orders
from planner.core.watches import MUST_NOT_FAIL, WAYS_OUT, Watch, watches_of, why_watched
from planner.handover.ics import write_calendars
from planner.handover.xlsx import write_handover
from tests.handed import small_handover
from tests.unit.planner.test_orders import BRIEF, FLOORS, _draft, _report

STAIR = Watch(building="A", room="1.01", why="on a way out by its use (Stair 2)")


@pytest.mark.parametrize(
    ("use", "importance", "why"),
    [
        ("wet lab", 5, "must not fail (importance 5)"),
        ("Corridor", 5, "must not fail (importance 5), on a way out by its use (Corridor)"),
        ("EGRESS corridor 2", 1, "on a way out by its use (EGRESS corridor 2)"),
        ("main stairs", None, "on a way out by its use (main stairs)"),
        ("office", 4, None),
        ("restaurant", 4, None),
        (None, None, None),
    ],
)
def test_what_makes_a_room_need_a_watch(use: str | None, importance: int | None, why: str | None) -> None:
    assert why_watched(use, importance) == why


@pytest.mark.parametrize("word", WAYS_OUT)
def test_every_word_for_a_way_out_is_seen_in_any_letters_and_with_more_words(word: str) -> None:
    assert why_watched(f"north {word.upper()} A", None) is not None


def test_an_order_names_the_rooms_to_watch_of_all_that_it_leaves_dark_and_no_others() -> None:
    """L1 and L2 share the room 1.01, L3 and L4 one gateway: 1.02 goes dark when 2.01 does."""
    draft = _draft()
    changed = {"2.01": {"importance": MUST_NOT_FAIL}, "1.02": {"use": "Exit lobby"}}
    draft.rooms = [(building, replace(room, **changed.get(room.key, {}))) for building, room in draft.rooms]
    orders = {
        order.segments: order
        for order in make_orders(draft.snapshot(), tuple(_report(f"L{n}") for n in range(1, 5)), BRIEF)
    }
    assert orders["L1", "L2"].watches == ()
    assert orders["L3", "L4"].watches == (
        Watch(building="B1", room="1.02", why="on a way out by its use (Exit lobby)"),
        Watch(building="B1", room="2.01", why="must not fail (importance 5)"),
    )
    assert set(FLOORS) == {"1.01", "1.02", "2.01"}


def test_the_hand_over_says_where_to_post_a_watch_in_the_workbook_and_in_both_calendars() -> None:
    plain = small_handover()
    watched = tuple(replace(each, watches=(STAIR,)) if each.key == "A-1" else each for each in plain.orders)
    handed = replace(plain, orders=watched)
    page = load_workbook(BytesIO(write_handover(handed)))["Orders"]
    headings = [cell.value for cell in page[1]]
    rows = {row[0]: row for row in page.iter_rows(min_row=2, values_only=True)}
    at = headings.index("Post a watch in")
    assert rows["A-1"][at] == "A 1.01: on a way out by its use (Stair 2)"
    assert rows["A-2"][at] is None
    for content in write_calendars(handed).values():
        first, second = (str(event["description"]) for event in Calendar.from_ical(content).walk("VEVENT"))
        assert "Post a watch while it is dark: A 1.01 on a way out by its use (Stair 2)." in first
        assert "Post a watch while" not in second


def test_a_room_that_is_not_on_record_is_no_fault_and_of_it_nothing_is_said() -> None:
    assert watches_of({}, [("B9", "0.01")]) == ()
