"""Removing rows that a workbook no longer has, where the person ticked them."""

from collections.abc import Collection, Mapping

from django.db import connection

from inventory.core.problems import Problem, Severity
from inventory.core.standards import open_standards
from inventory.services.standards import sync_open_standards
from inventory.store.history import Stamp, hanging_on, remove_rows
from inventory.store.taking import SheetOutcome
from inventory.store.targets import Targets, sheets_of

Removal = tuple[str, int | None]  # sheet code and id of an absent row; None: every absent row of the sheet


def remove_ticked(
    targets: Targets, outcomes: Mapping[str, SheetOutcome], remove: Collection[Removal], stamp: Stamp
) -> tuple[dict[str, int], tuple[Problem, ...]]:
    """Remove the ticked rows, what refers before what it refers to; return how many went by sheet code.

    The problems say why rows cannot go; then the caller must take the transaction back.
    """
    removed: dict[str, int] = {}
    problems: list[Problem] = []
    for sheet in reversed(sheets_of({code for code, _ in remove})):
        absent = outcomes[sheet.code].absent if sheet.code in outcomes else ()
        ticked = {row for code, row in remove if code == sheet.code}
        going = [row for row in absent if row in ticked or None in ticked]
        problems += _not_absent(sheet.title, ticked - set(absent) - {None})
        model = targets[sheet.code].model
        for hanging in hanging_on(model, going):
            problems.append(_still_needed(sheet.title, str(hanging)))
        if not problems:
            remove_rows(connection, model, going, stamp)
        removed[sheet.code] = len(going)
    sync_open_standards(open_standards())  # where a campus's own row went, the standard's returns
    return removed, tuple(problems)


def _not_absent(title: str, rows: set[int | None]) -> list[Problem]:
    if not rows:
        return []
    return [
        Problem(
            code="not-absent",
            severity=Severity.ERROR,
            message=f"{len(rows)} of the rows ticked for removal are in the file, or are gone already.",
            remedy="Look at the preview again, and tick the rows that are to go.",
            sheet=title,
        )
    ]


def _still_needed(title: str, hanging: str) -> Problem:
    return Problem(
        code="still-referred-to",
        severity=Severity.ERROR,
        message=f"Rows ticked for removal are still referred to by {hanging}.",
        remedy="Remove those too, have them refer to something else, or keep the row.",
        sheet=title,
    )
