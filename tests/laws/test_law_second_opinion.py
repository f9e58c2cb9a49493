"""A second opinion on everything that is called in place or together, by code that shares nothing with the rules.

It reads the records by name, walks them with networkx, and solves the voltages by plain iteration on dense matrices.
It knows less than the rules do: whatever it finds wrong must not have been called convertible.
"""

import math
from dataclasses import dataclass
from typing import Any

import networkx as nx
import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from inventory.core.catalogue import EndsBus, Method, Model, NodeKind, ProtocolRow
from inventory.core.conductors import loop_ohm_per_m
from inventory.core.snapshot import Snapshot
from planner.core.brief import Brief
from planner.core.findings import CONVERTIBLE, SegmentReport
from planner.core.verdicts import assess
from tests.campuses import random_campus
from tests.laws.settings import LAW
from tests.laws.test_law_blanks import lines

HOT_C = 50.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Records:
    """A campus by names: of nodes their model and buses, of runs their bus, ends, cable and length."""

    models: dict[str, Model | None]
    buses: dict[str, set[str]]
    protocols: dict[str, str | None]
    runs: dict[str, tuple[str | None, str | None, str | None, str | None, float]]
    methods: dict[str, Method]
    snapshot: Snapshot


def by_name(snapshot: Snapshot) -> Records:
    nodes, runs, catalogue = snapshot.nodes, snapshot.runs, snapshot.catalogue

    def name(rows: Any, at: int) -> str | None:
        return rows[at].key if at >= 0 else None

    def node(at: int) -> str | None:
        return nodes.key[at] if at >= 0 else None

    return Records(
        models={key: catalogue.models[at] if at >= 0 else None for key, at in zip(nodes.key, nodes.model, strict=True)},
        buses={
            key: {snapshot.buses[at].key for at in row if at >= 0}
            for key, row in zip(nodes.key, nodes.bus, strict=True)
        },
        protocols={bus.key: bus.protocol for bus in snapshot.buses},
        runs={
            key: (
                name(snapshot.buses, runs.bus[at]),
                node(runs.from_node[at]),
                node(runs.to_node[at]),
                name(catalogue.cables, runs.cable[at]),
                float(runs.length_m[at]),
            )
            for at, key in enumerate(runs.key)
        },
        methods={method.key: method for method in catalogue.methods},
        snapshot=snapshot,
    )


def afterwards(records: Records, report: SegmentReport, node: str) -> Model:
    """Return the model at a node once the segment is converted."""
    method = records.methods.get(dict(report.methods).get(node, ""))
    now = records.models[node]
    assert now is not None, f"{node} is of no known model"
    any_method = records.methods[report.methods[0][1]]
    name = now.key
    if method is not None:
        name = method.new_model
    elif now.kind is NodeKind.GATEWAY and any_method.new_gateway_model is not None and not stays(records, report):
        name = any_method.new_gateway_model
    return next(model for model in records.snapshot.catalogue.models if model.key == name)


def stays(records: Records, report: SegmentReport) -> bool:
    """Tell whether the bus keeps its protocol."""
    return {records.protocols[bus] for bus in report.buses} == {report.new_protocol}


def check_members(records: Records, report: SegmentReport, after: dict[str, Model]) -> None:
    (bus,) = report.buses
    assert set(report.nodes) == {node for node, buses in records.buses.items() if bus in buses}
    assert records.protocols[bus] is not None
    like_for_like = stays(records, report)
    for node in report.nodes:
        kind = after[node].kind
        if node in report.old_stations or kind not in (NodeKind.SUPPLY, NodeKind.JUNCTION):
            assert after[node].speaks(report.new_protocol or "") or like_for_like, f"{node} would be cut off"
        if kind is not NodeKind.GATEWAY:
            assert records.buses[node] == {bus}
    gateways = [node for node in report.nodes if after[node].kind is NodeKind.GATEWAY]
    assert like_for_like or len(gateways) == 1
    assert like_for_like or all(len(records.buses[gateway]) > 1 for gateway in gateways)


def wiring(records: Records, report: SegmentReport, after: dict[str, Model]) -> "nx.Graph[str]":
    """Return the wires of the segment with length and loop resistance, leads included."""
    (bus,) = report.buses
    graph: nx.Graph[str] = nx.Graph()
    graph.add_nodes_from(report.nodes)
    cables = {cable.key: cable for cable in records.snapshot.catalogue.cables}
    for on, tail, head, cable, length_m in records.runs.values():
        mine = [end for end in (tail, head) if end in report.nodes and records.buses[end] == {bus}]
        if on != bus and not mine:
            continue
        assert (on, tail, head) != (None, None, None)
        assert on == bus
        assert tail in after
        assert head in after
        assert tail != head
        assert 0 <= length_m < math.inf
        assert cable is not None
        assert not graph.has_edge(tail, head)
        per_m = loop_ohm_per_m(cables[cable], HOT_C) or 0.0
        ohm, metres = per_m * length_m, length_m
        for end in (tail, head):
            lead_m, lead_ohm = lead(records, report, after, end)
            ohm, metres = ohm + lead_ohm, metres + lead_m
        graph.add_edge(tail, head, ohm=ohm, metres=metres)
    return graph


