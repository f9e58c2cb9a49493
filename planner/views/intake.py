"""Intake: drop a workbook, see what it would change and what is wrong with it, take it in or not."""

from collections.abc import Iterable
from hashlib import sha256
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.text import Truncator
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST

from inventory.core.problems import Problem
from inventory.core.roles import Capability
from inventory.models import Intake
from inventory.services.removals import Removal
from inventory.views.downloads import XLSX, download
from inventory.views.guard import person, requires
from inventory.views.numbers import row_number
from inventory.workbook.sheets import BY_CODE
from planner.forms.intake import CalendarsForm, WorkbookForm
from planner.models import Job
from planner.models.jobs import DONE
from planner.services import intake, jobs
from planner.store.records import from_json

SHOWN_INTAKES = 10
# rows on a page, all sheets together: it stays under 100 kB
MOST_PROBLEMS, MOST_NEW, MOST_CHANGED, MOST_ABSENT = 40, 40, 100, 150
MOST_LETTERS = 40  # of a cell where a whole row is shown
ALL = "all"  # in the place of a row: every absent row of a sheet


@requires(Capability.TAKE_IN)
def start(request: HttpRequest) -> HttpResponse:
    """Ask for a workbook, and begin to look at it."""
    form = WorkbookForm(request.POST, request.FILES) if request.method == "POST" else WorkbookForm()
    if form.is_bound and form.is_valid():
        upload = form.cleaned_data["workbook"]
        content = upload.read()
        demand = {"mode": intake.LOOK, "file_name": upload.name, "sha256": sha256(content).hexdigest()}
        job = jobs.ask_once("intake", demand, by=person(request), upload=content)
        return redirect("intake-job", pk=job.pk)
    return _start_page(request, form, CalendarsForm())


@requires(Capability.TAKE_IN)
@require_POST
def calendars(request: HttpRequest) -> HttpResponse:
    """Put calendars on file: all that were chosen, or none."""
    form = CalendarsForm(request.POST, request.FILES)
    if form.is_valid():
        files = {one.name: one.read() for one in form.cleaned_data["calendars"]}
        faults = intake.put_on_file(files, by=person(request))
        if not faults:
            messages.success(request, f"{len(files)} calendars are on file.")
            return redirect("intake")
        for fault in faults:
            form.add_error("calendars", f"{fault.message} {fault.remedy}")
    return _start_page(request, WorkbookForm(), form)


def _start_page(request: HttpRequest, form: WorkbookForm, calendars_form: CalendarsForm) -> HttpResponse:
    past = Intake.objects.select_related("by", "taken_back_by").defer("content", "problems")[:SHOWN_INTAKES]
    wrong = bool(form.errors or calendars_form.errors)
    context = {
        "form": form,
        "calendars_form": calendars_form,
        "intakes": [(one, _sums(one.counts)) for one in past],
        "last": intake.last_intake(),
    }
    return render(request, "planner/intake.html", context, status=400 if wrong else 200)


def _sums(counts: dict[str, dict[str, int]]) -> dict[str, int]:
    return {
        name: sum(one.get(name, 0) for one in counts.values()) for name in ("new", "changed", "unchanged", "removed")
    }


@never_cache
@requires(Capability.TAKE_IN)
def job(request: HttpRequest, pk: int) -> HttpResponse:
    """Show an intake on its way: progress, then what it would change or what it did."""
    one = get_object_or_404(Job.objects.defer("upload", "output"), pk=pk, kind="intake")
    mode = one.demand["mode"]
    context: dict[str, Any] = {"job": one, "looked": mode == intake.LOOK, "back": mode == intake.BACK}
    if one.state == DONE and one.result:
        context |= _came_of_it(one.result)
    return render(request, "planner/intake_job.html", context)


def _came_of_it(result: dict[str, Any]) -> dict[str, Any]:
    """Return what a page shows of what came of an intake: of each list no more than a page takes, and how many rest."""
    counts = result.get("counts", {})
    absent = [
        (BY_CODE[code].title, code, rows, counts.get(BY_CODE[code].title, {}).get("absent", len(rows)))
        for code, rows in result.get("absent", {}).items()
    ]
    problems = [(sheet, rows, len(rows)) for sheet, rows in _by_sheet(result["problems"])]
    whole = result.get("rows", {})
    return {
        "result": result,
        "problems": [
            (sheet, _by_row(rows, whole.get(sheet, {})), more) for sheet, rows, more in fit_in(problems, MOST_PROBLEMS)
        ],
        "has_cells": any(problem["row"] for problem in result["problems"]),
        "new": [(sheet, _cut(rows), more) for sheet, rows, more in fit_in(_counted(result, "new"), MOST_NEW)],
        "changed": fit_in(_counted(result, "changed"), MOST_CHANGED),
        "absent": [
            (title, code, rows, more, more + len(rows))
            for (title, code, _, _), (_, rows, more) in zip(
                absent, fit_in([(title, rows, count) for title, _, rows, count in absent], MOST_ABSENT), strict=True
            )
        ],
        "taken_by": result.get(intake.TAKEN_BY),
    }


