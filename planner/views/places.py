"""Buildings and rooms: what is there, and what is to be done."""

from typing import Any

from django.db.models import Count, OuterRef, Q, QuerySet, Subquery, Sum
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render

from inventory.core.catalogue import NodeKind
from inventory.core.roles import Capability
from inventory.models import Building, Node, Room, Spare
from inventory.services.history import changes_of
from inventory.views.guard import requires
from inventory.workbook.sheets import BUILDINGS, ROOMS
from planner.filters.stations import judged
from planner.models import Order, Plan, Segment
from planner.services.standing import current_plan
from planner.store.verdicts import current_assessment
from planner.views.own_orders import about_crews, visible

MOST_ORDERS = 40
STATIONS = Count("nodes", filter=Q(nodes__model__kind=NodeKind.STATION))
ON_HAND = Spare.objects.filter(model=OuterRef("model")).order_by().values("model").annotate(sum=Sum("on_hand"))


@requires(Capability.SEE)
def building(request: HttpRequest, pk: int) -> HttpResponse:
    """Show one building: its rooms, equipment, segments and orders."""
    place = get_object_or_404(Building, pk=pk)
    segments = Segment.objects.filter(assessment=current_assessment(), building=place)
    plan = current_plan()
    orders = Order.objects.filter(plan=plan, building=place) if plan else Order.objects.none()
    context = {
        "place": place,
        "rooms": place.rooms.annotate(stations=STATIONS).order_by("floor", "key"),
        "kinds": place.nodes.order_by("model__kind").values_list("model__kind").annotate(Count("pk")),
        "verdicts": segments.order_by("verdict").values_list("verdict").annotate(Count("pk")),
        "orders": visible(request, orders).select_related("building").defer("data")[:MOST_ORDERS],
        **about_crews(request),
        "spares": _spares(place.nodes.all()),
        "changes": changes_of(place, BUILDINGS),
    }
    return render(request, "planner/building.html", context)


@requires(Capability.SEE)
def room(request: HttpRequest, pk: int) -> HttpResponse:
    """Show one room: what is in it and what is to be done."""
    place = get_object_or_404(Room.objects.select_related("building"), pk=pk)
    nodes = judged(Node.objects.filter(room=place)).select_related("model").order_by("model__kind", "key")
    orders = visible(request, _darkening(current_plan(), place))
    context = {
        "place": place,
        "nodes": nodes,
        "orders": orders.select_related("building").defer("data")[:MOST_ORDERS],
        **about_crews(request),
        "spares": _spares(Node.objects.filter(room=place)),
        "changes": changes_of(place, ROOMS),
    }
    return render(request, "planner/room.html", context)


def _darkening(plan: Plan | None, place: Room) -> QuerySet[Order]:
    """Return the orders of a plan in whose outage a room is without its stations."""
    name = [place.building.key, place.key]
    orders = Order.objects.filter(plan=plan) if plan else Order.objects.none()
    mine = [pk for pk, rooms in orders.values_list("pk", "data__rooms") if name in (rooms or ())]
    return orders.filter(pk__in=mine)


def _spares(nodes: QuerySet[Node]) -> list[dict[str, Any]]:
    """Return, for each model of station that hangs there, how many do and how many of it are on the shelves."""
    stations = nodes.filter(model__kind=NodeKind.STATION).order_by("model__key")
    counted = stations.values("model__key").annotate(here=Count("pk"), on_hand=Subquery(ON_HAND.values("sum")))
    return [dict(one) for one in counted]
