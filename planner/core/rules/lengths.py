"""Trunk, stubs and ends of every trial at once.

Most segments are lines: their trunk is all their wire. In a tree the longest way between two vertices is found from
the vertex farthest from anywhere, and the same way is the one that leaves the shortest branches. A length that is
not known counts as nothing here: what comes out is then the least it can be.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_array

from planner.core.compiled import compiled
from planner.core.forest import grow
from planner.core.grouped import begins_of
from planner.core.rules.after import Trials
from planner.core.rules.loops import is_searched, longest_way_m
from planner.core.rules.rings import ring_ways_m

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]
Longs = NDArray[np.int64]
Flags = NDArray[np.bool_]

HOP_M = 1e-9  # added to each wire so that wires of no length still tell ends from middles
TIE_M = 3e-10
RANK = np.array([1, 3, 2, 0])  # of end resistors no, yes, switch, not known: which of two equal arms is the trunk
LINE = 2  # run ends at a node in the middle of a line
Reach = Callable[[Longs], Floats]


@dataclass(frozen=True, slots=True, kw_only=True)
class Lengths:
    """Of each trial: trunk, all wire, longest stub and all stubs [m], its trunk's two end sides, and flags.

    end : int64[t, 2], -1 where nothing is wired. branched : whether anything is off the trunk. known : whether
    every length is recorded. bounded : whether there are too many loops to search, so that all wire stands for the
    trunk and for the stubs. taps : int64[t], branches at the place of the trunk that has most, at most: where branches
    branch themselves, all their ends; 0 in loops. Of wiring in several pieces the trunk is that of one, and stubs are off those of each.
    """

    trunk_m: Floats
    total_m: Floats
    longest_stub_m: Floats
    all_stubs_m: Floats
    end: Longs
    branched: Flags
    known: Flags
    bounded: Flags
    taps: Longs


@dataclass(frozen=True, slots=True, kw_only=True)
class _Found:
    """What is found of each trial, written kind by kind; off : all wire off the trunks of the trial's pieces [m]."""

    trunk_m: Floats
    off_m: Floats
    stub_m: Floats
    end: Longs
    branched: Flags
    bounded: Flags
    taps: Longs


@dataclass(frozen=True, slots=True, kw_only=True)
class _Part:
    """Some trials by themselves: their number, and of sides and wires what lengths need."""

    count: int
    side: Longs  # place of each side among those of all trials
    trial: Longs
    piece: Longs
    rank: Longs
    tail: Longs
    head: Longs
    length_m: Floats


def measure_lengths(trials: Trials, loops: Longs) -> Lengths:
    """Return the lengths of each trial; `loops` : int64[t], independent loops of its wiring."""
    count = len(trials)
    length = np.nan_to_num(trials.length_m, nan=0.0)
    total: Floats = np.bincount(trials.wire_trial, weights=length, minlength=count).astype(np.float64)
    found = _Found(
        trunk_m=total.copy(),
        off_m=np.zeros(count),
        stub_m=np.zeros(count),
        end=np.full((count, 2), -1, dtype=np.int64),
        branched=np.zeros(count, dtype=bool),
        bounded=np.zeros(count, dtype=bool),
        taps=np.zeros(count, dtype=np.int64),
    )
    degree = np.bincount(trials.tail, minlength=len(trials.side)) + np.bincount(trials.head, minlength=len(trials.side))
    line = (loops == 0) & (trials.pieces == 1)
    line[trials.trial[degree > LINE]] = False
    _ends_of_lines(trials, np.flatnonzero((degree == 1) & line[trials.trial]), found.end)
    some = np.flatnonzero(~line)
    if len(some):
        part = _part(trials, some, length)
        reach = ways_in(part.piece, (part.tail, part.head, part.length_m))
        _measure_trees(part, reach, some, total, found)
    _measure_loops(trials, loops, length, found)
    unknown = np.zeros(count, dtype=bool)
    unknown[trials.wire_trial[np.isnan(trials.length_m)]] = True
    all_stubs = np.maximum(np.round(found.off_m, 6), 0.0)
    return Lengths(
        trunk_m=np.round(found.trunk_m, 6),
        total_m=np.round(total, 6),
        longest_stub_m=np.where(loops > 0, all_stubs, np.round(found.stub_m, 6)),
        all_stubs_m=all_stubs,
        end=found.end,
        branched=found.branched,
        known=~unknown,
        bounded=found.bounded,
        taps=np.where(loops > 0, 0, found.taps),
    )


