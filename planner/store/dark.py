"""The part of the network that hangs together with one segment, read for that segment alone."""

from collections import defaultdict
from collections.abc import Collection
from dataclasses import dataclass, field

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
    lines: dict[str, _Line] = {}
    stations: dict[str, Spot] = {}
    members = SegmentMember.objects.filter(segment__in=segments).order_by("segment__key", "node__key")
    for segment, node, kind, building, room in members.values_list(
        "segment__key", "node__key", "node__model__kind", "node__building__key", "node__room__key"
    ):
        line = lines.setdefault(segment, _Line(segment=segment))
        line.node_keys.append(node)
        if kind == NodeKind.GATEWAY:
            line.gateway_keys.append(node)
        here = (building, room) if kind == NodeKind.STATION and room is not None else None
        stations[node] = Spot(node=node, building=building, room=here)
    panels = _panels(segments)
    spots = (
        Spot(node=key, building=one.building, room=one.room, panels=panels.get(key, ()))
        for key, one in stations.items()
    )
    return Network(lines.values(), spots)


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
