"""What goes dark, against a second way to find it: the whole campus as one networkx graph of nodes, not of segments."""

from collections import Counter
from dataclasses import replace

import networkx as nx
import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from inventory.core.catalogue import NodeKind
from inventory.core.snapshot import Snapshot, Zone
from planner.core.brief import Brief
from planner.core.impact import network_of
from planner.core.verdicts import assess
from tests.campuses import random_campus
from tests.laws.settings import LAW

Vertex = tuple[str, int, int]  # ("node", node, -1); a side is ("side", node, bus); a bus is ("bus", -1, bus)


def whole_graph(snapshot: Snapshot) -> "nx.Graph[Vertex]":
    """Return all sides, the buses that join them, the runs, and the nodes that have them; a gateway passes signals on."""
    graph: nx.Graph[Vertex] = nx.Graph()
    nodes, runs = snapshot.nodes, snapshot.runs
    for node in range(len(nodes.key)):
        graph.add_node(("node", node, -1))
        for bus in {int(bus) for bus in nodes.bus[node] if bus >= 0}:
            graph.add_edge(("node", node, -1), ("side", node, bus))
            graph.add_edge(("side", node, bus), ("bus", -1, bus))
    for bus, one, other in zip(runs.bus.tolist(), runs.from_node.tolist(), runs.to_node.tolist(), strict=True):
        for node in (one, other):
            if bus >= 0 and node >= 0:
                graph.add_edge(("node", node, -1), ("side", node, bus))
                graph.add_edge(("side", node, bus), ("bus", -1, bus))
    return graph


def wires(snapshot: Snapshot, graph: "nx.Graph[Vertex]") -> dict[Vertex, frozenset[Vertex]]:
    """Return of each side or bus all that its wires join, never through a gateway."""
    apart = graph.copy()
    apart.remove_nodes_from(
        [("node", node, -1) for node in range(len(snapshot.nodes.key)) if is_gateway(snapshot, node)]
    )
    return {vertex: frozenset(part) for part in nx.connected_components(apart) for vertex in part}


def kind(snapshot: Snapshot, node: int) -> str | None:
    place = int(snapshot.nodes.model[node])
    return snapshot.catalogue.models[place].kind if place >= 0 else None


def is_gateway(snapshot: Snapshot, node: int) -> bool:
    return kind(snapshot, node) == NodeKind.GATEWAY


def dark_by_graph(snapshot: Snapshot, dead_bus: int) -> set[tuple[str, str]]:
    """Return the rooms that go dark when all that a bus's wires join is dead and its gateways are out."""
    graph = whole_graph(snapshot)
    dead = wires(snapshot, graph)["bus", -1, dead_bus]
    gateways = {vertex[1] for vertex in dead if vertex[0] == "side" and is_gateway(snapshot, vertex[1])}
    after = graph.copy()
    after.remove_nodes_from([*dead, *(("node", node, -1) for node in gateways)])
    part = {vertex: number for number, some in enumerate(nx.connected_components(after)) for vertex in some}
    before = {vertex: number for number, some in enumerate(nx.connected_components(graph)) for vertex in some}
    touched = before["bus", -1, dead_bus]
    return {
        room_of(snapshot, node)
        for node in range(len(snapshot.nodes.key))
        if kind(snapshot, node) == NodeKind.STATION
        and int(snapshot.nodes.room[node]) >= 0
        and before["node", node, -1] == touched
        and loses(snapshot, node, before, part, touched)
    }


def room_of(snapshot: Snapshot, node: int) -> tuple[str, str]:
    room = snapshot.rooms[snapshot.nodes.room[node]]
    return snapshot.buildings[room.building].key, room.key


def loses(snapshot: Snapshot, node: int, before: dict[Vertex, int], part: dict[Vertex, int], touched: int) -> bool:
    own = part.get(("node", node, -1))
    if own is None:
        return True
    commanded = {zone.panel for zone in snapshot.zones if zone.node == node and zone.panel >= 0}
    panels = [panel for panel in commanded if before["node", panel, -1] == touched]
    if panels:
        return any(part.get(("node", panel, -1)) != own for panel in panels)
    building = room_of(snapshot, node)[0]
    return own not in largest(snapshot, building, part, before, touched)


def largest(
    snapshot: Snapshot, building: str, part: dict[Vertex, int], before: dict[Vertex, int], touched: int
) -> set[int]:
    """Return the parts that hold most sides of a building's nodes."""
    names = [one.key for one in snapshot.buildings]
    sides = Counter(
        (vertex[1], number)
        for vertex, number in part.items()
        if vertex[0] == "side" and before[vertex] == touched and names[snapshot.nodes.building[vertex[1]]] == building
    )
    counts: Counter[int] = Counter()
    for (_, number), many in sides.items():
        counts[number] += many
    return {number for number, many in counts.items() if many == max(counts.values())}


@st.composite
def tangled(draw: st.DrawFn) -> Snapshot:
    """Return a campus whose gateways serve several lines, and whose stations command panels here and there.

    Its records agree: what segments are where they do not is a law of its own.
    """
    snapshot = random_campus(draw(st.integers(0, 10**6)), draw(st.integers(4, 120)))
    nodes = snapshot.nodes
    places = range(len(nodes.key))
    gateways = [node for node in places if is_gateway(snapshot, node)]
    bus = nodes.bus.copy()
    for node in draw(st.lists(st.sampled_from(gateways), max_size=6)) if gateways else ():
        free = np.flatnonzero(bus[node] < 0)
        if free.size:
            bus[node, free[0]] = draw(st.integers(0, len(snapshot.buses) - 1))
    stations = [node for node in places if kind(snapshot, node) == NodeKind.STATION]
    pairs = (
        draw(st.lists(st.tuples(st.sampled_from(stations), st.sampled_from(list(places))), max_size=12))
        if stations
        else []
    )
    zones = tuple(Zone(node=node, key=str(number), panel=panel) for number, (node, panel) in enumerate(pairs))
    return replace(snapshot, nodes=replace(nodes, bus=bus), zones=tuple(sorted(zones, key=lambda zone: zone.node)))


@LAW
@given(tangled(), st.data())
def test_the_same_rooms_go_dark_as_in_a_graph_of_all_nodes(snapshot: Snapshot, data: st.DataObject) -> None:
    reports = assess(snapshot, Brief())
    one = data.draw(st.sampled_from([report for report in reports if report.buses]))
    bus = [row.key for row in snapshot.buses].index(one.buses[0])
    assert set(network_of(snapshot, reports).dark_rooms((one.segment,))) == dark_by_graph(snapshot, bus)