def _ends_of_lines(trials: Trials, side: Longs, end: Longs) -> None:
    """Write the two ends of each line, the one with the better end resistor first."""
    pair = side.reshape(-1, 2)
    rank = RANK[trials.ends[pair]]
    turned = rank[:, 1] > rank[:, 0]
    end[trials.trial[pair[:, 0]]] = np.where(turned[:, None], pair[:, ::-1], pair)


def _part(trials: Trials, some: Longs, length: Floats) -> _Part:
    """Return some trials by themselves."""
    number = np.full(len(trials), -1, dtype=np.int64)
    number[some] = np.arange(len(some))
    side, wire = np.flatnonzero(number[trials.trial] >= 0), np.flatnonzero(number[trials.wire_trial] >= 0)
    place = np.full(len(trials.side), -1, dtype=np.int64)
    place[side] = np.arange(len(side))
    present = np.zeros(int(trials.pieces.sum()), dtype=bool)
    present[trials.piece[side]] = True
    return _Part(
        count=len(some),
        side=side,
        trial=number[trials.trial[side]],
        piece=(np.cumsum(present) - 1)[trials.piece[side]],
        rank=RANK[trials.ends[side]],
        tail=place[trials.tail[wire]],
        head=place[trials.head[wire]],
        length_m=length[wire] + HOP_M,
    )


def ways_in(piece: Longs, wires: tuple[Longs, Longs, Floats]) -> Reach:
    """Return how to find the way from each vertex to the nearest of some in its own piece [m]; infinite without one.

    `piece` : of each vertex. `wires` : tail, head, length [m].
    """
    tail, head, length_m = wires
    roots = np.unique(piece, return_index=True)[1]
    forest = grow(tail, head, np.ones(len(tail), dtype=bool), roots, len(piece))
    chord = tail[forest.chord], head[forest.chord], length_m[forest.chord]

    def reach(starts: Longs) -> Floats:
        away = np.full(len(piece), np.inf)
        away[starts] = 0.0
        _to_the_nearest(forest.order, (forest.parent, forest.edge), length_m, chord, away)
        return away

    return reach


@compiled
def _to_the_nearest(
    order: Ints, hung: tuple[Ints, Ints], length_m: Floats, chord: tuple[Longs, Longs, Floats], away: Floats
) -> None:
    """Write how far it is to the nearest vertex that stands at 0: along trees, then over chords, until none is shorter."""
    (parent, edge), (tail, head, chord_m) = hung, chord
    shorter = True
    while shorter:
        for vertex in order:
            away[parent[vertex]] = min(away[parent[vertex]], away[vertex] + length_m[edge[vertex]])
        for vertex in order[::-1]:
            away[vertex] = min(away[vertex], away[parent[vertex]] + length_m[edge[vertex]])
        shorter = False
        for one, other, metres in zip(tail, head, chord_m):  # noqa: B905 - compiled
            for here, there in ((one, other), (other, one)):
                if away[here] + metres < away[there]:
                    away[there] = away[here] + metres
                    shorter = True


def wiring_graph(count: int, tail: Longs, head: Longs, length: Floats) -> csr_array:
    """Return the wiring; of runs side by side the shorter one, of a run onto itself nothing."""
    low, high = np.minimum(tail, head), np.maximum(tail, head)
    order = np.lexsort((length, high, low))
    low, high, length = low[order], high[order], length[order]
    keep = np.r_[True, (np.diff(low) != 0) | (np.diff(high) != 0)][: len(low)] & (low != high)
    return csr_array((length[keep], (low[keep], high[keep])), shape=(count, count))


def _farthest(piece: Longs, value: Floats, rank: Longs, first: tuple[Longs, Longs]) -> Longs:
    """Return, for each piece, the vertex of the greatest value; of equals the one of the highest rank."""
    most = np.maximum.reduceat(value[first[1]], first[0])
    near = value >= most[piece] - TIE_M
    score = np.where(near, rank + 1, 0)[first[1]]
    best = np.maximum.reduceat(score, first[0])
    place = np.flatnonzero(score == np.repeat(best, np.diff(np.append(first[0], len(score)))))
    _, at = np.unique(piece[first[1]][place], return_index=True)
    return np.asarray(first[1][place[at]])


