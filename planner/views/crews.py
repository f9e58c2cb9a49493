"""Who is on which crew: said here, by planning or facilities."""

from typing import Any

from django.contrib import messages
from django.contrib.auth.models import User
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST

from inventory.core.roles import Capability, Role
from inventory.views.guard import person, requires
from planner.services.crews import ChangedMeanwhile, crew_people, crews_of, known_crews, put_on_crews

UNKNOWN = "There is no crew {}. Choose among those listed."


@requires(Capability.CREWS)
def people(request: HttpRequest) -> HttpResponse:
    """List everybody with the role crew, each with the crews to choose."""
    return _page(request, {})


@requires(Capability.CREWS)
@require_POST
def keep(request: HttpRequest, pk: int) -> HttpResponse:
    """Put one person on the crews chosen and no others."""
    who = get_object_or_404(User, pk=pk, groups__name=Role.CREW.value, is_active=True)
    wanted, seen = request.POST.getlist("crew"), request.POST.getlist("seen")
    unknown = sorted(set(wanted) - {*known_crews(), *crews_of(who)})
    if unknown:
        return _page(request, {pk: (wanted, UNKNOWN.format(unknown[0][:80]))}, status=400)
    try:
        put_on_crews(who, wanted, by=person(request), seen=seen)
    except ChangedMeanwhile as refusal:
        return _page(request, {pk: (wanted, str(refusal))}, status=409)
    on = f"on {', '.join(sorted(set(wanted)))}" if wanted else "on no crew"
    messages.success(request, f"{who.get_username()} is {on} now.")
    return redirect("crew-people")


def _page(request: HttpRequest, refused: dict[int, tuple[list[str], str]], *, status: int = 200) -> HttpResponse:
    """Show the page; `refused` are what was chosen for a person and why that was not kept."""
    known = known_crews()
    rows = [_row(who, on, known, *refused.get(who.pk, (list(on), ""))) for who, on in crew_people()]
    return render(request, "planner/crew_people.html", {"people": rows}, status=status)


def _row(who: User, on: tuple[str, ...], known: tuple[str, ...], chosen: list[str], refusal: str) -> dict[str, Any]:
    offered = sorted({*known, *on})
    return {
        "person": who,
        "on": on,
        "choices": [(crew, crew in chosen, crew in known) for crew in offered],
        "refusal": refusal,
    }
