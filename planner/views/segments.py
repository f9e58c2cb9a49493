"""Segments: what can be converted, and why not."""

from collections import Counter
from collections.abc import Iterable
from itertools import islice
from typing import Any
from uuid import UUID, uuid4

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils.safestring import SafeString, mark_safe
from django.views.decorators.http import require_POST

from inventory.core.readings import UNIT
from inventory.core.roles import Capability
from inventory.core.saying import number_words
from inventory.models import Reading
from inventory.views.guard import person, requires
from inventory.views.lists import show_list
from planner.core.findings import CONVERTIBLE, SegmentReport, WayOut
from planner.core.measuring import MOST_PLACES, meanings
from planner.core.rules.table import BY_CODE
from planner.filters.segments import SegmentFilter, segments_of
from planner.forms.readings import ReadingsForm, name_of
from planner.forms.ways_out import BelowForm
from planner.handover.drawings import MOST_NODES, draw_sheets, draw_summary
from planner.handover.sketch import after, before, rows_of
from planner.models import Order, Segment, TakenWay
from planner.services import jobs
from planner.services.dark import dark_rooms_of, moved_to
from planner.services.readings import enter_once
from planner.services.reassess import Reassessed
from planner.services.segment_sheets import SegmentSheet, sheet_of
from planner.services.standing import current_plan
from planner.services.ways_out import needs_way_out
from planner.store.briefs import load_brief
from planner.store.measured import landings_of
from planner.store.records import from_json
from planner.store.verdicts import current_assessment
from planner.tables.segments import SegmentTable
from planner.views.own_orders import SENT_BY_SCRIPT, shown

DRAWN_HERE = 30  # nodes; the drawings of a larger segment have a page of their own, so that none is heavy
PAGE_LEFT = 620.0  # points of a printed page that heading and caution leave
LINE_H, LINE_LETTERS = 24.0, 90  # of what is said above the drawing there
MOST_ROWS = 100
MOST_READINGS = 40  # on one page; the rest are counted


@requires(Capability.SEE)
def segments(request: HttpRequest) -> HttpResponse:
    """List the segments of the current assessment."""
    return list_page(request, BelowForm())


def list_page(request: HttpRequest, below: BelowForm) -> HttpResponse:
    """Show the list with the form that takes ways out of all that it holds, and what is wrong with that."""
    assessment = current_assessment()
    context = {"assessment": assessment, "currency": load_brief().currency, "below": below}
    rows = segments_of(assessment)
    answer = show_list(request, "planner/segments.html", SegmentTable, SegmentFilter, rows, context)
    answer.status_code = 400 if below.errors else answer.status_code
    return answer


@requires(Capability.ASSESS)
@require_POST
def assess(request: HttpRequest) -> HttpResponse:
    """Have the campus assessed anew, in the background."""
    job = jobs.ask_once("assess", {}, by=person(request))
    return redirect("job", pk=job.pk)


@requires(Capability.ASSESS)
@require_POST
def way_out(request: HttpRequest, key: str) -> HttpResponse:
    """Have the way out of one segment looked for, in the background."""
    job = jobs.ask_once("way out", {"segment": key}, by=person(request))
    return redirect("job", pk=job.pk)


@requires(Capability.SEE)
def segment(request: HttpRequest, key: str) -> HttpResponse:
    """Show one segment: drawing, verdict, findings, what else."""
    sheet = _sheet(key)
    return _page(request, sheet, ReadingsForm(sheet.measures))


@requires(Capability.MEASURE)
@require_POST
def read(request: HttpRequest, key: str) -> HttpResponse:
    """Put figures that were read on this segment on record."""
    by_script = SENT_BY_SCRIPT in request.headers
    if by_script and not _segments().filter(key=key).exists():
        return JsonResponse(
            {
                "refused": f"there is no segment {key} any more. Enter it on the page of the segment that its nodes are on now."
            }
        )
    sheet = _sheet(key)
    form = ReadingsForm(sheet.measures, request.POST)
    said = _entered(form, request) if form.is_valid() else ""
    if by_script:
        return JsonResponse(_told(request, key, form, said))
    if not said:
        return _page(request, sheet, form)
    messages.success(request, said)
    return redirect(f"{reverse('segment', args=[key])}#measures")


