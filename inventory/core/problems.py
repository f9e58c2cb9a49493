"""Problems: numbered, worded records of what is wrong with a cell, a row, a file or a reference.

Problems are data. They are collected, never raised, so that one pass over a workbook tells everything.
"""

from dataclasses import dataclass
from enum import StrEnum


class Severity(StrEnum):
    """How much a problem weighs."""

    ERROR = "error"  # nothing is stored until it is mended
    WARNING = "warning"  # stored, and shown


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """One problem at one place of a workbook.

    `sheet` is the sheet's title, `row` the number the spreadsheet shows (headings stand in row 1), `column`
    the heading. Any of them is None where the problem is wider than that. `value` is what was seen, as text.
    """

    code: str
    severity: Severity
    message: str
    remedy: str
    sheet: str | None = None
    row: int | None = None
    column: str | None = None
    value: str | None = None


def errors_in(problems: tuple[Problem, ...]) -> tuple[Problem, ...]:
    """Return those problems that keep the whole workbook out."""
    return tuple(problem for problem in problems if problem.severity is Severity.ERROR)
