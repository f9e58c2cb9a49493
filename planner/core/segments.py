"""From records to segments: who is on one wire with whom, and where the records do not agree about it.

One vertex per side (node, bus); runs are edges; a bus is one more vertex joined to every side that names it. The
sides of a gateway are separate vertices, so that a segment ends at its gateways without any cutting.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import IntEnum

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from inventory.core.catalogue import NodeKind
from inventory.core.snapshot import UNKNOWN, Ints, Snapshot

Longs = NDArray[np.int64]
Flags = NDArray[np.bool_]


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


@dataclass(frozen=True, slots=True, kw_only=True)
class Doubts:
    """All doubts as columns: kind (Doubt), segment, and the run or node it is about (-1: neither)."""

    kind: Longs
    label: Longs
    run: Longs
    node: Longs


@dataclass(frozen=True, slots=True, kw_only=True)
class Segments:
    """Segments of a campus, in order of their keys; every column is sorted by segment.

    key : one name a segment. side_node, side_bus, label, piece, degree : int64[s], of each side its node, its bus
    (-1 where it has none), its segment, its wired piece, the number of run ends on it. tail, head, run, wire_label :
    int64[w], of each wire the sides it joins, its run and its segment. first_side, first_wire : int64[k + 1], where
    the sides and wires of each segment begin. loops, pieces : int64[k], independent loops of the wiring, and wired
    pieces with a run in them. lost : nodes that name no bus and that no run reaches.
    """

    key: tuple[str, ...]
    side_node: Longs
    side_bus: Longs
    label: Longs
    piece: Longs
    degree: Longs
    tail: Longs
    head: Longs
    run: Longs
    wire_label: Longs
    first_side: Longs
    first_wire: Longs
    loops: Longs
    pieces: Longs
    doubts: Doubts
    lost: Longs

    def __len__(self) -> int:
        return len(self.key)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Ends:
    """Of each run: its bus, the bus of the side at its two ends, and what is wrong with it."""

    run: Longs
    bus: Longs
    node: Longs  # [r, 2]
    end_bus: Longs  # [r, 2]
    crossing: Flags  # [r, 2]
    strange: Flags  # [r, 2]
    open: Flags


def find_segments(snapshot: Snapshot) -> Segments:
    """Return the segments of a campus.

    Parameters
    ----------
    snapshot : Snapshot
        Rows in any order.

    Returns
    -------
    Segments
        Sorted by key: the first bus name of the segment in code point order, or, where it has none, the first node.

    Examples
    --------
    >>> from inventory.core.catalogue import Catalogue
    >>> from inventory.core.snapshot import Building, Bus, Nodes, Runs
    >>> none = np.empty(0, dtype=np.int32)
    >>> nodes = Nodes(key=(), building=none, room=none, model=none, bus=none.reshape(0, 4),
    ...     ends_bus=none.astype(np.int8), condition=none, zones_used=none, scenes_used=none, box_gangs=none,
    ...     installed=none.astype("datetime64[D]"), failures=none)
    >>> runs = Runs(key=(), bus=none, from_node=none, to_node=none, cable=none, length_m=none.astype(float))
    >>> len(find_segments(Snapshot(buildings=(), rooms=(), buses=(), catalogue=Catalogue(), nodes=nodes, runs=runs)))
    0

    """
    gateway = is_gateway(snapshot)
    ends = _run_ends(snapshot, gateway)
    lost = _lost(snapshot, ends)
    codes = _side_codes(snapshot, ends, lost)
    width = len(snapshot.buses) + 1
    node, bus = codes // width, codes % width - 1
    wires = _wires(codes, ends, width)
    joins = _joins(node, gateway)
    component = _components(node, bus, wires, joins, ends, codes, width)
    label, keys = _named(snapshot, node, bus, component)
    return _assembled(snapshot, gateway, ends, lost, (node, bus, label, keys), wires)


def is_gateway(snapshot: Snapshot) -> Flags:
    """Tell for each node whether it is a gateway; a node of unknown model is not."""
    return _is_kind(snapshot, NodeKind.GATEWAY)


def _is_kind(snapshot: Snapshot, kind: NodeKind) -> Flags:
    kinds = [model.kind is kind for model in snapshot.catalogue.models]
    return np.array([*kinds, False], dtype=bool)[snapshot.nodes.model]


def own_bus(snapshot: Snapshot) -> Longs:
    """Return for each node the first bus it names, -1 where it names none."""
    buses = snapshot.nodes.bus.astype(np.int64)
    if not len(buses):
        return np.empty(0, dtype=np.int64)
    first = np.argmax(buses >= 0, axis=1)
    return np.asarray(buses[np.arange(len(buses)), first])


def _run_ends(snapshot: Snapshot, gateway: Flags) -> _Ends:
    runs, own = snapshot.runs, np.append(own_bus(snapshot), UNKNOWN)
    gate = np.append(gateway, False)
    nodes = np.stack([runs.from_node, runs.to_node], axis=1).astype(np.int64).reshape(-1, 2)
    bus = _bus_of_runs(runs.bus, nodes, own, gate)
    named = np.append(snapshot.nodes.bus, np.full((1, snapshot.nodes.bus.shape[1]), UNKNOWN), axis=0)
    claimed = (named[nodes] == bus[:, None, None]).any(axis=2) & (bus[:, None] >= 0)
    known = nodes >= 0
    crossing = known & ~claimed & ~gate[nodes] & (own[nodes] >= 0)
    strange = known & ~claimed & gate[nodes]
    end_bus = np.where(crossing, own[nodes], bus[:, None])
    is_open = (runs.bus < 0) | ~known.all(axis=1) | (nodes[:, 0] == nodes[:, 1])
    return _Ends(
        run=np.arange(len(nodes), dtype=np.int64),
        bus=bus,
        node=nodes,
        end_bus=end_bus,
        crossing=crossing,
        strange=strange,
        open=is_open,
    )


def _bus_of_runs(stated: Ints, nodes: Longs, own: Longs, gate: Flags) -> Longs:
    """Return the bus of each run; one that states none takes that of an end which is no gateway."""
    bus = stated.astype(np.int64)
    for end in (1, 0):
        at_end = np.where(gate[nodes[:, end]], UNKNOWN, own[nodes[:, end]])
        bus = np.where((stated < 0) & (at_end >= 0), at_end, bus)
    return bus


def _lost(snapshot: Snapshot, ends: _Ends) -> Longs:
    reached = np.zeros(len(snapshot.nodes) + 1, dtype=bool)
    reached[ends.node.ravel()] = True
    return np.flatnonzero((own_bus(snapshot) < 0) & ~reached[:-1]).astype(np.int64)


def _side_codes(snapshot: Snapshot, ends: _Ends, lost: Longs) -> Longs:
    """Return one sorted code a side: node times (buses + 1) plus bus + 1."""
    width = len(snapshot.buses) + 1
    row, column = np.nonzero(snapshot.nodes.bus >= 0)
    claimed = row.astype(np.int64) * width + snapshot.nodes.bus[row, column] + 1
    known = ends.node >= 0
    by_run = ends.node[known] * width + ends.end_bus[known] + 1
    return np.unique(np.concatenate([claimed, by_run, lost * width]))


def _wires(codes: Longs, ends: _Ends, width: int) -> tuple[Longs, Longs, Longs]:
    """Return tail side, head side and run of each run with both ends known."""
    whole = (ends.node >= 0).all(axis=1)
    place = np.searchsorted(codes, ends.node[whole] * width + ends.end_bus[whole] + 1)
    return place[:, 0].astype(np.int64), place[:, 1].astype(np.int64), ends.run[whole]


def _joins(node: Longs, gateway: Flags) -> Longs:
    """Return the sides that belong to the same node as the side before them, where it is no gateway."""
    return np.flatnonzero((node[1:] == node[:-1]) & ~gateway[node[1:]]).astype(np.int64) + 1


def _components(  # noqa: PLR0917 - the parts of one graph
    node: Longs,
    bus: Longs,
    wires: tuple[Longs, Longs, Longs],
    joins: Longs,
    ends: _Ends,
    codes: Longs,
    width: int,
) -> Longs:
    """Return the component of each side; buses are vertices behind the sides."""
    sides = len(node)
    on_bus = np.flatnonzero(bus >= 0)
    row, end = np.nonzero((ends.node >= 0) & (ends.bus >= 0)[:, None])
    touched = np.searchsorted(codes, ends.node[row, end] * width + ends.end_bus[row, end] + 1)
    tail = np.concatenate([wires[0], joins, on_bus, touched])
    head = np.concatenate([wires[1], joins - 1, sides + bus[on_bus], sides + ends.bus[row]])
    return components(sides + width - 1, tail, head)[:sides]


def components(count: int, tail: Longs, head: Longs) -> Longs:
    """Return the connected component of each of `count` vertices joined by edges tail to head."""
    graph = coo_array((np.ones(len(tail), dtype=np.int8), (tail, head)), shape=(count, count))
    return connected_components(graph, directed=False)[1].astype(np.int64)


def _ranks(names: Sequence[str]) -> Longs:
    order = np.array(sorted(range(len(names)), key=names.__getitem__), dtype=np.int64)
    ranks = np.empty(len(names), dtype=np.int64)
    ranks[order] = np.arange(len(names))
    return ranks


def _named(snapshot: Snapshot, node: Longs, bus: Longs, component: Longs) -> tuple[Longs, tuple[str, ...]]:
    """Return the segment of each side and the keys, numbered in the order of the keys."""
    if not len(node):
        return component, ()
    bus_ranks = np.append(_ranks([row.key for row in snapshot.buses]), len(snapshot.buses) + len(snapshot.nodes))
    rank = np.where(bus >= 0, bus_ranks[bus], len(snapshot.buses) + _ranks(snapshot.nodes.key)[node])
    order = np.lexsort((rank, component))
    first = order[np.flatnonzero(np.r_[True, np.diff(component[order]) != 0])]
    taken = {row.key for row in snapshot.buses}
    names = [_segment_key(snapshot, int(node[side]), int(bus[side]), taken) for side in first]
    by_name = sorted(range(len(names)), key=names.__getitem__)
    label = np.full(int(component.max()) + 1, UNKNOWN, dtype=np.int64)
    label[component[first][by_name]] = np.arange(len(by_name))
    return label[component], tuple(names[place] for place in by_name)


def _segment_key(snapshot: Snapshot, node: int, bus: int, taken: set[str]) -> str:
    if bus >= 0:
        return snapshot.buses[bus].key
    name = snapshot.nodes.key[node]
    return f"{name} (no bus)" if name in taken else name


def _assembled(  # noqa: PLR0917 - the parts of one graph
    snapshot: Snapshot,
    gateway: Flags,
    ends: _Ends,
    lost: Longs,
    sides: tuple[Longs, Longs, Longs, tuple[str, ...]],
    wires: tuple[Longs, Longs, Longs],
) -> Segments:
    """Return everything sorted by segment."""
    node, bus, label, keys = sides
    order = np.argsort(label, kind="stable")
    place = np.empty_like(order)
    place[order] = np.arange(len(order))
    node, bus, label = node[order], bus[order], label[order]
    by_label = np.argsort(label[place[wires[0]]], kind="stable")
    tail, head, run = (place[wires[0]])[by_label], (place[wires[1]])[by_label], wires[2][by_label]
    piece = components(len(node), tail, head)
    degree = np.bincount(np.concatenate([tail, head]), minlength=len(node)).astype(np.int64)
    count = len(keys)
    first_side = np.searchsorted(label, np.arange(count + 1)).astype(np.int64)
    first_wire = np.searchsorted(label[tail], np.arange(count + 1)).astype(np.int64)
    all_pieces, wired = _pieces(label, piece, degree, count)
    return Segments(
        key=keys,
        side_node=node,
        side_bus=bus,
        label=label,
        piece=piece,
        degree=degree,
        tail=tail,
        head=head,
        run=run,
        wire_label=label[tail],
        first_side=first_side,
        first_wire=first_wire,
        loops=np.diff(first_wire) - np.diff(first_side) + all_pieces,
        pieces=wired,
        doubts=_doubts(snapshot, gateway, ends, (node, bus, label, degree), (tail, head, run), wired),
        lost=lost,
    )


def _pieces(label: Longs, piece: Longs, degree: Longs, count: int) -> tuple[Longs, Longs]:
    """Return for each segment its wired pieces, and those of them that have a run."""
    _, first = np.unique(piece, return_index=True)
    every = np.bincount(label[first], minlength=count).astype(np.int64)
    wired = np.bincount(label[first][degree[first] > 0], minlength=count).astype(np.int64)
    return every, wired


def _doubts(  # noqa: PLR0917 - the parts of one graph
    snapshot: Snapshot,
    gateway: Flags,
    ends: _Ends,
    sides: tuple[Longs, Longs, Longs, Longs],
    wires: tuple[Longs, Longs, Longs],
    wired: Longs,
) -> Doubts:
    """Return all doubts, sorted by segment."""
    node, bus, label, degree = sides
    of_side = _side_labels(node, bus, label, len(snapshot.buses) + 1)
    rows: list[tuple[Longs, Longs, Longs, int]] = []  # label, run, node, kind
    run, end = np.nonzero(ends.crossing)
    rows.append((of_side(ends.node[run, end], ends.end_bus[run, end]), run, ends.node[run, end], Doubt.CROSSING))
    gate = np.append(gateway, False)
    loose = (snapshot.runs.bus < 0)[:, None] & gate[ends.node]
    for kind, flags in ((Doubt.STRANGE_GATEWAY, ends.strange), (Doubt.OPEN_RUN, loose)):
        run, end = np.nonzero(flags)  # on which side of the gateway it ends nobody can tell: all are in doubt
        at, which = _all_sides(node, ends.node[run, end])
        about = ends.node[run, end] if kind is Doubt.STRANGE_GATEWAY else np.full_like(run, UNKNOWN)
        rows.append((label[at], run[which], about[which], kind))
    run, end = np.nonzero(ends.open[:, None] & (ends.node >= 0))
    rows.append((of_side(ends.node[run, end], ends.end_bus[run, end]), run, np.full_like(run, UNKNOWN), Doubt.OPEN_RUN))
    at, run = _loose_on_bus(ends, bus)
    rows.append((label[at], run, np.full_like(run, UNKNOWN), Doubt.OPEN_RUN))
    for kind, flags in _doubtful_sides(snapshot, gateway, (node, bus, degree)):
        at = np.flatnonzero(flags)
        rows.append((label[at], np.full_like(at, UNKNOWN), node[at], kind))
    tail, _, run = wires
    twin = _twins(*wires)
    rows.append((label[tail[twin]], run[twin], np.full_like(twin, UNKNOWN), Doubt.TWIN))
    broken = np.flatnonzero(wired > 1)
    rows.append((broken, np.full_like(broken, UNKNOWN), np.full_like(broken, UNKNOWN), Doubt.PIECES))
    return _sorted_doubts(rows)


def _loose_on_bus(ends: _Ends, bus: Longs) -> tuple[Longs, Longs]:
    """Return one side on the bus of each run of which no end is known, and the run."""
    last = np.full(int(max(bus.max(initial=-1), ends.bus.max(initial=-1))) + 1, UNKNOWN, dtype=np.int64)
    last[bus[bus >= 0]] = np.flatnonzero(bus >= 0)
    run = np.flatnonzero((ends.bus >= 0) & (ends.node < 0).all(axis=1))
    run = run[last[ends.bus[run]] >= 0]
    return last[ends.bus[run]], run


def _all_sides(node: Longs, wanted: Longs) -> tuple[Longs, Longs]:
    """Return all sides of each wanted node, and the place in `wanted` of the node that each belongs to."""
    order = np.argsort(node, kind="stable")
    first, last = (np.searchsorted(node[order], wanted, side=side) for side in ("left", "right"))
    count = last - first
    step = np.arange(count.sum()) - np.repeat(np.cumsum(count) - count, count)
    which = np.repeat(np.arange(len(wanted)), count)
    return np.asarray(order[np.repeat(first, count) + step], dtype=np.int64), which.astype(np.int64)


def _doubtful_sides(
    snapshot: Snapshot, gateway: Flags, sides: tuple[Longs, Longs, Longs]
) -> tuple[tuple[Doubt, Flags], ...]:
    """Return the doubts about single sides, each with the sides it is about."""
    node, bus, degree = sides
    home = np.array([*(row.building for row in snapshot.buses), UNKNOWN], dtype=np.int64)[bus]
    stands = snapshot.nodes.building[node]
    apart = (home >= 0) & (stands >= 0) & (home != stands)
    return (
        (Doubt.TWO_BUSES, (np.bincount(node, minlength=len(snapshot.nodes)) > 1)[node] & ~gateway[node]),
        (Doubt.NO_BUS, (own_bus(snapshot)[node] < 0) & ~gateway[node]),
        (Doubt.UNREACHED, (bus >= 0) & (degree == 0)),
        (Doubt.ELSEWHERE, apart & ~gateway[node]),
        (Doubt.DEAD_END, _is_kind(snapshot, NodeKind.JUNCTION)[node] & (degree == 1)),
    )


def _twins(tail: Longs, head: Longs, run: Longs) -> Longs:
    """Return the wires that join the same two sides as another wire, but for the first of each."""
    low, high = np.minimum(tail, head), np.maximum(tail, head)
    order = np.lexsort((run, high, low))
    same = (np.diff(low[order]) == 0) & (np.diff(high[order]) == 0) & (low != high)[order][1:]
    return np.asarray(order[1:][same], dtype=np.int64)


def _side_labels(node: Longs, bus: Longs, label: Longs, width: int):  # type: ignore[no-untyped-def] # noqa: ANN202
    """Return a look-up from (node, bus) to the segment of that side."""
    codes = node * width + bus + 1
    order = np.argsort(codes)
    codes, labels = codes[order], label[order]
    return lambda nodes, buses: labels[np.searchsorted(codes, nodes * width + buses + 1)]


def _sorted_doubts(rows: list[tuple[Longs, Longs, Longs, int]]) -> Doubts:
    label = np.concatenate([row[0] for row in rows]).astype(np.int64)
    run = np.concatenate([row[1] for row in rows]).astype(np.int64)
    node = np.concatenate([row[2] for row in rows]).astype(np.int64)
    kind = np.concatenate([np.full(len(row[0]), row[3], dtype=np.int64) for row in rows])
    order = np.lexsort((node, run, kind, label))
    return Doubts(kind=kind[order], label=label[order], run=run[order], node=node[order])
