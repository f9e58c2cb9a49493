"""Ways out that planners take: one by one, all below a price, and the list of those that are taken."""

from decimal import Decimal
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST

from inventory.core.roles import Capability
from inventory.views.guard import person, requires
from inventory.views.numbers import row_number
from planner.core.findings import CONVERTIBLE, Verdict
from planner.filters.segments import SegmentFilter, segments_of
from planner.forms.ways_out import BelowForm
from planner.models import Job, TakenWay
from planner.services import jobs
from planner.services.taken_ways import NotToBeTaken, give_up, take
from planner.store.verdicts import current_assessment
from planner.views.segments import list_page


@requires(Capability.PLAN)
@require_POST
def take_one(request: HttpRequest, key: str) -> HttpResponse:
    """Take the way out of one segment, and of those that must take theirs with it."""
    try:
        taken = take(key, by=person(request))
    except NotToBeTaken as refusal:
        messages.error(request, str(refusal))
    else:
        others = ", ".join(one.segment for one in taken if one.segment != key)
        along = f" So are those of {others}, which must go along." if others else ""
        messages.success(request, f"The way out is taken: the next plan makes an order of it.{along}")
    return redirect("segment", key=key)


@requires(Capability.PLAN)
@require_POST
def give_one_up(request: HttpRequest, key: str) -> HttpResponse:
    """Take back that a way out was taken."""
    give_up(key, by=person(request))
    messages.success(request, f"The way out of segment {key} is given up.")
    return redirect("taken-ways") if "list" in request.POST else redirect("segment", key=key)


@requires(Capability.PLAN)
@require_POST
def take_below(request: HttpRequest) -> HttpResponse:
    """Have the cheapest way out taken of all segments of the list that cost less than a limit, in the background."""
    form = BelowForm(request.POST)
    narrowed = SegmentFilter(request.GET, queryset=segments_of(current_assessment()))
    if not form.is_valid():
        return list_page(request, form)
    rows = narrowed.qs.exclude(verdict__in=(*CONVERTIBLE, Verdict.LEAVE))
    demand = {"below": str(form.cleaned_data["below"]), "segments": sorted(rows.values_list("key", flat=True))}
    job = jobs.ask_once("take ways out", demand, by=person(request))
    return redirect("job", pk=job.pk)


@requires(Capability.SEE)
def taken_ways(request: HttpRequest) -> HttpResponse:
    """List the ways out that are taken: by whom, against which verdict, and whether they hold."""
    rows = list(TakenWay.objects.select_related("by").order_by("segment"))
    sums: dict[str, Decimal] = {}
    for row in rows:
        if row.void is None and row.price_now is not None:
            sums[row.currency] = sums.get(row.currency, Decimal(0)) + row.price_now
    context: dict[str, Any] = {
        "rows": rows,
        "sums": sorted(sums.items()),
        "void": sum(row.void is not None for row in rows),
        "unpriced": sum(row.void is None and row.price_now is None for row in rows),
        "last": _last(request),
    }
    return render(request, "planner/taken_ways.html", context)


def _last(request: HttpRequest) -> Job | None:
    """Return the work that took several at once, where the page is what came of it."""
    number = row_number(request.GET.get("job", ""))
    return None if number is None else get_object_or_404(Job, pk=number, kind="take ways out")
