"""Segments, loops, lengths and voltages on real networks that packages carry, against networkx and scipy's own solver.

pandapower carries a low-voltage feeder (IEEE European LV test feeder, 2015) and the network of a town in the Black Forest;
wntr carries water networks (EPANET examples and Kentucky models). They are no control buses: what is checked is the graph
and the circuit, and that the whole-campus array code agrees with libraries written by others on shapes nobody made for it.
"""

import warnings
from pathlib import Path
from typing import Any

import networkx as nx
import numpy as np
import pytest
from scipy.optimize import fsolve

from inventory.core.catalogue import Catalogue, Model, NodeKind
from planner.core.brief import Brief
from planner.core.circuits import Circuit, Stretch
from planner.core.nodal import solve_nodes
from planner.core.power import PowerState, solve
from planner.core.rules.after import make_trials
from planner.core.rules.lengths import Lengths, measure_lengths
from planner.core.rules.options import Option
from planner.core.segments import Segments, find_segments
from tests.campuses import Draft

pytestmark = pytest.mark.filterwarnings("ignore")  # what other packages say while they load

Wires = list[tuple[str, str, float]]  # ends and length [m]
NOTHING = Option(
    methods=(), new_protocol="", new_gateway=None, rows=(), rate_named=False, like_for_like=True, was_fed=None
)  # what changes nothing
PLAIN = Catalogue(models=(Model(key="N", kind=NodeKind.OTHER),))


def pandapower_network(name: str) -> tuple[list[str], Wires]:
    """Return the buses and the lines that no open switch cuts."""
    with warnings.catch_warnings(), np.printoptions():  # neither warnings nor how arrays print are theirs to change
        warnings.simplefilter("ignore")
        import pandapower  # noqa: PLC0415 - heavy: only where it is used

        net = pandapower.from_json(str(Path(pandapower.__file__).parent / "networks" / f"{name}.json"))
    switches = net.switch
    cut = set(switches[(switches.et == "l") & ~switches.closed.astype(bool)].element) if len(switches) else set()
    lines = zip(net.line.index, net.line.from_bus, net.line.to_bus, net.line.length_km, strict=True)
    wires = [(f"b{tail}", f"b{head}", 1000.0 * float(length)) for at, tail, head, length in lines if at not in cut]
    return [f"b{bus}" for bus in net.bus.index], wires


def water_network(name: str) -> tuple[list[str], Wires]:
    """Return junctions, tanks and reservoirs, and the pipes, pumps and valves between them; pumps have no length."""
    with warnings.catch_warnings(), np.printoptions():
        warnings.simplefilter("ignore")
        import wntr  # noqa: PLC0415 - heavy: only where it is used

        net = wntr.network.WaterNetworkModel(str(Path(wntr.__file__).parent / "library" / "networks" / f"{name}.inp"))
    wires = [(link.start_node_name, link.end_node_name, float(getattr(link, "length", 0.0))) for _, link in net.links()]
    return list(net.node_name_list), wires


def graph_of(nodes: list[str], wires: Wires) -> "nx.MultiGraph[str]":
    graph: nx.MultiGraph[str] = nx.MultiGraph()
    graph.add_nodes_from(nodes)
    for tail, head, length in wires:
        graph.add_edge(tail, head, length=length)
    return graph


def segments_of(nodes: list[str], wires: Wires) -> tuple[Any, Segments]:
    """Return the same network as a campus on which nobody wrote down a bus, and its segments."""
    draft = Draft(catalogue=PLAIN)
    draft.building("B1")
    for node in nodes:
        draft.node(node, "N")
    for number, (tail, head, length) in enumerate(wires):
        draft.run(f"R{number:06}", None, (tail, head), length_m=length)
    snapshot = draft.snapshot()
    return snapshot, find_segments(snapshot)


def members(snapshot: Any, segments: Segments) -> dict[int, frozenset[str]]:
    """Return the nodes of each segment that has any wire."""
    found: dict[int, set[str]] = {}
    for node, label in zip(segments.side_node.tolist(), segments.label.tolist(), strict=True):
        found.setdefault(label, set()).add(snapshot.nodes.key[node])
    return {label: frozenset(names) for label, names in found.items()}


NETWORKS = {
    "feeder": lambda: pandapower_network("IEEE_European_LV_Off_Peak_1"),
    "town": lambda: pandapower_network("lv_schutterwald"),
    **{name: (lambda name=name: water_network(name)) for name in ("Net1", "Net2", "Net3", "Net6", "ky4", "ky10")},
}


@pytest.fixture(scope="module", params=sorted(NETWORKS))
def network(request: pytest.FixtureRequest) -> tuple[str, list[str], Wires]:
    nodes, wires = NETWORKS[request.param]()
    return request.param, nodes, wires


def test_segments_and_loops_are_those_that_networkx_finds(network: tuple[str, list[str], Wires]) -> None:
    _, nodes, wires = network
    graph = graph_of(nodes, wires)
    snapshot, segments = segments_of(nodes, wires)
    wired = [frozenset(part) for part in nx.connected_components(graph) if len(part) > 1]
    found = members(snapshot, segments)
    ours = {names: int(segments.loops[label]) for label, names in found.items() if len(names) > 1}
    theirs = {part: (inner := graph.subgraph(part)).number_of_edges() - inner.number_of_nodes() + 1 for part in wired}
    assert ours == theirs


