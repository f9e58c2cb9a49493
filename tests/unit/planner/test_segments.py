"""Segments: who is on one wire with whom, and what the records leave open about it."""

from collections import defaultdict
from dataclasses import replace
from typing import Any

import networkx as nx
import numpy as np
import pytest

from inventory.core.snapshot import Snapshot
from planner.core.segments import Doubt, Segments, find_segments
from tests.campus_catalogue import catalogue
from tests.campuses import Draft, add_line, add_station, hand_campus, random_campus


def line() -> Draft:
    """A gateway, a station 40 m away, and the backbone of the building."""
    draft = Draft(catalogue=catalogue())
    draft.building("B1")
    draft.bus("B1-N0", protocol="CAMPUSNET")
    draft.node("B1-C1", "CT-1", "B1-N0")
    add_station(draft, "L1", "B1-S101", add_line(draft, "L1"))
    return draft


def members(snapshot: Snapshot, segments: Segments) -> dict[str, set[str]]:
    found = defaultdict(set)
    for label, node in zip(segments.label, segments.side_node, strict=True):
        found[segments.key[label]].add(snapshot.nodes.key[node])
    return dict(found)


def kinds(segments: Segments, key: str) -> set[Doubt]:
    label = segments.key.index(key)
    return {Doubt(kind) for kind, at in zip(segments.doubts.kind, segments.doubts.label, strict=True) if at == label}


def test_a_segment_ends_at_its_gateway_which_is_on_both_sides() -> None:
    snapshot = line().snapshot()
    segments = find_segments(snapshot)
    assert members(snapshot, segments) == {"L1": {"L1-G", "B1-S101"}, "B1-N0": {"L1-G", "B1-C1"}}


def test_sides_that_name_one_bus_are_together_even_where_no_run_is_recorded() -> None:
    draft = line()
    draft.node("B1-P1", "PN-1", "L1")
    snapshot = draft.snapshot()
    segments = find_segments(snapshot)
    assert members(snapshot, segments)["L1"] == {"L1-G", "B1-S101", "B1-P1"}
    assert kinds(segments, "L1") == {Doubt.UNREACHED}


def test_a_run_between_two_buses_joins_them_and_makes_the_membership_doubtful() -> None:
    draft = line()
    add_station(draft, "L2", "B1-S102", add_line(draft, "L2"))
    draft.run("X", "L1", ("B1-S101", "B1-S102"), cable="2x2 18AWG", length_m=3.0)
    snapshot = draft.snapshot()
    segments = find_segments(snapshot)
    assert members(snapshot, segments)["L1"] == {"L1-G", "B1-S101", "L2-G", "B1-S102"}
    assert "L2" not in segments.key
    assert kinds(segments, "L1") == {Doubt.CROSSING}


def test_a_run_whose_ends_agree_on_another_bus_joins_the_bus_it_claims_too() -> None:
    draft = line()
    draft.bus("L9")
    draft.node("B1-P9", "PN-1", "L9")
    draft.runs = [replace(run, bus="L9") if run.key == "R-B1-S101" else run for run in draft.runs]
    snapshot = draft.snapshot()
    segments = find_segments(snapshot)
    assert {"B1-S101", "B1-P9"} <= members(snapshot, segments)["L1"]
    assert Doubt.CROSSING in kinds(segments, "L1")


def test_a_node_without_a_bus_takes_its_side_from_the_run_that_reaches_it() -> None:
    draft = line()
    draft.nodes = [replace(row, buses=()) if row.key == "B1-S101" else row for row in draft.nodes]
    snapshot = draft.snapshot()
    segments = find_segments(snapshot)
    assert members(snapshot, segments)["L1"] == {"L1-G", "B1-S101"}
    assert kinds(segments, "L1") == {Doubt.NO_BUS}
    assert len(segments.lost) == 0


def test_a_gateway_reached_on_a_bus_it_does_not_name_gets_a_side_and_a_doubt() -> None:
    draft = line()
    draft.nodes = [replace(row, buses=("B1-N0",)) if row.key == "L1-G" else row for row in draft.nodes]
    snapshot = draft.snapshot()
    segments = find_segments(snapshot)
    assert "L1-G" in members(snapshot, segments)["L1"]
    assert kinds(segments, "L1") == {Doubt.STRANGE_GATEWAY}


def test_a_station_on_two_buses_is_no_gateway_and_joins_them() -> None:
    draft = line()
    draft.bus("L2")
    draft.nodes = [replace(row, buses=("L1", "L2")) if row.key == "B1-S101" else row for row in draft.nodes]
    segments = find_segments(draft.snapshot())
    assert segments.key == ("B1-N0", "L1")
    assert Doubt.TWO_BUSES in kinds(segments, "L1")


@pytest.mark.parametrize("blank", [{"bus": None}, {"from_node": None}, {"to_node": None}])
def test_a_run_with_a_blank_bus_or_end_makes_the_membership_doubtful(blank: Any) -> None:
    draft = line()
    draft.runs = [replace(run, **blank) if run.key == "R-B1-S101" else run for run in draft.runs]
    assert Doubt.OPEN_RUN in kinds(find_segments(draft.snapshot()), "L1")


