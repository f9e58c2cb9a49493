"""What the records leave open about a segment, as facts in words that a surveyor can settle."""

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from inventory.core.snapshot import UNKNOWN, Snapshot
from planner.core.grouped import spread
from planner.core.segments import MEMBERSHIP, Doubt, Segments

Longs = NDArray[np.int64]
UNWIRED = (Doubt.UNREACHED, Doubt.PIECES, Doubt.DEAD_END)  # wiring that must be there and is not recorded


@dataclass(slots=True, kw_only=True)
class Open:
    """What is open about one segment: facts that settle it, wiring that is not recorded, and whether it is doubtful."""

    facts: list[str] = field(default_factory=list)
    silent: list[str] = field(default_factory=list)
    doubtful: bool = False


def open_points(snapshot: Snapshot, segments: Segments, wanted: Collection[int]) -> dict[int, Open]:
    """Return what is open about the wanted segments; those about which nothing is are left out."""
    doubts, labels = segments.doubts, np.array(sorted(wanted), dtype=np.int64)
    found: dict[int, Open] = defaultdict(Open)
    at = np.flatnonzero(np.isin(doubts.label, labels))
    columns = (column[at].tolist() for column in (doubts.kind, doubts.label, doubts.run, doubts.node))
    for kind, label, run, node in zip(*columns, strict=True):
        words = _words(snapshot, segments, Doubt(kind), (label, run, node))
        (found[label].silent if kind in UNWIRED else found[label].facts).append(words)
        found[label].doubtful |= kind in MEMBERSHIP
    for label, bus in _silent_buses(snapshot, segments, labels):
        found[label].facts.append(f"Protocol of Bus {snapshot.buses[bus].key}")
    _put_down_nearby(snapshot, segments, found, labels)
    return dict(found)


def _put_down_nearby(snapshot: Snapshot, segments: Segments, found: dict[int, Open], labels: Longs) -> None:
    """Ask on the segments that they may be on for runs whose bus or an end nobody recorded."""
    for run, near in near_loose_runs(snapshot, segments):
        fact = f"Bus and both ends of run {snapshot.runs.key[run]}"
        for label in np.intersect1d(near, labels).tolist():
            if fact not in found[label].facts:
                found[label].facts.append(fact)


def near_loose_runs(snapshot: Snapshot, segments: Segments) -> list[tuple[int, Longs]]:
    """Return the runs whose bus or an end nobody recorded, each with the segments that it may be on.

    It may be on those with anything in a building of its known end, of its bus, or of a bus that its known end names;
    where none of these is known, on every one.
    """
    runs = snapshot.runs
    loose = np.flatnonzero((runs.bus < 0) | (runs.from_node < 0) | (runs.to_node < 0)).tolist()
    if not loose:
        return []
    home = np.array([*(bus.building for bus in snapshot.buses), UNKNOWN], dtype=np.int64)
    near: dict[frozenset[int], Longs] = {}
    found = []
    for run in loose:
        ends = [node for node in (int(runs.from_node[run]), int(runs.to_node[run])) if node >= 0]
        buses = [int(runs.bus[run]), *(bus for node in ends for bus in snapshot.nodes.bus[node].tolist())]
        places = [*home[[bus for bus in buses if bus >= 0]].tolist(), *snapshot.nodes.building[ends].tolist()]
        about = frozenset(places) if UNKNOWN not in places else frozenset[int]()
        if about not in near:
            near[about] = _labels_in(snapshot, segments, home, about)
        found.append((run, near[about]))
    return found


def _labels_in(snapshot: Snapshot, segments: Segments, home: Longs, buildings: frozenset[int]) -> Longs:
    """Return the segments with anything in one of some buildings, or nobody knows where; all of them for none."""
    if not buildings:
        return np.arange(len(segments))
    places = [*buildings, UNKNOWN]
    stands = np.isin(snapshot.nodes.building[segments.side_node], places)
    runs_in = np.isin(home[segments.side_bus], places)
    return np.unique(segments.label[stands | runs_in]).astype(np.int64)


def _silent_buses(snapshot: Snapshot, segments: Segments, labels: Longs) -> list[tuple[int, int]]:
    """Return segment and bus of each bus of some segments whose protocol nobody recorded."""
    if all(bus.protocol is not None for bus in snapshot.buses):
        return []
    sides, _, _ = spread(segments.first_side, labels)
    pairs = set(zip(segments.label[sides].tolist(), segments.side_bus[sides].tolist(), strict=True))
    return sorted((label, bus) for label, bus in pairs if bus >= 0 and snapshot.buses[bus].protocol is None)


