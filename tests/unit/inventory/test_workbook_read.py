"""A workbook's sheets, headings and rows."""

from datetime import date, datetime, time

import pytest
from openpyxl.utils.datetime import CALENDAR_MAC_1904

from inventory.core.problems import Severity, errors_in
from inventory.workbook.gather import MOST_ALIKE
from inventory.workbook.read import read_workbook
from inventory.workbook.sheets import SHEETS
from tests.workbooks import book_of, codes, headings, raw_book, text_xml

NODES = ["Node", "Building", "Model"]


def test_a_plain_sheet_gives_its_rows_with_the_numbers_people_see() -> None:
    rows = read_workbook(book_of({"Nodes": [[*NODES, "Installed"], ["N1", "B1", "WS", date(2004, 9, 1)]]}))
    assert rows.problems == ()
    nodes = rows.sheets["nodes"]
    assert nodes.numbers == [2]
    assert nodes.columns == {"key": ["N1"], "building": ["B1"], "model": ["WS"], "installed": [date(2004, 9, 1)]}


def test_order_case_and_blanks_of_headings_and_titles_do_not_matter() -> None:
    rows = read_workbook(book_of({" nODES ": [[" model", "BUILDING ", "Zones  Used", "node"], ["WS", "B1", 4, "N1"]]}))
    assert rows.problems == ()
    assert rows.sheets["nodes"].columns == {"key": ["N1"], "building": ["B1"], "model": ["WS"], "zones_used": [4]}


def test_every_heading_of_the_table_is_read() -> None:
    rows = read_workbook(book_of({sheet.title: [headings(sheet)] for sheet in SHEETS}))
    assert rows.problems == ()
    assert {code: list(read.columns) for code, read in rows.sheets.items()} == {
        sheet.code: [column.name for column in sheet.columns] for sheet in SHEETS
    }


def test_unknown_columns_are_named_and_kept_aside() -> None:
    table = [[*NODES, "Colour", None, None], ["N1", "B1", "WS", "red", "stray", None]]
    rows = read_workbook(book_of({"Nodes": table}))
    assert rows.unknown_columns == (("Nodes", "Colour"), ("Nodes", "column E"))
    assert rows.problems == ()
    assert list(rows.sheets["nodes"].columns) == ["key", "building", "model"]


def test_sheets_may_be_missing_and_strange_ones_are_named() -> None:
    failures = [["Node", "Date"], ["N1", date(2025, 1, 1)]]
    rows = read_workbook(book_of({"Failures": failures, "Lunch": [["x"]], "Notes": [["y"]], "Problems": [["z"]]}))
    assert list(rows.sheets) == ["failures"]
    assert rows.unknown_sheets == ("Lunch",)
    assert [(problem.code, problem.severity) for problem in rows.problems] == [("unknown-sheet", Severity.WARNING)]


def test_a_workbook_without_any_known_sheet_is_refused() -> None:
    assert codes(errors_in(read_workbook(book_of({"Lunch": [["x"]]})).problems)) == ["no-known-sheet"]


def test_two_sheets_of_one_title_are_refused() -> None:
    rows = read_workbook(book_of({"Nodes": [NODES], "nodes ": [NODES]}))
    assert codes(rows.problems) == ["sheet-twice"]


def test_blank_rows_are_passed_by_and_numbers_stay_right() -> None:
    table = [NODES, ["N1", "B1", "WS"], [None, None, None], [" ", "\u00a0", None], ["N4", "B1", "WS"], [None] * 3]
    rows = read_workbook(book_of({"Nodes": table}))
    assert rows.problems == ()
    assert rows.sheets["nodes"].numbers == [2, 5]


def test_a_sheet_that_is_wholly_empty_counts_as_missing() -> None:
    rows = read_workbook(book_of({"Nodes": [], "Rooms": [["Building", "Room"]]}))
    assert list(rows.sheets) == ["rooms"]
    assert rows.problems == ()


def test_a_blank_cell_is_legal_everywhere_but_where_it_is_needed() -> None:
    table = [[*NODES, "Bus"], ["N1", None, "WS", None], ["N2", "  ", "WS", None]]
    problems = read_workbook(book_of({"Nodes": table})).problems
    assert [(p.code, p.sheet, p.row, p.column) for p in problems] == [
        ("blank", "Nodes", 2, "Building"),
        ("blank", "Nodes", 3, "Building"),
    ]


def test_a_needed_heading_must_be_there() -> None:
    problems = read_workbook(book_of({"Nodes": [["Node", "Model"], ["N1", "WS"]]})).problems
    assert [(p.code, p.row, p.column) for p in problems] == [("heading-missing", 1, "Building")]


def test_a_heading_may_stand_only_once() -> None:
    problems = read_workbook(book_of({"Nodes": [[*NODES, "node "], ["N1", "B1", "WS", "N2"]]})).problems
    assert codes(problems) == ["heading-twice"]


def test_a_problem_says_where_what_and_what_to_do() -> None:
    problem = read_workbook(book_of({"Nodes": [[*NODES, "Condition"], ["N1", "B1", "WS", 9]]})).problems[0]
    assert (problem.sheet, problem.row, problem.column, problem.value) == ("Nodes", 2, "Condition", "9")
    assert problem.code == "too-high"
    assert problem.remedy


