"""What a work pack is made of: the order as planned, and the part of the campus that it is about."""

from collections.abc import Iterable

from inventory.core.snapshot import Snapshot
from inventory.models import Bus, Node, Run
from inventory.store.snapshot import Extent, load_part
from planner.core.plans import Order as OrderRecord
from planner.models import Order, SegmentMember
from planner.store.records import from_json


def record_of(order: Order) -> OrderRecord:
    """Return the order as it was planned."""
    return from_json(OrderRecord, order.data)


def load_work_part(orders: Iterable[Order]) -> Snapshot:
    """Return the catalogue and what stands on the segments of some orders now."""
    records = [(order.plan.assessment_id, record_of(order)) for order in orders]
    nodes: set[int] = set()
    named = {station for _, record in records for station in record.stations}
    named |= {gateway for _, record in records for one in record.conversions for gateway in one.gateways}
    named |= {node for _, record in records for one in record.conversions for node, _ in one.moved}
    nodes |= set(Node.objects.filter(key__in=named).values_list("pk", flat=True))
    for assessment, record in records:
        members = SegmentMember.objects.filter(segment__assessment=assessment, segment__key__in=record.segments)
        nodes |= set(members.values_list("node", flat=True))
    buses = {bus for _, record in records for one in record.conversions for bus in one.buses}
    found = Node.objects.filter(pk__in=nodes)
    bus_ids = set(Bus.objects.filter(key__in=buses).values_list("pk", flat=True))
    bus_ids |= {bus for row in found.values_list("bus", "bus_2", "bus_3", "bus_4") for bus in row if bus is not None}
    runs = Run.objects.filter(from_node__in=nodes, to_node__in=nodes)
    return load_part(
        Extent(
            nodes=frozenset(nodes),
            runs=frozenset(runs.values_list("pk", flat=True)),
            buses=frozenset(bus_ids),
            rooms=frozenset(room for room in found.values_list("room", flat=True) if room is not None),
        )
    )