def lead(records: Records, report: SegmentReport, after: dict[str, Model], end: str) -> tuple[float, float]:
    """Return length and loop resistance of the patch lead at an end; at a gateway the longest of all methods."""
    used = [records.methods[key] for station, key in report.methods if station == end]
    if after[end].kind is NodeKind.GATEWAY and not stays(records, report):
        used = [records.methods[key] for _, key in report.methods]
    cables = {cable.key: cable for cable in records.snapshot.catalogue.cables}
    found = [(0.0, 0.0)]
    for method in used:
        if method.patch_cable is not None and method.patch_lead_m:
            per_m = loop_ohm_per_m(cables[method.patch_cable], HOT_C) or 0.0
            found.append((method.patch_lead_m, per_m * method.patch_lead_m))
    return max(found)


def check_wires(graph: "nx.Graph[str]", row: ProtocolRow, after: dict[str, Model]) -> None:
    assert nx.is_connected(graph)
    assert row.layout == "any" or nx.is_tree(graph)
    assert not any(after[node].kind is NodeKind.JUNCTION and graph.degree(node) == 1 for node in graph)
    away = dict(nx.all_pairs_dijkstra_path_length(graph, weight="metres"))
    farthest = max(metres for row_ in away.values() for metres in row_.values())
    total = float(graph.size(weight="metres"))
    limits = (row.longest_bus_m, row.farthest_pair_m, row.total_wire_m)
    assert any(limit is not None for limit in limits)
    assert all(limit is None or farthest <= limit + 1e-6 for limit in limits[:2])
    assert row.total_wire_m is None or total <= row.total_wire_m + 1e-6
    assert row.ends is not None
    assert sum(model.ends_bus is EndsBus.YES for model in after.values()) <= max(row.ends, len(after))


def check_power(graph: "nx.Graph[str]", report: SegmentReport, row: ProtocolRow, after: dict[str, Model]) -> None:
    if row.power_on_bus is False:
        return
    local = report.old_stations if "local supply" in report.extras else ()
    sources = [node for node, model in after.items() if model.kind is NodeKind.SUPPLY or feeds(model)]
    draws = {node: after[node].draw_w for node in graph if node not in sources and node not in local}
    assert None not in draws.values()
    if not any(draws.values()):
        return
    (source,) = sources
    volts = solved(graph, source, after[source].supply_v or 0.0, {node: watt or 0.0 for node, watt in draws.items()})
    for node, watt in draws.items():
        lowest = after[node].lowest_supply_v
        assert not watt or (lowest is not None and volts[node] >= lowest - 1e-4)


def feeds(model: Model) -> bool:
    return model.kind not in (NodeKind.STATION, NodeKind.SENSOR, NodeKind.JUNCTION) and bool(
        model.supply_v or model.supply_rating_w
    )


def solved(graph: "nx.Graph[str]", source: str, source_v: float, watts: dict[str, float]) -> dict[str, float]:
    """Return the voltages by iteration: currents from the last voltages, voltages from dense conductances."""
    order = [node for node in graph if node != source]
    place = {node: at for at, node in enumerate(order)}
    siemens, held = np.zeros((len(order), len(order))), np.zeros(len(order))
    for tail, head in graph.edges:
        conductance = 1.0 / max(graph.edges[tail, head]["ohm"], 1e-9)
        for one, other in ((tail, head), (head, tail)):
            if one == source:
                continue
            siemens[place[one], place[one]] += conductance
            if other == source:
                held[place[one]] += conductance * source_v
            else:
                siemens[place[one], place[other]] -= conductance
    power = np.array([watts.get(node, 0.0) for node in order])
    volts = np.full(len(order), source_v)
    for _ in range(500):
        volts = np.linalg.solve(siemens, held - power / volts)
        assert (volts > 0).all()
    return {source: source_v, **dict(zip(order, volts.tolist(), strict=True))}


def agree(snapshot: Snapshot) -> int:
    """Check every segment that is called convertible; return how many there are."""
    records, found = by_name(snapshot), 0
    rows = {(row.protocol, row.bit_rate_kbit_s): row for row in snapshot.catalogue.protocols}
    for report in assess(snapshot, Brief()):
        if report.verdict not in CONVERTIBLE:
            continue
        found += 1
        after = {node: afterwards(records, report, node) for node in report.nodes}
        row = rows[report.new_protocol or "", report.bit_rate_kbit_s]
        check_members(records, report, after)
        graph = wiring(records, report, after)
        check_wires(graph, row, after)
        check_power(graph, report, row, after)
    return found


@LAW
@given(st.integers(0, 10**6), st.booleans())
def test_what_converts_on_a_random_campus_stands_up_to_a_second_opinion(seed: int, rogue: Any) -> None:
    agree(random_campus(seed, 60, rogue=rogue))


@LAW
@given(lines())
def test_what_converts_of_odd_lines_stands_up_to_a_second_opinion(draft: Any) -> None:
    agree(draft.snapshot())


def test_the_second_opinion_sees_many_that_convert() -> None:
    assert agree(random_campus(1, 600)) > 50