def test_every_problem_is_collected_and_alike_ones_are_summed_up() -> None:
    count = MOST_ALIKE + 7
    table = [[*NODES, "Condition"], *([f"N{n}", "B1", "WS", 9 if n < count else 0] for n in range(count + 1))]
    problems = read_workbook(book_of({"Nodes": table})).problems
    assert len(problems) == MOST_ALIKE + 2
    assert codes(problems).count("too-low") == 1
    assert problems[-1].code == "too-high"
    assert problems[-1].row is None
    assert problems[-1].message.startswith("7 more")


def test_just_as_many_alike_as_are_told_need_no_sum() -> None:
    table = [[*NODES, "Condition"], *([f"N{n}", "B1", "WS", 9] for n in range(MOST_ALIKE))]
    assert len(read_workbook(book_of({"Nodes": table})).problems) == MOST_ALIKE


RUNS = ["Run", "Bus", "From", "To"]


def test_lengths_in_feet_are_converted() -> None:
    # 1 ft = 0.3048 m exactly (international yard and pound agreement, 1959)
    rows = read_workbook(
        book_of({"Runs": [[*RUNS, "length (FT)"], ["R1", "L1", "N1", "N2", 100], ["R2", "L1", "N1", "N3", None]]})
    )
    assert rows.problems == ()
    assert rows.sheets["runs"].columns["length_m"] == [pytest.approx(30.48), None]


def test_the_limit_counts_in_metres() -> None:
    # 100 km are 328,083.99 ft
    table = [[*RUNS, "Length (ft)"], ["R1", "L1", "N1", "N2", 328_083], ["R2", "L1", "N1", "N2", 328_085]]
    problems = read_workbook(book_of({"Runs": table})).problems
    assert [(p.code, p.row, p.column, p.value) for p in problems] == [("too-high", 3, "Length (ft)", "328085")]


@pytest.mark.parametrize(
    ("metres", "feet", "agree"), [(30.48, 100, True), (30.43, 100, True), (30.2, 100, False), (100, 100, False)]
)
def test_two_units_on_one_row_must_agree(metres: float, feet: float, agree: bool) -> None:  # noqa: FBT001
    table = [
        [*RUNS, "Length (ft)", "Length (m)"],
        ["R1", "L1", "N1", "N2", feet, metres],
        ["R2", "L1", "N1", "N2", None, 5.0],
        ["R3", "L1", "N1", "N2", 10, None],
    ]
    rows = read_workbook(book_of({"Runs": table}))
    assert codes(rows.problems) == ([] if agree else ["units-disagree"])
    assert rows.sheets["runs"].columns["length_m"] == [metres, 5.0, pytest.approx(3.048)]


def test_dates_of_a_workbook_that_counts_from_1904_come_out_right() -> None:
    table = [["Crew", "People", "From"], ["A", 2, time(21, 0)]]
    phases = [["Phase", "Start", "End"], ["P", date(2027, 2, 1), datetime(2027, 4, 30)]]  # noqa: DTZ001
    closures = [["From", "To"], [datetime(2027, 3, 1, 8, 0), datetime(2027, 3, 5, 18, 30)]]  # noqa: DTZ001
    content = book_of({"Crews": table, "Phases": phases, "Closures": closures}, epoch=CALENDAR_MAC_1904)
    rows = read_workbook(content)
    assert rows.problems == ()
    assert rows.sheets["crews"].columns["shift_from"] == [time(21, 0)]
    assert rows.sheets["phases"].columns["start"] == [date(2027, 2, 1)]
    assert rows.sheets["phases"].columns["end"] == [date(2027, 4, 30)]
    assert rows.sheets["closures"].columns["end"] == ["2027-03-05 18:30"]


def test_a_blank_that_has_a_meaning_takes_it() -> None:
    table = [["Method", "Part", "Quantity", "Per", "When"], ["M", "P", 1, "station", None]]
    assert read_workbook(book_of({"Method parts": table})).sheets["method_parts"].columns["when"] == ["always"]


def test_row_order_does_not_matter() -> None:
    body = [["N1", "B1", "WS", "1,5"], ["N2", "B1", "WS", 2], ["N3", "B2", "GW", None]]
    one = read_workbook(book_of({"Nodes": [[*NODES, "Condition"], *body]}))
    other = read_workbook(book_of({"Nodes": [[*NODES, "Condition"], *reversed(body)]}))
    assert {name: list(reversed(cells)) for name, cells in other.sheets["nodes"].columns.items()} == one.sheets[
        "nodes"
    ].columns
    assert sorted(codes(one.problems)) == sorted(codes(other.problems))


def test_only_the_sheets_asked_for_are_read() -> None:
    content = book_of({"Nodes": [NODES], "Crews": [["Crew", "People"]]})
    rows = read_workbook(content, tuple(sheet for sheet in SHEETS if sheet.code == "nodes"))
    assert list(rows.sheets) == ["nodes"]
    assert rows.unknown_sheets == ("Crews",)


def test_rows_without_their_place_are_read_too() -> None:
    # ISO/IEC 29500-1, 18.3.1.4 and 18.3.1.73: the attribute r of c and row is optional
    sheet = "<sheetData><row><c t='inlineStr'><is><t>Building</t></is></c></row><row><c><v>7</v></c></row></sheetData>"
    rows = read_workbook(raw_book(sheet))
    assert rows.problems == ()
    assert rows.sheets["buildings"].columns == {"key": ["7"]}


def test_a_workbook_that_starts_lower_down_keeps_its_row_numbers() -> None:
    sheet = (
        f'<sheetData><row r="1">{text_xml("A1", "Building")}</row><row r="9">{text_xml("A9", "B1")}</row></sheetData>'
    )
    assert read_workbook(raw_book(sheet)).sheets["buildings"].numbers == [9]
