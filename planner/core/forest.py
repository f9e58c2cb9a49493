"""Trees of wiring taken apart from their leaves, all trees at once: round after round in the same arrays.

A vertex with one edge left knows the vertex before it without any search: each vertex holds the sum of its
neighbours and of its edges, from which those that were taken off before are taken away. What each vertex adds to the
one before it, and what it takes over from there, is then a handful of array operations a round. What is left at the
end closes a loop, or is deeper than the rounds go.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from planner.core.grouped import components

Longs = NDArray[np.int64]
Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
NEVER = 1 << 40  # edges that a root counts beside its own, so that it is never taken off
LINE = 2  # edges at a vertex in the middle of a line


@dataclass(frozen=True, slots=True, kw_only=True)
class Forest:
    """Vertices in the order in which they were taken off; then the roots, then what is left.

    order : vertex at each place. parent : place of the vertex before it, a later one (roots and what is left: their own
    place). edge : the edge from there (-1 at roots and what is left). bounds : first place of each round, and the end
    of the last. left : vertices that were not taken off. reached : bool[v], whether a root is at the end of the way.
    """

    order: Longs
    parent: Longs
    edge: Longs
    bounds: tuple[int, ...]
    left: Longs
    reached: Flags


def grow(count: int, edges: tuple[Longs, Longs, Longs], roots: Longs, most_rounds: int) -> Forest:
    """Take trees apart towards their roots; a piece without a root comes apart too, but is not reached.

    `edges` : tail, head and number of each edge that may be walked, among `count` vertices; none onto itself.

    Examples
    --------
    >>> forest = grow(3, (np.array([1, 0]), np.array([2, 1]), np.array([7, 8])), np.array([1]), 9)
    >>> forest.order.tolist(), forest.parent.tolist(), forest.edge.tolist(), forest.bounds
    ([0, 2, 1], [2, 2, 2], [8, 7, -1], (0, 2))

    """
    is_root = np.zeros(count, dtype=bool)
    is_root[roots] = True
    taken, above, links, degree = _taken_off(count, edges, is_root, most_rounds)
    left = np.flatnonzero((degree > 0) & ~is_root)
    order = np.concatenate([*taken, roots, left])
    bounds = np.cumsum([0, *map(len, taken)])
    place = np.full(count, -1, dtype=np.int64)
    place[order] = np.arange(order.size)
    parent = np.arange(order.size)
    edge = np.full(order.size, -1, dtype=np.int64)
    for start, stop, before, between in zip(bounds[:-1], bounds[1:], above, links, strict=True):
        parent[start:stop], edge[start:stop] = place[before], between
    reached = is_root | _joined_to_roots(edges, is_root, left)
    for vertices, before in zip(taken[::-1], above[::-1], strict=True):
        reached[vertices] = reached[before]
    return Forest(
        order=order, parent=parent, edge=edge, bounds=tuple(bounds.tolist()), left=left[reached[left]], reached=reached
    )


def _taken_off(
    count: int, edges: tuple[Longs, Longs, Longs], is_root: Flags, most_rounds: int
) -> tuple[list[Longs], list[Longs], list[Longs], Longs]:
    """Return for each round the vertices taken off, those before them and the edges between, and the edges left at each."""
    tail, head, number = edges
    degree, beside, link, number_of = (np.zeros(count, dtype=np.int64) for _ in range(4))
    for here, there in ((tail, head), (head, tail)):
        np.add.at(degree, here, 1)
        np.add.at(beside, here, there)
        np.add.at(link, here, number)
    degree[is_root] += NEVER
    taken: list[Longs] = []
    above: list[Longs] = []
    links: list[Longs] = []
    forks = degree > LINE
    leaves = np.flatnonzero(degree == 1)
    while leaves.size and len(taken) < most_rounds:
        before, between = beside[leaves], link[leaves]
        taken.append(leaves)
        above.append(before)
        links.append(between)
        degree[leaves] = 0
        np.subtract.at(degree, before, 1)
        np.subtract.at(beside, before, leaves)
        np.subtract.at(link, before, between)
        leaves = _once(before[degree[before] == 1], forks, number_of)
    return taken, above, links, degree


def _once(vertices: Longs, forks: Flags, number_of: Longs) -> Longs:
    """Return each vertex once: where several branches came off a fork together, it is there several times."""
    at = np.flatnonzero(forks[vertices])
    if not at.size:
        return vertices
    number_of[vertices[at]] = at
    first = np.ones(vertices.size, dtype=bool)
    first[at] = number_of[vertices[at]] == at
    return vertices[first]


def _joined_to_roots(edges: tuple[Longs, Longs, Longs], is_root: Flags, left: Longs) -> Flags:
    """Tell which of the vertices that were not taken off hang together with a root."""
    reached = np.zeros(len(is_root), dtype=bool)
    if not left.size:
        return reached
    core = is_root.copy()
    core[left] = True
    between = core[edges[0]] & core[edges[1]]
    vertices, ends = np.unique(np.concatenate([edges[0][between], edges[1][between], left]), return_inverse=True)
    half = np.count_nonzero(between)
    label = components(vertices.size, ends[:half], ends[half : 2 * half])
    with_root = np.zeros(vertices.size, dtype=bool)
    with_root[label[is_root[vertices]]] = True
    reached[vertices] = with_root[label]
    return reached


def rounds_of(parent: Longs, bounds: tuple[int, ...]) -> Iterator[tuple[slice, Longs]]:
    """Yield the places of each round from the leaves to the roots, and the place before each."""
    for start, stop in pairwise(bounds):
        if start < stop:
            yield slice(start, stop), parent[start:stop]
