"""Where records disagree or are silent about who is on one wire with whom, as columns sorted by segment."""

from collections.abc import Iterator
from dataclasses import dataclass
from enum import IntEnum

import numpy as np
from numpy.typing import NDArray

from inventory.core.catalogue import NodeKind
from inventory.core.snapshot import UNKNOWN, Snapshot
from planner.core.compiled import compiled
from planner.core.sides import Ends, Flags, Ints, Longs, Sides, of_kind


class Doubt(IntEnum):
    """Ways in which records disagree or are silent; those in MEMBERSHIP make the membership itself doubtful."""

    CROSSING = 0  # a run on one bus ends at a node of another
    STRANGE_GATEWAY = 1  # a run ends at a gateway that does not name the run's bus
    TWO_BUSES = 2  # a node that is no gateway is on two buses
    OPEN_RUN = 3  # a run whose bus or one end is not recorded, or whose ends are one node
    NO_BUS = 4  # a node names no bus, a run reaches it
    UNREACHED = 5  # a node names a bus, no run reaches it
    PIECES = 6  # what is wired falls into two or more pieces
    TWIN = 7  # a second run between the same two nodes: another cable, or the same one written down twice
    ELSEWHERE = 8  # a node that is no gateway stands in another building than its bus
    DEAD_END = 9  # a junction that one run reaches and none leaves


MEMBERSHIP = (Doubt.CROSSING, Doubt.STRANGE_GATEWAY, Doubt.TWO_BUSES, Doubt.OPEN_RUN, Doubt.TWIN)
LOOSE, APART, DEAD = 1, 2, 4  # what can be odd about one side
_Rows = tuple[Doubt, Longs, Longs | None, Longs | None]  # kind, segment, run, node


@dataclass(frozen=True, slots=True, kw_only=True)
class Doubts:
    """All doubts as columns: kind (Doubt), segment, and the run or node it is about (-1: neither)."""

    kind: Longs
    label: Longs
    run: Longs
    node: Longs


@dataclass(frozen=True, slots=True, kw_only=True)
class Wiring:
    """What doubts are looked for in: sides with their segment and number of run ends, wires, wired pieces a segment.

    label, degree : int64[s]. tail, head, run : int64[w]. label_of_bus : int64[b], -1 where no side is on it.
    loops, pieces : int64[k].
    """

    sides: Sides
    label: Longs
    degree: Longs
    tail: Longs
    head: Longs
    run: Longs
    label_of_bus: Longs
    loops: Longs
    pieces: Longs


def find_doubts(snapshot: Snapshot, gateway: Flags, own: Longs, ends: Ends, wiring: Wiring) -> Doubts:
    """Return all doubts, sorted by segment, kind, run and node."""
    found = (
        *_doubtful_ends(ends, wiring),
        *_open_runs(snapshot, ends, wiring),
        *_doubtful_sides(snapshot, gateway, own, wiring),
        _twins(wiring),
        (Doubt.PIECES, np.flatnonzero(wiring.pieces > 1), None, None),
    )
    label = np.concatenate([row[1] for row in found])
    kind = np.repeat([int(row[0]) for row in found], [len(row[1]) for row in found]).astype(np.int64)
    run, node = (
        np.concatenate([np.full(len(row[1]), UNKNOWN) if (part := row[place]) is None else part for row in found])
        for place in (2, 3)
    )
    order = np.lexsort((node, run, kind, label))
    return Doubts(kind=kind[order], label=label[order], run=run[order], node=node[order])


def _doubtful_ends(ends: Ends, wiring: Wiring) -> Iterator[_Rows]:
    at = np.flatnonzero(ends.crossing)
    node = ends.odd_node[at]
    label = wiring.label[wiring.sides.at(node, ends.odd_bus[at])]
    yield Doubt.CROSSING, label, ends.odd_run[at], node
    at = np.flatnonzero(ends.strange)  # on which side of the gateway it ends nobody can tell: all are in doubt
    side, which = wiring.sides.all_of(ends.odd_node[at])
    yield Doubt.STRANGE_GATEWAY, wiring.label[side], ends.odd_run[at][which], ends.odd_node[at][which]