def _told(request: HttpRequest, key: str, form: ReadingsForm, said: str) -> dict[str, str]:
    """Return what a script is told: why nothing was kept, and the figures of the segment as they stand now."""
    row = _segments().filter(key=key).first()
    wrong = {} if said else {"refused": " ".join(str(error) for errors in form.errors.values() for error in errors)}
    if row is None:
        return wrong
    sheet = sheet_of(row)
    context = {
        "segment": row,
        "said": said,
        **_figures(sheet, ReadingsForm(sheet.measures) if said else form, sheet.readings),
    }
    return wrong | {"state": render_to_string("planner/parts/measures.html", context, request)}


def _entered(form: ReadingsForm, request: HttpRequest) -> str:
    """Put the figures of a form on record and say what came of it; nothing is said where the form says what is wrong."""
    said = form.cleaned_data
    facts = {"instrument": said["instrument"], "note": said["note"], "by": person(request)}
    try:
        done = enter_once(_token(request), form.entries(), said["on"], **facts)
    except ValidationError as error:
        form.add_error(None, error)
        return ""
    if done is None:
        return "These figures are on record: they came in before and count once."
    count = len(list(form.entries()))
    return f"{count} {'figure is' if count == 1 else 'figures are'} on record. {_outcome(done)}"


def _token(request: HttpRequest) -> UUID:
    """Return the token under which figures were typed; a new one where there is none."""
    try:
        return UUID(request.POST.get("token", ""))
    except ValueError:
        return uuid4()


def _outcome(done: Reassessed) -> str:
    """Say what the figures did to verdicts."""
    turned = [f"{one.segment} is now {one.verdict}" for one in done.turned if one.verdict is not None]
    if done.job is not None:
        return "The campus is being assessed anew."
    return f"{'; '.join(turned)}." if turned else "No verdict turned."


def _segments() -> QuerySet[Segment]:
    return Segment.objects.filter(assessment=current_assessment()).select_related("building")


def _sheet(key: str) -> SegmentSheet:
    return sheet_of(get_object_or_404(_segments(), key=key))


def _page(request: HttpRequest, sheet: SegmentSheet, form: ReadingsForm) -> HttpResponse:
    report, readings = sheet.report, sheet.readings
    context: dict[str, Any] = {
        "segment": sheet.row,
        "report": report,
        "few": _few_of(report),
        **_drawings(sheet, aside=DRAWN_HERE < len(sheet.models) <= MOST_NODES),
        "findings": [(BY_CODE[finding.rule], finding) for finding in report.findings],
        "landings": landings_of(sheet.methods),
        "convertible": report.verdict in CONVERTIBLE,
        **_figures(sheet, form, readings),
        **shown(request, order_of(report.segment)),
        "needs_way_out": needs_way_out(report),
        **_darkness(sheet),
    }
    return render(request, "planner/segment.html", context, status=400 if form.errors else 200)


def _most_places(sheet: SegmentSheet) -> int | None:
    """Return how many places a figure is listed for at most, None where there are not so many."""
    counts = Counter(one.quantity for one in sheet.measures)
    return MOST_PLACES if MOST_PLACES in counts.values() else None


def _few_of(report: SegmentReport) -> dict[str, str]:
    """Return the names on a segment in words: all of those that a person can follow, of more the first ones."""
    return {
        "stations": _few(report.old_stations),
        "others": _few(report.others),
        "rooms": _few(f"{building} {room}" for building, room in report.places),
        "methods": _few((f"{station}: {method}" for station, method in report.methods), "; "),
    }


def _few(names: Iterable[str], between: str = ", ") -> str:
    found = list(names)
    more = len(found) - MOST_NODES
    return between.join(found[:MOST_NODES]) + (f" and {number_words(more)} more" if more > 0 else "")


