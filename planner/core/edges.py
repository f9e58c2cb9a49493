"""Which edges of a graph lie between two of its vertices: without loops by arrays, so that size hardly counts."""

import math
from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass

import networkx as nx
import numpy as np
from scipy.sparse import coo_array, csr_array
from scipy.sparse.csgraph import breadth_first_order, dijkstra

TWO = 2  # ends of an edge
NOBODY = -9999  # scipy's predecessor of what has none
Edge = tuple[str, str]


def in_order(edge: Edge) -> Edge:
    """Return an edge with its ends by name: the same one whichever way it was written."""
    return edge if edge[0] <= edge[1] else edge[::-1]


@dataclass(frozen=True, slots=True)
class _Reached:
    """What is reached from one vertex: the vertex before each (NOBODY: none), and whether there is only one way."""

    before: list[int]
    is_tree: bool


class Edges:
    """Edges between named vertices, each pair once; made once, asked for many blocks from the same vertex."""

    def __init__(self, edges: Iterable[Edge]) -> None:
        self._edges = tuple(edges)
        self._names = sorted({end for edge in self._edges for end in edge})
        self._place = {name: number for number, name in enumerate(self._names)}
        places = np.array([[self._place[end] for end in edge] for edge in self._edges], dtype=np.int32)
        self._tail, self._head = places.reshape(-1, TWO).T
        self._reached: dict[str, _Reached] = {}

    def between(self, near: str, far: str) -> Iterator[Edge]:
        """Yield the edges on all ways from one vertex to another that pass no vertex twice."""
        if near == far or near not in self._place or far not in self._place:
            return
        if near not in self._reached:
            self._reached[near] = self._reach(near)
        reached = self._reached[near]
        if reached.before[self._place[far]] == NOBODY:
            return
        yield from self._back(reached, far) if reached.is_tree else self._block(near, far)

    def _reach(self, near: str) -> _Reached:
        size = len(self._names)
        matrix = coo_array((np.ones(len(self._tail)), (self._tail, self._head)), shape=(size, size)).tocsr()
        order, before = breadth_first_order(matrix, self._place[near], directed=False)
        held = np.zeros(size, dtype=np.bool_)
        held[order] = True
        return _Reached(before=before.tolist(), is_tree=int(held[self._tail].sum()) == len(order) - 1)

    def _back(self, reached: _Reached, far: str) -> Iterator[Edge]:
        here = self._place[far]
        while (before := reached.before[here]) != NOBODY:
            yield self._names[here], self._names[before]
            here = before

    def _block(self, near: str, far: str) -> Iterator[Edge]:
        """Yield the block that an edge from one to the other is in, or would be in: that edge too."""
        graph: nx.Graph[str] = nx.Graph(self._edges)
        graph.add_edge(near, far)
        block = next(edges for edges in nx.biconnected_component_edges(graph) if _holds(edges, (near, far)))
        yield from block


def distances(edges: Sequence[Edge], steps: Sequence[float], start: str) -> dict[str, float]:
    """Return how far each vertex that is reached from one is; of edges side by side the shortest counts.

    Examples
    --------
    >>> found = distances([("G", "A"), ("A", "G"), ("A", "B"), ("X", "Y")], [9.0, 4.0, 0.0, 1.0], "G")
    >>> sorted(found.items())
    [('A', 4.0), ('B', 4.0), ('G', 0.0)]

    """
    names = sorted({end for edge in edges for end in edge} | {start})
    place = {name: number for number, name in enumerate(names)}
    ends = np.sort(np.array([[place[end] for end in edge] for edge in edges], dtype=np.int64).reshape(-1, TWO))
    weights = np.array(steps, dtype=np.float64)
    order = np.lexsort((weights, ends[:, 1], ends[:, 0]))
    first = np.ones(len(order), dtype=np.bool_)
    first[1:] = (np.diff(ends[order], axis=0) != 0).any(axis=1)
    kept = order[first]
    shape = (len(names), len(names))
    matrix = csr_array((weights[kept], (ends[kept, 0], ends[kept, 1])), shape=shape)
    far = dijkstra(matrix, directed=False, indices=place[start]).tolist()  # type: ignore[call-overload]  # takes any sparse array
    return {name: step for name, step in zip(names, far, strict=True) if step < math.inf}


def _holds(edges: Collection[Edge], pair: Edge) -> bool:
    return pair in edges or pair[::-1] in edges
