"""The changes that a way out makes to the wiring of one segment."""

from collections import Counter
from collections.abc import Iterable
from dataclasses import replace
from itertools import pairwise

import networkx as nx

from inventory.core.snapshot import UNKNOWN
from planner.core.pieces import Link, Piece
from planner.core.rules.columns import known


def without_nodes(piece: Piece, moved: Iterable[int], junctions: frozenset[int]) -> Piece:
    """Return a piece with nodes taken off it: runs that met there are joined through, dead ends are taken back."""
    return _trimmed(replace(piece, joints=piece.joints | frozenset(moved)), junctions)


def without_runs(piece: Piece, left_out: Iterable[int], junctions: frozenset[int]) -> Piece:
    """Return a piece with runs left unconnected at both ends."""
    gone = frozenset(left_out)
    links = tuple(link for link in piece.links if link.run not in gone)
    return _trimmed(replace(piece, links=links), junctions)


def _trimmed(piece: Piece, junctions: frozenset[int]) -> Piece:
    """Leave out what hangs on one run only and serves nobody: joints and junctions."""
    idle = piece.joints | (junctions & frozenset(piece.nodes))
    nodes, links = set(piece.nodes), list(piece.links)
    while True:
        degree = Counter(end for link in links for end in (link.tail, link.head))
        dead = {node for node in idle & nodes if degree[node] <= 1}
        if not dead:
            kept = piece.joints & nodes
            return replace(piece, nodes=tuple(sorted(nodes)), links=tuple(links), joints=frozenset(kept))
        nodes -= dead
        links = [link for link in links if link.tail not in dead and link.head not in dead]


def pulled_anew(piece: Piece, runs: frozenset[int], cable: int) -> Piece:
    """Return a piece with some of its runs pulled anew, the same way, with one kind of cable."""
    links = tuple(replace(link, cable=cable) if link.run in runs else link for link in piece.links)
    return replace(piece, links=links)


def wiring(piece: Piece) -> "nx.Graph[int]":
    """Return the runs of a piece as a graph, with lengths [m]."""
    graph: nx.Graph[int] = nx.Graph()
    graph.add_nodes_from(piece.nodes)
    graph.add_edges_from((link.tail, link.head, {"length_m": link.length_m}) for link in piece.links)
    return graph


def in_one_line(piece: Piece, root: int, junctions: frozenset[int], cable: int) -> Piece | None:
    """Return all nodes on one new line from `root`, laid in the ways that the old runs take.

    The line goes into each branch and back, the deepest branch last, so that it is the shortest that meets every node
    by these ways. None where a length is not known or a node is not wired.
    """
    graph = wiring(piece)
    if any(known(link.length_m) is None for link in piece.links) or not nx.is_connected(graph):
        return None
    from_root: dict[int, float] = nx.single_source_dijkstra_path_length(graph, root, weight="length_m")
    ways: dict[int, list[int]] = nx.single_source_dijkstra_path(graph, root, weight="length_m")
    tree: nx.DiGraph[int] = nx.DiGraph()
    tree.add_node(root)
    tree.add_edges_from((way[-2], way[-1]) for way in ways.values() if len(way) > 1)
    idle = junctions | piece.joints
    stops = [node for node in _walk(tree, root, from_root) if node not in idle]
    links = tuple(
        Link(run=UNKNOWN, tail=one, head=two, cable=cable, length_m=_apart_m(ways, from_root, one, two))
        for one, two in pairwise(stops)
    )
    return replace(piece, nodes=tuple(sorted(stops)), links=links, joints=frozenset())


def _walk(tree: "nx.DiGraph[int]", root: int, from_root: dict[int, float]) -> list[int]:
    """Return the nodes in the order in which the line meets them."""
    deepest = {node: max(from_root[one] for one in (node, *nx.descendants(tree, node))) for node in tree}
    met, stack = [], [root]
    while stack:
        node = stack.pop()
        met.append(node)
        stack += sorted(tree.successors(node), key=lambda one: (-deepest[one], one))
    return met


def _apart_m(ways: dict[int, list[int]], from_root: dict[int, float], one: int, two: int) -> float:
    """Return the length of the way between two nodes of the tree [m]."""
    shared = [node for node, other in zip(ways[one], ways[two], strict=False) if node == other]
    return round(from_root[one] + from_root[two] - 2 * from_root[shared[-1]], 6)
