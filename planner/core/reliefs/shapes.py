"""The shapes a segment can be brought into: nodes moved off it, runs left out, or one new line through all of it."""

from collections.abc import Container, Iterator
from dataclasses import dataclass
from itertools import chain, combinations, islice

import networkx as nx
import numpy as np

from inventory.core.catalogue import NodeKind
from inventory.core.snapshot import Snapshot
from planner.core.pieces import Piece
from planner.core.reliefs.pieces import in_one_line, wiring, without_nodes, without_runs

MOST_SHAPES = 64
MOST_OPENINGS = 2000  # sets of runs looked at to open the loops of one segment


@dataclass(frozen=True, slots=True, kw_only=True)
class Shape:
    """A piece with the changes that made it: nodes moved (and to which segment), runs left out, a new line's cable."""

    piece: Piece
    moved: tuple[tuple[int, str], ...] = ()
    left_out: tuple[int, ...] = ()
    line: int | None = None

    @property
    def line_m(self) -> float:
        """Return the length of the new line [m], 0 where there is none."""
        return sum(link.length_m for link in self.piece.links) if self.line is not None else 0.0


def junctions_of(snapshot: Snapshot) -> frozenset[int]:
    """Return the nodes that are junctions, by position."""
    kinds = [model.kind is NodeKind.JUNCTION for model in snapshot.catalogue.models]
    return frozenset(np.flatnonzero(np.array([*kinds, False])[snapshot.nodes.model]).tolist())


def shapes_of(
    piece: Piece,
    moves: Iterator[dict[int, str]],
    root: int | None,
    junctions: frozenset[int],
    cables: tuple[int, ...],
) -> tuple[list[Shape], bool]:
    """Return the shapes, as wired first, and whether a limit left some out."""
    found = list(islice(_shapes(piece, moves, root, junctions, cables), MOST_SHAPES + 1))
    return found[:MOST_SHAPES], len(found) > MOST_SHAPES


def _shapes(
    piece: Piece,
    moves: Iterator[dict[int, str]],
    root: int | None,
    junctions: frozenset[int],
    cables: tuple[int, ...],
) -> Iterator[Shape]:
    for targets in moves:
        moved = tuple(sorted(targets.items()))
        cleared = without_nodes(piece, targets, junctions) if targets else piece
        yield Shape(piece=cleared, moved=moved, left_out=_left_out(piece, cleared, targets))
        if root is not None and not _is_path(cleared):
            for cable in cables:
                line = in_one_line(cleared, root, junctions, cable)
                if line is not None:
                    yield Shape(piece=line, moved=moved, line=cable)
        for left_out in islice(_openings(cleared), MOST_OPENINGS):
            opened = without_runs(cleared, left_out, junctions)
            yield Shape(piece=opened, moved=moved, left_out=_left_out(piece, opened, targets))


def _left_out(before: Piece, after: Piece, moved: Container[int]) -> tuple[int, ...]:
    """Return the runs that are of no use any more: those chosen, and dead ends that lead to junctions alone.

    A run that ends at a node that moves goes with it. What is left out must be taken off at both ends, since the piece is
    judged without it.
    """
    kept = {link.run for link in after.links}
    gone = (link for link in before.links if link.run not in kept)
    return tuple(link.run for link in gone if link.tail not in moved and link.head not in moved)


def _is_path(piece: Piece) -> bool:
    graph = wiring(piece)
    return nx.is_forest(graph) and all(degree <= 2 for _, degree in graph.degree)  # noqa: PLR2004 - a line


def _openings(piece: Piece) -> Iterator[tuple[int, ...]]:
    """Yield the sets of runs that open every loop and cut nobody off."""
    graph = wiring(piece)
    loops = graph.number_of_edges() - graph.number_of_nodes() + nx.number_connected_components(graph)
    if loops < 1 or not nx.is_connected(graph):
        return
    rings = [link for link in piece.links if nx.has_path(_less(graph, (link.tail, link.head)), link.tail, link.head)]
    for chosen in combinations(rings, loops):
        if nx.is_connected(_less(graph, *((link.tail, link.head) for link in chosen))):
            yield tuple(link.run for link in chosen)


def _less(graph: "nx.Graph[int]", *edges: tuple[int, int]) -> "nx.Graph[int]":
    rest = graph.copy()
    rest.remove_edges_from(edges)
    return rest


def subsets(items: tuple[int, ...]) -> Iterator[tuple[int, ...]]:
    """Yield all subsets, small ones first."""
    return chain.from_iterable(combinations(items, size) for size in range(len(items) + 1))
