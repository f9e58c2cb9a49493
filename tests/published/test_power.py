"""Constant-power loads against IEEE 802.3, networkx with scipy, and a circuit simulator."""

import os
import shutil
import subprocess
from pathlib import Path

import networkx as nx
import numpy as np
import pytest
from scipy.optimize import root

from inventory.core.catalogue import Cable
from inventory.core.conductors import loop_ohm
from planner.core.power import PowerState, load_voltage, solve
from planner.core.reach import growth_of_one
from tests.networks import Wiring, one_load, random_wiring, solved

# IEEE 802.3 classes: source V, loop ohm, load W, published source W, tolerance on that. Classes 3, 4 and 6 were
# chosen so that the root is whole; the others are rounded in the standard.
CLASSES = {
    1: (44.0, 20.0, 3.84, 4.0, 2e-3),
    2: (44.0, 20.0, 6.49, 7.0, 2e-3),
    3: (44.0, 20.0, 12.95, 15.4, 1e-12),
    4: (50.0, 12.5, 25.5, 30.0, 1e-12),
    5: (50.0, 6.25, 40.0, 45.0, 2e-3),
    6: (50.0, 6.25, 51.0, 60.0, 1e-12),
    7: (52.0, 6.25, 62.0, 75.0, 2e-3),
    8: (52.0, 6.25, 71.3, 90.0, 2e-3),
}
# Voltage at the load where the standard's own figures are exact: V, A, W lost in the cable.
EXACT = {3: (37.0, 0.35, 2.45), 4: (42.5, 0.6, 4.5), 6: (42.5, 1.2, 9.0)}


@pytest.mark.parametrize("number", CLASSES)
def test_source_power_of_ieee_802_3_classes(number: int) -> None:
    source_v, ohm, power_w, published_w, tolerance = CLASSES[number]
    result = solve(**one_load(source_v, ohm, power_w))
    assert source_v * result.source_current_a[0] == pytest.approx(published_w, rel=tolerance)


@pytest.mark.parametrize("number", EXACT)
def test_whole_roots_of_ieee_802_3_classes_3_4_and_6(number: int) -> None:
    source_v, ohm, power_w, *_ = CLASSES[number]
    voltage_v, current_a, loss_w = EXACT[number]
    assert load_voltage(source_v, ohm, power_w) == pytest.approx(voltage_v, abs=1e-12)
    result = solve(**one_load(source_v, ohm, power_w))
    assert result.voltage_v[1] == pytest.approx(voltage_v, abs=1e-9)
    assert result.current_a[0] == pytest.approx(current_a, abs=1e-9)
    assert result.loss_w[0] == pytest.approx(loss_w, abs=1e-8)


def test_class_6_is_class_4_over_twice_the_pairs() -> None:
    # The same voltage at the load, twice current and power: doubled pairs halve the loop resistance.
    two = Cable(key="C", category="5e", power_pairs=1)
    four = Cable(key="C", category="5e", power_pairs=2)
    one_pair, two_pairs = (loop_ohm(60.0, cable, 20.0) for cable in (two, four))
    assert one_pair is not None
    assert two_pairs is not None
    assert one_pair == 2 * two_pairs
    assert load_voltage(50.0, one_pair, 25.5) == load_voltage(50.0, two_pairs, 51.0)


def test_the_published_lowest_voltage_leaves_no_growth() -> None:
    # IEEE 802.3 lowest voltages at the load: 37 V for class 3, 42.5 V for classes 4 and 6.
    assert growth_of_one([44.0, 50.0, 50.0], [20.0, 12.5, 6.25], [12.95, 25.5, 51.0], [37.0, 42.5, 42.5]) == (
        pytest.approx(1.0)
    )


def test_6_m_of_24_awg_hold_a_load_above_7_5_v_on_a_9_v_supply() -> None:
    # NMRA S-9.7.1.1 and its note: supply from 9 V, load from 7.5 V, 6 m, 0.5 A. A load that draws 0.5 A at 8.495 V
    # takes 4.2475 W and stands 0.505 V below the supply.
    ohm = loop_ohm(6.0, Cable(key="C", power_conductor="24 AWG", conductor_class="solid", power_pairs=1), 20.0)
    assert ohm is not None
    assert 9.0 - load_voltage(9.0, ohm, 0.5 * 8.495) == pytest.approx(0.505, abs=1e-3)


