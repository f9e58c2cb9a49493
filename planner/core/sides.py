"""From rows to the graph: one vertex a side (node, bus), one edge a run, and the pieces that runs alone hold together.

A campus where nobody contradicts anybody takes a few passes over whole columns; what is odd about single runs is
looked at for these alone.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from inventory.core.catalogue import NodeKind
from inventory.core.snapshot import UNKNOWN, Snapshot
from planner.core.beside import both
from planner.core.compiled import compiled
from planner.core.grouped import distinct, order_by, spread

Ints = NDArray[np.int32]
Longs = NDArray[np.int64]
Flags = NDArray[np.bool_]
SEVERAL = -1


@dataclass(frozen=True, slots=True, kw_only=True)
class Ends:
    """Of each run the bus it is on and the nodes at its two ends; of each odd end what is odd about it.

    bus, tail, head : int64[r], -1 not known. An end is odd where its node does not name the bus of the run. odd_run,
    odd_node : int64[o], the run and the node (-1 not known). odd_bus : int64[o], the bus of the side that the run
    ends at: the node's own where the two cross, else that of the run. at_head, crossing, strange : bool[o], whether it
    is the head; whether a node that is no gateway names another bus; whether a gateway does not name the bus.
    """

    bus: Longs
    tail: Longs
    head: Longs
    odd_run: Longs
    odd_node: Longs
    odd_bus: Longs
    at_head: Flags
    crossing: Flags
    strange: Flags


@dataclass(frozen=True, slots=True, kw_only=True)
class Sides:
    """All sides, bus by bus and within a bus by node, so that what is wired together stands together.

    node, bus : int64[s], bus -1 for none. place : int64[s], where the side stands that is at a place by node and bus.
    first : int64[n + 1], where the sides of each node begin by node and bus. home : int64[n], the side of a node that
    has one, SEVERAL for others. several : bool[n]. codes, at_code : int64[m], sorted codes by node and bus of the sides
    of nodes that have several, and where each of those sides stands.
    """

    node: Longs
    bus: Longs
    place: Longs
    first: Longs
    home: Longs
    several: Flags
    codes: Longs
    at_code: Longs
    width: int

    def at(self, node: Longs, bus: Longs, row: Longs | None = None) -> Longs:
        """Return the side of each node on each bus; there must be one. `row` : rows of both that are asked for, else all."""
        rows = np.arange(len(node)) if row is None else row
        return _found(self.home, node, bus, rows, (self.codes, self.at_code, self.width))

    def all_of(self, nodes: Longs) -> tuple[Longs, Longs]:
        """Return all sides of each node, and the place in `nodes` of the node that each belongs to."""
        rows, copy, _ = spread(self.first, nodes)
        return self.place[rows], copy


def is_gateway(snapshot: Snapshot) -> Flags:
    """Tell for each node whether it is a gateway; a node of unknown model is not."""
    return of_kind(snapshot, NodeKind.GATEWAY)[snapshot.nodes.model]


def of_kind(snapshot: Snapshot, kind: NodeKind) -> Flags:
    """Tell for each model whether it is of a kind; the last row stands for no model."""
    return np.array([*(model.kind is kind for model in snapshot.catalogue.models), False], dtype=bool)


def own_bus(snapshot: Snapshot) -> Longs:
    """Return for each node the first bus it names, -1 where it names none."""
    buses = snapshot.nodes.bus
    own = buses[:, 0].astype(np.int64)
    late = np.flatnonzero(own < 0)
    own[late] = buses[late, np.argmax(buses[late] >= 0, axis=1)]
    return own


def run_ends(snapshot: Snapshot, gateway: Flags, own: Longs) -> Ends:
    """Return the ends of all runs; `own` is the first bus of each node."""
    runs, own, gate = snapshot.runs, np.append(own, UNKNOWN), np.append(gateway, False)
    tail, head = runs.from_node.astype(np.int64), runs.to_node.astype(np.int64)
    bus = _bus_of_runs(runs.bus.astype(np.int64), (tail, head), own, gate)
    odd = [_odd(snapshot, node, bus, own) for node in (tail, head)]
    run = np.concatenate(odd)
    at_head = np.repeat([False, True], [len(rows) for rows in odd])
    node = np.where(at_head, head[run], tail[run])
    known = node >= 0
    crossing = known & ~gate[node] & (own[node] >= 0)
    return Ends(
        bus=bus,
        tail=tail,
        head=head,
        odd_run=run,
        odd_node=node,
        odd_bus=np.where(crossing, own[node], bus[run]),
        at_head=at_head,
        crossing=crossing,
        strange=known & gate[node],
    )


def _bus_of_runs(stated: Longs, ends: tuple[Longs, Longs], own: Longs, gate: Flags) -> Longs:
    """Return the bus of each run; one that states none takes that of an end which is no gateway, the first if it can."""
    silent = np.flatnonzero(stated < 0)
    for node in ends[::-1]:
        at_end = np.where(gate[node[silent]], UNKNOWN, own[node[silent]])
        stated[silent] = np.where(at_end >= 0, at_end, stated[silent])
    return stated


def _odd(snapshot: Snapshot, node: Longs, bus: Longs, own: Longs) -> Longs:
    """Return the runs whose node at one end does not name the bus of the run."""
    return np.flatnonzero(_is_odd(node, bus, own, snapshot.nodes.bus))


@compiled
def _is_odd(node: Longs, bus: Longs, own: Longs, named: Ints) -> Flags:
    odd = np.zeros(node.size, np.bool_)
    for run in range(node.size):
        here, on = node[run], bus[run]
        if own[here] != on or on < 0:
            odd[run] = True
            for column in range(named.shape[1] if here >= 0 and on >= 0 else 0):
                odd[run] &= named[here, column] != on
    return odd


def lost_nodes(own: Longs, ends: Ends) -> Longs:
    """Return the nodes that name no bus and that no run reaches."""
    homeless = np.flatnonzero(own < 0)
    return homeless[~np.isin(homeless, ends.odd_node)]  # an end at a node without a bus is always odd


def make_sides(snapshot: Snapshot, ends: Ends, lost: Longs) -> Sides:
    """Return one side for each bus that a node names, for each that only a run puts it on, and for each lost node."""
    nodes, width = snapshot.nodes, len(snapshot.buses) + 1
    by_run = (ends.odd_node >= 0) & ~ends.crossing
    unnamed = np.concatenate([ends.odd_node[by_run] * width + ends.odd_bus[by_run] + 1, lost * width])
    node, bus, first = _by_node(nodes.bus, distinct(unnamed), width)
    place, node_at, bus_at, home = _by_bus(node, bus, first, width)
    several = np.diff(first) > 1
    more = np.flatnonzero(several[node])
    return Sides(
        node=node_at,
        bus=bus_at,
        place=place,
        first=first,
        home=home,
        several=several,
        codes=node[more] * width + bus[more] + 1,
        at_code=place[more],
        width=width,
    )


@compiled
def _by_node(named: Ints, unnamed: Longs, width: int) -> tuple[Longs, Longs, Longs]:
    """Return node and bus of each side, by node and bus, and where those of each node begin.

    `named` : int32[n, 4], the buses that nodes name, -1 for none. `unnamed` : sorted codes of sides that no node names.
    """
    count, columns = named.shape
    most = unnamed.size + (named >= 0).sum()
    node, bus, first = np.empty(most, np.int64), np.empty(most, np.int64), np.empty(count + 1, np.int64)
    own = np.empty(columns, np.int64)
    made = read = 0
    for here in range(count):
        first[here], owns = made, 0
        for column in range(columns):  # put the node's own in order
            place = owns
            while named[here, column] >= 0 and place > 0 and own[place - 1] > named[here, column]:
                own[place] = own[place - 1]
                place -= 1
            if named[here, column] >= 0:
                own[place] = named[here, column]
                owns += 1
        used, last = 0, -2
        while used < owns or (read < unnamed.size and unnamed[read] < (here + 1) * width):
            other = unnamed[read] - here * width - 1 if read < unnamed.size else width
            mine = own[used] if used < owns else width
            found = min(mine, other)
            used += mine == found
            read += other == found
            if found != last:
                node[made], bus[made] = here, found
                made += 1
            last = found
    first[count] = made
    return node[:made].copy(), bus[:made].copy(), first


@compiled
def _by_bus(node: Longs, bus: Longs, first: Longs, width: int) -> tuple[Longs, Longs, Longs, Longs]:
    """Return where each side stands bus by bus, node and bus of what stands there, and the side of each node that has one."""
    next_of = np.zeros(width + 1, np.int64)
    for one in bus:
        next_of[one + 2] += 1
    for one in range(width):
        next_of[one + 1] += next_of[one]
    place, node_at, bus_at = np.empty(bus.size, np.int64), np.empty(bus.size, np.int64), np.empty(bus.size, np.int64)
    for row in range(bus.size):
        at = next_of[bus[row] + 1]
        next_of[bus[row] + 1] += 1
        place[row], node_at[at], bus_at[at] = at, node[row], bus[row]
    home = np.full(first.size - 1, SEVERAL)
    for here in range(home.size):
        if first[here + 1] - first[here] == 1:
            home[here] = place[first[here]]
    return place, node_at, bus_at, home


@compiled
def _found(home: Longs, node: Longs, bus: Longs, rows: Longs, several: tuple[Longs, Longs, int]) -> Longs:
    """Return the side of each node on its bus; of nodes with several by their code."""
    codes, at_code, width = several
    side = np.empty(rows.size, np.int64)
    for place in range(rows.size):
        here = node[rows[place]]
        side[place] = home[here]
        if home[here] == SEVERAL:
            side[place] = at_code[np.searchsorted(codes, here * width + bus[rows[place]] + 1)]
    return side


def runs_by_bus(ends: Ends, width: int) -> Longs:
    """Return the runs with both ends known, bus by bus."""
    run = np.flatnonzero((ends.tail >= 0) & (ends.head >= 0))
    return run[order_by(ends.bus[run] + 1, width)]


def wires_of(sides: Sides, ends: Ends, run: Longs) -> tuple[Longs, Longs]:
    """Return tail side and head side of each of some runs."""
    tail_bus = head_bus = ends.bus
    if len(ends.odd_run):
        tail_bus, head_bus = ends.bus.copy(), ends.bus.copy()
        tail_bus[ends.odd_run[~ends.at_head]] = ends.odd_bus[~ends.at_head]
        head_bus[ends.odd_run[ends.at_head]] = ends.odd_bus[ends.at_head]
    return both(lambda: sides.at(ends.tail, tail_bus, run), lambda: sides.at(ends.head, head_bus, run), len(run))