def _measure_trees(part: _Part, reach: Reach, some: Longs, total: Floats, found: _Found) -> None:
    """Write trunk, its ends, what is off it, and the longest stub of some trials, as if nothing closed a loop."""
    order = np.argsort(part.piece, kind="stable")
    begins = np.flatnonzero(np.r_[True, np.diff(part.piece[order]) != 0]).astype(np.int64)
    first, piece, rank = (begins, order), part.piece, part.rank
    far = _farthest(piece, reach(order[begins]), rank * 0, first)
    there = reach(far)
    back = reach(_farthest(piece, there, rank * 0, first))
    one = _farthest(piece, np.maximum(there, back), rank, first)
    from_one = reach(one)
    other = _farthest(piece, from_one, rank, first)
    span = from_one[other]
    on_trunk = from_one + reach(other) <= span[piece] + TIE_M
    off = reach(np.flatnonzero(on_trunk))
    longest = _best_piece(part.trial[one], span, part.count)
    found.trunk_m[some] = span[longest]
    found.off_m[some] = total[some] - np.bincount(part.trial[one], weights=span, minlength=part.count)
    ends = part.side[np.stack([one[longest], other[longest]], axis=1)]
    found.end[some] = np.where((span[longest] > 0)[:, None], ends, -1)
    stub = np.zeros(part.count)
    np.maximum.at(stub, part.trial, off)
    found.stub_m[some] = stub
    found.branched[some[part.trial[~on_trunk]]] = True
    found.taps[some] = _taps(part, on_trunk)


def _taps(part: _Part, on_trunk: Flags) -> Longs:
    """Return the most branches at one place of the trunk of each trial; where a branch branches, all ends of branches."""
    count = len(part.side)
    degree = np.bincount(part.tail, minlength=count) + np.bincount(part.head, minlength=count)
    found = np.zeros(part.count, dtype=np.int64)
    tap = np.flatnonzero(on_trunk & (degree > LINE))
    np.maximum.at(found, part.trial[tap], degree[tap] - LINE)
    split = np.flatnonzero(~on_trunk & (degree > LINE))
    tips = np.bincount(part.trial[~on_trunk & (degree == 1)], minlength=part.count)
    found[part.trial[split]] = tips[part.trial[split]]
    return found


def _best_piece(trial: Longs, span: Floats, count: int) -> Longs:
    """Return the piece with the longest trunk of each trial."""
    order = np.lexsort((-span, trial))
    return np.asarray(order[np.searchsorted(trial[order], np.arange(count))])


def _measure_loops(trials: Trials, loops: Longs, length: Floats, found: _Found) -> None:
    """Where wiring closes a loop, write the longest way through it, what is off it, and whether that is only a bound."""
    some = np.flatnonzero(loops > 0)
    if not len(some):
        return
    part = _part(trials, some, length)
    wire_m = part.length_m - HOP_M
    piece = part.piece[part.tail]
    count = int(part.piece.max()) + 1
    wires = np.bincount(piece, minlength=count)
    closed = wires - np.bincount(part.piece, minlength=count) + 1
    way = ring_ways_m(part.piece, (part.tail, part.head, wire_m), count)
    trial = np.zeros(count, dtype=np.int64)
    trial[part.piece] = some[part.trial]
    order = np.argsort(piece, kind="stable")
    begins = begins_of(wires)
    for one in np.flatnonzero((closed > 1) | np.isnan(way)).tolist():
        at = order[begins[one] : begins[one + 1]]
        triples = zip(part.tail[at].tolist(), part.head[at].tolist(), wire_m[at].tolist(), strict=True)
        way[one] = longest_way_m(list(triples), int(closed[one]))
        found.bounded[trial[one]] |= not is_searched(int(closed[one]), len(at))
    found.trunk_m[some] = 0.0
    np.maximum.at(found.trunk_m, trial, way)
    total, ways = (np.zeros(len(trials)) for _ in range(2))
    np.add.at(total, some[part.trial[part.tail]], wire_m)
    np.add.at(ways, trial, way)
    found.off_m[some] = np.where(found.bounded[some], total[some], total[some] - ways[some])
