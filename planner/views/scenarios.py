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
    """Keep the crews, phases and closures of a brief as edited: all that was sent, whichever button sent it."""
    brief = get_object_or_404(Brief, pk=pk)
    if what not in ROWS:
        return redirect("scenario", pk=pk)
    sent = [one for one in ROWS if one == what or f"{one}-TOTAL_FORMS" in request.POST]
    edited = {one: ROWS[one][0](request.POST, instance=brief, prefix=one) for one in sent}
    wrong = [one for one, rows in edited.items() if not rows.is_valid()]
    if wrong:
        return _page(request, brief, edited, status=400)
    fresh = [row for rows in edited.values() for row in rows.fresh()]
    keep_rows(fresh, [row for rows in edited.values() for row in rows.deleted_objects], by=person(request))
    if "lifting" in request.POST:
        _lift(request, brief)
    names = f"{', '.join(sent[:-1])} and {sent[-1]}" if sent[1:] else sent[0]
    messages.success(request, f"{names.capitalize()} of {brief.name} are kept. Plan by it to see what they do.")
    return redirect(f"{reverse('scenario', args=[pk])}#{what}")


def _lift(request: HttpRequest, brief: Brief) -> None:
    """Let only those closures of the campus hold for a brief that are ticked."""
    holding = {row_number(one) for one in request.POST.getlist("holds")}
    lift_closures(brief, [row.pk for row, _ in closures_for(FIRST_BRIEF) if row.pk not in holding])


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
