"""What an intake counts and stores, on whichever database the settings name."""

import hashlib
from datetime import date
from decimal import Decimal

import pytest
from django.contrib.auth.models import User

from inventory.models import Building, Failure, Intake, Node, Part, ProtocolRate, Room, Spare
from inventory.services.intake import IntakeResult, preview, take_in
from inventory.store.taking import SheetCounts
from planner.models import BriefSetting, Closure
from planner.store.intake import ALL_TARGETS, PLANNER_CHECKS
from tests.books import SMALL, book, small

pytestmark = pytest.mark.django_db


def take(content: bytes, **more: object) -> IntakeResult:
    return take_in(content, "campus.xlsx", ALL_TARGETS, None, checks=PLANNER_CHECKS, **more)  # type: ignore[arg-type]


def stored(content: bytes, **more: object) -> IntakeResult:
    result = take(content, **more)
    assert result.stored, result.problems
    return result


def test_all_rows_of_a_new_campus_are_new() -> None:
    counts = stored(small()).counts
    assert counts["nodes"] == SheetCounts(new=3)
    assert counts["protocols"] == SheetCounts(new=2), "built-in rows are neither absent nor counted"
    assert {code: one.new for code, one in counts.items()}["failures"] == 2


def test_references_names_and_figures_arrive_as_written() -> None:
    stored(small())
    node = Node.objects.get(key="G1")
    assert (node.building.key, str(node.room), node.model.key) == ("B1", "B1 1.01", "GW-1")
    assert (str(node.bus), str(node.bus_2), node.installed, node.condition) == ("L1", "M1", date(2004, 9, 1), 2)
    assert Part.objects.get().price == Decimal("7.40")
    assert Room.objects.get(building__key="B2").nodes.get().key == "S2", "two rooms of one number stay apart"


def test_the_same_file_twice_changes_nothing_and_says_so() -> None:
    stored(small())
    history = Node.history.count()
    counts = stored(small()).counts
    assert all(one.new == one.changed == one.absent == 0 for one in counts.values()), counts
    assert counts["failures"].unchanged == 2, "blank parts of a key are the same as blank"
    assert counts["spares"].unchanged == 2
    assert Node.history.count() == history
    assert Intake.objects.count() == 2, "each intake is kept"


def test_one_changed_cell_is_one_changed_row() -> None:
    stored(small())
    rows = [list(row) for row in SMALL["Nodes"]]
    rows[2][9] = "loose"
    counts = stored(small(Nodes=rows)).counts
    assert counts["nodes"] == SheetCounts(changed=1, unchanged=2)
    assert Node.objects.get(key="S1").note == "loose"


def test_a_column_the_file_does_not_have_keeps_what_is_stored() -> None:
    stored(small())
    counts = stored(book({"Nodes": [("Node", "Building", "Model", "Condition"), ("S1", "B1", "WS-1", 5)]})).counts
    assert counts == {"nodes": SheetCounts(changed=1, absent=2)}
    node = Node.objects.get(key="S1")
    assert (node.condition, node.note, node.room_id is None) == (5, "stiff", False)


def test_a_blank_cell_of_a_column_it_has_becomes_not_known() -> None:
    stored(small())
    stored(book({"Nodes": [("Node", "Building", "Model", "Note"), ("S1", "B1", "WS-1", None)]}))
    assert Node.objects.get(key="S1").note is None


def test_rows_absent_from_the_file_stay() -> None:
    stored(small())
    counts = stored(small(Nodes=SMALL["Nodes"][:3])).counts
    assert counts["nodes"] == SheetCounts(unchanged=2, absent=1)
    assert Node.objects.count() == 3


def test_a_key_part_that_is_blank_or_missing_names_the_row_without_it() -> None:
    stored(small())
    counts = stored(book({"Spares": [("Model", "On hand"), ("WS-1", 9)]})).counts
    assert counts["spares"] == SheetCounts(changed=1, absent=1)
    assert Spare.objects.get(store__isnull=True).on_hand == 9
    assert Spare.objects.get(store="Attic").on_hand == 2
    assert Failure.objects.filter(what_failed__isnull=True).count() == 1