def _open_runs(snapshot: Snapshot, ends: Ends, wiring: Wiring) -> Iterator[_Rows]:
    """Yield runs whose bus or one end is not recorded, or whose ends are one node, on every segment they may be on."""
    silent = snapshot.runs.bus < 0
    run = np.flatnonzero(silent | (ends.tail < 0) | (ends.head < 0) | (ends.tail == ends.head))
    gate = np.append(of_kind(snapshot, NodeKind.GATEWAY)[snapshot.nodes.model], False)
    for node, is_head in ((ends.tail, False), (ends.head, True)):
        known = run[node[run] >= 0]
        bus = _bus_of_end(ends, known, is_head=is_head)
        yield Doubt.OPEN_RUN, wiring.label[wiring.sides.at(node[known], bus)], known, None
        loose = run[silent[run] & gate[node[run]]]
        side, which = wiring.sides.all_of(node[loose])
        yield Doubt.OPEN_RUN, wiring.label[side], loose[which], None
    adrift = run[(ends.tail[run] < 0) & (ends.head[run] < 0) & (ends.bus[run] >= 0)]
    adrift = adrift[wiring.label_of_bus[ends.bus[adrift]] >= 0]
    yield Doubt.OPEN_RUN, wiring.label_of_bus[ends.bus[adrift]], adrift, None


def _bus_of_end(ends: Ends, run: Longs, *, is_head: bool) -> Longs:
    """Return the bus of the side that each of some runs ends at."""
    bus = ends.bus.copy()
    here = ends.at_head if is_head else ~ends.at_head
    bus[ends.odd_run[here]] = ends.odd_bus[here]
    return bus[run]


def _doubtful_sides(snapshot: Snapshot, gateway: Flags, own: Longs, wiring: Wiring) -> Iterator[_Rows]:
    """Yield the doubts about single sides."""
    sides, nodes = wiring.sides, snapshot.nodes
    home = np.array([*[row.building for row in snapshot.buses], UNKNOWN], dtype=np.int32)
    junction = of_kind(snapshot, NodeKind.JUNCTION)[nodes.model]
    odd = _odd_sides((sides.node, sides.bus), wiring.degree, home, (nodes.building, junction, gateway))
    several, _ = sides.all_of(np.flatnonzero((np.diff(sides.first) > 1) & ~gateway))
    homeless, _ = sides.all_of(np.flatnonzero((own < 0) & ~gateway))
    for kind, at in (
        (Doubt.TWO_BUSES, several),
        (Doubt.NO_BUS, homeless),
        (Doubt.UNREACHED, np.flatnonzero(odd & LOOSE)),
        (Doubt.ELSEWHERE, np.flatnonzero(odd & APART)),
        (Doubt.DEAD_END, np.flatnonzero(odd & DEAD)),
    ):
        yield kind, wiring.label[at], None, sides.node[at]


@compiled
def _odd_sides(
    sides: tuple[Longs, Longs], degree: Longs, home: Ints, of_node: tuple[Ints, Flags, Flags]
) -> NDArray[np.int8]:
    """Mark the sides on a bus that no run reaches, those away from the building of their bus, and junctions at an end.

    `home` : building of each bus. `of_node` : building, and whether it is a junction, and a gateway.
    """
    (node, bus), (building, junction, gateway) = sides, of_node
    odd = np.zeros(node.size, np.int8)
    for side in range(node.size):
        here = node[side]
        if degree[side] == 0 and bus[side] >= 0:
            odd[side] |= LOOSE
        if degree[side] == 1 and junction[here]:
            odd[side] |= DEAD
        stands, belongs = building[here], home[bus[side]]
        if stands != belongs and stands >= 0 and belongs >= 0 and not gateway[here]:
            odd[side] |= APART
    return odd


def _twins(wiring: Wiring) -> _Rows:
    """Return the wires that join the same two sides as another wire, but for the first of each."""
    at = np.flatnonzero(wiring.loops[wiring.label[wiring.tail]] > 0)  # two of them close a loop
    tail, head, run = wiring.tail[at], wiring.head[at], wiring.run[at]
    low, high = np.minimum(tail, head), np.maximum(tail, head)
    order = np.lexsort((run, high, low))
    same = (np.diff(low[order]) == 0) & (np.diff(high[order]) == 0) & (low != high)[order][1:]
    twin = order[1:][same]
    return Doubt.TWIN, wiring.label[tail[twin]], run[twin], None
