"""Take a workbook in, the planner's sheets included; look first, then store."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import asdict
from typing import Any, TypeVar

from django.db import transaction

from inventory.core.problems import Problem, errors_in
from inventory.core.saying import NOT_KNOWN
from inventory.models import Intake, Node
from inventory.services.calendars import calendar_errors, put_calendars
from inventory.services.intake import (
    SHOWN_AT_MOST,
    TOLD_AT_MOST,
    IntakePreview,
    IntakeResult,
    IntakeStopped,
    preview,
    take_in,
)
from inventory.services.removals import Removal
from inventory.services.taking_back import TakenBack, last_to_take_back, take_back
from inventory.store.history import NEW
from inventory.store.taking import SheetCounts
from inventory.store.targets import By
from inventory.workbook.lists import as_book
from inventory.workbook.mark import mark_problems
from inventory.workbook.sheets import BY_CODE
from inventory.workbook.whole_rows import SaidRow
from planner.models import Job
from planner.models.jobs import ENDED
from planner.services import jobs
from planner.services.ageing import reckon_risks
from planner.services.assess import assess_campus, silent
from planner.services.converted import orders_of_stations
from planner.services.jobs import Outcome, Stopped, Tell
from planner.services.records import who_did
from planner.store.intake import ALL_TARGETS, PLANNER_CHECKS

Row = TypeVar("Row")

LOOK, TAKE, BACK = "look", "take", "take back"
TAKEN_BY = "taken_by"  # in the result of a look: the job that takes its workbook in


def look(content: bytes, *, tell: Tell = silent) -> IntakePreview:
    """Tell what a workbook would change, and every problem; nothing is stored."""
    return preview(content, ALL_TARGETS, progress=tell, checks=PLANNER_CHECKS)


def take(
    content: bytes, file_name: str, *, by: By, remove: Collection[Removal] = (), tell: Tell = silent
) -> IntakeResult:
    """Take a workbook in, all of it or nothing."""
    return take_in(content, file_name, ALL_TARGETS, by, remove, progress=tell, checks=PLANNER_CHECKS)


@transaction.atomic
def take_with_calendars(content: bytes, file_name: str, calendars: Mapping[str, bytes], *, by: By) -> IntakeResult:
    """Take a workbook in together with the rooms' calendars, all of it or nothing."""
    faults = errors_in(put_calendars(calendars, by))
    result = IntakeResult(stored=False, problems=faults) if faults else take(content, file_name, by=by)
    if not result.stored:
        transaction.set_rollback(True)
    return result


def put_on_file(calendars: Mapping[str, bytes], *, by: By) -> tuple[Problem, ...]:
    """Put room calendars on file; return the errors, empty where all could be read and are stored."""
    return errors_in(put_calendars(calendars, by))


@transaction.atomic
def take_after_look(looked_pk: int, remove: Collection[Removal], *, by: By) -> Job | None:
    """Ask for the workbook of a look to be taken in; None where it cannot be.

    The look gives its file away and remembers to whom, so that a second click finds the work of the first.
    """
    looked = Job.objects.select_for_update().get(pk=looked_pk)
    facts = looked.result or {}
    if facts.get(TAKEN_BY):
        return Job.objects.filter(pk=facts[TAKEN_BY]).first()
    if looked.upload is None or not facts.get("can_be_stored"):
        return None
    demand = {"mode": TAKE, "file_name": looked.demand["file_name"], "remove": list(remove)}
    taken = jobs.ask("intake", demand, by=by, upload=bytes(looked.upload))
    looked.result, looked.upload = {**facts, TAKEN_BY: taken.pk}, None
    looked.save(update_fields=["result", "upload"])
    return taken


def ask_back(intake: Intake, *, by: By) -> Job:
    """Ask for an intake to be taken back; a second click finds the work of the first."""
    going = Job.objects.filter(kind="intake", demand__mode=BACK, demand__intake=intake.pk).exclude(state__in=ENDED)
    return going.defer("upload", "output").first() or jobs.ask(
        "intake", {"mode": BACK, "intake": intake.pk, "file_name": intake.file_name}, by=by
    )


def orders_counting_on(intake: Intake) -> tuple[str, ...]:
    """Return the orders of the plan in force that convert a station which an intake put on record, in words."""
    pages = Node.history.filter(history_date=intake.at, history_type=NEW, history_change_reason__isnull=False)
    return orders_of_stations(set(pages.values_list("key", flat=True)))


def last_intake() -> Intake | None:
    """Return the intake that can be taken back: the last that changed anything; None where there is none."""
    return last_to_take_back()


def marked_copy(content: bytes, problems: tuple[Problem, ...]) -> bytes:
    """Return a copy of a workbook with each bad cell coloured and explained."""
    return mark_problems(content, problems)


def faults_of(calendars: Mapping[str, bytes]) -> tuple[Problem, ...]:
    """Return what keeps these calendars from being put on file; nothing is stored."""
    return calendar_errors(calendars)


def counts_as_data(counts: Mapping[str, SheetCounts]) -> dict[str, dict[str, int]]:
    """Return counts by sheet title."""
    return {BY_CODE[code].title: asdict(one) for code, one in counts.items()}


def problems_as_data(problems: Collection[Problem]) -> list[dict[str, Any]]:
    """Return problems as plain data."""
    return [asdict(problem) for problem in problems]