def reference_voltages(wiring: Wiring) -> np.ndarray:
    """Solve by networkx's Laplacian and scipy's general root finder, from the source voltage down."""
    graph = nx.MultiGraph()
    graph.add_nodes_from(range(wiring["segment"].size))
    for tail, head, ohm in zip(wiring["tail"], wiring["head"], wiring["loop_ohm"], strict=True):
        graph.add_edge(int(tail), int(head), weight=1.0 / ohm)
    laplacian = nx.laplacian_matrix(graph, nodelist=range(len(graph))).toarray()
    held, free = int(wiring["source"][0]), np.array([v for v in graph if v != wiring["source"][0]])
    source_v, load_w = wiring["source_v"][0], wiring["load_w"]

    def left_over(volts: np.ndarray) -> np.ndarray:
        return laplacian[np.ix_(free, free)] @ volts + laplacian[free, held] * source_v + load_w[free] / volts

    answer = root(left_over, np.full(free.size, source_v), tol=1e-12)
    voltages = np.full(len(graph), source_v)
    voltages[free] = answer.x
    return voltages


@pytest.mark.parametrize("seed", range(12))
@pytest.mark.parametrize("extra_edges", [0, 1, 4], ids=["tree", "ring", "mesh"])
def test_trees_rings_and_meshes_agree_with_networkx_and_scipy(seed: int, extra_edges: int) -> None:
    wiring = random_wiring(seed, vertices=14, extra_edges=extra_edges)
    result = solve(**wiring)
    assert result.state[0] == PowerState.SOLVED
    assert result.voltage_v == pytest.approx(reference_voltages(wiring), abs=1e-7)


@pytest.fixture
def simulator() -> str:
    path = shutil.which("ngspice")
    if path is None and os.environ.get("CI"):
        pytest.fail("ngspice is not installed, and continuous integration must run it")
    if path is None:
        pytest.skip("NOT CHECKED AGAINST A CIRCUIT SIMULATOR: install ngspice to run this test")
    return path


def netlist(wiring: Wiring) -> str:
    """Write a circuit: resistors, one source, loads as current sources that draw P / V."""
    source, count = int(wiring["source"][0]), wiring["segment"].size
    lines = ["segment", f"Vs n{source} 0 DC {float(wiring['source_v'][0])!r}"]
    lines += [
        f"R{edge} n{tail} n{head} {float(ohm)!r}"
        for edge, (tail, head, ohm) in enumerate(zip(wiring["tail"], wiring["head"], wiring["loop_ohm"], strict=True))
    ]
    lines += [
        f"B{vertex} n{vertex} 0 I={float(watt)!r}/V(n{vertex})"
        for vertex, watt in enumerate(wiring["load_w"])
        if watt > 0.0
    ]
    lines += [f".nodeset v(n{vertex})={float(wiring['source_v'][0])!r}" for vertex in range(count)]
    lines += [".options reltol=1e-9 vntol=1e-10 abstol=1e-13 gmin=1e-15 numdgt=12", ".control", "set numdgt=12", "op"]
    lines += [f"print v(n{vertex})" for vertex in range(count)]
    return "\n".join([*lines, "quit", ".endc", ".end", ""])


def simulated_voltages(simulator: str, wiring: Wiring, folder: Path) -> np.ndarray:
    circuit = folder / "segment.cir"
    circuit.write_text(netlist(wiring), encoding="ascii")
    done = subprocess.run([simulator, "-b", str(circuit)], capture_output=True, text=True, timeout=60, check=False)
    read = {
        int(line.split("=")[0].strip()[3:-1]): float(line.split("=")[1])
        for line in done.stdout.splitlines()
        if line.startswith("v(n") and "=" in line
    }
    assert len(read) == wiring["segment"].size, done.stdout + done.stderr
    return np.array([read[vertex] for vertex in range(len(read))])


@pytest.mark.spice
def test_a_small_tree_agrees_with_the_circuit_simulator(simulator: str, tmp_path: Path) -> None:
    # A trunk of two runs with a branch at the joint; loads of 3, 5 and 2 W on 24 V.
    wiring = Wiring(
        segment=np.zeros(4, dtype=np.int32),
        tail=np.array([0, 1, 1], dtype=np.int32),
        head=np.array([1, 2, 3], dtype=np.int32),
        loop_ohm=np.array([1.5, 2.0, 4.0]),
        source=np.array([0], dtype=np.int32),
        source_v=np.array([24.0]),
        load_w=np.array([0.0, 3.0, 5.0, 2.0]),
    )
    assert solve(**wiring).voltage_v == pytest.approx(simulated_voltages(simulator, wiring, tmp_path), abs=1e-5)


@pytest.mark.spice
@pytest.mark.parametrize(("seed", "extra_edges"), [(1, 0), (2, 0), (3, 1), (4, 1), (5, 3)])
def test_generated_trees_and_rings_agree_with_the_circuit_simulator(
    simulator: str, tmp_path: Path, seed: int, extra_edges: int
) -> None:
    wiring = random_wiring(seed, vertices=20, extra_edges=extra_edges)
    assert solved(wiring).voltage_v == pytest.approx(simulated_voltages(simulator, wiring, tmp_path), abs=1e-5)
