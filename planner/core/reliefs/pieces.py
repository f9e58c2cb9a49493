"""One segment cut out of its campus, and the changes that a way out makes to its wiring."""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import networkx as nx
import numpy as np

from inventory.core.catalogue import EndsBus, Model, NodeKind
from inventory.core.snapshot import BUS_COLUMNS, ENDS_NO, UNKNOWN, Nodes, Runs, Snapshot
from planner.core.rules.columns import known
from planner.core.segments import Segments

JOINT = Model(key="joined through", kind=NodeKind.JUNCTION, draw_w=0.0, unit_loads=0.0, ends_bus=EndsBus.NO)


@dataclass(frozen=True, slots=True, kw_only=True)
class Link:
    """One run between two nodes; `run`, `tail`, `head` and `cable` are positions, `run` -1 where it is new."""

    run: int
    tail: int
    head: int
    cable: int
    length_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """One segment on one bus: nodes by position, those of them that are joined through instead, and its runs."""

    bus: int
    nodes: tuple[int, ...]
    links: tuple[Link, ...]
    joints: frozenset[int] = frozenset()


def piece_of(snapshot: Snapshot, segments: Segments, label: int) -> Piece | None:
    """Return a segment cut out; None where it is not on exactly one bus, or a node has two sides on it."""
    sides = slice(segments.first_side[label], segments.first_side[label + 1])
    wires = slice(segments.first_wire[label], segments.first_wire[label + 1])
    nodes = segments.side_node[sides].tolist()
    buses = set(segments.side_bus[sides].tolist())
    if len(buses) != 1 or min(buses) < 0 or len(set(nodes)) != len(nodes):
        return None
    runs = snapshot.runs
    links = [
        Link(
            run=run,
            tail=int(segments.side_node[tail]),
            head=int(segments.side_node[head]),
            cable=int(runs.cable[run]),
            length_m=float(runs.length_m[run]),
        )
        for tail, head, run in zip(
            segments.tail[wires].tolist(), segments.head[wires].tolist(), segments.run[wires].tolist(), strict=True
        )
    ]
    return Piece(
        bus=buses.pop(), nodes=tuple(sorted(nodes)), links=tuple(sorted(links, key=lambda link: runs.key[link.run]))
    )


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


def stacked(snapshot: Snapshot, pieces: Sequence[Piece]) -> Snapshot:
    """Return a campus that holds each piece as a segment of its own, named by its number, and nothing else."""
    catalogue = replace(snapshot.catalogue, models=(*snapshot.catalogue.models, JOINT))
    buses = tuple(replace(snapshot.buses[piece.bus], key=f"{number:07d}") for number, piece in enumerate(pieces))
    first = np.cumsum([0, *(len(piece.nodes) for piece in pieces)]).tolist()
    at = [
        {node: first[number] + place for place, node in enumerate(piece.nodes)} for number, piece in enumerate(pieces)
    ]
    return replace(
        snapshot,
        buses=buses,
        catalogue=catalogue,
        nodes=_stacked_nodes(snapshot, pieces, len(catalogue.models) - 1),
        runs=_stacked_runs(snapshot, pieces, at),
        zones=(),
        scenes=(),
        readings=(),
    )


def _stacked_nodes(snapshot: Snapshot, pieces: Sequence[Piece], joint: int) -> Nodes:
    nodes = snapshot.nodes
    chosen = np.array([node for piece in pieces for node in piece.nodes], dtype=np.int64)
    joints = np.array([node in piece.joints for piece in pieces for node in piece.nodes], dtype=bool)
    bus = np.full((len(chosen), BUS_COLUMNS), UNKNOWN, dtype=np.int32)
    bus[:, 0] = np.repeat(np.arange(len(pieces)), [len(piece.nodes) for piece in pieces])
    return Nodes(
        key=tuple(nodes.key[node] for node in chosen.tolist()),
        building=nodes.building[chosen],
        room=nodes.room[chosen],
        model=np.where(joints, joint, nodes.model[chosen]).astype(np.int32),
        bus=bus,
        ends_bus=np.where(joints, ENDS_NO, nodes.ends_bus[chosen]).astype(np.int8),
        condition=nodes.condition[chosen],
        zones_used=nodes.zones_used[chosen],
        scenes_used=nodes.scenes_used[chosen],
        box_gangs=nodes.box_gangs[chosen],
        installed=nodes.installed[chosen],
        failures=nodes.failures[chosen],
    )


def _stacked_runs(snapshot: Snapshot, pieces: Sequence[Piece], at: Sequence[dict[int, int]]) -> Runs:
    rows = [(number, link) for number, piece in enumerate(pieces) for link in piece.links]
    return Runs(
        key=tuple(snapshot.runs.key[link.run] if link.run >= 0 else "new line" for _, link in rows),
        bus=np.array([number for number, _ in rows], dtype=np.int32),
        from_node=np.array([at[number][link.tail] for number, link in rows], dtype=np.int32),
        to_node=np.array([at[number][link.head] for number, link in rows], dtype=np.int32),
        cable=np.array([link.cable for _, link in rows], dtype=np.int32),
        length_m=np.array([link.length_m for _, link in rows], dtype=np.float64),
    )
