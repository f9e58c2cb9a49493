"""Trees of wiring taken apart from their leaves, all trees of a campus in one pass.

A vertex with one edge left knows the vertex before it without any search: each vertex holds the exclusive or of its
neighbours and of its edges, from which those that were taken off before are taken away. What is left at the end
closes a loop.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from planner.core.compiled import compiled

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
    to the root, and the edge from there. left : int64[l], vertices that hang on a root and were not taken off: they
    close a loop, or lie between loops. reached : bool[v], whether a root is at the end of the way.
    """

    order: Ints
    parent: Ints
    edge: Ints
    left: Longs
    reached: Flags


def grow(tail: Longs, head: Longs, walked: Flags, roots: Longs, count: int) -> Forest:
    """Take trees apart towards their roots.

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
    >>> every = np.array([True, True])
    >>> forest = grow(np.array([1, 0]), np.array([2, 1]), every, np.array([1]), 3)
    >>> forest.order.tolist(), forest.parent[forest.order].tolist(), forest.edge[forest.order].tolist()
    ([0, 2], [1, 1], [1, 0])

    """
    order, parent, edge, degree = _taken_off(tail, head, walked, roots, count)
    reached = np.zeros(count, dtype=np.bool_)
    reached[roots] = True
    core = np.flatnonzero((degree > 0) & (degree < ROOTED))
    if core.size:
        _reach_cores(tail, head, walked, degree, reached)
    order = order[_reach(order, parent, reached)]
    return Forest(order=order, parent=parent, edge=edge, left=core[reached[core]], reached=reached)


@compiled
def _taken_off(tail: Longs, head: Longs, walked: Flags, roots: Longs, count: int) -> tuple[Ints, Ints, Ints, Ints]:
    """Return the vertices as they come off, the vertex before each and the edge to it, and the edges left at each."""
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
    order = np.empty(count, np.int32)
    taken = 0
    for leaf in range(count):
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
    return order[:taken].copy(), beside, link, degree


@compiled
def _reach(order: Ints, parent: Ints, reached: Flags) -> Flags:
    """Mark what hangs on what is reached, and tell which of the places in `order` do."""
    hangs = np.zeros(order.size, np.bool_)
    for place in range(order.size - 1, -1, -1):
        vertex = order[place]
        reached[vertex] = hangs[place] = reached[parent[vertex]]
    return hangs


@compiled
def _reach_cores(tail: Longs, head: Longs, walked: Flags, degree: Ints, reached: Flags) -> None:
    """Mark the vertices not taken off that hang together with a root, by joining the ends of their edges to sets."""
    above = np.arange(degree.size)
    for edge in range(tail.size):
        one, other = tail[edge], head[edge]
        if walked[edge] and degree[one] > 0 and degree[other] > 0:
            while above[one] != one:
                above[one] = above[above[one]]
                one = above[one]
            while above[other] != other:
                above[other] = above[above[other]]
                other = above[other]
            above[max(one, other)] = min(one, other)
    rooted = np.zeros(degree.size, np.bool_)
    for marks in (True, False):
        for vertex in range(degree.size):
            if degree[vertex] > 0:
                top = vertex
                while above[top] != top:
                    top = above[top]
                if marks:
                    rooted[top] |= degree[vertex] >= ROOTED
                else:
                    reached[vertex] |= rooted[top]
