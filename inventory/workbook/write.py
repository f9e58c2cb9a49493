"""Typed rows to a workbook, and the blank workbook that explains itself; both by the table of sheets.

Whatever is written reads back equal: keys and text are text cells even where they look like formulas or numbers,
dates are real dates, decimals keep every digit.
"""

import re
from collections.abc import Iterable, Mapping
from datetime import date, datetime, time
from decimal import Decimal
from io import BytesIO
from typing import IO, Any, Literal, cast
from zipfile import ZIP_DEFLATED, ZipFile, ZipInfo

from openpyxl import Workbook
from openpyxl.cell.cell import Cell, WriteOnlyCell
from openpyxl.comments import Comment
from openpyxl.styles import Alignment, Border, Font, PatternFill, Side
from openpyxl.worksheet.datavalidation import DataValidation
from openpyxl.worksheet.worksheet import Worksheet
from openpyxl.writer.excel import ExcelWriter

from inventory.workbook.cells import LONGEST_TEXT
from inventory.workbook.columns import Column, Kind, Sheet
from inventory.workbook.read import NOTES_TITLE, letters
from inventory.workbook.rows import SheetRows
from inventory.workbook.sheets import SHEETS

TEXT_KINDS = frozenset({Kind.KEY, Kind.REFERENCE, Kind.TEXT, Kind.CHOICE})
FORMATS = {
    Kind.KEY: "@",
    Kind.REFERENCE: "@",
    Kind.TEXT: "@",
    Kind.CHOICE: "@",
    Kind.DATE: "yyyy-mm-dd",
    Kind.MOMENT: "yyyy-mm-dd hh:mm",
    Kind.CLOCK: "hh:mm",
    Kind.WHOLE: "0",
}
EPOCH_OF_ZIP = (1980, 1, 1, 0, 0, 0)
LAST_ROW = 1_048_576
LONGEST_LIST = 255  # characters of a drop-down's list, a limit of the file format
NOTE_WIDTH, NOTE_HEIGHT = 320, 150
NARROW, WIDE, WIDEST = 9, 24, 60
SAMPLE = 200  # rows that a column's width is taken from
HEADING_FONT = Font(bold=True)
NEEDED_FILL = PatternFill("solid", fgColor="FFE7E2D3")
PLAIN_FILL = PatternFill("solid", fgColor="FFF3F1EA")
RULE = Border(bottom=Side(style="thin", color="FF6B6B6B"))
UNWRITABLE = re.compile("[\x00-\x08\x0b-\x1f\ufffe\uffff\ud800-\udfff]|_(?=x[0-9A-Fa-f]{4}_)")
NOTES_HEADINGS = ("Sheet", "Heading", "Meaning", "Holds", "Unit", "Needed", "Choices", "Example")
HELD_KEYS = {sheet.code: f"key on the sheet {sheet.title}" for sheet in SHEETS} | {
    "protocol_names": "protocol of the sheet Protocols, or an open standard of the page Sources"
}
NOTES_WIDTHS = (16, 24, 60, 20, 10, 9, 44, 28)


class TextTooLongError(ValueError):
    """A text that no cell of a workbook can hold."""


def write_blank(sheets: tuple[Sheet, ...] = SHEETS) -> bytes:
    """Return the blank workbook: headings with a note on each, drop-downs, filters, and the sheet Notes."""
    book = Workbook()
    book.remove(cast("Worksheet", book.active))
    for sheet in sheets:
        page = new_page(book, sheet.title)
        page.append([_heading(page, column, with_note=True) for column in sheet.columns])
        _dress(page, [_width(column, ()) for column in sheet.columns])
        _set_formats(page, sheet)
        _add_drop_downs(page, sheet.columns)
    _write_notes(book, sheets)
    return saved(book)


def write_filled(rows: Mapping[str, SheetRows], sheets: tuple[Sheet, ...] = SHEETS) -> bytes:
    """Return a workbook of `rows` (by sheet code) without loss; a sheet without rows gets its headings.

    Raises
    ------
    TextTooLongError
        If a text is longer than a cell can hold.

    """
    for filled in rows.values():
        _refuse_long_texts(filled)
    book = Workbook(write_only=True)
    for sheet in sheets:
        page = new_page(book, sheet.title)
        filled = rows.get(sheet.code, SheetRows(sheet=sheet, numbers=[], columns={}))
        columns = [column for column in sheet.columns if column.name in filled.columns] or list(sheet.columns)
        values = [filled.column(column.name) for column in columns]
        widths = [_width(column, cells[:SAMPLE]) for column, cells in zip(columns, values, strict=True)]
        _dress(page, widths, len(filled))
        _add_drop_downs(page, columns)
        page.append([_heading(page, column, with_note=False) for column in columns])
        written = [_written(page, column, cells) for column, cells in zip(columns, values, strict=True)]
        for row in zip(*written, strict=True):
            page.append(row)
    _write_notes(book, sheets)
    return saved(book)


