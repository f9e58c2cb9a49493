"""Audit: who did what, when, over everything that is acted on."""

from collections.abc import Iterable
from datetime import datetime

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone

from inventory.core.roles import Capability
from inventory.views.downloads import CSV, XLSX, download
from inventory.views.guard import requires
from inventory.views.lists import ROWS_A_PAGE
from inventory.workbook.lists import Value, as_csv, as_xlsx
from planner.forms.audit import AuditForm
from planner.services.acts import NOBODY, Told, all_told, told
from planner.store.acts import Place

MOST_KEPT = 100_000  # rows of a file
HEADINGS = ("When", "Who", "Kind", "What")
PARTS_OF_A_PLACE = 3
LONGEST_NUMBER = 18  # digits that the database can hold


@requires(Capability.AUDIT)
def audit(request: HttpRequest) -> HttpResponse:
    """Show who did what, newest first; as a file where the address says so."""
    form = AuditForm(request.GET)
    form.label_suffix = ""
    form.is_valid()
    asked = form.asked()
    kind = request.GET.get("as")
    if kind in {"csv", "xlsx"}:
        return _as_file(kind, all_told(asked, MOST_KEPT))
    before = place_of(request.GET.get("before", ""))
    span = told(asked, before, ROWS_A_PAGE)
    context = {
        "form": form,
        "rows": [(act, _address(act)) for act in span.acts],
        "older": _text_of(span.older) if span.older else None,
        "is_first": before is None,
        "nobody": NOBODY,
        "most_kept": MOST_KEPT,
    }
    return render(request, "planner/audit.html", context)


def _address(act: Told) -> str | None:
    if act.lead is None:
        return None
    name, pk = act.lead
    return reverse(name, args=[] if pk is None else [pk])


def _as_file(kind: str, acts: Iterable[Told]) -> HttpResponse:
    rows: Iterable[list[Value]] = ([act.at, act.who or NOBODY, act.kind, act.what] for act in acts)
    if kind == "csv":
        return download(as_csv(HEADINGS, rows), "audit.csv", CSV)
    return download(as_xlsx("Audit", HEADINGS, rows), "audit.xlsx", XLSX)


def _text_of(place: Place) -> str:
    return f"{place.at.isoformat()}~{place.source}~{place.pk}"


def place_of(text: str) -> Place | None:
    """Return the place that an address names; None where it names none."""
    parts = text.replace(" ", "+").split("~")  # a plus sign of the time zone may have been read as a blank
    if len(parts) != PARTS_OF_A_PLACE or not all(one.isdecimal() and len(one) <= LONGEST_NUMBER for one in parts[1:]):
        return None
    try:
        at = datetime.fromisoformat(parts[0])
    except ValueError:
        return None
    at = at if timezone.is_aware(at) else timezone.make_aware(at)
    return Place(at, int(parts[1]), int(parts[2]))
