"""The part of the campus that must be read to judge anew what a change touches, and which of its segments those are."""

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import date

from django.db.models import Q

from inventory.core.catalogue import NodeKind
from inventory.models import Bus, Method
from inventory.store.snapshot import Extent, load_stored_part
from planner.core.affected import VIEW, Face, is_rewired, quiet, reached
from planner.core.brief import Brief
from planner.core.findings import SegmentReport
from planner.core.segments import find_segments
from planner.core.verdicts import Campus, reports_of
from planner.models import Assessment, Segment, SegmentMember
from planner.store.segment_rows import Judged, judged_some
from planner.store.touches import Touched
from planner.store.walk import BUSES, Part, Spot, Walk, in_lots, links_at, spots_on, spots_where

MOST = 400  # stored segments; a change that touches more has the whole campus assessed
SEEN = ("pk", "key", "buses", "station_count", "node_count", "verdict", "since", "because", "was", "assessment_id")
NAMELESS = Q(**dict.fromkeys((f"{name.removesuffix('_id')}__isnull" for name in BUSES), True))
Stored = dict[int, Segment]


class TooMany(Exception):  # noqa: N818 - not an error: the whole campus is judged instead
    """The change touches more segments than are worth picking out."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Before:
    """What a change is about to touch, and the stored segments that it may take apart, by id."""

    touched: Touched
    segments: Stored


@dataclass(frozen=True, slots=True, kw_only=True)
class Again:
    """Segments judged anew: the stored ones that go, and the reports that take their place."""

    gone: tuple[Segment, ...]
    judged: Judged

    @property
    def reports(self) -> tuple[SegmentReport, ...]:
        """Return the reports by name."""
        return tuple(report for report in self.judged.reports if report is not None)


def stored_on(assessment: Assessment, nodes: Collection[int]) -> Stored:
    """Return the stored segments that any of these nodes has a side on, without their reports."""
    found: Stored = {}
    for some in in_lots(nodes):
        ids = SegmentMember.objects.filter(segment__assessment=assessment, node__in=some).values("segment")
        found |= {row.pk: row for row in Segment.objects.filter(pk__in=ids).only(*SEEN).order_by("pk")}
    return found


def look_before(assessment: Assessment, touched: Touched) -> Before:
    """Return what is stored of what a change is about to touch; TooMany where that is too much to pick out."""
    segments = stored_on(assessment, touched.nodes | _named_like(touched.names))
    at = {spot.pk for spot in spots_on(touched.buses)}
    segments |= {pk: one for pk, one in stored_on(assessment, at).items() if not touched.buses.isdisjoint(one.buses)}
    _bounded(segments)
    return Before(touched=touched, segments=segments)


def _bounded(segments: Stored) -> None:
    if len(segments) > MOST:
        raise TooMany


def _named_like(names: Collection[str]) -> frozenset[int]:
    """Return nodes on no bus that have the name of a bus: their segments are told apart from it by their names."""
    return frozenset(spot.pk for spot in spots_where(NAMELESS, Q(key__in=list(names)))) if names else frozenset()


def judge_again(assessment: Assessment, first: Before, touched: Touched, brief: Brief, today: date) -> Again:
    """Return the reports that a change gives, once it is made; `touched` is what the changed rows bear on now."""
    touched = first.touched | touched
    around = _Around(assessment)
    around.take(first.segments)
    around.walk.follow(touched.nodes | _named_like(touched.names), touched.buses)
    around.take(around.joined())
    if touched.floors or around.has_lost():
        around.take(around.near_lost(touched.near | touched.floors))
    return _judged(around, touched, brief, today)


class _Around:
    """The changed segments as stored and as they are now, grown to all that must be known to judge what they reach."""

    def __init__(self, assessment: Assessment) -> None:
        self.assessment, self.walk = assessment, Walk()
        self.stored: Stored = {}

    def take(self, segments: Stored) -> None:
        """Take in stored segments: all that is on them now."""
        fresh = {pk: one for pk, one in segments.items() if pk not in self.stored}
        self.stored |= fresh
        _bounded(self.stored)
        nodes: set[int] = set()
        for some in in_lots(fresh):
            rows = SegmentMember.objects.filter(segment__in=some).order_by()
            for segment, node, kind in rows.values_list("segment_id", "node_id", "node__model__kind"):
                if kind != NodeKind.GATEWAY or not fresh[segment].buses:
                    nodes.add(node)
        self.walk.follow(nodes, {bus for one in fresh.values() for bus in one.buses})

    def joined(self) -> Stored:
        """Return stored segments that have come to be joined to those taken in."""
        parts = self.walk.parts()
        plain = {node for part in parts for node in (part.nodes if part.buses else part.nodes | part.gateways)}
        gateways = {gateway for part in parts for gateway in part.gateways}
        across = stored_on(self.assessment, gateways)
        return stored_on(self.assessment, plain) | {
            pk: one for pk, one in across.items() if not self.walk.buses.isdisjoint(one.buses)
        }

    def has_lost(self) -> bool:
        """Tell whether a node that nobody placed is, or was, among what changed."""
        return any(not one.buses for one in self.stored.values()) or any(not one.buses for one in self.walk.parts())

    def near_lost(self, buildings: Collection[int]) -> Stored:
        """Return the stored segments with old stations in these buildings and in those of nodes that nobody placed."""
        spots = self.walk.spots
        lost = [pk for part in self.walk.parts() if not part.buses for pk in part.nodes | part.gateways]
        near = set(buildings) | {spots[pk].building for pk in lost}
        ids = SegmentMember.objects.filter(segment__assessment=self.assessment, node__building__in=near)
        rows = Segment.objects.filter(pk__in=ids.values("segment"), station_count__gt=0).only(*SEEN).order_by("pk")
        return {row.pk: row for row in rows[: MOST + 1]}

    def grow(self, loud: set[int], still: set[int], *, rewired: bool) -> Stored:
        """Take in what must be known around the changed segments, ring by ring; return the stored segments of it.

        `loud` are gateways behind which the change is felt, `still` those that only pass on names: what is behind them is
        known by its bus, unless it has several.
        """
        known = dict(self.stored)
        for depth in range(VIEW):
            mind = _without(stored_on(self.assessment, loud), known)
            others = _without(_without(stored_on(self.assessment, still), known), mind)
            told = rewired and depth == 0
            whole = {pk: one for pk, one in mind.items() if told or one.station_count or len(one.buses) != 1}
            whole |= {pk: one for pk, one in others.items() if len(one.buses) != 1}
            known |= mind | others
            self.take(whole)
            loud = self._gateways_on([one for one in whole.values() if one.station_count])
            still = self._gateways_on([one for one in whole.values() if not one.station_count]) if told else set()
            if not loud and not still:
                break
        return known

    def _gateways_on(self, segments: Iterable[Segment]) -> set[int]:
        rows = SegmentMember.objects.filter(segment__in=list(segments), node__model__kind=NodeKind.GATEWAY)
        return set(rows.values_list("node_id", flat=True))

    def extent(self) -> Extent:
        """Return the rows to read: all on the segments taken in, what ends at their gateways, and lost nodes nearby."""
        gateways = {pk for part in self.walk.parts() for pk in part.gateways}
        links = {**self.walk.links, **{link.pk: link for link in links_at(gateways)}}
        spots = dict(self.walk.spots)
        ends = {end for link in links.values() for end in link.ends} - spots.keys()
        for some in in_lots(ends):
            spots |= {spot.pk: spot for spot in spots_where(Q(pk__in=some))}
        near = {spots[pk].building for pk in self.walk.nodes | gateways}
        lost = Q(runs_from__isnull=True, runs_to__isnull=True)
        spots |= {spot.pk: spot for spot in spots_where(Q(building__in=near), NAMELESS, lost)}
        buses = {bus for spot in spots.values() for bus in spot.buses} | {link.bus for link in links.values()}
        buses |= _named_as([spot.key for spot in spots.values() if not spot.buses])
        return Extent(
            nodes=frozenset(spots),
            runs=frozenset(links),
            buses=frozenset(buses),
            rooms=frozenset(spot.room for spot in spots.values() if spot.room is not None),
        )


def _without(some: Stored, others: Stored) -> Stored:
    return {pk: one for pk, one in some.items() if pk not in others}


def _named_as(keys: Collection[str]) -> set[int]:
    return set(Bus.objects.filter(key__in=keys).values_list("pk", flat=True)) if keys else set()


def _judged(around: _Around, touched: Touched, brief: Brief, today: date) -> Again:
    parts = _by_name(around.walk)
    old = frozenset(Method.objects.filter(old_model__kind=NodeKind.STATION).values_list("old_model", flat=True))
    after = {name: _face(part, around.walk.spots, old) for name, part in parts.items()}
    before = {one.key: Face(buses=frozenset(one.buses), old=one.station_count > 0) for one in around.stored.values()}
    silent, rewired = quiet(before, after, touched.rewritten), is_rewired(before, after)
    changed = dict(around.stored)
    known = around.grow(
        {pk for name, part in parts.items() if name not in silent for pk in part.gateways},
        {pk for name in silent for pk in parts[name].gateways},
        rewired=rewired,
    )
    stored = load_stored_part(around.extent(), taken_on=today)
    campus = Campus(stored.snapshot, find_segments(stored.snapshot), brief)
    labels = _labels(campus, around.walk, parts)
    reports = reports_of(
        campus, reached(campus, set(labels.values()), {labels[name] for name in silent}, rewired=rewired)
    )
    names = {report.segment for report in reports}
    gone = changed | {pk: one for pk, one in known.items() if one.key in names}
    return Again(gone=tuple(gone.values()), judged=judged_some(stored, campus, reports))


def _by_name(walk: Walk) -> dict[str, Part]:
    """Return the segments of a walk by a name that tells them apart, mostly the one they will have."""
    names = dict(Bus.objects.filter(pk__in=walk.buses).values_list("pk", "key"))
    parts = walk.parts()
    found = {min(names[bus] for bus in part.buses): part for part in parts if part.buses}
    for part in parts:
        if not part.buses:
            name = min(walk.spots[pk].key for pk in part.nodes | part.gateways)
            found[f"{name} (no bus)" if name in found else name] = part
    return found


def _face(part: Part, spots: dict[int, Spot], old: Collection[int]) -> Face:
    return Face(buses=frozenset(part.buses), old=any(spots[pk].model in old for pk in part.nodes))


def _labels(campus: Campus, walk: Walk, parts: dict[str, Part]) -> dict[str, int]:
    """Return where the segments of a walk stand among those found."""
    segments, snapshot = campus.segments, campus.snapshot
    of_node: dict[str, int] = {}
    of_bus: dict[str, int] = {}
    sides = zip(segments.side_node.tolist(), segments.side_bus.tolist(), segments.label.tolist(), strict=True)
    for node, bus, label in sides:
        of_node[snapshot.nodes.key[node]] = label  # of a gateway: one of its segments, which is not asked for
        if bus >= 0:
            of_bus[snapshot.buses[bus].key] = label
    names = dict(Bus.objects.filter(pk__in=walk.buses).values_list("pk", "key"))
    found: dict[str, int] = {}
    for name, part in parts.items():
        plain = part.nodes if part.buses else part.nodes | part.gateways
        at = [of_node[walk.spots[pk].key] for pk in plain]
        at += [of_bus[names[bus]] for bus in part.buses if names[bus] in of_bus]
        found[name] = at[0]
    return found