def test_a_row_of_the_workbook_wins_over_the_built_in_one() -> None:
    built_in = ProtocolRate.objects.filter(built_in=True, bit_rate_kbit_s__isnull=False).first()
    assert built_in is not None, "open standards come built in"
    own = book(
        {
            "Protocols": [
                ("Protocol", "Bit rate (kbit/s)", "Longest bus (m)", "Source"),
                (built_in.protocol.key, built_in.bit_rate_kbit_s, 1.5, "own measurement"),
            ]
        }
    )
    assert stored(own).counts["protocols"] == SheetCounts(changed=1)
    built_in.refresh_from_db()
    assert (built_in.built_in, built_in.longest_bus_m) == (False, 1.5), "and the next sync leaves it alone"
    assert stored(own).counts["protocols"] == SheetCounts(unchanged=1)


def test_the_standard_returns_where_a_campus_takes_its_own_row_away() -> None:
    rate = ProtocolRate.objects.filter(built_in=True).first()
    assert rate is not None
    was, heading = rate.longest_bus_m, ("Protocol", "Bit rate (kbit/s)", "Longest bus (m)", "Source")
    other = (("OTHER", None, 9, None),)
    own = ((rate.protocol.key, rate.bit_rate_kbit_s, 1.5, None),)
    stored(book({"Protocols": [heading, *own, *other]}))
    stored(book({"Protocols": [heading, *other]}), remove=[("protocols", None)])
    back = ProtocolRate.objects.get(protocol=rate.protocol, bit_rate_kbit_s=rate.bit_rate_kbit_s)
    assert (back.built_in, back.longest_bus_m) == (True, was)


def test_planner_sheets_go_in_with_the_rest() -> None:
    sheets = {
        "Buildings": SMALL["Buildings"],
        "Crews": [("Crew", "People", "Days", "From", "To"), ("Night", 3, "Mon Tue", "21:00", "06:00")],
        "Phases": [("Phase", "Start", "End", "Budget"), ("1", "2027-02-01", "2027-04-30", 60000.5)],
        "Closures": [("Building", "From", "To", "Kind"), (None, "2027-03-01 08:00", "2027-03-05 18:00", "keep out")],
        "Brief": [("Setting", "Value"), ("Longest outage", "240")],
    }
    first = stored(book(sheets)).counts
    assert [first[code].new for code in ("crews", "phases", "closures", "brief")] == [1, 1, 1, 1]
    again = stored(book(sheets)).counts
    assert all(one.new == one.changed == 0 for one in again.values()), again
    assert Closure.objects.get().start == "2027-03-01 08:00"
    assert BriefSetting.objects.get().brief.name == "First plan"


def test_sheets_without_a_target_are_left_alone() -> None:
    inventory_only = {code: target for code, target in ALL_TARGETS.items() if code == "buildings"}
    result = take_in(small(), "campus.xlsx", inventory_only, None)
    assert set(result.counts) == {"buildings"}


def test_the_intake_keeps_file_sum_who_and_counts() -> None:
    person = User.objects.create_user("kim")
    content = small()
    take_in(content, "campus.xlsx", ALL_TARGETS, person)
    kept = Intake.objects.get()
    assert (bytes(kept.content), kept.by, kept.file_name) == (content, person, "campus.xlsx")
    assert kept.sha256 == hashlib.sha256(content).hexdigest()
    assert kept.counts["nodes"] == {"new": 3, "changed": 0, "unchanged": 0, "absent": 0, "removed": 0}


def test_a_preview_tells_everything_and_stores_nothing() -> None:
    stored(small())
    rows = [list(row) for row in SMALL["Nodes"][:3]]
    rows[2][2], rows[2][9] = None, "loose"
    seen = preview(small(Nodes=rows, Buildings=[*SMALL["Buildings"], ("B3", "Annex", None, None)]), ALL_TARGETS)
    assert seen.counts["buildings"] == SheetCounts(new=1, unchanged=2)
    assert seen.counts["nodes"] == SheetCounts(changed=1, unchanged=1, absent=1)
    (row,) = seen.changed["nodes"]
    assert (row.row, row.key) == (3, "S1")
    assert [(cell.column, cell.old, cell.new) for cell in row.cells] == [
        ("Room", "1.01", None),
        ("Note", "stiff", "loose"),
    ]
    assert [one.key for one in seen.absent["nodes"]] == ["S2"]
    assert not Building.objects.filter(key="B3").exists()
    assert Intake.objects.count() == 1
    assert Node.objects.get(key="S1").note == "stiff"