def _words(snapshot: Snapshot, segments: Segments, kind: Doubt, about: tuple[int, int, int]) -> str:
    label, run, node = about
    name = snapshot.nodes.key[node] if node >= 0 else ""
    cable = snapshot.runs.key[run] if run >= 0 else ""
    bus = _bus(snapshot, int(snapshot.runs.bus[run])) if run >= 0 else ""
    home = _bus(snapshot, next((bus for bus in snapshot.nodes.bus[node].tolist() if bus >= 0), -1)) if node >= 0 else ""
    return {
        Doubt.CROSSING: f"Does run {cable} ({bus}) really end at {name}, which names {home}",
        Doubt.STRANGE_GATEWAY: f"Does run {cable} ({bus}) really end at gateway {name}, which does not name that bus",
        Doubt.TWO_BUSES: f"Which of the buses that {name} names is it really on",
        Doubt.OPEN_RUN: f"Bus and both ends of run {cable}",
        Doubt.NO_BUS: f"Bus of {name}",
        Doubt.UNREACHED: f"Which run reaches {name} ({home})",
        Doubt.TWIN: f"Is run {cable} ({bus}) a second cable beside another, or the same one recorded twice",
        Doubt.ELSEWHERE: f"Is {name}, which stands in another building, really on {home}",
        Doubt.DEAD_END: f"What is wired behind junction {name} ({home}), which only one run reaches",
        Doubt.PIECES: f"How are the {segments.pieces[label]} wired pieces of {segments.key[label]} joined",
    }[kind]


def _bus(snapshot: Snapshot, bus: int) -> str:
    return f"Bus {snapshot.buses[bus].key}" if bus >= 0 else "bus not known"


def lost_nearby(
    snapshot: Snapshot, segments: Segments, protocols: Mapping[int, str | None], reach: str
) -> dict[int, tuple[str, ...]]:
    """Return, for each segment of `protocols`, the lost nodes that may sit on it.

    A lost node names no bus and no run reaches it. It may sit on a segment near it, whose protocol it speaks or
    may speak. What is not known about where it or the segment is widens its reach, never narrows it.
    """
    if not len(segments.lost):
        return {}
    rooms = _reaches(snapshot, reach)
    every = np.array(sorted(protocols), dtype=np.int64)
    nearby = _labels_by_place(snapshot, segments, rooms, every)
    homeless = np.flatnonzero(segments.side_bus < 0)
    home = dict(zip(segments.side_node[homeless].tolist(), segments.label[homeless].tolist(), strict=True))
    found: dict[int, list[str]] = defaultdict(list)
    for node in segments.lost.tolist():
        building = int(snapshot.nodes.building[node])
        labels = every if building < 0 else nearby.get((building, int(rooms[node])), np.empty(0, dtype=np.int64))
        for label in set(labels.tolist()) - {home[node]}:
            if _may_speak(snapshot, node, protocols[label]):
                found[label].append(snapshot.nodes.key[node])
    return {label: tuple(sorted(names)) for label, names in found.items()}


def _may_speak(snapshot: Snapshot, node: int, protocol: str | None) -> bool:
    place = int(snapshot.nodes.model[node])
    if place < 0 or protocol is None:
        return True
    model = snapshot.catalogue.models[place]
    return model.speaks(protocol) or (model.protocol is None and model.protocol_2 is None)


def _reaches(snapshot: Snapshot, reach: str) -> Longs:
    """Return for each node the number of the room or floor it is in, -1 where that is not known or does not matter."""
    room = snapshot.nodes.room.astype(np.int64)
    if reach == "room":
        return room
    if reach == "building":
        return np.full(len(room), -1, dtype=np.int64)
    floors = {key: place for place, key in enumerate(sorted({(r.building, r.floor or "") for r in snapshot.rooms}))}
    of_room = [floors[row.building, row.floor or ""] if row.floor is not None else -1 for row in snapshot.rooms]
    return np.array([*of_room, -1], dtype=np.int64)[room]


def _labels_by_place(
    snapshot: Snapshot, segments: Segments, rooms: Longs, labels: Longs
) -> dict[tuple[int, int], Longs]:
    """Return which of some segments have a side at each place that has a lost node in it."""
    found: dict[tuple[int, int], Longs] = {}
    own, _, _ = spread(segments.first_side, labels)
    node, label = segments.side_node[own], segments.label[own]
    building = snapshot.nodes.building[node].astype(np.int64)
    order = np.argsort(building, kind="stable")
    starts = {int(one): np.searchsorted(building[order], [one, one + 1]) for one in np.unique(building)}
    anywhere = order[slice(*starts[-1])] if -1 in starts else order[:0]
    for place in {(int(snapshot.nodes.building[node]), int(rooms[node])) for node in segments.lost}:
        if place[0] not in starts:
            continue
        sides = np.concatenate([order[slice(*starts[place[0]])], anywhere])
        at = rooms[node[sides]]
        near = (at == place[1]) | (at < 0) | (place[1] < 0)
        found[place] = np.unique(label[sides[near]])
    return found


def questions(missing: Iterable[str]) -> tuple[str, ...]:
    """Return facts as questions, each once, in order of their words."""
    return tuple(f"{fact}?" for fact in sorted(set(missing)))