def _darkness(sheet: SegmentSheet) -> dict[str, Any]:
    """Return the way out that is taken, and what goes dark with it."""
    taken = TakenWay.objects.filter(segment=sheet.report.segment).select_related("by").first()
    way = from_json(WayOut, taken.way) if taken is not None and taken.void is None else None
    dark = dark_rooms_of(sheet.row, sheet.report, way)
    return {
        "taken": taken,
        "dark": dark,
        "moved_to": moved_to(way),
        "watched": [one for one in dark or () if one.watch],
        "plain": [one for one in dark or () if not one.watch],
    }


def _figures(sheet: SegmentSheet, form: ReadingsForm, readings: tuple[Reading, ...]) -> dict[str, Any]:
    """Return what a page shows of the figures of a segment: those to measure, each with its field, and those read."""
    return {
        "measures": _lines(sheet, form, readings),
        "meanings": meanings(sheet.measures),
        "most_places": _most_places(sheet),
        "readings": readings[:MOST_READINGS],
        "more_readings": max(len(readings) - MOST_READINGS, 0),
        "form": form,
        "token": uuid4(),
    }


def _lines(sheet: SegmentSheet, form: ReadingsForm, readings: tuple[Reading, ...]) -> list[dict[str, Any]]:
    """Return each figure to measure with its field, and how its newest reading compares."""
    compared = sheet.compared(readings)
    return [
        {
            "measure": one,
            "unit": UNIT[one.quantity],
            "figure": one.figure,
            "field": form[name_of(one)],
            "compared": compared.get(one.code),
        }
        for one in sheet.measures
    ]


@requires(Capability.SEE)
def drawing(request: HttpRequest, key: str) -> HttpResponse:
    """Show the drawings of one segment by themselves."""
    sheet = _sheet(key)
    context = {"segment": sheet.row, "report": sheet.report, **_drawings(sheet)}
    return render(request, "planner/segment_drawing.html", context)


def _drawings(sheet: SegmentSheet, *, aside: bool = False) -> dict[str, Any]:
    """Return the drawings before and after, each in sheets (none where they stand aside), and the table behind them."""
    count = {"aside": aside, "more_rows": max(len(sheet.models) - MOST_ROWS, 0)}
    if sheet.is_large and not sheet.converts:
        outline = sheet.outline
        return count | {
            "before": _marked(draw_summary(outline, first_h=_left_on_page(sheet.report))),
            "rows": sheet.first_rows(outline, MOST_ROWS),
        }
    sketch, stored = sheet.sketch, {node.key: node for node in sheet.nodes}
    converts = sketch.converts
    return count | {
        "converts": converts,
        "before": () if aside else _marked(draw_sheets(before(sketch), first_h=_left_on_page(sheet.report))),
        "after": _marked(draw_sheets(after(sketch))) if converts and not aside else (),
        "rows": [(row, stored[row.node]) for row in islice(rows_of(sketch), MOST_ROWS)],
        "ends": [one for one in sketch.ends if one.works] if converts else (),
        "switched_off": [one for one in sketch.ends if not one.works] if converts else (),
        "by_way_out": bool(sketch.changes),
    }


def _left_on_page(report: SegmentReport) -> float:
    """Return how high the first drawing may be to stand on the first printed page, under what is to be asked."""
    lines = sum(1 + len(text) // LINE_LETTERS for text in (*report.questions, *report.extras, report.why))
    return max(PAGE_LEFT - lines * LINE_H, PAGE_LEFT / 2)


def _marked(sheets: Iterable[str]) -> tuple[SafeString, ...]:
    return tuple(mark_safe(text) for text in sheets)  # noqa: S308 - the drawing escapes every word


def order_of(segment_key: str) -> Order | None:
    """Return the order of the current plan that converts this segment."""
    plan = current_plan()
    if plan is None:
        return None
    orders = Order.objects.filter(plan=plan).select_related("building").order_by("key")
    return next((order for order in orders if segment_key in order.data["segments"]), None)
