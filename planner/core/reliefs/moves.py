"""Where a node that must leave its segment can go: another segment of its bus, in its building, with room for it."""

import math
from collections import defaultdict
from collections.abc import Container, Iterable, Iterator
from dataclasses import dataclass, field

from inventory.core.catalogue import Model, NodeKind, ProtocolRow
from inventory.core.snapshot import Snapshot
from planner.core.findings import SegmentReport, Verdict
from planner.core.rules.columns import PASSIVE, feeds, known
from planner.core.staying import carries_power
from planner.core.verdicts import Campus

OPEN_TO_MORE = (Verdict.LEAVE, Verdict.CLEAR_FIRST, Verdict.NEW_CABLE, Verdict.OTHER_METHOD)  # a move spoils no other


@dataclass(slots=True, kw_only=True)
class Room:
    """What one segment can still take: nodes, and unit loads and watts where its bus limits them (None: no such limit)."""

    segment: str
    protocol: str
    idle: bool  # no old station on it
    nodes: int
    unit_loads: float | None
    watts: float | None  # of its source, for all lines that this feeds
    source: int | None  # node that feeds it, where one is known


@dataclass(frozen=True, slots=True, kw_only=True)
class Rooms:
    """The segments of a campus that have room, by building; those without old stations first."""

    by_building: dict[int, list[Room]] = field(default_factory=dict)

    def place(
        self, snapshot: Snapshot, moving: Iterable[int], barred: Container[str], protocol: str | None
    ) -> dict[int, str] | None:
        """Return a segment for each node, by position; None where one finds no place or what it needs is not known.

        `barred` are segments that change too and so take nobody.
        """
        ledger, found = Ledger(self), {}
        for node in moving:
            room = next((one for one in ledger.open_to(snapshot, node, protocol) if one.segment not in barred), None)
            if room is None:
                return None
            ledger.book(snapshot, node, room)
            found[node] = room.segment
        return found


class Ledger:
    """What is left of the rooms while nodes are given places in them."""

    def __init__(self, rooms: Rooms) -> None:
        self._rooms = rooms
        every = (room for some in rooms.by_building.values() for room in some)
        self._left: dict[str, list[float | None]] = {
            room.segment: [room.nodes, room.unit_loads, room.watts] for room in every
        }
        self._fed: dict[int, list[str]] = defaultdict(list)  # lines by what feeds them: what one takes all have less
        for segment, source in ((room.segment, room.source) for some in rooms.by_building.values() for room in some):
            if source is not None:
                self._fed[source].append(segment)

    def open_to(self, snapshot: Snapshot, node: int, protocol: str | None) -> Iterator[Room]:
        """Yield the segments in a node's building that have room for it."""
        model = _model(snapshot, node)
        for room in self._rooms.by_building.get(int(snapshot.nodes.building[node]), ()):
            if room.protocol == protocol and _takes(self._left[room.segment], model, protocol):
                yield room

    def book(self, snapshot: Snapshot, node: int, room: Room) -> None:
        """Give a node its place."""
        model = _model(snapshot, node)
        self._left[room.segment] = _less(self._left[room.segment], model)
        watts = self._left[room.segment][2]
        for segment in self._fed[room.source] if room.source is not None else ():
            self._left[segment][2] = watts

    def take(self, snapshot: Snapshot, node: int, segment: str, protocol: str | None) -> bool:
        """Give a node its place on one segment; tell whether there was room."""
        room = next((one for one in self.open_to(snapshot, node, protocol) if one.segment == segment), None)
        if room is not None:
            self.book(snapshot, node, room)
        return room is not None


def _model(snapshot: Snapshot, node: int) -> Model | None:
    place = int(snapshot.nodes.model[node])
    return snapshot.catalogue.models[place] if place >= 0 else None


def _takes(left: list[float | None], model: Model | None, protocol: str | None) -> bool:
    """Tell whether there is room for one more of a model; what is not known never counts as room."""
    nodes, *rest = left
    if model is None or protocol is None or not model.speaks(protocol) or not nodes:
        return False
    return all(
        room is None or (own is not None and own <= room) for room, own in zip(rest, _wanted(model), strict=True)
    )


def _wanted(model: Model | None) -> tuple[float | None, float | None]:
    """Return the unit loads and the watts that a model takes up, None not known."""
    return (None, None) if model is None else (known(model.unit_loads), known(model.draw_w))


def _less(left: list[float | None], model: Model | None) -> list[float | None]:
    nodes, *rest = left
    pairs = zip(rest, _wanted(model), strict=True)
    return [(nodes or 0) - 1, *(None if room is None else room - (own or 0.0) for room, own in pairs)]


