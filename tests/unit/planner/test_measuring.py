"""Which figures a crew measures: where, and where no figure may be given."""

from dataclasses import replace
from itertools import pairwise
from typing import Any

import pytest

from inventory.core.catalogue import Cable
from inventory.core.readings import Quantity
from planner.core.circuits import Circuit, Stretch
from planner.core.findings import LoadVoltage, SegmentReport, Verdict
from planner.core.measuring import MOST_PLACES, Measure, figures_to_measure

OHM_IN_10_M = Cable(key="A", category="6", power_pairs=2)  # TIA-568: 9.38 ohm in 100 m of one conductor, two pairs
REPORT = SegmentReport(
    segment="L1",
    building="B1",
    buses=("L1",),
    verdict=Verdict.TOGETHER,
    why="",
    decided_by=None,
    old_stations=("S1", "S2"),
    gateways=("G1",),
    others=(),
    nodes=("G1", "S1", "S2"),
    runs=("R1", "R2"),
    voltages=(
        LoadVoltage(node="S1", voltage_v=23.5, current_a=0.1),
        LoadVoltage(node="S2", voltage_v=None, current_a=None),
    ),
)


def run(near: str, far: str, length_m: float | None = 100.0) -> Stretch:
    return Stretch(key=f"{near}-{far}", ends=(near, far), length_m=length_m, cable=OHM_IN_10_M)


LINE = (run("G1", "S1"), run("S2", "S1", 50.0))


def measures(report: SegmentReport = REPORT, *stretches: Stretch, **facts: Any) -> tuple[Measure, ...]:
    known = {"source": "G1", "source_v": 24.0, "ends": 2, "end_ohm": 120.0} | facts
    return figures_to_measure(report, Circuit(stretches=stretches or LINE, **known))


def found(quantity: Quantity, *stretches: Stretch, report: SegmentReport = REPORT, **facts: Any) -> dict[str, Any]:
    return {
        one.where: None if one.figure is None else round(one.figure.expected, 3)
        for one in measures(report, *stretches, **facts)
        if one.quantity is quantity
    }


def test_the_loop_is_measured_to_the_end_of_the_line() -> None:
    # 2 x 0.0938 ohm a metre for a pair, half of that for two: 9.38 + 4.69 ohm to the last station
    assert found(Quantity.LOOP) == {"G1 to S2": 14.07}


def test_each_branch_has_its_own_loop() -> None:
    assert found(Quantity.LOOP, run("G1", "S1"), run("G1", "S2", 50.0)) == {"G1 to S1": 9.38, "G1 to S2": 4.69}


def test_a_ring_is_measured_to_its_farthest_station_by_both_ways_at_once() -> None:
    # 100 m, 50 m and 50 m: S1 by 9.38 or 4.69 + 4.69 ohm is 4.69; S2 by 4.69 or 14.07 ohm is 3.518
    ring = (run("G1", "S1"), run("S1", "S2", 50.0), run("S2", "G1", 50.0))
    assert found(Quantity.LOOP, *ring) == {"G1 to S1": 4.69}


def test_two_cables_side_by_side_halve_the_loop() -> None:
    twin = replace(run("G1", "S1"), key="twin")
    assert found(Quantity.LOOP, run("G1", "S1"), twin, run("S1", "S2", 50.0)) == {"G1 to S2": 9.38}


@pytest.mark.parametrize("stretches", [(run("G1", "S1"), run("S1", "S2", None)), (run("S1", "S2"),)])
def test_a_loop_that_cannot_be_told_is_measured_without_a_figure(stretches: tuple[Stretch, ...]) -> None:
    assert set(found(Quantity.LOOP, *stretches).values()) == {None}


def test_a_run_that_is_not_on_the_way_need_not_be_known() -> None:
    assert found(Quantity.LOOP, run("G1", "S1"), run("G1", "X", None), run("X", "S2")) == {
        "G1 to S1": 9.38,
        "G1 to S2": None,
    }


def test_data_lines_are_measured_once_at_the_gateway() -> None:
    # ISO 11898-2: two ends of 120 ohm read 60
    assert found(Quantity.DATA_LINES) == {"G1 to S2": 60.0}
    assert found(Quantity.DATA_LINES, ends=None) == found(Quantity.DATA_LINES, ends=0) == {}
    assert found(Quantity.DATA_LINES, end_ohm=None) == {}


def test_the_source_is_seen_without_load_before_the_station_is_connected() -> None:
    assert found(Quantity.NO_LOAD) == {"S2": 24.0}
    assert [one.quantity for one in measures()] == [*Quantity], "the order in which they are measured"


def test_the_voltage_is_measured_where_one_is_predicted() -> None:
    assert found(Quantity.LOADED) == {"S1": 23.5}
    assert found(Quantity.LOADED, source_v=None) == {}


def test_a_local_supply_makes_the_gateway_no_measure_of_the_voltage() -> None:
    local = replace(REPORT, extras=("local supply",))
    assert found(Quantity.LOADED, report=local) == found(Quantity.NO_LOAD, report=local) == {}


@pytest.mark.parametrize("verdict", [one for one in Verdict if one not in {Verdict.IN_PLACE, Verdict.TOGETHER}])
def test_on_what_does_not_convert_the_old_pair_alone_is_measured(verdict: Verdict) -> None:
    quantities = {one.quantity for one in measures(replace(REPORT, verdict=verdict))}
    assert quantities == (set() if verdict is Verdict.LEAVE else {Quantity.LOOP})


def test_where_the_records_are_in_doubt_every_figure_can_be_measured_anew() -> None:
    doubted = replace(REPORT, verdict=Verdict.SURVEY_FIRST, decided_by="records")
    assert {one.quantity for one in measures(doubted)} == set(Quantity)


@pytest.mark.parametrize("gateways", [(), ("G1", "G2")])
def test_without_exactly_one_gateway_there_is_nowhere_to_measure_from(gateways: tuple[str, ...]) -> None:
    assert measures(replace(REPORT, gateways=gateways)) == ()


def test_of_very_many_ends_the_farthest_are_measured_and_of_very_many_stations_those_that_get_least() -> None:
    # 100 stations, each on a run of its own, the last the farthest and the one that gets least
    stations = tuple(f"S{number:03d}" for number in range(1, 101))
    bush = [run("G1", node, float(number)) for number, node in enumerate(stations, start=1)]
    loads = tuple(LoadVoltage(node=n, voltage_v=24.0 - 0.01 * at, current_a=0.1) for at, n in enumerate(stations))
    many = replace(REPORT, old_stations=stations, nodes=("G1", *stations), voltages=loads)
    asked = measures(many, *bush)
    for quantity in (Quantity.LOOP, Quantity.NO_LOAD, Quantity.LOADED):
        at = [one.far or one.node for one in asked if one.quantity is quantity]
        assert at == list(stations[-MOST_PLACES:]), quantity


def test_a_ring_of_very_many_stations_is_measured_to_the_one_in_its_middle() -> None:
    # 2,000 runs of 1 m: either way to the middle has 1,000 m; the resistance is asked for once, not at each station
    stations = tuple(f"S{number:04d}" for number in range(1, 2000))
    around = ("G1", *stations, "G1")
    ring = [run(near, far, 1.0) for near, far in pairwise(around)]
    many = replace(REPORT, old_stations=stations, nodes=("G1", *stations))
    # 1,000 m of this cable are 93.8 ohm out and back; two such ways side by side
    assert found(Quantity.LOOP, *ring, report=many) == {"G1 to S1000": 46.9}
