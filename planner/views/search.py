"""Search from anywhere: buildings, rooms, nodes, buses, segments, orders."""

from typing import Any

from django.db.models import OuterRef, Q, QuerySet, Subquery
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from inventory.core.roles import Capability
from inventory.models import Building, Bus, Node, Room
from inventory.views.guard import requires
from planner.models import Assessment, Order, Segment, SegmentMember
from planner.services.standing import current_plan
from planner.store.verdicts import current_assessment

MOST = 25


@requires(Capability.SEE)
def search(request: HttpRequest) -> HttpResponse:
    """Show what answers to the words sought, kind by kind."""
    sought = request.GET.get("q", "").strip()
    found = {name: list(rows[:MOST]) for name, rows in _queries(sought).items()} if sought else {}
    context = {"sought": sought, "found": found, "most": MOST, "any": any(found.values())}
    return render(request, "planner/search.html", context)


def _queries(sought: str) -> dict[str, QuerySet[Any]]:
    orders = Order.objects.filter(plan=current_plan(), key__icontains=sought)
    segments = Segment.objects.filter(assessment=current_assessment(), key__icontains=sought)
    rooms = Room.objects.select_related("building").filter(_any(sought, "key", "name", "use"))
    nodes = Node.objects.select_related("building", "room", "model").filter(_any(sought, "key", "serial"))
    return {
        "buildings": Building.objects.filter(_any(sought, "key", "name")).order_by("key"),
        "rooms": rooms.order_by("building__key", "key"),
        "nodes": nodes.order_by("key"),
        "buses": _buses(sought),
        "segments": segments.select_related("building").defer("report").order_by("key"),
        "orders": orders.select_related("building").defer("data").order_by("key"),
    }


def _any(sought: str, *fields: str) -> Q:
    wanted = Q()
    for field in fields:
        wanted |= Q(**{f"{field}__icontains": sought})
    return wanted


def _buses(sought: str) -> QuerySet[Bus]:
    """Return buses with the key of the segment that one of their nodes is on."""
    current = Assessment.objects.order_by("-at", "-id").values("pk")[:1]
    sides = SegmentMember.objects.filter(node__bus=OuterRef("pk"), segment__assessment=Subquery(current))
    segment = Subquery(sides.order_by("segment__key").values("segment__key")[:1])
    buses = Bus.objects.select_related("building", "protocol").filter(key__icontains=sought)
    return buses.annotate(segment=segment).order_by("key")