def test_the_feeder_is_one_tree_of_906_nodes_and_the_town_13_trees_and_one_with_a_loop() -> None:
    # Counted by networkx once more in the test above; the figures are those of the networks as published.
    for name, parts in (("feeder", {0: 1}), ("town", {0: 13, 1: 1})):
        snapshot, segments = segments_of(*NETWORKS[name]())
        loops = [int(segments.loops[label]) for label, names in members(snapshot, segments).items() if len(names) > 1]
        assert {count: loops.count(count) for count in set(loops)} == parts, name


def test_parallel_links_are_loops_and_no_bridges() -> None:
    """In ky10 some links join the same two nodes twice: none of them is a bridge, so each such pair closes a loop."""
    nodes, wires = NETWORKS["ky10"]()
    graph = graph_of(nodes, wires)
    doubled = {frozenset(pair) for *pair, key in graph.edges(keys=True) if key}
    bridges = {frozenset(pair) for pair in nx.bridges(nx.Graph(graph))}
    plain = nx.Graph(graph)
    _, with_doubles = segments_of(nodes, wires)
    _, without = segments_of(nodes, [(tail, head, 1.0) for tail, head in plain.edges])
    assert int(with_doubles.loops.sum()) - int(without.loops.sum()) == len(wires) - plain.number_of_edges()
    assert doubled & bridges, "some are what a graph without parallel links would call a bridge"
    stretches = (
        Stretch(key=f"R{at:04d}", ends=(near, far), length_m=1.0, cable=None) for at, (near, far, _) in enumerate(wires)
    )
    circuit = Circuit(stretches=tuple(stretches))
    for near, far in map(sorted, doubled & bridges):
        between = circuit.way(near, far)
        assert [set(run.ends) for run in between] == [{near, far}] * graph.number_of_edges(near, far)


@pytest.mark.parametrize("name", ["feeder", "town"])
def test_the_longest_way_through_real_trees_is_that_of_networkx(name: str) -> None:
    nodes, wires = NETWORKS[name]()
    graph = graph_of(nodes, wires)
    snapshot, segments = segments_of(nodes, wires)
    measured = lengths_of(snapshot, segments)
    for label, names in members(snapshot, segments).items():
        tree = graph.subgraph(names)
        if len(names) < 2 or not nx.is_forest(nx.Graph(tree)) or segments.loops[label]:
            continue
        away = nx.single_source_dijkstra_path_length(tree, next(iter(names)), weight="length")
        far = max(away, key=away.__getitem__)
        longest = max(nx.single_source_dijkstra_path_length(tree, far, weight="length").values())
        assert measured.trunk_m[label] == pytest.approx(longest, abs=1e-6)
        assert measured.total_m[label] == pytest.approx(tree.size(weight="length"), abs=1e-6)


def lengths_of(snapshot: Any, segments: Segments) -> Lengths:
    """Return the lengths of every segment as it stands, one trial each with nothing changed."""
    trials = make_trials(snapshot, segments, Brief(), [(label, 0) for label in range(len(segments))], [NOTHING])
    return measure_lengths(trials, segments.loops)


def test_voltages_on_the_real_feeder_agree_with_nodal_analysis_and_with_scipys_own_solver() -> None:
    """906 nodes of a real tree, half a watt at each leaf, 48 V at its head, 20 milliohm a metre: sweep, nodal analysis, fsolve."""
    nodes, wires = NETWORKS["feeder"]()
    graph = graph_of(nodes, wires)
    tree = nx.Graph(graph.subgraph(max(nx.connected_components(graph), key=len)))
    order = sorted(tree)
    at = {name: number for number, name in enumerate(order)}
    edges = sorted((at[tail], at[head], 0.02 * data["length"] + 1e-6) for tail, head, data in tree.edges(data=True))
    tail, head, ohm = (np.array(column) for column in zip(*edges, strict=True))
    root = at.get("b1", 0)
    load = np.array([0.5 if tree.degree[name] == 1 and at[name] != root else 0.0 for name in order])
    facts: dict[str, Any] = {
        "segment": np.zeros(len(order), dtype=np.int64),
        "tail": tail,
        "head": head,
        "loop_ohm": ohm,
        "source": np.array([root]),
        "source_v": np.array([48.0]),
        "load_w": load,
    }
    swept = solve(**facts)
    assert swept.state[0] == PowerState.SOLVED
    assert float(swept.voltage_v.min()) < 46.0, "the drop is large enough to tell a wrong solver"
    volts, _, stands = solve_nodes(**facts)
    assert stands.all()
    np.testing.assert_allclose(swept.voltage_v, volts, atol=1e-7)
    free = np.flatnonzero(np.arange(len(order)) != root)

    def wrong(unknown: Any) -> Any:
        full = np.full(len(order), 48.0)
        full[free] = unknown
        amps = (full[tail] - full[head]) / ohm
        into = np.zeros(len(order))
        np.add.at(into, head, amps)
        np.add.at(into, tail, -amps)
        return (into - load / full)[free]

    assert np.abs(wrong(swept.voltage_v[free])).max() < 1e-6, "Kirchhoff's current law at every node"
    theirs = fsolve(wrong, np.full(free.size, 48.0), xtol=1e-10)
    np.testing.assert_allclose(theirs, swept.voltage_v[free], atol=1e-5)
