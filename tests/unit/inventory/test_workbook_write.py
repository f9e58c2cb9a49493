"""The blank workbook, the filled one, and the one that comes back with its problems marked."""

import io
from datetime import date, datetime, time
from decimal import Decimal

import pytest
from openpyxl import Workbook, load_workbook

from inventory.core.problems import Problem, Severity
from inventory.workbook.cells import LONGEST_TEXT
from inventory.workbook.columns import Kind, Sheet
from inventory.workbook.mark import FILLS, mark_problems
from inventory.workbook.read import read_workbook
from inventory.workbook.rows import SheetRows
from inventory.workbook.sheets import SHEETS
from inventory.workbook.write import TextTooLongError, note_on, write_blank, write_filled
from tests.workbooks import book_of, headings, raw_book, rows_of, text_xml


@pytest.fixture(scope="module")
def blank() -> Workbook:
    return load_workbook(io.BytesIO(write_blank()))


def test_the_blank_workbook_has_every_sheet_and_the_notes(blank: Workbook) -> None:
    assert blank.sheetnames == [*(sheet.title for sheet in SHEETS), "Notes"]


def test_the_blank_workbook_reads_as_no_rows_and_no_problems() -> None:
    rows = read_workbook(write_blank())
    assert rows.problems == ()
    assert rows.unknown_columns == ()
    assert rows.unknown_sheets == ()
    assert all(len(read) == 0 for read in rows.sheets.values())
    assert list(rows.sheets) == [sheet.code for sheet in SHEETS]


@pytest.mark.parametrize("sheet", SHEETS, ids=lambda sheet: sheet.code)
def test_every_heading_has_its_note(blank: Workbook, sheet: Sheet) -> None:
    cells = blank[sheet.title][1]
    assert [cell.value for cell in cells] == headings(sheet)
    for cell, column in zip(cells, sheet.columns, strict=True):
        said = cell.comment.text
        assert column.meaning in said
        assert column.example in said
        assert column.unit is None or column.unit in said
        assert not column.required or "Needed" in said


@pytest.mark.parametrize("sheet", SHEETS, ids=lambda sheet: sheet.code)
def test_headings_are_frozen_filtered_and_wide_enough(blank: Workbook, sheet: Sheet) -> None:
    page = blank[sheet.title]
    assert page.freeze_panes == "B2"
    assert page.auto_filter.ref.startswith("A1:")
    assert all(page.column_dimensions[cell.column_letter].width >= 9 for cell in page[1])


@pytest.mark.parametrize("sheet", SHEETS, ids=lambda sheet: sheet.code)
def test_every_choice_has_its_drop_down(blank: Workbook, sheet: Sheet) -> None:
    rules = {
        str(rule.sqref).split("2:")[0]: rule.formula1 for rule in blank[sheet.title].data_validations.dataValidation
    }
    wanted = {
        cell.column_letter: '"yes,no"' if column.kind is Kind.YES_NO else f'"{",".join(column.choices)}"'
        for cell, column in zip(blank[sheet.title][1], sheet.columns, strict=True)
        if column.choices or column.kind is Kind.YES_NO
    }
    assert rules == wanted


def test_keys_typed_into_the_blank_workbook_stay_text(blank: Workbook) -> None:
    assert blank["Nodes"].column_dimensions["A"].number_format == "@"


def test_the_sheet_notes_lists_every_column(blank: Workbook) -> None:
    rows = list(blank["Notes"].iter_rows(values_only=True))
    assert rows[0] == ("Sheet", "Heading", "Meaning", "Holds", "Unit", "Needed", "Choices", "Example")
    assert [row[:2] for row in rows[1:]] == [
        (sheet.title, column.heading) for sheet in SHEETS for column in sheet.columns
    ]


def test_examples_of_the_table_can_be_read_as_what_they_stand_for() -> None:
    tables = {sheet.title: [headings(sheet), [column.example for column in sheet.columns]] for sheet in SHEETS}
    assert read_workbook(book_of(tables)).problems == ()


def test_a_note_names_the_other_unit() -> None:
    runs = next(sheet for sheet in SHEETS if sheet.code == "runs")
    assert "Length (ft)" in note_on(runs.column("length_m"))


def test_a_note_names_the_sheet_whose_keys_a_column_takes() -> None:
    nodes = next(sheet for sheet in SHEETS if sheet.code == "nodes")
    assert "Holds: key on the sheet Models" in note_on(nodes.column("model"))
    methods = next(sheet for sheet in SHEETS if sheet.code == "methods")
    assert "open standard of the page Sources" in note_on(methods.column("new_protocol"))


def again(*sheets: SheetRows) -> dict[str, SheetRows]:
    rows = read_workbook(write_filled({rows.sheet.code: rows for rows in sheets}))
    assert rows.problems == ()
    return rows.sheets


TEXTS: list[object] = [
    "=S1", "+1", "-1", "@x", "=1+1", "#REF!", "007", "1.0", "1e5", "TRUE", "2004-09-01", "_x0041_", "_x005F_", "a\nb", "ünïcødé 漢 😀", "'quoted", '<&>"', "t" * LONGEST_TEXT,
]  # fmt: skip


def test_text_stays_text_whatever_it_looks_like() -> None:
    notes = rows_of("nodes", key=TEXTS[:-1], building=["B"] * 17, model=["M"] * 17, note=TEXTS[1:])
    assert again(notes)["nodes"].columns == notes.columns


