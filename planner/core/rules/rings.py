"""The longest way through many pieces of wiring that close one ring each, all of them at once.

Branches come off leaf by leaf, each vertex keeping the deepest of its own; then every ring is gone round once, as
`loops` does for one piece. Pieces that take too many rounds are left for that.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Longs = NDArray[np.int64]
Flags = NDArray[np.bool_]

MOST_ROUNDS = 200
RING = 2  # edges at a vertex of a ring


@dataclass(slots=True, kw_only=True)
class _Rings:
    """Pieces in the making: of each vertex its piece, edges left, sum of neighbours and of edges, deepest branch [m]."""

    piece: Longs
    degree: Longs
    beside: Longs
    link: Longs
    depth_m: Floats
    longest_m: Floats  # of each piece so far


def ring_ways_m(piece: Longs, wires: tuple[Longs, Longs, Floats], count: int) -> Floats:
    """Return the longest way of each of `count` pieces that close one ring [m]; NaN where more is closed, or it takes too many rounds.

    `piece` : of each vertex. `wires` : tail, head, length [m]; a wire onto its own vertex may be the ring.

    Examples
    --------
    A ring of three runs of 10 m with a branch of 5 m at one corner: two sides and the branch.

    >>> ways = (np.array([0, 1, 2, 0]), np.array([1, 2, 0, 3]), np.array([10.0, 10.0, 10.0, 5.0]))
    >>> ring_ways_m(np.zeros(4, dtype=np.int64), ways, 1)
    array([25.])

    """
    real = wires[0] != wires[1]
    tail, head, length = (column[real] for column in wires)
    rings = _Rings(
        piece=piece,
        degree=np.zeros(len(piece), dtype=np.int64),
        beside=np.zeros(len(piece), dtype=np.int64),
        link=np.zeros(len(piece), dtype=np.int64),
        depth_m=np.zeros(len(piece)),
        longest_m=np.zeros(count),
    )
    for here, there in ((tail, head), (head, tail)):
        np.add.at(rings.degree, here, 1)
        np.add.at(rings.beside, here, there)
        np.add.at(rings.link, here, np.arange(len(tail)))
    _take_branches_off(rings, length)
    tangled = np.zeros(count, dtype=bool)
    tangled[piece[(rings.degree == 1) | (rings.degree > RING)]] = True
    _go_round(rings, (tail, head, length), ~tangled[piece])
    rings.longest_m[tangled] = np.nan
    return rings.longest_m


def _once(vertices: Longs, size: int) -> Flags:
    """Mark one row of each different vertex."""
    last = np.empty(size, dtype=np.int64)
    last[vertices] = np.arange(len(vertices))
    return np.asarray(last[vertices] == np.arange(len(vertices)))


def _take_branches_off(rings: _Rings, length: Floats) -> None:
    leaves, size = np.flatnonzero(rings.degree == 1), len(rings.piece)
    for _ in range(MOST_ROUNDS):
        if not leaves.size:
            return
        before, between = rings.beside[leaves], rings.link[leaves]
        _deepen(rings, (leaves, before, rings.depth_m[leaves] + length[between]))
        rings.degree[leaves] = 0
        np.subtract.at(rings.degree, before, 1)
        np.subtract.at(rings.beside, before, leaves)
        np.subtract.at(rings.link, before, between)
        leaves = before[rings.degree[before] == 1]
        leaves = leaves[_once(leaves, size)]


def _deepen(rings: _Rings, branches: tuple[Longs, Longs, Floats]) -> None:
    """Hang branches at the vertices before them, one after another where several meet."""
    leaves, before, reach = branches
    while leaves.size:
        one = _once(before, len(rings.piece))
        at = before[one]
        np.maximum.at(rings.longest_m, rings.piece[at], rings.depth_m[at] + reach[one])
        rings.depth_m[at] = np.maximum(rings.depth_m[at], reach[one])
        leaves, before, reach = leaves[~one], before[~one], reach[~one]


def _go_round(rings: _Rings, wires: tuple[Longs, Longs, Floats], plain: Flags) -> None:
    """Go round every ring once: from one vertex to a later one there are two ways, on and back."""
    tail, head, length = wires
    on_ring = np.flatnonzero((rings.degree[tail] == RING) & (rings.degree[head] == RING) & plain[tail])
    piece = rings.piece[tail[on_ring]]
    ring_m = np.bincount(piece, weights=length[on_ring], minlength=len(rings.longest_m))
    edge = on_ring[_once(piece, len(rings.longest_m))]
    start, here, last = tail[edge], head[edge], tail[edge]
    at_m = np.zeros(len(edge))
    ahead, behind = rings.depth_m[start].copy(), rings.depth_m[start].copy()
    for _ in range(MOST_ROUNDS):
        at_m = at_m + length[edge]
        going = here != start
        if not going.any():
            return
        start, here, last, edge = start[going], here[going], last[going], edge[going]
        at_m, ahead, behind = at_m[going], ahead[going], behind[going]
        depth, label = rings.depth_m[here], rings.piece[here]
        most = np.maximum(ahead + at_m + depth, behind + ring_m[label] - at_m + depth)
        rings.longest_m[label] = np.maximum(rings.longest_m[label], most)
        ahead, behind = np.maximum(ahead, depth - at_m), np.maximum(behind, depth + at_m)
        edge, here, last = rings.link[here] - edge, rings.beside[here] - last, here
    rings.longest_m[rings.piece[start]] = np.nan
