"""A copy of a workbook with every bad cell coloured and its problem in a note, and a sheet that lists all problems."""

import io
from collections import defaultdict
from collections.abc import Iterable, Mapping
from zipfile import BadZipFile

from openpyxl import Workbook, load_workbook
from openpyxl.cell.cell import Cell, MergedCell, WriteOnlyCell
from openpyxl.cell.read_only import EmptyCell, ReadOnlyCell
from openpyxl.comments import Comment
from openpyxl.styles import PatternFill
from openpyxl.worksheet.worksheet import Worksheet

from inventory.core.problems import Problem, Severity
from inventory.workbook.gather import Gathered
from inventory.workbook.package import PackageError, look_at
from inventory.workbook.read import PROBLEMS_TITLE, plain
from inventory.workbook.suspects import look_closely
from inventory.workbook.write import HEADING_FONT, PLAIN_FILL, RULE, fits, new_page, saved, text_cell

FILLS = {
    Severity.ERROR: PatternFill("solid", fgColor="FFF4B6A6"),
    Severity.WARNING: PatternFill("solid", fgColor="FFF7E3A1"),
}
HEADINGS = ("Weight", "Sheet", "Row", "Column", "Value seen", "Problem", "What to do")
WIDTHS = (10, 16, 8, 24, 28, 70, 60)
FORMULA = "f"
SHORT = 1_000  # characters shown of a text that no cell can hold
Marks = Mapping[tuple[int, int], list[Problem]]


def mark_problems(content: bytes, problems: Iterable[Problem]) -> bytes:
    """Return a copy of the workbook with its problems marked; where it cannot be read, only the list of problems."""
    told = tuple(problems)
    book = Workbook(write_only=True)
    _list_problems(book, told)
    if _may_be_read(content):
        _copy_sheets(book, content, told)
    return saved(book)


def _may_be_read(content: bytes) -> bool:
    parts = look_at(content, Gathered())
    if parts is None:
        return False
    try:
        look_closely(content, parts)
    except PackageError:
        return False
    return True


def _list_problems(book: Workbook, problems: tuple[Problem, ...]) -> None:
    page = new_page(book, PROBLEMS_TITLE)
    page.freeze_panes = "A2"
    for letter, width in zip("ABCDEFG", WIDTHS, strict=True):
        page.column_dimensions[letter].width = width
    headings = [text_cell(page, heading) for heading in HEADINGS]
    for cell in headings:
        cell.font, cell.border, cell.fill = HEADING_FONT, RULE, PLAIN_FILL
    page.append(headings)
    for problem in problems:
        facts = (problem.sheet, problem.row, problem.column, problem.value, problem.message, problem.remedy)
        weight = text_cell(page, problem.severity.value)
        weight.fill = FILLS[problem.severity]
        page.append([weight, *(text_cell(page, fact) if isinstance(fact, str) else fact for fact in facts)])


def _copy_sheets(book: Workbook, content: bytes, problems: tuple[Problem, ...]) -> None:
    """Copy values, formulas and dates row by row, so that a big workbook needs little memory."""
    try:
        source = load_workbook(io.BytesIO(content), read_only=True)
    except (BadZipFile, KeyError, ValueError, TypeError, OSError):
        return  # the list of problems says what is wrong with the file
    for sheet in source.worksheets:
        if plain(sheet.title) != plain(PROBLEMS_TITLE):
            own = tuple(problem for problem in problems if plain(problem.sheet or "") == plain(sheet.title))
            _copy_sheet(new_page(book, sheet.title), sheet, own)
    source.close()


def _copy_sheet(page: Worksheet, sheet: Worksheet, problems: tuple[Problem, ...]) -> None:
    page.freeze_panes = "A2"
    sheet.reset_dimensions()  # type: ignore[attr-defined]  # what the file claims of its size may be wrong
    marks: Marks = {}
    for number, row in enumerate(sheet.iter_rows(), start=1):
        if number == 1:
            marks = _places(problems, [plain(str(cell.value or "")) for cell in row])
        cells = [_copied(page, cell, marks.get((number, at), [])) for at, cell in enumerate(row)]
        page.append(cells)


def _places(problems: tuple[Problem, ...], headings: list[str]) -> Marks:
    """Return (row, position) -> problems; a problem of a row marks its first cell, one of a column its heading."""
    at = {heading: position for position, heading in reversed([*enumerate(headings)])}
    marks: dict[tuple[int, int], list[Problem]] = defaultdict(list)
    for problem in problems:
        place = at.get(plain(problem.column), 0) if problem.column else 0  # a blank heading is no place for it
        marks[problem.row or 1, place].append(problem)
    return marks


def _copied(page: Worksheet, cell: ReadOnlyCell | EmptyCell | Cell | MergedCell, problems: list[Problem]) -> object:
    value = cell.value
    if isinstance(value, str) and cell.data_type != FORMULA:
        copy = text_cell(page, value if fits(value) else value[:SHORT])
    elif problems or not isinstance(cell, EmptyCell):
        copy = WriteOnlyCell(page, value)  # type: ignore[arg-type]  # whatever a cell held, a cell can hold
    else:
        return None
    if not isinstance(cell, EmptyCell):
        copy.number_format = cell.number_format
    if problems:
        copy.fill = FILLS[min(problem.severity for problem in problems)]  # error comes before warning
        copy.comment = Comment("\n\n".join(_said(problem) for problem in problems), "Changeover", width=320, height=140)
    return copy


def _said(problem: Problem) -> str:
    return f"{problem.message}.\nTo do: {problem.remedy}."