def test_numbers_dates_times_and_truth_come_back_as_they_were() -> None:
    runs = rows_of(
        "runs",
        key=["R", "S"],
        length_m=[0.1 + 0.2, 1e-7],
        surveyed=[date(2026, 3, 2), None],
        bus=["b", "b"],
        from_node=["f", "f"],
        to_node=["t", "t"],
    )
    steps = rows_of(
        "method_steps", method=["M", "M"], step=[1, 2], text=["a", "b"], outage=[True, False], people=[None, 3]
    )
    crews = rows_of("crews", key=["A"], people=[2], shift_from=[time(0, 0)], shift_to=[time(23, 59)])
    closures = rows_of("closures", start=["2027-03-01 08:01"], end=["2027-12-31 23:59"])
    read = again(runs, steps, crews, closures)
    assert {code: read[code].columns for code in ("runs", "method_steps", "crews", "closures")} == {
        "runs": runs.columns, "method_steps": steps.columns, "crews": crews.columns, "closures": closures.columns,
    }  # fmt: skip


@pytest.mark.parametrize("amount", ["0.0001", "7.4", "123456789.1234", "999999999.9999", "0.1", "1000000000", "0"])
def test_decimals_keep_every_digit(amount: str) -> None:
    parts = rows_of("parts", key=["P"], price=[Decimal(amount)])
    assert again(parts)["parts"].columns["price"] == [Decimal(amount)]


def test_dates_are_real_dates_and_keys_are_text_cells() -> None:
    rows = {"nodes": rows_of("nodes", key=["007"], building=["B"], model=["M"], installed=[date(2004, 9, 1)])}
    page = load_workbook(io.BytesIO(write_filled(rows)))["Nodes"]
    assert page["A2"].data_type == "s"
    assert page["A2"].number_format == "@"
    assert page["D2"].value == datetime(2004, 9, 1)  # noqa: DTZ001
    assert page["D2"].is_date


def test_the_same_rows_give_the_same_bytes() -> None:
    rows = {"buildings": rows_of("buildings", key=["B1"])}
    assert write_filled(rows) == write_filled(rows)
    assert write_blank() == write_blank()


def test_a_character_that_xml_cannot_hold_is_escaped_and_then_named_by_the_reader() -> None:
    content = write_filled({"buildings": rows_of("buildings", key=["B1"], name=["a\x01b\ud800"])})
    assert [problem.code for problem in read_workbook(content).problems] == ["control-character"]


def test_a_text_that_no_cell_can_hold_is_refused_by_name() -> None:
    rows = {"buildings": rows_of("buildings", key=["B1"], name=["t" * (LONGEST_TEXT + 1)])}
    with pytest.raises(TextTooLongError, match=r"row 1 of sheet Buildings has 32,768 characters in Name"):
        write_filled(rows)


BAD = Problem(
    code="x",
    severity=Severity.ERROR,
    message="The number is below 1",
    remedy="more",
    sheet="Buildings",
    row=2,
    column="Outages at once",
    value="0",
)
DOUBT = Problem(
    code="y", severity=Severity.WARNING, message="Is it so", remedy="look", sheet="Buildings", row=3, column="Name"
)
WHOLE_ROW = Problem(code="z", severity=Severity.ERROR, message="Merged", remedy="unmerge", sheet="Buildings", row=3)


def test_bad_cells_come_back_coloured_with_what_to_do() -> None:
    content = book_of(
        {"Buildings": [["Building", "Name", "Outages at once"], ["=B1", None, 0], ["B2", "x", date(2020, 1, 1)]]}
    )
    book = load_workbook(io.BytesIO(mark_problems(content, (BAD, DOUBT, WHOLE_ROW))))
    page = book["Buildings"]
    assert page["C2"].value == 0
    assert page["C2"].comment.text == "The number is below 1.\nTo do: more."
    assert page["C2"].fill.fgColor.rgb == FILLS[Severity.ERROR].fgColor.rgb
    assert page["B3"].fill.fgColor.rgb == FILLS[Severity.WARNING].fgColor.rgb
    assert "unmerge" in page["A3"].comment.text
    assert page["A2"].comment is None
    assert (page["A2"].value, page["A2"].data_type) == ("=B1", "s")
    assert page["C3"].value == datetime(2020, 1, 1)  # noqa: DTZ001
    assert [row[4] for row in book["Problems"].iter_rows(min_row=2, values_only=True)] == ["0", None, None]


def test_a_marked_workbook_reads_as_before() -> None:
    content = book_of({"Buildings": [["Building", "Outages at once"], ["B1", 0], ["B2", 1]]})
    rows = read_workbook(content)
    assert read_workbook(mark_problems(content, rows.problems)) == rows


def test_a_text_longer_than_any_cell_is_marked_and_cut() -> None:
    content = raw_book(
        f'<sheetData><row r="1">{text_xml("A1", "Building")}{text_xml("B1", "Name")}</row><row r="2">{text_xml("A2", "B1")}{text_xml("B2", "t" * (LONGEST_TEXT + 1))}</row></sheetData>'
    )
    problems = read_workbook(content).problems
    assert [problem.code for problem in problems] == ["too-long"]
    page = load_workbook(io.BytesIO(mark_problems(content, problems)))["Buildings"]
    assert page["B2"].value == "t" * 1000
    assert page["B2"].comment is not None


def test_marking_twice_leaves_one_list_of_problems() -> None:
    content = book_of({"Buildings": [["Building"], ["B1"]]})
    twice = mark_problems(mark_problems(content, (BAD,)), (DOUBT,))
    assert load_workbook(io.BytesIO(twice)).sheetnames == ["Problems", "Buildings"]


def test_a_file_that_cannot_be_read_comes_back_as_the_list_of_its_problems() -> None:
    problem = Problem(code="damaged", severity=Severity.ERROR, message="cut short", remedy="fetch it again")
    book = load_workbook(io.BytesIO(mark_problems(b"junk", (problem,))))
    assert book.sheetnames == ["Problems"]
    assert book["Problems"]["F2"].value == "cut short"
