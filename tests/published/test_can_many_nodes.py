"""Lines of many CAN nodes against the lengths that CiA 303-1 and other open standards publish for them."""

import pytest

from inventory.core.catalogue import Cable
from inventory.core.conductors import conductor_ohm_per_m
from inventory.core.limits import can_conductor_ohm
from planner.core.findings import Finding, Outcome
from tests.published.test_rules import CIA, OK, on_wire, star
from tests.unit.planner.lines import finding, with_row

# CiA 303-1 (and an application note of a maker): nodes -> metres at 0.25, 0.5 and 0.75 mm2, with margins of 10 and 20 %.
# Formula and lengths from memory; its four figures (1.5 V, 1.0 V, 20 kohm, 118 ohm) were read.
AREAS = ("0.25 mm2", "0.5 mm2", "0.75 mm2")
OHM_PER_M = {"0.25 mm2": 0.090, "0.5 mm2": 0.050, "0.75 mm2": 0.033}
MANY_NODES_M = {
    (0.1, 32): (230, 420, 640),
    (0.1, 64): (200, 360, 550),
    (0.1, 100): (170, 310, 480),
    (0.2, 32): (200, 360, 550),
    (0.2, 64): (170, 310, 470),
    (0.2, 100): (150, 270, 410),
}


@pytest.mark.parametrize(("margin", "nodes"), MANY_NODES_M)
def test_the_formula_for_many_can_nodes_gives_the_published_lengths(margin: float, nodes: int) -> None:
    ohm = can_conductor_ohm(nodes, margin)
    for area, published_m in zip(AREAS, MANY_NODES_M[margin, nodes], strict=True):
        assert 0.95 * ohm / OHM_PER_M[area] <= published_m <= ohm / OHM_PER_M[area] + 2.0  # rounded to 10 m


@pytest.mark.parametrize("nodes", [32, 64, 100])
@pytest.mark.parametrize("place", range(3))
def test_a_line_of_many_can_nodes_is_asked_about_past_the_published_length(nodes: int, place: int) -> None:
    area, published_m = AREAS[place], MANY_NODES_M[0.2, nodes][place]
    arms = [(0.0, "SN-5")] * (nodes - 2)  # beside gateway and station

    def at(length_m: float) -> Finding:
        return finding(on_wire(star(CIA, 50.0, arms, trunk_m=length_m), area), "length")

    beyond = at(published_m + 0.1)
    assert beyond.outcome is Outcome.UNKNOWN
    assert beyond.missing == (f"Longest line of {CIA} with {nodes} nodes on the data conductors of L1",)
    assert "from memory" in (beyond.source or "")
    assert at(0.85 * published_m).outcome in OK


def test_fewer_can_nodes_go_by_the_lengths_of_cia_303_1_and_from_24_on_by_the_formula_too() -> None:
    # Its longest row: 1000 m at 26 mohm/m. Without any margin that reads with 23 nodes and not with 24.
    assert can_conductor_ohm(23, 0.0) > 1000 * 0.026 > can_conductor_ohm(24, 0.0)
    for nodes, outcomes in ((23, OK), (24, (Outcome.UNKNOWN,))):
        draft = on_wire(star(CIA, 125.0, [(0.0, "SN-5")] * (nodes - 2), trunk_m=500.0), "0.5 mm2")
        assert finding(draft, "length").outcome in outcomes


def test_what_a_line_of_many_can_nodes_lies_on_is_asked_where_nobody_recorded_it() -> None:
    for row in ({}, {"data_conductor": None}):  # a row of the campus may say nothing about conductors
        draft = on_wire(star(CIA, 50.0, [(0.0, "SN-5")] * 30, trunk_m=10.0), None)
        draft = with_row(draft, 50.0, CIA, **row)
        assert finding(draft, "length").missing == ("Data conductor of cable 2x2 18AWG",)


def test_lengths_that_standards_publish_for_many_can_nodes_lie_within_the_formula() -> None:
    # DeviceNet (IEC 62026-3): 64 nodes on 500 m of 18 AWG or 100 m of 24 AWG. NMRA S-9.7.1.1: 300 m less 6 m a node on
    # 24 AWG. Copper at 20 C: the standards say nothing of heat.
    def ohm(gauge: str, length_m: float) -> float:
        per_m = conductor_ohm_per_m(Cable(key="x", power_conductor=gauge, conductor_class="solid"), 20.0)
        assert per_m is not None
        return per_m * length_m

    assert ohm("18 AWG", 500.0) < can_conductor_ohm(64)
    assert ohm("24 AWG", 100.0) < can_conductor_ohm(64)
    for nodes in range(24, 48):
        assert ohm("24 AWG", 300.0 - 6.0 * nodes) < can_conductor_ohm(nodes)
