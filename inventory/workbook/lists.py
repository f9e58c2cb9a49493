"""Lists as files: what a page shows, as CSV or as a workbook of one sheet. Text stays text."""

import csv
from collections.abc import Iterable, Sequence
from datetime import date, datetime
from decimal import Decimal
from io import BytesIO, StringIO

from openpyxl import Workbook
from openpyxl.cell import WriteOnlyCell
from openpyxl.cell.cell import Cell
from openpyxl.styles import Font
from openpyxl.worksheet._write_only import WriteOnlyWorksheet

from inventory.workbook.write import escaped

Value = str | int | float | bool | Decimal | date | datetime | None
Page = tuple[str, Sequence[str], Iterable[Sequence[Value]]]  # title, headings, rows
STARTS_A_FORMULA = ("=", "+", "-", "@", "\t", "\r")
LONGEST_SHEET_TITLE = 31  # limit of the file format
WIDEST = 60


def as_csv(headings: Sequence[str], rows: Iterable[Sequence[Value]]) -> bytes:
    r"""Return a CSV file (RFC 4180, UTF-8 with a mark, so that spreadsheets read it right).

    Text that a spreadsheet would run as a formula gets an apostrophe in front, the usual sign for text.

    Examples
    --------
    >>> as_csv(["Note", "Left"], [["=1+1", -3.5]]).decode("utf-8-sig")
    "Note,Left\r\n'=1+1,-3.5\r\n"

    """
    out = StringIO()
    writer = csv.writer(out)
    writer.writerow([_plain(heading) for heading in headings])
    writer.writerows([_plain(value) for value in row] for row in rows)
    return out.getvalue().encode("utf-8-sig")


def _plain(value: Value) -> Value:
    if isinstance(value, datetime):
        return value.isoformat(sep=" ", timespec="minutes")
    if isinstance(value, str) and value.startswith(STARTS_A_FORMULA):
        return f"'{value}"
    return value


def as_xlsx(title: str, headings: Sequence[str], rows: Iterable[Sequence[Value]]) -> bytes:
    """Return a workbook of one sheet: headings frozen, dates as dates, numbers as numbers, text as text."""
    return as_book([(title, headings, rows)])


def as_book(pages: Iterable[Page]) -> bytes:
    """Return a workbook with a sheet for each page: its title, its headings, its rows."""
    book = Workbook(write_only=True)
    for title, headings, rows in pages:
        sheet = book.create_sheet(title[:LONGEST_SHEET_TITLE])
        sheet.freeze_panes = "A2"
        for number, heading in enumerate(headings):
            sheet.column_dimensions[_letter(number)].width = min(max(12, len(heading) + 3), WIDEST)
        sheet.append([_cell(sheet, heading, bold=True) for heading in headings])
        for row in rows:
            sheet.append([_cell(sheet, value) for value in row])
    out = BytesIO()
    book.save(out)
    return out.getvalue()


def _letter(number: int) -> str:
    high, low = divmod(number, 26)
    return (chr(ord("A") + high - 1) if high else "") + chr(ord("A") + low)


def _cell(sheet: WriteOnlyWorksheet, value: Value, *, bold: bool = False) -> Cell:
    cell: Cell = WriteOnlyCell(sheet)
    if isinstance(value, str):
        cell.value = escaped(value)
        cell.data_type = "s"  # left to itself the cell takes =S1 for a formula
    else:
        cell.value = value.replace(tzinfo=None) if isinstance(value, datetime) else value
    if bold:
        cell.font = Font(bold=True)
    return cell
