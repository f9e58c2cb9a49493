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
        self._stations, self._nodes = _by_segment(snapshot, self._on)
        self._before = _parts(self._graph)
        self._together: dict[int, list[str]] = defaultdict(list)
        for segment, number in self._before.items():
            self._together[number].append(segment)

    def dark_rooms(self, segments: Iterable[str], beside: Iterable[str] = ()) -> tuple[tuple[str, str], ...]:
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

    def _dark_in(self, segments: list[str], gone: set[tuple[str, str]]) -> Iterable[tuple[str, str]]:
        """Return the dark rooms of segments that hang together when nothing is dead."""
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
                for _, building in self._nodes.get(segment, ()):
                    counts[building][after[segment]] += 1
        return {
            building: frozenset(number for number, size in sizes.items() if size == max(sizes.values()))
            for building, sizes in counts.items()
        }

    def _loses(self, station: _Station, after: Part, largest: frozenset[int]) -> bool:
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
            not own & {after[segment] for segment in self._on.get(panel, ()) if segment in after} for panel in reached
        )


def dark_rooms(
    snapshot: Snapshot, reports: Iterable[SegmentReport], segments: tuple[str, ...]
) -> tuple[tuple[str, str], ...]:
    """Return (building, room) affected while these segments are converted, sorted.

    Only the segments that hang together with these are looked at. For very many orders of one campus make a
    `Network` once and ask it.
    """
    return Network(snapshot, _hanging_together(reports, segments)).dark_rooms(segments)


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


def _by_segment(
    snapshot: Snapshot, on: dict[str, list[str]]
) -> tuple[dict[str, list[_Station]], dict[str, list[tuple[str, str]]]]:
    """Return of each segment its stations, and its nodes with the building they are in.

    A station whose room is not known darkens no room.
    """
    panels = _panels(snapshot)
    is_station = [*(model.kind is NodeKind.STATION for model in snapshot.catalogue.models), False]
    stations: dict[str, list[_Station]] = defaultdict(list)
    nodes: dict[str, list[tuple[str, str]]] = defaultdict(list)
    for place, key in enumerate(snapshot.nodes.key):
        segments = tuple(on.get(key, ()))
        if not segments:
            continue
        building = int(snapshot.nodes.building[place])
        for segment in segments:
            nodes[segment].append((key, snapshot.buildings[building].key if building >= 0 else ""))
        if is_station[snapshot.nodes.model[place]] and snapshot.nodes.room[place] >= 0:
            station = _station(snapshot, place, segments, panels.get(place, frozenset()))
            for segment in segments:
                stations[segment].append(station)
    return dict(stations), dict(nodes)


def _panels(snapshot: Snapshot) -> dict[int, set[str]]:
    """Return the nodes that carry out what each node commands."""
    panels: dict[int, set[str]] = defaultdict(set)
    for zone in snapshot.zones:
        if zone.panel >= 0:
            panels[zone.node].add(snapshot.nodes.key[zone.panel])
    return dict(panels)


def _station(snapshot: Snapshot, place: int, segments: tuple[str, ...], panels: Iterable[str]) -> _Station:
    room = snapshot.rooms[snapshot.nodes.room[place]]
    return _Station(
        segments=segments,
        building=snapshot.buildings[room.building].key,
        room=room.key,
        panels=tuple(sorted(panels)),
    )