def _counted(result: dict[str, Any], what: str) -> list[tuple[str, list[Any], int]]:
    """Return the rows of each sheet that are new or changed, and how many there are in all."""
    counts = result.get("counts", {})
    return [(sheet, rows, counts.get(sheet, {}).get(what, len(rows))) for sheet, rows in result.get(what, {}).items()]


def _cut(rows: list[dict[str, Any]]) -> list[dict[str, Any]]:
    return [{**row, "cells": _short(row["cells"])} for row in rows]


def _short(cells: list[dict[str, Any]]) -> list[dict[str, Any]]:
    return [{**cell, "text": Truncator(cell["text"]).chars(MOST_LETTERS)} for cell in cells]


def _by_row(problems: list[dict[str, Any]], whole: dict[str, list[dict[str, Any]]]) -> list[dict[str, Any]]:
    """Return problems row by row, in the order of their first, each row with all its cells where they are known."""
    rows: dict[Any, list[dict[str, Any]]] = {}
    for problem in problems:
        rows.setdefault(problem["row"], []).append(problem)
    return [{"row": row, "problems": about, "cells": _short(whole.get(str(row), []))} for row, about in rows.items()]


def fit_in(lists: list[tuple[str, list[Any], int]], most: int) -> list[tuple[str, list[Any], int]]:
    """Return lists (name, rows, how many there are) cut so that all together have about `most` rows, none nothing.

    Each comes with how many are not shown. Short lists leave their share to the longer ones.
    """
    fair = max(most // max(len(lists), 1), 1)
    spare = most - sum(min(len(rows), fair) for _, rows, _ in lists)
    found = []
    for name, rows, count in lists:
        extra = max(min(len(rows) - fair, spare), 0)
        spare -= extra
        shown = rows[: fair + extra]
        found.append((name, shown, count - len(shown)))
    return found


def _by_sheet(problems: Iterable[dict[str, Any]]) -> list[tuple[str, list[dict[str, Any]]]]:
    sheets: dict[str, list[dict[str, Any]]] = {}
    for problem in sorted(problems, key=lambda one: one["severity"] != "error"):
        sheets.setdefault(problem["sheet"] or "The file", []).append(problem)
    return list(sheets.items())


@requires(Capability.TAKE_IN)
@require_POST
def take(request: HttpRequest, pk: int) -> HttpResponse:
    """Take in the workbook that was looked at, with the absent rows that were ticked."""
    looked = get_object_or_404(Job.objects.defer("upload", "output"), pk=pk, kind="intake")
    taken = intake.take_after_look(looked.pk, _ticked(request), by=person(request))
    if taken is None:
        messages.error(request, "This workbook cannot be taken in as it is. Choose it again and look at it first.")
        return redirect("intake")
    return redirect("intake-job", pk=taken.pk)


def _ticked(request: HttpRequest) -> list[Removal]:
    """Return the absent rows ticked for removal, each written `sheet:row`, `sheet:all` for all of a sheet."""
    pairs = [(code, row) for code, _, row in (one.partition(":") for one in request.POST.getlist("remove"))]
    numbers = [(code, row_number(row)) for code, row in pairs]
    single: list[Removal] = [(code, number) for code, number in numbers if number is not None]
    return single + [(code, None) for code, row in pairs if row == ALL and code in BY_CODE]


@requires(Capability.TAKE_IN)
def back(request: HttpRequest, pk: int) -> HttpResponse:
    """Say what taking an intake back means, and do it when that is confirmed."""
    one = get_object_or_404(Intake.objects.defer("content", "problems").select_related("by"), pk=pk)
    last = intake.last_intake()
    if request.method == "POST":
        return redirect("intake-job", pk=intake.ask_back(one, by=person(request)).pk)
    if last is None or last.pk != one.pk:
        messages.info(
            request, f"The intake of {one.file_name} is not the last that changed anything, or it is taken back."
        )
        return redirect("intake")
    return render(
        request,
        "planner/intake_back.html",
        {"intake": one, "counts": _altered(one.counts), "orders": intake.orders_counting_on(one)},
    )


def _altered(counts: dict[str, dict[str, int]]) -> list[tuple[str, dict[str, int]]]:
    """Return the sheets of which an intake altered anything, by title."""
    names = ("new", "changed", "removed")
    return [
        (BY_CODE[code].title if code in BY_CODE else code, {name: one.get(name, 0) for name in names})
        for code, one in counts.items()
        if any(one.get(name) for name in names)
    ]


@requires(Capability.TAKE_IN)
def marked(_request: HttpRequest, pk: int) -> HttpResponse:
    """Hand out the workbook that was looked at, with each bad cell coloured and explained."""
    one = get_object_or_404(Job, pk=pk, kind="intake", upload__isnull=False, state=DONE)
    problems = tuple(from_json(Problem, problem) for problem in (one.result or {}).get("problems", ()))
    return download(intake.marked_copy(bytes(one.upload or b""), problems), f"problems-{one.pk}.xlsx", XLSX)