def rows_as_data(rows: Mapping[str, Mapping[int, SaidRow]]) -> dict[str, dict[str, list[dict[str, Any]]]]:
    """Return the rows that problems are about as plain data, by sheet title and row number."""
    return {
        title: {str(number): [asdict(cell) for cell in cells] for number, cells in of_sheet.items()}
        for title, of_sheet in rows.items()
    }


def _first(rows: Sequence[Row]) -> Sequence[Row]:
    return rows[:SHOWN_AT_MOST]


def changes_workbook(seen: IntakePreview) -> bytes:
    """Return everything that an intake would change as a workbook: sums, new, changed and absent rows."""
    named = {code: BY_CODE[code].title for code in seen.counts}
    sums = [
        (named[code], one.new, one.changed, one.unchanged, one.absent, _left_out(one, TOLD_AT_MOST))
        for code, one in seen.counts.items()
    ]
    new = [
        (named[code], row.row, row.key, "; ".join(f"{cell.column}: {cell.text}" for cell in row.cells))
        for code, rows in seen.new.items()
        for row in rows
    ]
    changed = [
        (named[code], row.row, row.key, cell.column, cell.old or NOT_KNOWN, cell.new or NOT_KNOWN)
        for code, rows in seen.changed.items()
        for row in rows
        for cell in row.cells
    ]
    absent = [(named[code], row.key) for code, rows in seen.absent.items() for row in rows]
    return as_book(
        [
            ("Sums", ("Sheet", "New", "Changed", "Unchanged", "Absent from the file", "Not listed here"), sums),
            ("New", ("Sheet", "Row", "Record", "What the file says"), new),
            ("Changed", ("Sheet", "Row", "Record", "Column", "Now on file", "In the workbook"), changed),
            ("Absent", ("Sheet", "Record"), absent),
        ]
    )


def _left_out(counts: SheetCounts, most: int) -> int:
    """Return how many rows of a sheet the lists do not name."""
    return sum(max(count - most, 0) for count in (counts.new, counts.changed, counts.absent))


def preview_as_data(seen: IntakePreview) -> dict[str, Any]:
    """Return a preview as plain data, rows by sheet title."""
    return {
        "can_be_stored": seen.can_be_stored,
        "counts": counts_as_data(seen.counts),
        "problems": problems_as_data(seen.problems),
        "rows": rows_as_data(seen.rows),
        "unknown_columns": [list(one) for one in seen.unknown_columns],
        "unknown_sheets": list(seen.unknown_sheets),
        "new": {BY_CODE[code].title: [asdict(row) for row in _first(rows)] for code, rows in seen.new.items()},
        "changed": {BY_CODE[code].title: [asdict(row) for row in _first(rows)] for code, rows in seen.changed.items()},
        "absent": {code: [asdict(row) for row in _first(rows)] for code, rows in seen.absent.items()},
        "shown_at_most": SHOWN_AT_MOST,
    }


def result_as_data(result: IntakeResult) -> dict[str, Any]:
    """Return what came of an intake as plain data."""
    return {
        "stored": result.stored,
        "counts": counts_as_data(result.counts),
        "problems": problems_as_data(result.problems),
        "rows": rows_as_data(result.rows),
        "unknown_columns": [list(one) for one in result.unknown_columns],
        "unknown_sheets": list(result.unknown_sheets),
        "intake": result.intake,
    }


def do(job: Job, tell: Tell) -> Outcome:
    """Look at a workbook, or take it in and have the campus assessed, in the background."""
    work = {LOOK: _look_for, TAKE: _take_for, BACK: _back_for}[job.demand["mode"]]
    try:
        return work(job, bytes(job.upload or b""), tell)
    except IntakeStopped:
        message = "Stopped as asked; nothing was stored."
        raise Stopped(message) from None


def _look_for(job: Job, content: bytes, tell: Tell) -> Outcome:
    seen = look(content, tell=tell)
    changes = changes_workbook(seen) if seen.can_be_stored else None
    return Outcome(result=preview_as_data(seen), output=changes, output_name=f"changes-{job.pk}.xlsx", keep_upload=True)


def _take_for(job: Job, content: bytes, tell: Tell) -> Outcome:
    remove = [(code, row) for code, row in job.demand.get("remove", ())]
    name = job.demand.get("file_name", "workbook.xlsx")
    result = take(content, name, by=job.by, remove=remove, tell=tell)
    if result.stored:
        _judge(f"the workbook {name} was taken in by {who_did(job.by)}", job, tell)
    return Outcome(result=result_as_data(result))


def _judge(because: str, job: Job, tell: Tell) -> None:
    assess_campus(by=str(job.by) if job.by else None, because=because, tell=tell)
    reckon_risks()


def _back_for(job: Job, _content: bytes, tell: Tell) -> Outcome:
    tell("Taking the intake back", 0.0)
    result = take_back(job.demand["intake"], ALL_TARGETS, job.by)
    if result.done:
        _judge(f"the intake of {job.demand['file_name']} was taken back by {who_did(job.by)}", job, tell)
    return Outcome(result=back_as_data(result))


def back_as_data(result: TakenBack) -> dict[str, Any]:
    """Return what came of taking an intake back as plain data."""
    return {
        "taken_back": result.done,
        "back": {what: asdict(counts) for what, counts in result.counts.items()},
        "problems": problems_as_data(result.problems),
    }
