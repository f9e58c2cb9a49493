"""Intake: drop a workbook, see what it would change and what is wrong with it, take it in or not."""

from collections.abc import Iterable
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST

from inventory.core.problems import Problem
from inventory.core.roles import Capability
from inventory.models import Intake
from inventory.views.downloads import XLSX, download
from inventory.views.guard import person, requires
from inventory.workbook.sheets import BY_CODE
from planner.forms.intake import CalendarsForm, WorkbookForm
from planner.models import Job
from planner.models.jobs import DONE
from planner.services import intake, jobs
from planner.store.records import from_json

SHOWN_INTAKES = 10


@requires(Capability.TAKE_IN)
def start(request: HttpRequest) -> HttpResponse:
    """Ask for a workbook, and begin to look at it."""
    form = WorkbookForm(request.POST, request.FILES) if request.method == "POST" else WorkbookForm()
    if form.is_bound and form.is_valid():
        upload = form.cleaned_data["workbook"]
        demand = {"mode": intake.LOOK, "file_name": upload.name}
        job = jobs.ask("intake", demand, by=person(request), upload=upload.read())
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
    past = Intake.objects.select_related("by").defer("content", "problems")[:SHOWN_INTAKES]
    wrong = bool(form.errors or calendars_form.errors)
    context = {
        "form": form,
        "calendars_form": calendars_form,
        "intakes": [(one, _sums(one.counts)) for one in past],
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
    context: dict[str, Any] = {"job": one, "looked": one.demand["mode"] == intake.LOOK}
    if one.state == DONE and one.result:
        context |= {
            "result": one.result,
            "problems": _by_sheet(one.result["problems"]),
            "has_cells": any(problem["row"] for problem in one.result["problems"]),
            "absent": [(BY_CODE[code].title, code, rows) for code, rows in one.result.get("absent", {}).items()],
            "taken_by": one.result.get(intake.TAKEN_BY),
        }
    return render(request, "planner/intake_job.html", context)


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


def _ticked(request: HttpRequest) -> list[tuple[str, int]]:
    """Return the absent rows ticked for removal, each written `sheet:row`."""
    pairs = (one.partition(":") for one in request.POST.getlist("remove"))
    return [(code, int(row)) for code, _, row in pairs if row.isdecimal()]


@requires(Capability.TAKE_IN)
def marked(_request: HttpRequest, pk: int) -> HttpResponse:
    """Hand out the workbook that was looked at, with each bad cell coloured and explained."""
    one = get_object_or_404(Job, pk=pk, kind="intake", upload__isnull=False, state=DONE)
    problems = tuple(from_json(Problem, problem) for problem in (one.result or {}).get("problems", ()))
    return download(intake.marked_copy(bytes(one.upload or b""), problems), f"problems-{one.pk}.xlsx", XLSX)
