"""Writes the hand-over workbook: live totals, real dates and numbers, sheets that filter and print."""

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from io import BytesIO
from typing import Any, cast

from openpyxl import Workbook
from openpyxl.cell.cell import Cell
from openpyxl.styles import Alignment, Border, Font, PatternFill, Side
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.properties import PageSetupProperties
from openpyxl.worksheet.worksheet import Worksheet

from planner.handover.columns import NUMBER_FORMATS, Column, Shape, Table, Value, money_format
from planner.handover.facts import Handed
from planner.handover.packing import repack
from planner.handover.summary import Line, summary_lines
from planner.handover.tables import handover_tables

READ_AS_FORMULA = ("=", "+", "-", "@")
LONGEST_TEXT = 32_767  # limit of the file format
_CONTROL = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\ufffe\uffff\ud800-\udfff]")
_NAME = re.compile(r"\{([^}]+)\}")

HEAD = Font(bold=True)
TITLE = Font(bold=True, size=14)
HEAD_FILL = PatternFill("solid", fgColor="E4E7E4")
RULE = Border(bottom=Side(style="thin"))
TOTAL_RULE = Border(top=Side(style="thin"), bottom=Side(style="double"))
TOP, WRAPPED = Alignment(vertical="top"), Alignment(vertical="top", wrap_text=True)
SUMMARY_WIDTHS = (34, 24, 18, 60)
PAPER_CHARACTERS = (
    270  # of columns side by side on A4 on its side, at 55 %: 11 points come out as 6, the least that reads
)


@dataclass(frozen=True, slots=True)
class Ranges:
    """Where the columns of every table stand, for formulas that look into another sheet."""

    tables: Mapping[str, Table[Any]]

    def cells(self, title: str, name: str) -> str:
        """Return the absolute range of one column's rows."""
        table = self.tables[title]
        letter = get_column_letter(table.place(name))
        return f"'{title}'!${letter}$2:${letter}${table.last_row}"


def write_handover(handed: Handed) -> bytes:
    """Return the hand-over workbook; the same facts give the same bytes."""
    tables = handover_tables(handed)
    ranges = Ranges({table.title: table for table in tables})
    book = Workbook()
    page = book.worksheets[0]
    page.title = "Summary"
    _write_summary(page, summary_lines(handed, ranges.cells))
    for table in tables:
        _write_table(book.create_sheet(table.title), table, ranges)
    return _packed(book, handed.campus, handed.made)


def write_tables(tables: tuple[Table[Any], ...], campus: str, made: datetime) -> bytes:
    """Return a workbook of some tables, one a sheet; the same tables give the same bytes."""
    ranges = Ranges({table.title: table for table in tables})
    book = Workbook()
    book.remove(book.worksheets[0])
    for table in tables:
        _write_table(book.create_sheet(table.title), table, ranges)
    return _packed(book, campus, made)


def _packed(book: Workbook, campus: str, made: datetime) -> bytes:
    for sheet in book.worksheets:
        _set_for_print(sheet, campus)
    content = BytesIO()
    book.save(content)
    return repack(content.getvalue(), made)


def _write_summary(page: Worksheet, lines: tuple[Line, ...]) -> None:
    for number, line in enumerate(lines, start=1):
        for place, value in enumerate(line.values, start=1):
            cell = _at(page, number, place)
            _put(cell, value, live=line.live and place > 1)
            cell.alignment = TOP if line.head or len(line.values) == 1 else WRAPPED
            if place > 1 and value is not None and line.shape is not None:
                cell.number_format = _format(line.shape, line.currency)
        if line.head:
            _at(page, number, 1).font = TITLE if number == 1 else HEAD
    for place, width in enumerate(SUMMARY_WIDTHS, start=1):
        page.column_dimensions[get_column_letter(place)].width = width
    page.freeze_panes = "A2"


def _write_table(page: Worksheet, table: Table[Any], ranges: Ranges) -> None:
    for place, column in enumerate(table.columns, start=1):
        cell = _at(page, 1, place)
        _put(cell, column.heading, live=False)
        cell.font, cell.fill, cell.border, cell.alignment = HEAD, HEAD_FILL, RULE, WRAPPED
        page.column_dimensions[get_column_letter(place)].width = column.width
    for number, row in enumerate(table.rows, start=2):
        currency = table.currency(row) if table.currency is not None else None
        for place, column in enumerate(table.columns, start=1):
            _write_value(_at(page, number, place), column, (row, number), (table, ranges), currency)
    if not table.rows:
        _put(_at(page, 2, 1), table.empty, live=False)
    _write_totals(page, table)
    page.freeze_panes = "B2"
    page.auto_filter.ref = f"A1:{get_column_letter(len(table.columns))}{table.last_row}"


