"""Whole segments, from records to voltages, against a circuit simulator: lines, trees and rings from a seed.

The circuit is written from the records by this file's own arithmetic. Copper: NEC chapter 9 Table 8, 18 AWG stranded,
uncoated, 7.95 ohm in 1000 ft at 75 C; temperature by 0.00393 at 20 C (NBS Handbook 100), 50 C. Leads: TIA-568, 9.38
ohm in 100 m of one conductor at 20 C, two pairs in parallel. Stations: 3 W each; source: 24 V.
"""

import random
from pathlib import Path

import numpy as np
import pytest

from planner.core.circuits import Circuit, Stretch, voltages
from tests.campus_catalogue import catalogue
from tests.campuses import Draft, add_line, add_station
from tests.networks import Wiring
from tests.published.test_power import simulated_voltages, simulator
from tests.unit.planner.lines import report

__all__ = ["simulator"]  # a fixture

HOT = 1 + 0.00393 * 30
OHM_PER_M = 2 * 7.95 / 304.8 / (1 + 0.00393 * 55) * HOT
LEAD_OHM = 2 * 0.0938 * HOT / 2
STATION_W, SOURCE_V = 3.0, 24.0
SAME_V = 1e-5
Edge = tuple[int, int, float]


def edges_of(shape: str, seed: int, stations: int) -> list[Edge]:
    """Return runs between node 0, the gateway, and stations 1 and up."""
    rng = random.Random(seed)
    origins = [rng.randint(0, number) if shape == "tree" else number for number in range(stations)]
    edges = [(origin, number + 1, round(rng.uniform(2.0, 9.0), 1)) for number, origin in enumerate(origins)]
    if "ring" in shape:
        edges.append((stations, 0, round(rng.uniform(2.0, 9.0), 1)))
    if shape == "two rings":
        edges.append((stations // 2, 0, round(rng.uniform(2.0, 9.0), 1)))
    return edges


def key(number: int) -> str:
    return "L1-G" if number == 0 else f"B1-S{100 + number}"


def drafted(edges: list[Edge]) -> Draft:
    draft = Draft(catalogue=catalogue())
    draft.building("B1")
    draft.bus("B1-N0", "B1", "CAMPUSNET")
    draft.node("B1-C1", "CT-1", "B1-N0", building="B1")
    add_line(draft, "L1")
    reached = {0}
    for number, (near, far, length_m) in enumerate(edges):
        if far not in reached:
            add_station(draft, "L1", key(far), key(near), length_m=length_m)
            reached.add(far)
        else:
            draft.run(f"R-loop-{number}", "L1", (key(near), key(far)), cable="2x2 18AWG", length_m=length_m)
    return draft


def wiring_of(edges: list[Edge]) -> Wiring:
    """Return the circuit: each run with a patch lead at both ends."""
    count = 1 + max(max(near, far) for near, far, _ in edges)
    return Wiring(
        segment=np.zeros(count, dtype=np.int32),
        tail=np.array([near for near, _, _ in edges], dtype=np.int32),
        head=np.array([far for _, far, _ in edges], dtype=np.int32),
        loop_ohm=np.array([length_m * OHM_PER_M + 2 * LEAD_OHM for _, _, length_m in edges]),
        source=np.array([0], dtype=np.int32),
        source_v=np.array([SOURCE_V]),
        load_w=np.array([0.0, *[STATION_W] * (count - 1)]),
    )


@pytest.mark.spice
@pytest.mark.parametrize("shape", ["line", "tree", "ring", "two rings"])
@pytest.mark.parametrize("seed", range(3))
def test_segments_from_records_agree_with_the_circuit_simulator(
    simulator: str,  # noqa: F811 - the fixture
    tmp_path: Path,
    shape: str,
    seed: int,
) -> None:
    edges = edges_of(shape, seed, stations=4 + 3 * seed)
    expected = simulated_voltages(simulator, wiring_of(edges), tmp_path)
    found = {one.node: one.voltage_v for one in report(drafted(edges)).voltages}
    assert set(found) == {key(number) for number in range(1, len(expected))}
    for number in range(1, len(expected)):
        assert found[key(number)] == pytest.approx(expected[number], abs=SAME_V), key(number)


@pytest.mark.spice
@pytest.mark.parametrize("shape", ["tree", "ring"])
def test_circuits_that_readings_are_held_against_agree_with_the_circuit_simulator(
    simulator: str,  # noqa: F811 - the fixture
    tmp_path: Path,
    shape: str,
) -> None:
    edges = edges_of(shape, 7, stations=9)
    expected = simulated_voltages(simulator, wiring_of(edges), tmp_path)
    cable = next(one for one in catalogue().cables if one.key == "2x2 18AWG")
    circuit = Circuit(
        stretches=tuple(
            Stretch(
                key=f"R{place}",
                ends=(key(near), key(far)),
                length_m=length_m,
                cable=cable,
                lead_ohm=2 * LEAD_OHM,
            )
            for place, (near, far, length_m) in enumerate(edges)
        ),
        source=key(0),
        source_v=SOURCE_V,
        loads=tuple((key(number), STATION_W) for number in range(1, len(expected))),
    )
    found = voltages(circuit)
    assert [found[key(number)] for number in range(len(expected))] == pytest.approx(list(expected), abs=SAME_V)
