"""Workbooks for tests, good and bad, built when they are needed."""

import io
import zipfile
from collections.abc import Mapping, Sequence

from openpyxl import Workbook

from inventory.core.problems import Problem
from inventory.workbook.columns import Sheet
from inventory.workbook.rows import SheetRows, WorkbookRows
from inventory.workbook.sheets import BY_CODE

HEAD = '<?xml version="1.0" encoding="UTF-8"?>'
MAIN = 'xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"'
RELATIONS = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
PACKAGE = "http://schemas.openxmlformats.org/package/2006"


def book_of(tables: Mapping[str, Sequence[Sequence[object]]], epoch: object = None) -> bytes:
    """Return a workbook: sheet title -> rows, the headings first. Text stays text."""
    book = Workbook()
    if epoch is not None:
        book.epoch = epoch
    book.remove(book.active)
    for title, rows in tables.items():
        page = book.create_sheet(title)
        for number, row in enumerate(rows, start=1):
            for at, value in enumerate(row, start=1):
                cell = page.cell(row=number, column=at, value=value)
                if isinstance(value, str):
                    cell.data_type = "s"
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


def raw_book(
    sheet_data: str, *, title: str = "Buildings", before: str = "", parts: Mapping[str, str] | None = None
) -> bytes:
    """Return a workbook of one sheet whose XML is given as it is to stand in the file."""
    whole = {
        "[Content_Types].xml": f'{HEAD}<Types xmlns="{PACKAGE}/content-types"><Default Extension="xml" ContentType="application/xml"/><Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/><Override PartName="/xl/workbook.xml" ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.sheet.main+xml"/></Types>',
        "_rels/.rels": f'{HEAD}<Relationships xmlns="{PACKAGE}/relationships"><Relationship Id="r1" Type="{RELATIONS}/officeDocument" Target="xl/workbook.xml"/></Relationships>',
        "xl/workbook.xml": f'{HEAD}<workbook {MAIN} xmlns:r="{RELATIONS}"><sheets><sheet name="{title}" sheetId="1" r:id="r1"/></sheets></workbook>',
        "xl/_rels/workbook.xml.rels": f'{HEAD}<Relationships xmlns="{PACKAGE}/relationships"><Relationship Id="r1" Type="{RELATIONS}/worksheet" Target="worksheets/sheet1.xml"/></Relationships>',
        "xl/worksheets/sheet1.xml": f"{HEAD}{before}<worksheet {MAIN}>{sheet_data}</worksheet>",
        **(parts or {}),
    }
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as package:
        for name, text in whole.items():
            package.writestr(name, text)
    return stream.getvalue()


def text_xml(place: str, text: str) -> str:
    """Return the XML of one text cell."""
    return f'<c r="{place}" t="inlineStr"><is><t>{text}</t></is></c>'


def codes(problems: Sequence[Problem]) -> list[str]:
    """Return the codes of problems, in order."""
    return [problem.code for problem in problems]


def rows_of(code: str, **columns: list[object]) -> SheetRows:
    """Return rows of one sheet, column by column."""
    count = len(next(iter(columns.values())))
    return SheetRows(sheet=BY_CODE[code], numbers=list(range(2, count + 2)), columns=dict(columns))


def workbook_rows(*sheets: SheetRows) -> WorkbookRows:
    """Return a whole workbook of these sheets."""
    return WorkbookRows(sheets={rows.sheet.code: rows for rows in sheets})


def headings(sheet: Sheet) -> list[str]:
    """Return the headings of a sheet."""
    return [column.heading for column in sheet.columns]
