"""Search from anywhere: buildings, rooms, nodes, buses, runs, segments, orders, parts, models, methods, cables."""

from typing import Any

from django.db.models import Min, Q, QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from inventory.core.roles import Capability
from inventory.models import Building, Bus, Cable, EquipmentModel, Method, Node, Part, Room, Run
from inventory.views.guard import requires
from planner.models import Order, Segment, SegmentMember
from planner.services.standing import current_plan
from planner.store.verdicts import current_assessment
from planner.views.own_orders import visible

MOST = 25


@requires(Capability.SEE)
def search(request: HttpRequest) -> HttpResponse:
    """Show what answers to the words sought, kind by kind."""
    sought = request.GET.get("q", "").strip()
    sought = sought.replace("\0", "")  # which no database takes
    found = {name: list(rows[:MOST]) for name, rows in _queries(request, sought).items()} if sought else {}
    context = {"sought": sought, "found": found, "most": MOST, "any": any(found.values())}
    return render(request, "planner/search.html", context)


def _queries(request: HttpRequest, sought: str) -> dict[str, QuerySet[Any] | list[Any]]:
    orders = visible(request, Order.objects.filter(_any(sought, "key", "crew"), plan=current_plan()))
    segments = Segment.objects.filter(assessment=current_assessment(), key__icontains=sought)
    rooms = Room.objects.select_related("building").filter(_any(sought, "key", "name", "use"))
    return {
        "buildings": Building.objects.filter(_any(sought, "key", "name")).order_by("key"),
        "rooms": rooms.order_by("building__key", "key"),
        "nodes": _nodes(sought),
        "buses": _buses(sought),
        "segments": segments.select_related("building").defer("report").order_by("key"),
        "orders": orders.select_related("building").defer("data").order_by("key"),
        "runs": Run.objects.filter(key__in={sought, sought.upper()}).select_related("bus").order_by("key"),
        "models": EquipmentModel.objects.filter(_any(sought, "key", "description")).order_by("key"),
        "methods": Method.objects.filter(_any(sought, "key")).order_by("key"),
        "cables": Cable.objects.filter(_any(sought, "key")).order_by("key"),
        "parts": Part.objects.filter(_any(sought, "key", "description", "supplier")).order_by("key"),
    }


def _nodes(sought: str) -> list[Node]:
    """Return nodes by name, then by serial number: each is looked through in an index of its own, rows come last."""
    by_name = Node.objects.filter(key__icontains=sought).order_by("key").values_list("pk", flat=True)
    pks = list(by_name[:MOST])
    if len(pks) < MOST:
        serial = Node.objects.filter(serial__isnull=False, serial__icontains=sought).exclude(key__icontains=sought)
        pks += serial.order_by("serial", "pk").values_list("pk", flat=True)[: MOST - len(pks)]
    found = Node.objects.select_related("building", "room", "model").in_bulk(pks)
    return [found[pk] for pk in pks if pk in found]


def _any(sought: str, *fields: str) -> Q:
    wanted = Q()
    for field in fields:
        wanted |= Q(**{f"{field}__icontains": sought})
    return wanted


def _buses(sought: str) -> list[Bus]:
    """Return buses with the key of the segment that each is in; None where it is in none."""
    found = list(
        Bus.objects.select_related("building", "protocol").filter(key__icontains=sought).order_by("key")[:MOST]
    )
    first = dict(Node.objects.filter(bus__in=found).order_by().values_list("bus").annotate(Min("pk")))
    current = current_assessment()
    sides = SegmentMember.objects.filter(node__in=first.values()).order_by("pk")  # by node first: segments are many
    rows = sides.values_list("node", "segment__key", "segment__buses", "segment__assessment")
    told = [(node, key, buses) for node, key, buses, at in rows if current is not None and at == current.pk]
    of_bus = {bus: key for _, key, buses in told for bus in buses}
    of_node = {node: key for node, key, _ in reversed(told)}
    for bus in found:
        bus.segment = of_bus.get(bus.pk) or of_node.get(first.get(bus.pk, 0))  # type: ignore[attr-defined]
    return found
