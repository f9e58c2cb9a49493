"""The planner's sheets of the workbook: where they are kept, and the checks that only the planner can make."""

from collections.abc import Callable

from django.db import models

from inventory.core.problems import Problem, Severity
from inventory.models import Method
from inventory.store.targets import TARGETS, By, Target
from inventory.workbook.rows import WorkbookRows
from planner.core.brief import Brief as BriefRecord
from planner.core.brief_text import read_brief
from planner.models import Brief, BriefSetting, Closure, Crew, Phase
from planner.models.briefs import FIRST_BRIEF


def _first_brief(by: By) -> int:
    """Return the id of the brief that the workbook fills, and make it where there is none."""
    stored = Brief.objects.filter(name=FIRST_BRIEF).first()
    if stored is None:
        stored = Brief(name=FIRST_BRIEF)
        stored._history_user = by  # type: ignore[attr-defined]  # noqa: SLF001 - how the history library is told who
        stored.save()
    return stored.pk


def _of_the_first_brief(model: type[models.Model]) -> Target:
    return Target(
        model=model, sets={"brief_id": _first_brief}, also_key=("brief_id",), owned={"brief__name": FIRST_BRIEF}
    )


PLANNER_TARGETS: dict[str, Target] = {
    "crews": _of_the_first_brief(Crew),
    "phases": _of_the_first_brief(Phase),
    "closures": _of_the_first_brief(Closure),
    "brief": _of_the_first_brief(BriefSetting),
}
ALL_TARGETS: dict[str, Target] = TARGETS | PLANNER_TARGETS


def check_brief(rows: WorkbookRows) -> tuple[Problem, ...]:
    """Return an error for each setting that cannot be used, a warning for each method it names that is not on file."""
    sheet = rows.sheets.get("brief")
    if sheet is None:
        return ()
    problems: list[Problem] = []
    known = _methods(rows)
    for number, title, value in zip(sheet.numbers, sheet.column("setting"), sheet.column("value"), strict=True):
        if title is None:
            continue  # the reader has said so
        brief, found = read_brief({str(title): None if value is None else str(value)})
        problems += [_in_row(problem, number) for problem in found]
        problems += [_no_such_method(name, number) for name in _named(brief) if name not in known]
    return tuple(problems)


def _in_row(problem: Problem, number: int) -> Problem:
    return Problem(
        code=problem.code,
        severity=problem.severity,
        message=problem.message,
        remedy=problem.remedy,
        sheet=problem.sheet,
        row=number,
        column=problem.column,
        value=problem.value,
    )


def _methods(rows: WorkbookRows) -> set[object]:
    sheet = rows.sheets.get("methods")
    return {*Method.objects.values_list("key", flat=True), *(sheet.keys() if sheet else ())}


def _named(brief: BriefRecord | None) -> tuple[str, ...]:
    return (*brief.forbidden_methods, *brief.preferred_methods) if brief else ()


def _no_such_method(name: str, number: int) -> Problem:
    return Problem(
        code="setting-method",
        severity=Severity.WARNING,
        message=f"The brief names the method {name}, which is not on file, so the setting does nothing for it.",
        remedy="Write the method as on the sheet Methods; commas stand between methods.",
        sheet="Brief",
        row=number,
        column="Value",
        value=name,
    )


PLANNER_CHECKS: tuple[Callable[[WorkbookRows], tuple[Problem, ...]], ...] = (check_brief,)
