"""Which figures a crew measures: where the loop is, and where no figure may be given."""

from dataclasses import replace

import pytest

from planner.core.findings import LoadVoltage, SegmentReport, Verdict
from planner.core.measuring import Wire, figures_to_measure

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
LINE = (Wire(ends=("G1", "S1"), loop_ohm=1.0), Wire(ends=("S2", "S1"), loop_ohm=0.5))


def found(report: SegmentReport = REPORT, wires: tuple[Wire, ...] = LINE, **known: float | None) -> dict[str, float]:
    facts = {"ends": 2, "end_ohm": 120.0, "source_v": 24.0} | known
    return {one.where: one.figure.expected for one in figures_to_measure(report, wires, **facts)}  # type: ignore[arg-type]


def test_the_loop_is_measured_to_the_end_of_the_line_and_the_voltage_where_it_is_known() -> None:
    # 1.0 + 0.5 ohm to the last station; two ends of 120 ohm read 60 (ISO 11898-2); S2 has no voltage to expect
    assert found() == {"G1 to S2": 1.5, "G1": 60.0, "S1": 23.5}


def test_each_branch_has_its_own_loop() -> None:
    star = (Wire(ends=("G1", "S1"), loop_ohm=1.0), Wire(ends=("G1", "S2"), loop_ohm=0.5))
    assert found(wires=star) == {"G1 to S1": 1.0, "G1 to S2": 0.5, "G1": 60.0, "S1": 23.5}


@pytest.mark.parametrize(
    "wires",
    [
        (*LINE, Wire(ends=("G1", "S2"), loop_ohm=1.0)),  # a ring: two ways
        (*LINE, LINE[0]),  # two cables side by side
        (LINE[0], replace(LINE[1], loop_ohm=None)),  # a run of unknown length
        (LINE[1],),  # the run from the gateway is not on record
        (),
    ],
)
def test_no_loop_is_guessed(wires: tuple[Wire, ...]) -> None:
    assert [where for where in found(wires=wires) if " to " in where] == []


def test_no_figure_without_the_facts_behind_it() -> None:
    assert found(ends=None, source_v=None) == {"G1 to S2": 1.5}
    assert found(end_ohm=None) == {"G1 to S2": 1.5, "S1": 23.5}
    assert found(ends=0) == {"G1 to S2": 1.5, "S1": 23.5}


def test_a_local_supply_makes_the_gateway_no_measure_of_the_voltage() -> None:
    assert "S1" not in found(replace(REPORT, extras=("local supply",)))


@pytest.mark.parametrize("verdict", [one for one in Verdict if one not in {Verdict.IN_PLACE, Verdict.TOGETHER}])
def test_what_cannot_be_converted_has_nothing_to_measure(verdict: Verdict) -> None:
    assert found(replace(REPORT, verdict=verdict)) == {}


@pytest.mark.parametrize("gateways", [(), ("G1", "G2")])
def test_without_exactly_one_gateway_there_is_nowhere_to_measure_from(gateways: tuple[str, ...]) -> None:
    assert found(replace(REPORT, gateways=gateways)) == {}
