"""What goes dark while segments are converted: their sides are dead and their gateways are out."""

from collections import Counter, defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

import networkx as nx

from inventory.core.catalogue import NodeKind
from inventory.core.snapshot import Snapshot
from planner.core.findings import SegmentReport

Part = dict[str, int]  # segment -> number of the part of the network it is in; dead segments are in none


@dataclass(frozen=True, slots=True, kw_only=True)
class _Station:
    """A station with its room, the segments it is on, and the nodes that carry out what it commands."""

    segments: tuple[str, ...]
    building: str
    room: str
    panels: tuple[str, ...]


class Network:
    """The segments of a campus joined by its gateways; made once, asked for many orders.

    Only what hangs together with the dead segments can lose anything, so that an answer costs what that part is
    large, not what the campus is.
    """

    def __init__(self, snapshot: Snapshot, reports: Iterable[SegmentReport]) -> None:
        self._on: dict[str, list[str]] = defaultdict(list)  # node -> segments
        self._graph: nx.Graph[tuple[str, str]] = nx.Graph()
        for report in reports:
            self._graph.add_node(("segment", report.segment))
            for node in report.nodes:
                self._on[node].append(report.segment)
            self._graph.add_edges_from((("segment", report.segment), ("gateway", node)) for node in report.gateways)
        self._building = _buildings(snapshot)
        self._stations, self._nodes = _by_segment(snapshot, self._on)
        self._before = _parts(self._graph)
        self._together: dict[int, list[str]] = defaultdict(list)
        for segment, number in self._before.items():
            self._together[number].append(segment)

    def dark_rooms(self, segments: Iterable[str]) -> tuple[tuple[str, str], ...]:
        """Return (building, room) of every station that loses what it commands while these segments are converted.

        Raises
        ------
        KeyError
            If a segment is not in the reports; the message names it.

        """
        dead = frozenset(segments)
        strange = sorted(dead - self._before.keys())
        if strange:
            raise KeyError(f"{strange[0]} is no segment of these reports")
        touched = sorted({self._before[segment] for segment in dead})
        rooms = {room for number in touched for room in self._dark_in(self._together[number], dead)}
        return tuple(sorted(rooms))

    def _dark_in(self, segments: list[str], dead: frozenset[str]) -> Iterable[tuple[str, str]]:
        """Return the dark rooms of segments that hang together when nothing is dead."""
        gone = {("segment", segment) for segment in dead}
        gone |= {gate for vertex in gone for gate in self._graph[vertex]}
        mine = [vertex for segment in segments for vertex in (("segment", segment), *self._graph["segment", segment])]
        after = _parts(self._graph.subgraph(set(mine) - gone))
        largest = self._largest(segments, after)
        for station in {one for segment in segments for one in self._stations.get(segment, ())}:
            if self._loses(station, after, largest.get(station.building, frozenset())):
                yield station.building, station.room

    def _largest(self, segments: list[str], after: Part) -> dict[str, frozenset[int]]:
        """Return for each building the parts that hold most of its nodes; several where they are equally large."""
        counts: dict[str, Counter[int]] = defaultdict(Counter)
        for segment in segments:
            if segment in after:
                for node in self._nodes.get(segment, ()):
                    counts[self._building[node]][after[segment]] += 1
        return {
            building: frozenset(number for number, size in sizes.items() if size == max(sizes.values()))
            for building, sizes in counts.items()
        }

    def _loses(self, station: _Station, after: Part, largest: frozenset[int]) -> bool:
        """Tell whether a station cannot reach what it commands any more, and could before."""
        own = {after[segment] for segment in station.segments if segment in after}
        if not own:
            return True
        if not station.panels:
            return not own & largest
        before = {self._before[segment] for segment in station.segments}
        return any(
            not own & {after[segment] for segment in self._on[panel] if segment in after}
            for panel in station.panels
            if before & {self._before[segment] for segment in self._on[panel]}
        )


def dark_rooms(
    snapshot: Snapshot, reports: Iterable[SegmentReport], segments: tuple[str, ...]
) -> tuple[tuple[str, str], ...]:
    """Return (building, room) affected while these segments are converted, sorted.

    For many orders of one campus make a `Network` once and ask it.
    """
    return Network(snapshot, reports).dark_rooms(segments)


def _buildings(snapshot: Snapshot) -> dict[str, str]:
    return {
        key: snapshot.buildings[place].key if place >= 0 else ""
        for key, place in zip(snapshot.nodes.key, snapshot.nodes.building.tolist(), strict=True)
    }


def _parts(graph: "nx.Graph[tuple[str, str]]") -> Part:
    """Return the connected part that each segment is in."""
    found: Part = {}
    for number, vertices in enumerate(nx.connected_components(graph)):
        found.update((name, number) for kind, name in vertices if kind == "segment")
    return found


def _by_segment(snapshot: Snapshot, on: dict[str, list[str]]) -> tuple[dict[str, list[_Station]], dict[str, list[str]]]:
    """Return the stations and the nodes of each segment; a station whose room is not known darkens no room."""
    panels: dict[int, set[str]] = defaultdict(set)
    for zone in snapshot.zones:
        if zone.panel >= 0:
            panels[zone.node].add(snapshot.nodes.key[zone.panel])
    is_station = [model.kind is NodeKind.STATION for model in snapshot.catalogue.models] + [False]
    stations: dict[str, list[_Station]] = defaultdict(list)
    nodes: dict[str, list[str]] = defaultdict(list)
    rooms, models = snapshot.nodes.room.tolist(), snapshot.nodes.model.tolist()
    for node, key in enumerate(snapshot.nodes.key):
        segments = tuple(on.get(key, ()))
        for segment in segments:
            nodes[segment].append(key)
        if is_station[models[node]] and rooms[node] >= 0:
            room = snapshot.rooms[rooms[node]]
            station = _Station(
                segments=segments,
                building=snapshot.buildings[room.building].key,
                room=room.key,
                panels=tuple(sorted(panels[node])),
            )
            for segment in segments:
                stations[segment].append(station)
    return dict(stations), dict(nodes)