def _refuse_long_texts(rows: SheetRows) -> None:
    """Look at all texts before anything is written, so that no workbook is left half done."""
    for column in rows.sheet.columns:
        if column.kind not in TEXT_KINDS:
            continue
        for at, text in enumerate(rows.columns.get(column.name, ())):
            if isinstance(text, str) and not fits(text):
                message = f"row {at + 1} of sheet {rows.sheet.title} has {len(text):,} characters in {column.heading}"
                raise TextTooLongError(f"{message}; the most is {LONGEST_TEXT:,}: {text[:40]}...")


def fits(text: str) -> bool:
    """Tell whether a cell can hold the text once it is escaped, which makes a character seven."""
    return len(text) * 7 <= LONGEST_TEXT or len(escaped(text)) <= LONGEST_TEXT


def escaped(text: str) -> str:
    """Return text as a workbook's XML can hold it: what it cannot hold, and what would be taken for that, as _x0001_.

    References
    ----------
    ISO/IEC 29500-1, 22.9.2.19 (ST_Xstring).

    Examples
    --------
    >>> escaped("a" + chr(1)), escaped("_x0041_")
    ('a_x0001_', '_x005F_x0041_')

    """
    return UNWRITABLE.sub(lambda match: f"_x{ord(match[0]):04X}_", text)


def text_cell(page: Worksheet, text: str) -> Cell:
    """Return a cell that holds text whatever the text looks like."""
    cell = WriteOnlyCell(page, escaped(text))
    cell.data_type = "s"  # left to itself the cell takes =S1 for a formula
    cell.number_format = "@"  # openpyxl writes over a cell without a style when the next row is a plain value
    return cell


def _written(page: Worksheet, column: Column, values: Iterable[object]) -> list[object]:
    """Return the cells of one column, each distinct value made once."""
    made: dict[object, object] = {None: None}
    for value in values:
        if value not in made:
            made[value] = _cell(page, column, value)
    return [made[value] for value in values]


def _cell(page: Worksheet, column: Column, value: object) -> Cell:
    """Return a cell for any value; never a plain one, which openpyxl would write over the cell before it."""
    if isinstance(value, bool):
        cell = text_cell(page, "yes" if value else "no")
    elif column.kind is Kind.MOMENT and isinstance(value, str):
        cell = _dated(page, datetime.strptime(value, "%Y-%m-%d %H:%M"))  # noqa: DTZ007 - local by definition
    elif isinstance(value, date | time):
        cell = _dated(page, value)
    elif isinstance(value, Decimal):
        cell = _decimal_cell(page, value)
    elif isinstance(value, int | float):
        cell = number_cell(page, value)
    else:
        cell = text_cell(page, str(value))
    if column.kind in FORMATS:
        cell.number_format = FORMATS[column.kind]
    return cell


def _dated(page: Worksheet, value: date | time) -> Cell:
    return WriteOnlyCell(page, value)  # type: ignore[arg-type]  # days and times of day serve as well


def _decimal_cell(page: Worksheet, value: Decimal) -> Cell:
    """Return a number where a float holds the decimal exactly as written, else text with every digit."""
    exact = Decimal(repr(float(value))) == value
    return number_cell(page, float(value)) if exact else text_cell(page, f"{value:f}")


def number_cell(page: Worksheet, value: float) -> Cell:
    """Return a number with all its digits; left to itself the library writes sixteen of up to seventeen."""
    cell = WriteOnlyCell(page, repr(value))
    cell.data_type = "n"
    return cell


def _heading(page: Worksheet, column: Column, *, with_note: bool) -> Cell:
    cell = text_cell(page, column.heading)
    cell.font, cell.border = HEADING_FONT, RULE
    cell.fill = NEEDED_FILL if column.required else PLAIN_FILL
    cell.alignment = Alignment(wrap_text=True, vertical="top")
    if with_note:
        cell.comment = Comment(note_on(column), "Changeover", width=NOTE_WIDTH, height=NOTE_HEIGHT)
    return cell


def note_on(column: Column) -> str:
    """Return what the note on a heading says: meaning, unit, whether it is needed, choices, example."""
    lines = [f"{column.meaning}."]
    lines += [f"Holds: {held_by(column)}" + (f" [{column.unit}]" if column.unit else "")]
    lines += ["Needed in every row." if column.required else "Blank means not known."] if not column.default else []
    lines += [f"One of: {', '.join(column.choices)}"] if column.choices else []
    lines += [f"Also read: {other.heading}" for other in column.other_units]
    lines += [f"Example: {column.example}"] if column.example else []
    return "\n".join(lines)


