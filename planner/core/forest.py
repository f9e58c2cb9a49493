"""Wiring walked outwards from one vertex a tree, of all trees at once: level after level in the same arrays.

What each vertex adds to the one before it, and what it takes over from there, is then a handful of array operations
a level, however many trees there are.
"""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_array
from scipy.sparse.csgraph import breadth_first_order

Longs = NDArray[np.int64]
Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, kw_only=True)
class Forest:
    """All that the roots reach, in breadth-first order.

    order : vertex at each place. parent : place of the vertex before it (roots: their own place), never falling.
    edge : the edge from there (-1 at roots). bounds : first place of each level, and the end; where the levels were cut
    off, the end of the last one that counts. reached : bool[v].
    """

    order: Longs
    parent: Longs
    edge: Longs
    bounds: tuple[int, ...]
    reached: Flags


def grow(count: int, edges: tuple[Longs, Longs, Longs], roots: Longs, most_levels: int) -> Forest:
    """Walk out from all roots at once, from one more vertex that is joined to each of them.

    `edges` : tail, head and number of each edge that may be walked, among `count` vertices.

    Examples
    --------
    >>> forest = grow(3, (np.array([1, 0]), np.array([2, 1]), np.array([7, 8])), np.array([1]), 9)
    >>> forest.order.tolist(), forest.parent.tolist(), forest.edge.tolist(), forest.bounds
    ([1, 0, 2], [0, 0, 0], [-1, 8, 7], (0, 1, 3))

    """
    tail, head, number = edges
    rows = np.concatenate([tail, head, np.full(roots.size, count)])
    columns = np.concatenate([head, tail, roots])
    graph = csr_array((np.ones(rows.size), (rows, columns)), shape=(count + 1, count + 1))
    walk, before = breadth_first_order(graph, count, directed=True, return_predecessors=True)
    order = np.asarray(walk[1:], dtype=np.int64)
    place = np.full(count + 1, -1, dtype=np.int64)
    place[order] = np.arange(order.size)
    parent = place[before[order]]
    parent[: roots.size] = np.arange(roots.size)
    edge = np.full(count, -1, dtype=np.int64)
    for child, other in ((head, tail), (tail, head)):
        joins = before[child] == other
        edge[child[joins]] = number[joins]
    return Forest(
        order=order,
        parent=parent,
        edge=edge[order],
        bounds=_levels(parent, roots.size, most_levels),
        reached=place[:count] >= 0,
    )


def _levels(parent: Longs, roots: int, most: int) -> tuple[int, ...]:
    """Return where each level begins, and the end; at most `most` of them.

    Breadth-first order keeps parents in order too, so that a level ends where parents leave the level before.
    """
    bounds = [0, roots]
    while bounds[-1] < parent.size and len(bounds) <= most:
        bounds.append(int(np.searchsorted(parent[roots:], bounds[-1], side="left")) + roots)
    return tuple(bounds)


@dataclass(frozen=True, slots=True, kw_only=True)
class Level:
    """One level but the first: its places from `start` to `stop`, those before them, and where each one's begin.

    begins : None where each has one place after it, so that nothing has to be summed.
    """

    start: int
    stop: int
    above: Longs
    begins: Longs | None


def levels_of(parent: Longs, bounds: tuple[int, ...]) -> list[Level]:
    """Return all levels but the first, from the roots outwards."""
    found = []
    for start, stop in pairwise(bounds[1:]):
        if start == stop:
            break
        above = parent[start:stop]
        begins = np.flatnonzero(np.r_[True, above[1:] != above[:-1]])
        single = begins.size == above.size
        found.append(
            Level(start=start, stop=stop, above=above if single else above[begins], begins=None if single else begins)
        )
    return found


def gathered(ufunc: np.ufunc, values: Floats, level: Level) -> Floats:
    """Return what a level has for each place of the level before: values joined by `ufunc` where there are several."""
    part = values[level.start : level.stop]
    return part if level.begins is None else np.asarray(ufunc.reduceat(part, level.begins))