def test_wiring_in_two_pieces_is_said() -> None:
    draft = line()
    draft.node("B1-P1", "PN-1", "L1")
    draft.node("B1-P2", "PN-1", "L1")
    draft.run("R2", "L1", ("B1-P1", "B1-P2"), cable="2x2 18AWG", length_m=3.0)
    segments = find_segments(draft.snapshot())
    assert kinds(segments, "L1") == {Doubt.PIECES}
    assert segments.pieces[segments.key.index("L1")] == 2


def test_a_node_that_nothing_places_is_lost_and_stands_alone_under_its_own_name() -> None:
    draft = line()
    draft.node("B1-S900", "WS-20")
    snapshot = draft.snapshot()
    segments = find_segments(snapshot)
    assert [snapshot.nodes.key[node] for node in segments.lost] == ["B1-S900"]
    assert members(snapshot, segments)["B1-S900"] == {"B1-S900"}


@pytest.mark.parametrize(("extra", "loops"), [((), 0), (("R9",), 1), (("R9", "R10"), 2)])
def test_runs_side_by_side_are_loops(extra: Any, loops: int) -> None:
    draft = line()
    for name in extra:
        draft.run(name, "L1", ("L1-G", "B1-S101"), cable="2x2 18AWG", length_m=40.0)
    segments = find_segments(draft.snapshot())
    assert segments.loops[segments.key.index("L1")] == loops


def test_segments_stand_in_the_order_of_their_first_bus_by_code_point() -> None:
    draft = line()
    for name in ("a", "Z", "É"):
        draft.bus(name)
        draft.node(f"n-{name}", "PN-1", name)
    assert find_segments(draft.snapshot()).key == ("B1-N0", "L1", "Z", "a", "É")


def test_an_empty_campus_has_no_segments() -> None:
    assert find_segments(Draft(catalogue=catalogue()).snapshot()).key == ()


def reference(snapshot: Snapshot) -> set[frozenset[tuple[int, int]]]:
    """The same by networkx, one row after another."""
    graph: nx.Graph[Any] = nx.Graph()
    model = snapshot.catalogue.models
    nodes = snapshot.nodes
    gate = [place >= 0 and model[place].kind == "gateway" for place in nodes.model]
    named = [[int(bus) for bus in row if bus >= 0] for row in nodes.bus]
    for node, buses in enumerate(named):
        graph.add_edges_from(((node, bus), ("bus", bus)) for bus in buses)
    for run in range(len(snapshot.runs)):
        bus = int(snapshot.runs.bus[run])
        ends = []
        for node in (int(snapshot.runs.from_node[run]), int(snapshot.runs.to_node[run])):
            own = bus if gate[node] or bus in named[node] or not named[node] else named[node][0]
            ends.append((node, own))
        graph.add_edge(*ends)
        graph.add_edge(ends[0], ("bus", bus))
    sides: dict[int, list[Any]] = defaultdict(list)
    for vertex in list(graph):
        if vertex[0] != "bus":
            sides[vertex[0]].append(vertex)
    for node, places in sides.items():
        if not gate[node]:
            graph.add_edges_from((places[0], other) for other in places[1:])
    graph.add_nodes_from((node, -1) for node in range(len(nodes)) if node not in sides)
    parts = (frozenset(v for v in part if v[0] != "bus") for part in nx.connected_components(graph))
    return {part for part in parts if part}


@pytest.mark.parametrize("seed", range(8))
@pytest.mark.parametrize("rogue", [False, True])
def test_the_array_work_agrees_with_networkx_on_random_campuses(seed: int, rogue: Any) -> None:
    snapshot = random_campus(seed, 600, rogue=rogue)
    segments = find_segments(snapshot)
    found = defaultdict(set)
    for label, node, bus in zip(segments.label, segments.side_node, segments.side_bus, strict=True):
        found[label].add((int(node), int(bus)))
    assert {frozenset(part) for part in found.values()} == reference(snapshot)


def test_every_column_is_sorted_by_segment() -> None:
    segments = find_segments(hand_campus())
    assert (np.diff(segments.label) >= 0).all()
    assert (np.diff(segments.wire_label) >= 0).all()
    assert list(segments.key) == sorted(segments.key)


def test_nodes_of_a_segment_of_two_buses_stand_by_name_not_by_bus() -> None:
    draft = line()
    add_station(draft, "L2", "B1-S102", add_line(draft, "L2"))
    draft.node("B1-S100", "PN-1", "L2")
    draft.run("X", "L1", ("B1-S101", "B1-S102"), cable="2x2 18AWG", length_m=3.0)
    snapshot = draft.snapshot()
    segments = find_segments(snapshot)
    label = segments.key.index("L1")
    sides = slice(segments.first_side[label], segments.first_side[label + 1])
    wires = slice(segments.first_wire[label], segments.first_wire[label + 1])
    assert segments.side_node[sides].tolist() == sorted(segments.side_node[sides].tolist())
    assert segments.run[wires].tolist() == sorted(segments.run[wires].tolist())
