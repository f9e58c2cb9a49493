"""What goes dark while segments are converted: their sides are dead and their gateways are out."""

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Protocol

import networkx as nx

from inventory.core.catalogue import NodeKind
from inventory.core.snapshot import Snapshot
from planner.core.findings import SegmentReport

Part = dict[str, int]  # segment -> number of the part of the network it is in; dead segments are in none
RoomKey = tuple[str, str]


class Joined(Protocol):
    """What is asked of a segment: its name, its nodes, and those of them that are gateways."""

    @property
    def segment(self) -> str:
        """Return its name."""

    @property
    def nodes(self) -> tuple[str, ...]:
        """Return the names of its nodes."""

    @property
    def gateways(self) -> tuple[str, ...]:
        """Return those of them that are gateways."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Spot:
    """A node with its building ("" not known), of a station also its room, and the nodes that carry out what it commands.

    A station whose room is not known darkens no room.
    """

    node: str
    building: str
    room: RoomKey | None = None
    panels: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class _Station:
    """A station in a room, and the segments it is on."""

    segments: tuple[str, ...]
    room: RoomKey
    panels: tuple[str, ...]


class Network:
    """The segments of a campus joined by its gateways; made once, asked for many orders.

    Only what hangs together with the dead segments can lose anything, so that an answer costs what that part is
    large, not what the campus is.
    """

    def __init__(
        self, joined: Iterable[Joined], spots: Iterable[Spot], crowds: Mapping[str, Counter[str]] | None = None
    ) -> None:
        """Join segments by their gateways.

        `crowds` counts the nodes of each segment by building, where `spots` are not all that there are: those that are
        neither a station in a room nor commanded by one need no name.
        """
        self._on: dict[str, list[str]] = defaultdict(list)  # node -> segments
        self._graph: nx.Graph[tuple[str, str]] = nx.Graph()
        for one in joined:
            self._graph.add_node(("segment", one.segment))
            for node in one.nodes:
                self._on[node].append(one.segment)
            self._graph.add_edges_from((("segment", one.segment), ("gateway", node)) for node in one.gateways)
        self._stations: dict[str, list[_Station]] = defaultdict(list)
        self._buildings: dict[str, Counter[str]] = defaultdict(Counter)  # segment -> nodes by building
        self._place(spots)
        self._buildings |= crowds or {}
        self._before = _parts(self._graph)
        self._together: dict[int, list[str]] = defaultdict(list)
        for segment, number in self._before.items():
            self._together[number].append(segment)

    def _place(self, spots: Iterable[Spot]) -> None:
        for spot in spots:
            segments = tuple(self._on.get(spot.node, ()))
            for segment in segments:
                self._buildings[segment][spot.building] += 1
                if spot.room is not None:
                    self._stations[segment].append(_Station(segments=segments, room=spot.room, panels=spot.panels))

    def dark_rooms(self, segments: Iterable[str], beside: Iterable[str] = ()) -> tuple[RoomKey, ...]:
        """Return (building, room) of every station that loses what it commands while these segments are converted.

        `beside` are segments that are dead too, but whose gateways stay in: those to which nodes are moved.

        Raises
        ------
        KeyError
            If a segment is not in the reports; the message names it.

        """
        dead, still = frozenset(segments), frozenset(beside)
        strange = sorted((dead | still) - self._before.keys())
        if strange:
            raise KeyError(f"{strange[0]} is no segment of these reports")
        gone = {("segment", segment) for segment in dead}
        gone |= {gate for vertex in gone for gate in self._graph[vertex]}
        gone |= {("segment", segment) for segment in still}
        touched = sorted({self._before[segment] for segment in dead | still})
        rooms = {room for number in touched for room in self._dark_in(self._together[number], gone)}
        return tuple(sorted(rooms))

    def _dark_in(self, segments: list[str], gone: set[tuple[str, str]]) -> Iterable[RoomKey]:
        """Return the dark rooms of segments that hang together when nothing is dead."""
        mine = [vertex for segment in segments for vertex in (("segment", segment), *self._graph["segment", segment])]
        after = _parts(self._graph.subgraph(set(mine) - gone))
        largest = self._largest(segments, after)
        for station in {one for segment in segments for one in self._stations.get(segment, ())}:
            if self._loses(station, after, largest.get(station.room[0], frozenset()), gone):
                yield station.room

    def _largest(self, segments: list[str], after: Part) -> dict[str, frozenset[int]]:
        """Return for each building the parts that hold most of its nodes; several where they are equally large."""
        counts: dict[str, Counter[int]] = defaultdict(Counter)
        for segment in segments:
            if segment in after:
                for building, nodes in self._buildings.get(segment, Counter()).items():
                    counts[building][after[segment]] += nodes
        return {
            building: frozenset(number for number, size in sizes.items() if size == max(sizes.values()))
            for building, sizes in counts.items()
        }

    def _loses(self, station: _Station, after: Part, largest: frozenset[int], gone: set[tuple[str, str]]) -> bool:
        """Tell whether a station cannot reach what it commands any more, and could before."""
        own = {after[segment] for segment in station.segments if segment in after}
        if not own:
            return True
        before = {self._before[segment] for segment in station.segments}
        reached = [
            panel for panel in station.panels if before & {self._before[segment] for segment in self._on.get(panel, ())}
        ]
        if not reached:  # no panel is recorded, or none that the records join it to
            return not own & largest
        return any(
            ("gateway", panel) in gone  # a gateway that carries out something itself does not while it is out
            or not own & {after[segment] for segment in self._on.get(panel, ()) if segment in after}
            for panel in reached
        )


def network_of(snapshot: Snapshot, reports: Iterable[SegmentReport]) -> Network:
    """Return the network of a campus, or of some of its segments with all that hang together with them."""
    return Network(reports, _spots(snapshot))


def dark_rooms(snapshot: Snapshot, reports: Iterable[SegmentReport], segments: tuple[str, ...]) -> tuple[RoomKey, ...]:
    """Return (building, room) affected while these segments are converted, sorted.

    Only the segments that hang together with these are looked at. For very many orders of one campus make a
    `Network` once and ask it.
    """
    return network_of(snapshot, _hanging_together(reports, segments)).dark_rooms(segments)


def _hanging_together(reports: Iterable[SegmentReport], segments: Iterable[str]) -> list[SegmentReport]:
    """Return the reports of all segments that gateways join to these, one after another."""
    by_key = {report.segment: report for report in reports}
    found: dict[str, SegmentReport] = {}
    ahead = list(segments)
    while ahead:
        report = by_key.get(ahead.pop())
        if report is not None and report.segment not in found:
            found[report.segment] = report
            ahead += report.gateway_neighbours
    return [found[key] for key in sorted(found)]


def _parts(graph: "nx.Graph[tuple[str, str]]") -> Part:
    """Return the connected part that each segment is in."""
    found: Part = {}
    for number, vertices in enumerate(nx.connected_components(graph)):
        found.update((name, number) for kind, name in vertices if kind == "segment")
    return found


def _spots(snapshot: Snapshot) -> Iterator[Spot]:
    panels: dict[int, set[str]] = defaultdict(set)
    for zone in snapshot.zones:
        if zone.panel >= 0:
            panels[zone.node].add(snapshot.nodes.key[zone.panel])
    is_station = [*(model.kind is NodeKind.STATION for model in snapshot.catalogue.models), False]
    buildings = [*(building.key for building in snapshot.buildings), ""]
    rooms = [*((buildings[room.building], room.key) for room in snapshot.rooms), None]
    nodes = snapshot.nodes
    columns = zip(nodes.key, nodes.building.tolist(), nodes.room.tolist(), nodes.model.tolist(), strict=True)
    for place, (key, building, room, model) in enumerate(columns):
        yield Spot(
            node=key,
            building=buildings[building],
            room=rooms[room] if is_station[model] else None,
            panels=tuple(sorted(panels.get(place, ()))),
        )
