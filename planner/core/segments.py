"""From records to segments: who is on one wire with whom, and where the records do not agree about it.

One vertex per side (node, bus); runs are edges; a bus is one more vertex joined to every side that names it. The
sides of a gateway are separate vertices, so that a segment ends at its gateways without any cutting. Runs are
followed first; only the pieces that they hold together are then joined by bus, which are far fewer.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from inventory.core.snapshot import UNKNOWN, Snapshot
from planner.core.beside import both
from planner.core.grouped import begins_of, components, order_by
from planner.core.record_doubts import MEMBERSHIP, Doubt, Doubts, Wiring, find_doubts
from planner.core.sides import (
    Ends,
    Flags,
    Longs,
    Sides,
    is_gateway,
    lost_nodes,
    make_sides,
    own_bus,
    run_ends,
    runs_by_bus,
    wires_of,
)

__all__ = ["MEMBERSHIP", "Doubt", "Doubts", "Longs", "Segments", "components", "find_segments", "is_gateway", "own_bus"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Segments:
    """Segments of a campus, in order of their keys; every column is sorted by segment.

    key : one name a segment. side_node, side_bus, label, piece, degree : int64[s], of each side its node, its bus
    (-1 where it has none), its segment, its wired piece, the number of run ends on it. tail, head, run, wire_label :
    int64[w], of each wire the sides it joins, its run and its segment. first_side, first_wire, first_piece :
    int64[k + 1], where the sides, wires and pieces of each segment begin. loops, pieces : int64[k], independent loops
    of the wiring, and wired pieces with a run in them. lost : nodes that name no bus and that no run reaches.
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
    first_piece: Longs
    loops: Longs
    pieces: Longs
    doubts: Doubts
    lost: Longs

    def __len__(self) -> int:
        return len(self.key)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Named:
    """Pieces of wiring with the segment of each, and the segment of each bus (-1 where no side is on it)."""

    key: tuple[str, ...]
    label: Longs
    label_of_bus: Longs


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
    gateway, own = is_gateway(snapshot), own_bus(snapshot)
    ends = run_ends(snapshot, gateway, own)
    lost = lost_nodes(own, ends)
    sides, run = both(
        lambda: make_sides(snapshot, ends, lost),
        lambda: runs_by_bus(ends, len(snapshot.buses) + 1),
        len(snapshot.nodes),
    )
    tail, head = wires_of(sides, ends, run)
    piece = components(len(sides.node), tail, head)
    named = _named(snapshot, sides, piece, _joined(sides, gateway, ends, piece))
    return _assembled(snapshot, (gateway, own, ends, lost), sides, (tail, head, run), (piece, named))


def _joined(sides: Sides, gateway: Flags, ends: Ends, piece: Longs) -> Longs:
    """Return the component of each piece, and behind them of each bus: joined by buses and by nodes on two of them."""
    count, buses = _count(piece), sides.width - 1
    first_bus = np.full(count, UNKNOWN, dtype=np.int64)
    on_bus = sides.bus >= 0
    first_bus[piece[on_bus]] = sides.bus[on_bus]  # any bus of the piece does; only sides on others join more
    more = np.flatnonzero(on_bus & (sides.bus != first_bus[piece]))
    twice, node = sides.all_of(np.flatnonzero(sides.several & ~gateway))
    same = np.flatnonzero(node[1:] == node[:-1]) + 1
    crossing = ends.crossing & (ends.odd_run >= 0) & (ends.bus[ends.odd_run] >= 0)
    end = piece[sides.at(ends.odd_node[crossing], ends.odd_bus[crossing])]
    whole = np.flatnonzero(first_bus >= 0)
    tail = np.concatenate([whole, piece[more], piece[twice[same]], end])
    bus = ends.bus[ends.odd_run[crossing]]
    head = np.concatenate([count + first_bus[whole], count + sides.bus[more], piece[twice[same - 1]], count + bus])
    return components(count + buses, tail, head)


def _count(label: Longs) -> int:
    return int(label.max(initial=-1)) + 1


def _named(snapshot: Snapshot, sides: Sides, piece: Longs, component: Longs) -> _Named:
    """Return the segments in the order of their keys."""
    count = _count(piece)
    of_piece, of_bus = component[:count], component[count:]
    used = np.zeros(len(of_bus), dtype=bool)
    used[sides.bus[sides.bus >= 0]] = True
    bus_keys = [row.key for row in snapshot.buses]
    first = np.full(len(component), UNKNOWN, dtype=np.int64)  # of each component, the bus that names it
    ranks = _ranks(bus_keys)
    ranked = np.flatnonzero(used)[np.argsort(ranks[used], kind="stable")][::-1]
    first[of_bus[ranked]] = ranked  # what is written last stays
    order = np.flatnonzero(first >= 0)
    order = order[np.argsort(ranks[first[order]])]
    keys = [bus_keys[bus] for bus in first[order].tolist()]
    homeless = _names_of_homeless(snapshot, sides.node, of_piece[piece], first, bus_keys)
    if homeless:
        names = dict(zip(order.tolist(), keys, strict=True)) | homeless
        order = np.array(sorted(names, key=names.__getitem__), dtype=np.int64)
        keys = [names[number] for number in order.tolist()]
    label = np.full(len(component), UNKNOWN, dtype=np.int64)
    label[order] = np.arange(len(order))
    return _Named(
        key=tuple(keys),
        label=label[of_piece],
        label_of_bus=np.where(used, label[of_bus], UNKNOWN),
    )


