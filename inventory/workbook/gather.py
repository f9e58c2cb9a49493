"""Gathering of problems, with a cap so that a broken file of 100,000 rows still gets an answer people can read."""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, datetime

from inventory.core.problems import Problem, Severity
from inventory.core.saying import day_words

MOST_ALIKE = 1_000  # problems of one code in one column that are told one by one


@dataclass(slots=True)
class Gathered:
    """Problems as they are found; `told` gives them in order, with the capped ones summed up."""

    problems: list[Problem] = field(default_factory=list)
    seen: Counter[tuple[str, str | None, str | None]] = field(default_factory=Counter)
    severities: dict[tuple[str, str | None, str | None], Severity] = field(default_factory=dict)

    def add(
        self,
        code: str,
        message: str,
        remedy: str,
        *,
        sheet: str | None = None,
        row: int | None = None,
        column: str | None = None,
        value: object = None,
        severity: Severity = Severity.ERROR,
    ) -> None:
        """Keep one problem, or only count it once there are `MOST_ALIKE` of its like."""
        kind = (code, sheet, column)
        self.seen[kind] += 1
        self.severities[kind] = severity
        if self.seen[kind] <= MOST_ALIKE:
            self.problems.append(
                Problem(
                    code=code,
                    severity=severity,
                    message=message,
                    remedy=remedy,
                    sheet=sheet,
                    row=row,
                    column=column,
                    value=shown(value),
                )
            )

    def told(self) -> tuple[Problem, ...]:
        """Return all problems by sheet, row, column and code, sums of the capped ones last."""
        return (*sorted(self.problems, key=_place), *self._sums())

    def _sums(self) -> Iterable[Problem]:
        for (code, sheet, column), count in self.seen.items():
            if count > MOST_ALIKE:
                yield Problem(
                    code=code,
                    severity=self.severities[code, sheet, column],
                    message=f"{count - MOST_ALIKE:,} more problems of this kind in this column are not listed",
                    remedy="mend those listed the same way all over the column, then read the workbook again",
                    sheet=sheet,
                    column=column,
                )


def shown(value: object) -> str | None:
    """Return a value as people see it in the cell, cut to a readable length."""
    if value is None or (isinstance(value, str) and not value):
        return None
    if isinstance(value, float) and value.is_integer():
        return str(int(value))
    text = day_words(value) if isinstance(value, date) and not isinstance(value, datetime) else str(value)
    return text if len(text) <= 80 else f"{text[:77]}..."  # noqa: PLR2004 - a line


def _place(problem: Problem) -> tuple[str, int, str, str, str]:
    return (problem.sheet or "", problem.row or 0, problem.column or "", problem.code, problem.message)
