"""Rows of a workbook as people see them: every filled cell under its heading, those that are wrong marked as such."""

from bisect import bisect_left
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from inventory.core.problems import Problem, Severity
from inventory.workbook.columns import Column
from inventory.workbook.gather import shown
from inventory.workbook.read import plain
from inventory.workbook.rows import SheetRows, WorkbookRows
from inventory.workbook.typed import written


@dataclass(frozen=True, slots=True, kw_only=True)
class SaidCell:
    """One cell in words: its heading, what it holds ("" for nothing), and whether a problem is about it."""

    column: str
    text: str
    bad: bool = False


SaidRow = tuple[SaidCell, ...]


def said_row(rows: SheetRows, at: int) -> SaidRow:
    """Return the filled cells of the row at position `at`, in the order of the sheet."""
    texts = ((column.heading, written(rows.columns[column.name][at], column.kind)) for column in _columns(rows))
    return tuple(SaidCell(column=heading, text=shown(text) or "") for heading, text in texts if text)


def _columns(rows: SheetRows) -> Iterable[Column]:
    return (column for column in rows.sheet.columns if column.name in rows.columns)


def rows_of_problems(rows: WorkbookRows, problems: Sequence[Problem], most: int) -> dict[str, dict[int, SaidRow]]:
    """Return sheet title -> row number -> the whole row, for the first `most` rows of a sheet that have a problem.

    Rows with an error come before those with warnings only. What was seen in a bad cell stands in it, since a value
    that cannot be read is not among the values.
    """
    by_title = {plain(one.sheet.title): one for one in rows.sheets.values()}
    found: dict[str, dict[int, SaidRow]] = {}
    for (title, number), about in _by_row(problems).items():
        sheet = by_title.get(plain(title))
        at = None if sheet is None else _position(sheet.numbers, number)
        of_sheet = found.setdefault(title, {})
        if sheet is not None and at is not None and len(of_sheet) < most:
            of_sheet[number] = _marked(sheet, at, about)
    return {title: of_sheet for title, of_sheet in found.items() if of_sheet}


def _by_row(problems: Sequence[Problem]) -> Mapping[tuple[str, int], list[Problem]]:
    by_row: dict[tuple[str, int], list[Problem]] = {}
    for one in sorted(problems, key=lambda problem: problem.severity is not Severity.ERROR):
        if one.sheet and one.row:
            by_row.setdefault((one.sheet, one.row), []).append(one)
    return by_row


def _position(numbers: Sequence[int], number: int) -> int | None:
    at = bisect_left(numbers, number)
    return at if at < len(numbers) and numbers[at] == number else None


def _marked(rows: SheetRows, at: int, problems: Iterable[Problem]) -> SaidRow:
    bad = {one.column: one.value or "" for one in problems if one.column}
    texts = {cell.column: cell.text for cell in said_row(rows, at)}
    order = [column.heading for column in rows.sheet.columns if column.heading in texts or column.heading in bad]
    order += [heading for heading in bad if heading not in order]  # a length in feet stands under a heading of its own
    return tuple(
        SaidCell(column=heading, text=bad.get(heading) or texts.get(heading, ""), bad=heading in bad)
        for heading in order
    )
