"""The part of the network that hangs together with one segment, read for that segment alone."""

from collections import Counter, defaultdict
from collections.abc import Collection, Mapping
from dataclasses import dataclass, field

from django.db.models import Count, Q, QuerySet

from inventory.core.catalogue import NodeKind
from inventory.models import Zone
from planner.core.impact import Network, Spot
from planner.models import Segment, SegmentMember

MOST_SEGMENTS = 600  # hanging together; of more a page is not the place to ask


@dataclass(slots=True, kw_only=True)
class _Line:
    """One segment as the network asks for it."""

    segment: str
    node_keys: list[str] = field(default_factory=list)
    gateway_keys: list[str] = field(default_factory=list)

    @property
    def nodes(self) -> tuple[str, ...]:
        return tuple(self.node_keys)

    @property
    def gateways(self) -> tuple[str, ...]:
        return tuple(self.gateway_keys)


def load_network(rows: Collection[Segment]) -> Network | None:
    """Return all that hangs together with some segments by gateways; None where that is too much to read for a page."""
    segments = _hanging_together(rows)
    if len(segments) > MOST_SEGMENTS:
        return None
    members = SegmentMember.objects.filter(segment__in=segments).order_by()
    panels = _panels(segments)
    lines = {key: _Line(segment=key) for key in Segment.objects.filter(pk__in=segments).values_list("key", flat=True)}
    stations: dict[str, Spot] = {}
    for segment, node, kind, building, room in members.filter(_named(panels)).values_list(
        "segment__key", "node__key", "node__model__kind", "node__building__key", "node__room__key"
    ):
        line = lines[segment]
        line.node_keys.append(node)
        if kind == NodeKind.GATEWAY:
            line.gateway_keys.append(node)
        here = (building, room) if kind == NodeKind.STATION and room is not None else None
        stations[node] = Spot(node=node, building=building, room=here, panels=panels.get(node, ()))
    return Network(lines.values(), stations.values(), _crowds(members))


def _named(panels: Mapping[str, tuple[str, ...]]) -> Q:
    """Tell of which nodes the network must know the names: stations in rooms, gateways, what any of them commands."""
    stations = Q(node__model__kind=NodeKind.STATION, node__room__isnull=False)
    commanded = {panel for some in panels.values() for panel in some}
    return stations | Q(node__model__kind=NodeKind.GATEWAY) | Q(node__key__in=commanded)


def _crowds(members: QuerySet[SegmentMember]) -> dict[str, Counter[str]]:
    """Return how many nodes each segment has in each building."""
    found: dict[str, Counter[str]] = defaultdict(Counter)
    rows = members.values("segment__key", "node__building__key").annotate(nodes=Count("pk"))
    for segment, building, nodes in rows.values_list("segment__key", "node__building__key", "nodes"):
        found[segment][building] = nodes
    return found


def _hanging_together(rows: Collection[Segment]) -> set[int]:
    """Return the segments that gateways join to these, one after another; a few too many where there are too many."""
    found = {row.pk for row in rows}
    fresh, assessments = set(found), {row.assessment_id for row in rows}
    while fresh and len(found) <= MOST_SEGMENTS:
        gateways = SegmentMember.objects.filter(segment__in=fresh, node__model__kind=NodeKind.GATEWAY).values("node")
        across = SegmentMember.objects.filter(node__in=gateways, segment__assessment__in=assessments)
        fresh = set(across.values_list("segment_id", flat=True)) - found
        found |= fresh
    return found


def _panels(segments: set[int]) -> dict[str, tuple[str, ...]]:
    """Return what the nodes of these segments command."""
    nodes = SegmentMember.objects.filter(segment__in=segments).values("node")
    found: dict[str, set[str]] = defaultdict(set)
    rows = Zone.objects.filter(node__in=nodes, panel__isnull=False).order_by("pk")
    for node, panel in rows.values_list("node__key", "panel__key"):
        found[node].add(panel)
    return {node: tuple(sorted(panels)) for node, panels in found.items()}
