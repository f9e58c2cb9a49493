"""Trees of wiring taken apart from their leaves, all trees of a campus in one pass.

A vertex with one edge left knows the vertex before it without any search: each vertex holds the exclusive or of its
neighbours and of its edges, from which those that were taken off before are taken away. What does not come off
closes a loop; when that is cut, the rest comes off too.
"""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from planner.core.compiled import compiled
from planner.core.grouped import closing

Ints = NDArray[np.int32]
Longs = NDArray[np.int64]
Small = NDArray[np.int8]
Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
ROOTED = 1 << 30  # edges that a root counts beside its own, so that it is never taken off


@dataclass(frozen=True, slots=True, kw_only=True)
class Forest:
    """Vertices that hang on a root, in an order in which each comes before the one it hangs on.

    order : int32[o], without roots. parent, edge : int32[v], of each vertex in `order` the vertex before it, on the way
    to the root, and the edge from there. chord : int64[c], edges that close loops and were cut, in rising order.
    reached : bool[v], whether a root is at the end of the way.
    """

    order: Ints
    parent: Ints
    edge: Ints
    chord: Longs
    reached: Flags


class _Hung(NamedTuple):
    """Of each vertex how many edges are left at it, and the exclusive or of its neighbours and of these edges."""

    degree: Ints
    beside: Ints
    link: Ints


def grow(tail: Longs, head: Longs, walked: Flags, roots: Longs, count: int) -> Forest:
    """Take trees apart towards their roots; of a loop the last edge that closes it is cut first.

    Parameters
    ----------
    tail, head : int64[e]
        Vertices that each edge joins; one onto itself joins nothing.
    walked : bool[e]
        Which edges count.
    roots : int64[r]
        At most one in a piece.
    count : int
        Vertices in all.

    Examples
    --------
    >>> every = np.array([True, True, True])
    >>> forest = grow(np.array([1, 0, 2]), np.array([2, 1, 0]), every, np.array([1]), 3)
    >>> forest.order.tolist(), forest.parent[forest.order].tolist(), forest.chord.tolist()
    ([0, 2], [1, 1], [2])

    """
    hung = _hung(tail, head, walked, roots, count)
    order = np.empty(count, dtype=np.int32)
    taken = _take_off(np.arange(count), hung, order, 0)
    core = np.flatnonzero(hung.degree > 0)
    chord = np.empty(0, dtype=np.int64)
    if core.size > len(roots):
        left = walked & (tail != head) & (hung.degree[tail] > 0) & (hung.degree[head] > 0)
        chord = closing(count, tail, head, left)
        _cut(tail, head, chord, hung)
        taken = _take_off(core, hung, order, taken)
    reached = np.zeros(count, dtype=np.bool_)
    reached[roots] = True
    order = order[:taken]
    order = order[_reach(order, hung.beside, reached)]
    return Forest(order=order, parent=hung.beside, edge=hung.link, chord=chord[reached[tail[chord]]], reached=reached)


@compiled
def _hung(tail: Longs, head: Longs, walked: Flags, roots: Longs, count: int) -> _Hung:
    degree, beside, link = np.zeros(count, np.int32), np.zeros(count, np.int32), np.zeros(count, np.int32)
    for edge in range(tail.size):
        one, other = tail[edge], head[edge]
        if walked[edge] and one != other:
            degree[one] += 1
            degree[other] += 1
            beside[one] ^= other
            beside[other] ^= one
            link[one] ^= edge
            link[other] ^= edge
    for root in roots:
        degree[root] += ROOTED
    return _Hung(degree, beside, link)


@compiled
def _take_off(leaves: Longs, hung: _Hung, order: Ints, taken: int) -> int:
    """Write the vertices behind those that were taken as they come off, and return how many are taken."""
    degree, beside, link = hung
    for leaf in leaves:
        vertex = leaf
        while degree[vertex] == 1:
            order[taken] = vertex
            taken += 1
            before = beside[vertex]
            degree[vertex] = 0
            degree[before] -= 1
            beside[before] ^= vertex
            link[before] ^= link[vertex]
            vertex = before
    return taken


@compiled
def _cut(tail: Longs, head: Longs, chord: Longs, hung: _Hung) -> None:
    """Take edges away at both their ends."""
    degree, beside, link = hung
    for edge in chord:
        for here, there in ((tail[edge], head[edge]), (head[edge], tail[edge])):
            degree[here] -= 1
            beside[here] ^= there
            link[here] ^= edge


@compiled
def _reach(order: Ints, parent: Ints, reached: Flags) -> Flags:
    """Mark what hangs on what is reached, and tell which of the places in `order` do."""
    hangs = np.zeros(order.size, np.bool_)
    for place in range(order.size - 1, -1, -1):
        vertex = order[place]
        reached[vertex] = hangs[place] = reached[parent[vertex]]
    return hangs
