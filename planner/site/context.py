"""What every page shows around itself: the places in the top line, and the title block at the foot."""

from dataclasses import dataclass
from typing import Any

from django.conf import settings
from django.http import HttpRequest
from django.urls import NoReverseMatch, reverse
from django.utils import timezone
from django.utils.functional import SimpleLazyObject

from inventory.core.roles import Capability
from inventory.models import Intake
from inventory.views.guard import may, roles_of
from planner.models import Assessment
from planner.services.clock import has_own_clock
from planner.site.purposes import purpose_of


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """One place in the top line: the name of its address, and the first parts of the addresses that lie in it."""

    title: str
    name: str
    within: tuple[str, ...] = ()
    needs: Capability = Capability.SEE
    instead_of: Capability | None = None  # shown to those alone who may not do that


PLACES = (
    Place(title="Campus", name="campus", within=("buildings", "rooms", "records")),
    Place(title="Stations", name="stations", within=("stations",)),
    Place(title="Segments", name="segments", within=("segments",)),
    Place(title="Plans", name="plans", within=("plans", "orders", "briefs"), needs=Capability.PLANS),
    Place(title="Orders", name="orders", within=("orders", "plans"), instead_of=Capability.PLANS),
    Place(title="Materials", name="materials", within=("materials",)),
    Place(title="Intake", name="intake", within=("intake",), needs=Capability.TAKE_IN),
)


def around(request: HttpRequest) -> dict[str, Any]:
    """Return what templates/base.html needs; nothing is read before it is shown."""
    return {
        "places": SimpleLazyObject(lambda: _places(request)),
        "roles": SimpleLazyObject(lambda: roles_of(request.user)),
        "campus_name": settings.CAMPUS_NAME,
        "last_intake": SimpleLazyObject(lambda: Intake.objects.only("at").first()),
        "current_assessment": SimpleLazyObject(lambda: Assessment.objects.only("at", "changed").first()),
        "shown_at": timezone.now(),
        "own_clock": has_own_clock(),
        "purpose": purpose_of(request.resolver_match.url_name or "") if request.resolver_match else None,
        "may": SimpleLazyObject(lambda: {c.name.lower(): may(request, c) for c in Capability}),
    }


def _places(request: HttpRequest) -> list[dict[str, str]]:
    first = request.path.strip("/").split("/")[0]
    return [
        {"title": place.title, "address": address, "here": _here(place, request.path, address, first)}
        for place in PLACES
        if _is_for(request, place) and (address := _address(place.name))
    ]


def _is_for(request: HttpRequest, place: Place) -> bool:
    return may(request, place.needs) and (place.instead_of is None or not may(request, place.instead_of))


def _here(place: Place, path: str, address: str, first: str) -> str:
    if path == address:
        return "page"
    return "true" if first in place.within else ""


def _address(name: str) -> str:
    try:
        return reverse(name)
    except NoReverseMatch:
        return ""