def _write_value(
    cell: Cell, column: Column[Any], row: tuple[Any, int], where: tuple[Table[Any], Ranges], currency: str | None
) -> None:
    if column.formula is not None:
        _put(cell, _formula(column.formula, row[1], *where), live=True)
    elif column.get is not None:
        _put(cell, column.get(row[0]), live=False)
    cell.number_format = _format(column.shape, currency)
    cell.alignment = WRAPPED if column.shape is Shape.LONG_TEXT else TOP


def _formula(formula: str, number: int, table: Table[Any], ranges: Ranges) -> str:
    """Return the formula with the names in braces replaced: own cells, or `Sheet.column` for a whole column."""

    def cell_of(found: re.Match[str]) -> str:
        title, dot, name = found[1].rpartition(".")
        if dot:
            return ranges.cells(title, name)
        return f"{get_column_letter(table.place(name))}{number}"

    return _NAME.sub(cell_of, formula)


def _write_totals(page: Worksheet, table: Table[Any]) -> None:
    """Write live totals below the rows: what is shown of numbers, one line a currency of money."""
    if not table.rows or not any(column.total for column in table.columns):
        return
    first = table.last_row + 1
    currencies = table.currencies or ("",)
    for number, currency in enumerate(currencies, start=first):
        label = f"Total {currency}".strip() if len(currencies) > 1 else "Total shown"
        _put(_at(page, number, 1), label, live=False)
        for place, column in enumerate(table.columns, start=1):
            cell = _at(page, number, place)
            cell.font, cell.border = HEAD, TOTAL_RULE
            is_money = column.shape is Shape.MONEY
            if column.total and (is_money or number == first):
                _put(cell, _total(table, place, currency, split=is_money and len(currencies) > 1), live=True)
                cell.number_format = _format(column.shape, currency or None)


def _total(table: Table[Any], place: int, currency: str, *, split: bool) -> str:
    """Return a total of what the filter leaves; where currencies mix, of the rows of one currency."""
    letter = get_column_letter(place)
    if not split:
        return f"=SUBTOTAL(109,{letter}2:{letter}{table.last_row})"
    codes = get_column_letter(table.place("currency"))
    return f'=SUMIF({codes}2:{codes}{table.last_row},"{currency}",{letter}2:{letter}{table.last_row})'


def _at(page: Worksheet, row: int, column: int) -> Cell:
    return cast("Cell", page.cell(row=row, column=column))


def _put(cell: Cell, value: Value, *, live: bool) -> None:
    """Put a value into a cell; text stays text, whatever it begins with."""
    if not isinstance(value, str):
        cell.value = value
        return
    text = _CONTROL.sub("\ufffd", value)
    text = text if len(text) <= LONGEST_TEXT else text[: LONGEST_TEXT - 1] + "…"
    cell.value = text
    if not live:
        cell.data_type = "s"
        cell.quotePrefix = text.startswith(READ_AS_FORMULA)


def _format(shape: Shape, currency: str | None) -> str:
    if shape is Shape.MONEY:
        return money_format(currency) if currency else "#,##0.00"
    return NUMBER_FORMATS[shape]


def _set_for_print(page: Worksheet, campus: str) -> None:
    """Fit the sheet to as few papers side by side as still read, repeat the headings, say on every page what it is."""
    page.page_setup.orientation = "landscape"
    page.page_setup.paperSize = page.PAPERSIZE_A4
    page.page_margins.left = page.page_margins.right = 0.4  # inches
    page.page_setup.fitToWidth, page.page_setup.fitToHeight = papers_wide(_widths(page)), 0
    page.page_setup.pageOrder = "overThenDown"
    page.sheet_properties.pageSetUpPr = PageSetupProperties(fitToPage=True)
    page.print_title_rows = "1:1"
    page.print_title_cols = "A:A"
    texts = (campus, page.title, "&P / &N")
    for place, text in zip(("left", "center", "right"), texts, strict=True):
        part = cast("Any", getattr(page.oddFooter, place))
        part.text = text if place == "right" else text.replace("&", "&&")


def _widths(page: Worksheet) -> list[float]:
    return [column.width for _, column in sorted(page.column_dimensions.items())]


def papers_wide(widths: list[float]) -> int:
    """Return on how many papers side by side columns of these widths [characters] are printed; the first stands on each.

    Examples
    --------
    >>> papers_wide([20, 250]), papers_wide([20, 251]), papers_wide([20, 250, 250])
    (1, 2, 2)

    """
    first, *others = widths
    return max(math.ceil(sum(others) / (PAPER_CHARACTERS - first)), 1)
