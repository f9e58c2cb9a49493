"""Trunk, stubs and ends of every trial at once, by shortest ways from one source a wired piece.

In a tree the longest way between two vertices is found from the vertex farthest from anywhere, and the same way is
the one that leaves the shortest branches. A length that is not known counts as nothing here: what comes out is then
the least it can be.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_array
from scipy.sparse.csgraph import dijkstra

from planner.core.rules.after import Trials
from planner.core.rules.loops import longest_way_m

Floats = NDArray[np.float64]
Longs = NDArray[np.int64]
Flags = NDArray[np.bool_]

HOP_M = 1e-9  # added to each wire so that wires of no length still tell ends from middles
TIE_M = 3e-10
RANK = np.array([1, 3, 2, 0])  # of end resistors no, yes, switch, not known: which of two equal arms is the trunk


@dataclass(frozen=True, slots=True, kw_only=True)
class Lengths:
    """Of each trial: trunk, all wire, longest stub and all stubs [m], its trunk's two end sides, and flags.

    end : int64[t, 2], -1 where nothing is wired. branched : whether anything is off the trunk. known : whether
    every length is recorded.
    """

    trunk_m: Floats
    total_m: Floats
    longest_stub_m: Floats
    all_stubs_m: Floats
    end: Longs
    branched: Flags
    known: Flags


def measure_lengths(trials: Trials, loops: Longs) -> Lengths:
    """Return the lengths of each trial; `loops` : int64[t], independent loops of its wiring."""
    count = len(trials)
    length = np.nan_to_num(trials.length_m, nan=0.0)
    graph = _graph(len(trials.side), trials.tail, trials.head, length + HOP_M)
    trunk, pair, stub, off = _trees(trials, graph)
    total = np.bincount(trials.wire_trial, weights=length, minlength=count)
    trunk = np.round(trunk, 6)
    _measure_loops(trials, loops, length, trunk)
    all_stubs = np.maximum(np.round(total - trunk, 6), 0.0)
    stub = np.where(loops > 0, all_stubs, np.round(stub, 6))
    unknown = np.bincount(trials.wire_trial, weights=np.isnan(trials.length_m), minlength=count) > 0
    return Lengths(
        trunk_m=trunk,
        total_m=np.round(total, 6),
        longest_stub_m=stub,
        all_stubs_m=all_stubs,
        end=pair,
        branched=off,
        known=~unknown,
    )


def _graph(count: int, tail: Longs, head: Longs, length: Floats) -> csr_array:
    """Return the wiring; of runs side by side the shorter one, of a run onto itself nothing."""
    low, high = np.minimum(tail, head), np.maximum(tail, head)
    order = np.lexsort((length, high, low))
    low, high, length = low[order], high[order], length[order]
    keep = np.r_[True, (np.diff(low) != 0) | (np.diff(high) != 0)][: len(low)] & (low != high)
    return csr_array((length[keep], (low[keep], high[keep])), shape=(count, count))


def _reach(graph: csr_array, starts: Longs) -> Floats:
    """Return the distance of each vertex from the start in its own piece."""
    return np.asarray(dijkstra(graph, directed=False, indices=starts, min_only=True))


def _farthest(piece: Longs, value: Floats, rank: Longs, first: tuple[Longs, Longs]) -> Longs:
    """Return, for each piece, the vertex of the greatest value; of equals the one of the highest rank."""
    most = np.maximum.reduceat(value[first[1]], first[0])
    near = value >= most[piece] - TIE_M
    score = np.where(near, rank + 1, 0)[first[1]]
    best = np.maximum.reduceat(score, first[0])
    place = np.flatnonzero(score == np.repeat(best, np.diff(np.append(first[0], len(score)))))
    _, at = np.unique(piece[first[1]][place], return_index=True)
    return np.asarray(first[1][place[at]])


def _trees(trials: Trials, graph: csr_array) -> tuple[Floats, Longs, Floats, Flags]:
    """Return trunk, its ends, longest stub, and whether anything is off the trunk, as if nothing closed a loop."""
    count = len(trials)
    if not len(trials.side):
        return np.zeros(count), np.full((count, 2), -1), np.zeros(count), np.zeros(count, dtype=bool)
    order = np.argsort(trials.piece, kind="stable")
    begins = np.flatnonzero(np.r_[True, np.diff(trials.piece[order]) != 0]).astype(np.int64)
    first, piece, rank = (begins, order), trials.piece, RANK[trials.ends]
    far = _farthest(piece, _reach(graph, order[begins]), rank * 0, first)
    there = _reach(graph, far)
    back = _reach(graph, _farthest(piece, there, rank * 0, first))
    one = _farthest(piece, np.maximum(there, back), rank, first)
    from_one = _reach(graph, one)
    other = _farthest(piece, from_one, rank, first)
    span = from_one[other]
    on_trunk = from_one + _reach(graph, other) <= span[piece] + TIE_M
    off = _reach(graph, np.flatnonzero(on_trunk))
    longest = _best_piece(trials.trial[one], span, count)
    wired = span[longest] > 0
    pair = np.where(wired[:, None], np.stack([one[longest], other[longest]], axis=1), -1)
    stub, branched = np.zeros(count), np.zeros(count, dtype=bool)
    np.maximum.at(stub, trials.trial, off)
    branched[trials.trial[~on_trunk]] = True
    return span[longest], pair, stub, branched


def _best_piece(trial: Longs, span: Floats, count: int) -> Longs:
    """Return the piece with the longest trunk of each trial."""
    order = np.lexsort((-span, trial))
    return np.asarray(order[np.searchsorted(trial[order], np.arange(count))])


def _measure_loops(trials: Trials, loops: Longs, length: Floats, trunk: Floats) -> None:
    """Where wiring closes a loop, write the longest way through it into `trunk`."""
    for trial in np.flatnonzero(loops > 0).tolist():
        wires = slice(trials.first_wire[trial], trials.first_wire[trial + 1])
        triples = zip(trials.tail[wires].tolist(), trials.head[wires].tolist(), length[wires].tolist(), strict=True)
        trunk[trial] = round(longest_way_m(list(triples), int(loops[trial])), 6)