def _ranks(names: Sequence[str]) -> Longs:
    order = np.array(sorted(range(len(names)), key=names.__getitem__), dtype=np.int64)
    ranks = np.empty(len(names), dtype=np.int64)
    ranks[order] = np.arange(len(names))
    return ranks


def _names_of_homeless(
    snapshot: Snapshot, node: Longs, component: Longs, first: Longs, bus_keys: Sequence[str]
) -> dict[int, str]:
    """Return the name of each component without a bus: its first node, told apart from a bus of the same name."""
    at = np.flatnonzero(first[component] < 0)
    found: dict[int, str] = {}
    taken = set(bus_keys) if len(at) else set()
    for number, place in zip(component[at].tolist(), node[at].tolist(), strict=True):
        name = snapshot.nodes.key[place]
        found[number] = min(found.get(number, name), name)
    return {number: f"{name} (no bus)" if name in taken else name for number, name in found.items()}


def _assembled(
    snapshot: Snapshot,
    records: tuple[Flags, Longs, Ends, Longs],
    sides: Sides,
    wires: tuple[Longs, Longs, Longs],
    pieces: tuple[Longs, _Named],
) -> Segments:
    """Return everything sorted by segment."""
    gateway, own, ends, lost = records
    tail, head, run = wires
    piece, named = pieces
    count = len(named.key)
    label = named.label[piece]
    of_wire = label[tail]
    every, wired = _pieces(named.label, piece[tail], count)
    degree = np.bincount(tail, minlength=len(piece)) + np.bincount(head, minlength=len(piece))
    first_side, first_wire = (
        begins_of(np.bincount(part, minlength=count).astype(np.int64)) for part in (label, of_wire)
    )
    loops = np.diff(first_wire) - np.diff(first_side) + every
    wiring = Wiring(
        sides=sides,
        label=label,
        degree=degree,
        tail=tail,
        head=head,
        run=run,
        label_of_bus=named.label_of_bus,
        loops=loops,
        pieces=wired,
    )
    doubts, (order, place, by_label) = both(
        lambda: find_doubts(snapshot, gateway, own, ends, wiring),
        lambda: _orders(sides, label, (of_wire, run), count),
        len(label),
    )
    return Segments(
        key=named.key,
        side_node=sides.node[order],
        side_bus=sides.bus[order],
        label=label[order],
        piece=_numbered(named.label, count)[piece[order]],
        degree=degree[order],
        tail=tail if place is None else place[tail[by_label]],
        head=head if place is None else place[head[by_label]],
        run=run[by_label],
        wire_label=of_wire[by_label],
        first_side=first_side,
        first_wire=first_wire,
        first_piece=begins_of(every),
        loops=loops,
        pieces=wired,
        doubts=doubts,
        lost=lost,
    )


_Order = Longs | slice


def _orders(sides: Sides, label: Longs, wires: tuple[Longs, Longs], count: int) -> tuple[_Order, Longs | None, _Order]:
    """Return the order that sorts sides by segment and node, the place of each side in it, and that of wires by segment and run.

    Where segments are buses, in the same order, both are sorted so already; the place is None then.
    """
    of_wire, run = wires
    by_bus = ((label[1:] == label[:-1]) == (sides.bus[1:] == sides.bus[:-1])).all()
    if by_bus and (label[1:] >= label[:-1]).all() and (of_wire[1:] >= of_wire[:-1]).all():
        return slice(None), None, slice(None)
    by_run = order_by(run, int(run.max(initial=-1)) + 1)
    order = sides.place[order_by(label[sides.place], count)]
    place = np.empty_like(order)
    place[order] = np.arange(len(order))
    return order, place, by_run[order_by(of_wire[by_run], count)]


def _numbered(label: Longs, count: int) -> Longs:
    """Return another number for each piece, so that those of one segment come one after another."""
    numbers = np.empty(len(label), dtype=np.int64)
    numbers[order_by(label, count)] = np.arange(len(label))
    return numbers


def _pieces(label: Longs, piece_of_wire: Longs, count: int) -> tuple[Longs, Longs]:
    """Return for each segment its wired pieces, and those of them that have a run."""
    has_run = np.zeros(len(label), dtype=bool)
    has_run[piece_of_wire] = True
    every = np.bincount(label, minlength=count).astype(np.int64)
    return every, np.bincount(label[has_run], minlength=count).astype(np.int64)