def find_rooms(campus: Campus, reports: Iterable[SegmentReport]) -> Rooms:
    """Return the segments that have room for more nodes."""
    verdicts = {report.segment: report for report in reports}
    found: dict[int, list[Room]] = defaultdict(list)
    for label, key in enumerate(campus.segments.key):
        report, protocol = verdicts[key], campus.protocols[label]
        if report.verdict not in OPEN_TO_MORE or protocol is None:
            continue
        room = _room_on(campus, label, protocol, idle=report.verdict is Verdict.LEAVE)
        building = _building(campus, label)
        if room is not None and building is not None:
            found[building].append(room)
    return Rooms(
        by_building={
            place: sorted(rooms, key=lambda one: (not one.idle, one.segment)) for place, rooms in found.items()
        }
    )


def _building(campus: Campus, label: int) -> int | None:
    """Return the building that all buses of a segment run in."""
    buses = set(campus.segments.side_bus[_sides(campus, label)].tolist())
    places = {campus.snapshot.buses[bus].building if bus >= 0 else -1 for bus in buses}
    place = places.pop() if len(places) == 1 else -1
    return place if place >= 0 else None


def _sides(campus: Campus, label: int) -> slice:
    return slice(campus.segments.first_side[label], campus.segments.first_side[label + 1])


def _room_on(campus: Campus, label: int, protocol: str, *, idle: bool) -> Room | None:
    """Return how much room there is by the narrowest row of the bus; None where no row says."""
    rows: list[ProtocolRow] = [row for row in campus.snapshot.catalogue.protocols if row.protocol == protocol]
    most = [row.most_nodes for row in rows if row.most_nodes is not None]
    if not rows or len(most) != len(rows):
        return None
    models = [_model(campus.snapshot, node) for node in campus.segments.side_node[_sides(campus, label)].tolist()]
    speaking = sum(model is None or model.kind not in PASSIVE for model in models)
    limits = [row.most_unit_loads for row in rows if row.most_unit_loads is not None]
    loads = [known(model.unit_loads) if model is not None else None for model in models]
    if limits and None in loads:
        return None
    watts, source = _watts_left(campus, rows, label)
    if watts is not None and watts < 0:
        return None
    free = min(limits) - sum(load or 0.0 for load in loads) if limits else None
    return Room(
        segment=campus.segments.key[label],
        protocol=protocol,
        idle=idle,
        nodes=max(min(most) - speaking, 0),
        unit_loads=free,
        watts=watts,
        source=source,
    )


def _watts_left(campus: Campus, rows: list[ProtocolRow], label: int) -> tuple[float | None, int | None]:
    """Return what the one source of a segment can still feed, with the reserve of the brief, and which node that is.

    All lines of a gateway count. Below zero where their loads are not known; None where the bus carries no power. Where
    what feeds it, or how much that can, is not on record nothing is left: only what is known to draw nothing goes there.
    """
    if all(row.power_on_bus is False for row in rows):
        return None, None
    sources = _sources(campus, label)
    model = _model(campus.snapshot, sources[0]) if len(sources) == 1 else None
    rating = known(model.supply_rating_w) if model is not None else None
    if model is None or rating is None:
        return 0.0, None
    lines = [label]
    if model.kind is NodeKind.GATEWAY:
        carries = carries_power(campus)
        lines = [one for one in campus.gateways.labels(sources[0]) if carries[campus.protocols_now[0][one]] > 0]
    nodes = [
        node for one in sorted({label, *lines}) for node in campus.segments.side_node[_sides(campus, one)].tolist()
    ]
    models = [_model(campus.snapshot, node) for node in nodes]
    loads = [None if one is None else known(one.draw_w) for one in models if one is None or not feeds(one)]
    drawn = math.inf if None in loads else sum(load or 0.0 for load in loads)
    return rating * (1 - campus.brief.supply_reserve_pct / 100) - drawn, sources[0]


def _sources(campus: Campus, label: int) -> list[int]:
    """Return the nodes that are recorded as feeding a segment."""
    nodes = campus.segments.side_node[_sides(campus, label)].tolist()
    return [node for node in nodes if (model := _model(campus.snapshot, node)) is not None and feeds(model)]


def draw_of(snapshot: Snapshot, node: int) -> float:
    """Return what a node draws [W], infinite where nobody recorded it."""
    watt = _wanted(_model(snapshot, node))[1]
    return math.inf if watt is None else watt
