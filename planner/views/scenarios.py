"""Scenarios: briefs side by side, each with crews, phases and closures of its own."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST

from inventory.core.roles import Capability
from inventory.views.guard import person, requires
from inventory.views.numbers import row_number
from planner.forms.scenarios import ClosureRows, CopyForm, CrewRows, PhaseRows
from planner.models import Brief
from planner.models.briefs import FIRST_BRIEF
from planner.services.briefs import BriefNameTaken, copy_brief, keep_rows, lift_closures
from planner.services.scenarios import closures_for, problems_of

# what is edited -> the rows, its heading, and the example that a blank row shows
ROWS: dict[str, tuple[Any, str]] = {
    "crews": (CrewRows, "Crews"),
    "phases": (PhaseRows, "Phases"),
    "closures": (ClosureRows, "Closures of this brief alone"),
}


@requires(Capability.PLAN)
def copy(request: HttpRequest, pk: int) -> HttpResponse:
    """Copy a brief under another name."""
    source = get_object_or_404(Brief, pk=pk)
    form = CopyForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            made = copy_brief(source.name, form.cleaned_data["name"], by=person(request))
        except BriefNameTaken as refusal:
            form.add_error("name", str(refusal))
        else:
            messages.success(request, f"{made.name} stands beside {source.name} now. Change what is to be different.")
            return redirect(reverse("scenario", args=[made.pk]))
    status = 400 if form.errors else 200
    return render(request, "planner/scenario_copy.html", {"brief": source, "form": form}, status=status)


@requires(Capability.PLAN)
def scenario(request: HttpRequest, pk: int) -> HttpResponse:
    """Show the crews, phases and closures of a brief, to change them."""
    return _page(request, get_object_or_404(Brief, pk=pk), {})


@requires(Capability.PLAN)
@require_POST
def keep(request: HttpRequest, pk: int, what: str) -> HttpResponse:
    """Keep the crews, phases or closures of a brief as edited."""
    brief = get_object_or_404(Brief, pk=pk)
    kind = ROWS.get(what)
    if kind is None:
        return redirect("scenario", pk=pk)
    rows = kind[0](request.POST, instance=brief, prefix=what)
    if not rows.is_valid():
        return _page(request, brief, {what: rows}, status=400)
    keep_rows(rows.fresh(), rows.deleted_objects, by=person(request))
    messages.success(request, f"{what.capitalize()} of {brief.name} are kept. Plan by it to see what they do.")
    return redirect(f"{reverse('scenario', args=[pk])}#{what}")


@requires(Capability.PLAN)
@require_POST
def lift(request: HttpRequest, pk: int) -> HttpResponse:
    """Say which closures of the campus hold for a brief."""
    brief = get_object_or_404(Brief, pk=pk)
    holding = {row_number(one) for one in request.POST.getlist("holds")}
    lift_closures(brief, [row.pk for row, _ in closures_for(FIRST_BRIEF) if row.pk not in holding])
    messages.success(request, f"Closures of the campus for {brief.name} are kept.")
    return redirect(f"{reverse('scenario', args=[pk])}#closures")


def _page(request: HttpRequest, brief: Brief, edited: dict[str, Any], *, status: int = 200) -> HttpResponse:
    sections = [
        (what, title, edited.get(what) or rows(instance=brief, prefix=what))
        for what, (rows, title) in ROWS.items()
        if what != "closures" or brief.name != FIRST_BRIEF
    ]
    context = {
        "brief": brief,
        "is_workbooks": brief.name == FIRST_BRIEF,
        "sections": sections,
        "campus_closures": [(row, holds) for row, holds in closures_for(brief.name) if row.brief.name == FIRST_BRIEF],
        "problems": problems_of(brief.name),
    }
    return render(request, "planner/scenario.html", context, status=status)