def held_by(column: Column) -> str:
    """Return what a cell of the column holds; of a key on another sheet, which sheet.

    Examples
    --------
    >>> held_by(SHEETS[1].column("building"))
    'key on the sheet Buildings'

    """
    if column.refers_to is None:
        return column.kind.value
    return HELD_KEYS.get(column.refers_to, column.kind.value)


def _dress(page: Worksheet, widths: list[int], count: int = 0) -> None:
    """Freeze the headings and the first column, set filters and widths, and repeat the headings in print."""
    page.freeze_panes = "B2"
    page.auto_filter.ref = f"A1:{letters(len(widths) - 1)}{count + 1}"
    page.print_title_rows = "1:1"
    page.page_setup.orientation = "landscape"
    page.page_setup.fitToHeight = 0
    page.sheet_properties.pageSetUpPr.fitToPage = True  # type: ignore[union-attr]  # always there in a new sheet
    for at, width in enumerate(widths):
        page.column_dimensions[letters(at)].width = width


def _width(column: Column, values: Iterable[object]) -> int:
    shown = [column.example, *(str(value) for value in values if value is not None)]
    return max(NARROW, min(WIDE, len(column.heading) + 4), min(WIDEST, max(map(len, shown)) + 2))


def _set_formats(page: Worksheet, sheet: Sheet) -> None:
    """Set the format of whole columns, so that a key typed as 007 stays 007."""
    for at, column in enumerate(sheet.columns):
        page.column_dimensions[letters(at)].number_format = FORMATS.get(column.kind, "General")


def _add_drop_downs(page: Worksheet, columns: Iterable[Column]) -> None:
    for at, column in enumerate(columns):
        choices = ("yes", "no") if column.kind is Kind.YES_NO else column.choices
        listed = ",".join(choices)
        if not choices or len(listed) > LONGEST_LIST:
            continue
        rule = DataValidation(type="list", formula1=f'"{listed}"', allow_blank=True, showErrorMessage=True)
        rule.errorTitle, rule.error = column.heading, f"Choose one of: {', '.join(choices)}"
        rule.add(f"{letters(at)}2:{letters(at)}{LAST_ROW}")
        page.data_validations.append(rule)


def _write_notes(book: Workbook, sheets: tuple[Sheet, ...]) -> None:
    """Add the sheet that explains every column; the reader passes it by."""
    page = new_page(book, NOTES_TITLE)
    page.freeze_panes = "A2"
    for at, width in enumerate(NOTES_WIDTHS):
        page.column_dimensions[letters(at)].width = width
    rows = [(sheet, column) for sheet in sheets for column in sheet.columns]
    page.auto_filter.ref = f"A1:{letters(len(NOTES_HEADINGS) - 1)}{len(rows) + 1}"
    headings = [text_cell(page, heading) for heading in NOTES_HEADINGS]
    for cell in headings:
        cell.font, cell.border, cell.fill = HEADING_FONT, RULE, PLAIN_FILL
    page.append(headings)
    for sheet, column in rows:
        page.append([text_cell(page, text) for text in notes_row(sheet, column)])


def notes_row(sheet: Sheet, column: Column) -> tuple[str, ...]:
    """Return one row of the sheet Notes."""
    return (
        sheet.title,
        column.heading,
        column.meaning,
        held_by(column),
        column.unit or "",
        "yes" if column.required else "no",
        ", ".join(("yes", "no") if column.kind is Kind.YES_NO else column.choices),
        column.example,
    )


def new_page(book: Workbook, title: str) -> Worksheet:
    """Return a new sheet; one that is only written offers what is used here as well."""
    return cast("Worksheet", book.create_sheet(title))


class _Undated(ZipFile):
    """A zip whose parts do not say when they were packed, so that the same rows give the same bytes."""

    def open(self, name: str | ZipInfo, mode: Literal["r", "w"] = "r", *args: Any, **options: Any) -> IO[bytes]:
        if mode == "w" and isinstance(name, ZipInfo):
            name.date_time = EPOCH_OF_ZIP
        return super().open(name, mode, *args, **options)


def saved(book: Workbook) -> bytes:
    """Return the workbook's bytes, the same for the same rows: the moment of writing is left out."""
    book.properties.created = book.properties.modified = datetime(2000, 1, 1)  # noqa: DTZ001 - a fixed stamp
    book.properties.creator = "Changeover"
    stream = BytesIO()
    ExcelWriter(book, _Undated(stream, "w", ZIP_DEFLATED, allowZip64=True)).save()
    return stream.getvalue()
