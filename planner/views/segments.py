"""Segments: what can be converted, and why not."""

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.safestring import SafeString, mark_safe
from django.views.decorators.http import require_POST

from inventory.core.roles import Capability
from inventory.models import Node
from inventory.views.guard import person, requires
from inventory.views.lists import show_list
from planner.core.findings import CONVERTIBLE, SegmentReport
from planner.core.measuring import figures_to_measure
from planner.core.rules.table import BY_CODE
from planner.filters.segments import SegmentFilter, segments_of
from planner.handover.drawings import draw_segment
from planner.models import Order, Segment
from planner.services import jobs
from planner.services.standing import current_plan
from planner.services.ways_out import needs_way_out
from planner.store.briefs import load_brief
from planner.store.drawn import load_drawn
from planner.store.measured import circuit_of, landings_of, methods_of
from planner.store.records import from_json
from planner.store.verdicts import current_assessment
from planner.tables.segments import SegmentTable


@requires(Capability.SEE)
def segments(request: HttpRequest) -> HttpResponse:
    """List the segments of the current assessment."""
    assessment = current_assessment()
    context = {"assessment": assessment}
    return show_list(request, "planner/segments.html", SegmentTable, SegmentFilter, segments_of(assessment), context)


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
    row = get_object_or_404(Segment.objects.select_related("building"), assessment=current_assessment(), key=key)
    report = from_json(SegmentReport, row.report)
    nodes = list(Node.objects.filter(key__in=report.nodes).select_related("model", "room", "building").order_by("key"))
    methods = methods_of(report)
    context: dict[str, Any] = {
        "segment": row,
        "report": report,
        "drawing": _drawn(report),
        "findings": [(BY_CODE[finding.rule], finding) for finding in report.findings],
        "nodes": nodes,
        "landings": landings_of(methods),
        "convertible": report.verdict in CONVERTIBLE,
        "measures": figures_to_measure(report, circuit_of(report, methods, nodes, load_brief().conductor_c)),
        "order": order_of(report.segment),
        "needs_way_out": needs_way_out(report),
    }
    return render(request, "planner/segment.html", context)


def _drawn(report: SegmentReport) -> SafeString:
    return mark_safe(draw_segment(load_drawn(report)))  # noqa: S308 - the drawing escapes every word


def order_of(segment_key: str) -> Order | None:
    """Return the order of the current plan that converts this segment."""
    plan = current_plan()
    if plan is None:
        return None
    orders = Order.objects.filter(plan=plan).select_related("building").order_by("key")
    return next((order for order in orders if segment_key in order.data["segments"]), None)
