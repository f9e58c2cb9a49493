"""One segment cut out of its campus, and many such pieces side by side as one campus, so that they are judged at once."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from inventory.core.catalogue import EndsBus, Model, NodeKind
from inventory.core.snapshot import BUS_COLUMNS, ENDS_NO, UNKNOWN, Ints, Nodes, Runs, Snapshot
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
    """One segment on one bus: nodes by position, those of them that are joined through instead, and its runs.

    `facts` are what its nodes are taken to be like instead of what their rows say: (node, column, value).
    """

    bus: int
    nodes: tuple[int, ...]
    links: tuple[Link, ...]
    joints: frozenset[int] = frozenset()
    facts: tuple[tuple[int, str, int], ...] = ()


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
    supposed = _supposed(snapshot, pieces, chosen)
    return Nodes(
        key=tuple(nodes.key[node] for node in chosen.tolist()),
        building=nodes.building[chosen],
        room=nodes.room[chosen],
        model=np.where(joints, joint, nodes.model[chosen]).astype(np.int32),
        bus=bus,
        ends_bus=np.where(joints, ENDS_NO, nodes.ends_bus[chosen]).astype(np.int8),
        condition=nodes.condition[chosen],
        zones_used=supposed["zones_used"],
        scenes_used=supposed["scenes_used"],
        box_gangs=supposed["box_gangs"],
        installed=nodes.installed[chosen],
        failures=nodes.failures[chosen],
    )


def _supposed(snapshot: Snapshot, pieces: Sequence[Piece], chosen: NDArray[np.int64]) -> dict[str, Ints]:
    """Return the columns of nodes that pieces may suppose otherwise, with what they suppose."""
    nodes = snapshot.nodes
    columns = {"zones_used": nodes.zones_used, "scenes_used": nodes.scenes_used, "box_gangs": nodes.box_gangs}
    found = {name: column[chosen] for name, column in columns.items()}
    first = 0
    for piece in pieces:
        for node, name, value in piece.facts:
            found[name][first + piece.nodes.index(node)] = value
        first += len(piece.nodes)
    return found


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
