"""Rules about who is on the segment: alone, gateway, records."""

from dataclasses import replace
from typing import Any

import pytest

from inventory.core.catalogue import EndsBus, Model, NodeKind
from planner.core.findings import Outcome
from tests.campuses import Draft, add_line, add_station
from tests.unit.planner.lines import (
    finding,
    line,
    report,
    with_cable,
    with_catalogue,
    with_method,
    with_model,
    with_node,
    with_run,
)

PASS, FAIL, UNKNOWN = Outcome.PASS, Outcome.FAIL, Outcome.UNKNOWN


def beside(model: str | None, **facts: object) -> Draft:
    """Add a node of a model behind the station."""
    draft = line()
    draft.node("X", model, "L1", **facts)
    draft.run("R-X", "L1", ("B1-S101", "X"), cable="2x2 18AWG", length_m=5.0)
    return draft


@pytest.mark.parametrize(
    ("model", "outcome"),
    [("JB-1", PASS), ("SU-3", PASS), ("SN-5", PASS), ("WS-70", PASS), ("PN-1", FAIL), ("CT-1", FAIL), (None, UNKNOWN)],
)
def test_alone_names_what_cannot_stay(model: Any, outcome: Outcome) -> None:
    found = finding(beside(model), "alone")
    assert found.outcome is outcome
    assert ("X" in found.why) is (model not in ("JB-1", "SU-3"))


def test_a_node_that_says_no_protocol_is_asked_about() -> None:
    draft = with_model(beside("PN-1"), "PN-1", protocol=None)
    assert finding(draft, "alone").missing == ("Protocol of X",)


def test_two_old_stations_are_not_others() -> None:
    found = report(beside("WS-20", box_gangs=2, zones_used=1, scenes_used=1))
    assert (found.verdict, found.others) == ("together", ())


@pytest.mark.parametrize(
    ("reach", "rooms", "outcome"),
    [
        ("room", "101", UNKNOWN),
        ("room", "102", PASS),
        ("room", None, UNKNOWN),  # it may be in any room of the building
        ("floor", "102", UNKNOWN),  # rooms 101 and 102 are on floor 1
        ("floor", "201", PASS),
        ("building", "201", UNKNOWN),
    ],
)
def test_a_node_that_nothing_places_casts_doubt_as_far_as_the_brief_says(
    reach: Any, rooms: Any, outcome: Outcome
) -> None:
    draft = line()
    # the gateway too has a place, or it could be anywhere in the building
    draft = with_node(draft, "L1-G", room="101")
    for room in ("102", "201"):
        draft.room("B1", room, floor=room[0])
    draft.node("LOST", "PN-1", room=rooms)
    found = finding(draft, "alone", doubt_reach=reach)
    assert found.outcome is outcome
    assert found.missing == (("Bus of LOST",) if outcome is UNKNOWN else ())


def test_a_lost_node_of_another_building_or_another_bus_casts_no_doubt() -> None:
    draft = line()
    draft.building("B2")
    draft.node("LOST-1", "PN-1", building="B2")
    draft.node("LOST-2", "CT-1")  # speaks only CAMPUSNET
    assert finding(draft, "alone").outcome is PASS


def test_a_lost_node_whose_protocol_nobody_knows_casts_doubt() -> None:
    draft = with_model(line(), "PN-1", protocol=None)
    draft.node("LOST", "PN-1")
    assert finding(draft, "alone").outcome is UNKNOWN


def test_a_segment_without_gateway_is_asked_about_and_one_with_two_fails() -> None:
    none = line()
    none.nodes = [row for row in none.nodes if row.key != "L1-G"]
    none.runs = []
    assert finding(none, "gateway").missing == ("Gateway of L1",)
    two = beside("GW-2")
    assert finding(two, "gateway").outcome is FAIL
    assert "2 gateways" in finding(two, "gateway").why


def test_a_method_that_starts_from_another_gateway_fails_and_names_both() -> None:
    found = finding(with_method(line(), "M-20", old_gateway_model="GW-7"), "gateway")
    assert (found.outcome, found.why) == (FAIL, "M-20 starts from gateway GW-7; L1-G is GW-2.")


def test_a_gateway_that_is_set_over_must_speak_the_new_protocol() -> None:
    over = with_method(line(), "M-20", new_gateway_model=None)
    assert finding(over, "gateway").outcome is FAIL
    able = with_model(over, "GW-2", protocol_2="OPENPAIR")
    assert finding(able, "gateway").outcome is PASS


def test_a_new_gateway_that_is_not_in_the_catalogue_is_asked_about() -> None:
    assert finding(with_method(line(), "M-20", new_gateway_model="GW-9"), "gateway").outcome is UNKNOWN


def test_a_new_gateway_that_does_not_speak_the_backbone_cuts_it_off() -> None:
    found = finding(with_model(line(), "GW-7", protocol_2=None), "gateway")
    assert found.outcome is FAIL
    assert "B1-N0" in found.why


def shared(**second: object) -> Draft:
    """Two lines of one gateway, each with a station."""
    draft = line()
    add_line(draft, "L2", gateway="L1-G")
    draft = with_node(draft, "L1-G", buses=("L1", "B1-N0", "L2"))
    add_station(draft, "L2", "B1-S102", "L1-G", **second)  # type: ignore[arg-type]
    return draft


def test_two_lines_of_one_gateway_convert_together_or_not_at_all() -> None:
    both = shared()
    assert [report(both, key).verdict for key in ("L1", "L2")] == ["in place", "in place"]
    assert "L2 must convert in the same outage" in finding(both, "gateway").why
    assert report(both).gateway_neighbours == ("B1-N0", "L2")


def hungry(draft: Draft, watts: float) -> Draft:
    """Let every new station draw so much, on wires that lose next to nothing and contacts that carry it."""
    draft = with_cable(draft, "2x2 18AWG", power_conductor="16 mm2", conductor_class="class 5", power_pairs=3)
    draft = with_cable(draft, "Cat 6 patch", power_conductor="16 mm2", conductor_class="class 5", power_pairs=3)
    return with_model(draft, "WS-70", draw_w=watts)


# GW-7 feeds 60 W less 20 % reserve: 48 W, into all its lines together.
@pytest.mark.parametrize(("watts", "verdict"), [(23.9, "in place"), (24.1, "other method")])
def test_lines_of_one_gateway_draw_no_more_than_it_can_feed_together(watts: float, verdict: str) -> None:
    both = hungry(shared(length_m=1.0), watts)
    assert [report(both, key).verdict for key in ("L1", "L2")] == [verdict, verdict]
    alone = hungry(line(), 2 * watts - 1.0)
    assert report(alone).verdict == "in place"


def test_a_line_that_is_fed_by_something_else_asks_nothing_of_the_gateway_it_shares() -> None:
    both = hungry(shared(), 24.1)
    both = with_model(both, "GW-7", supply_v=0.0, supply_rating_w=None, draw_w=0.0, lowest_supply_v=9.0)
    for number in (1, 2):
        both.node(f"SU{number}", "SU-3", f"L{number}")
        both.run(f"R-SU{number}", f"L{number}", ("L1-G", f"SU{number}"), cable="2x2 18AWG", length_m=1.0)
    both = with_model(with_model(both, "SU-3", ends_bus=EndsBus.SWITCH), "GW-7", ends_bus=EndsBus.SWITCH)
    assert finding(both, "gateway").outcome is PASS


# A second line that speaks the new bus already: it stays. GW-2 is set over and feeds 60 W less 20 % reserve: 48 W.
def with_a_line_that_stays(watts: float | None, **facts: Any) -> Draft:
    """L1 converts, with a station of 20 W; L2 of the same gateway is on the new bus already and draws so much."""
    draft = with_method(hungry(line(length_m=1.0), 20.0), "M-20", new_gateway_model=None)
    draft = with_model(draft, "GW-2", protocol_2="OPENPAIR", ends_bus=EndsBus.SWITCH, **facts)
    draft = with_node(draft, "L1-G", buses=("L1", "L2"))
    draft.runs = [run for run in draft.runs if run.key != "L1-N"]
    draft.bus("L2", "B1", "OPENPAIR")
    draft.node("T", "SN-5", "L2", room="102")
    draft.run("R-T", "L2", ("L1-G", "T"), cable="2x2 18AWG", length_m=1.0)
    return with_model(draft, "SN-5", protocol="OPENPAIR", protocol_2=None, draw_w=watts, lowest_supply_v=12.0)


@pytest.mark.parametrize(("watts", "verdict"), [(27.0, "in place"), (29.0, "other method"), (None, "survey first")])
def test_a_line_that_stays_counts_toward_what_its_gateway_can_feed(watts: float | None, verdict: str) -> None:
    found = report(with_a_line_that_stays(watts))
    assert found.verdict == verdict
    if watts is None:
        assert found.questions == ("Draw of model SN-5?",)
    if watts == 29.0:  # noqa: PLR2004 - the row above
        assert found.decided_by == "gateway"
        assert "L1 and L2 draw" in finding(with_a_line_that_stays(watts), "gateway").why


# 26 W at 12 V are 2.17 A: with the 1 m of 16 mm2 on record they lose next to nothing, on a wire of any length up to all that
# 24 V leave: 52 W at the source. So the length is asked for where it tells, and not where even that is little.
@pytest.mark.parametrize(("watts", "verdict"), [(13.0, "in place"), (26.0, "survey first")])
def test_what_a_line_that_stays_loses_is_asked_only_where_it_can_be_too_much(watts: float, verdict: str) -> None:
    draft = with_a_line_that_stays(watts)
    draft = with_run(draft, "R-T", length_m=None)
    found = report(draft)
    assert found.verdict == verdict
    assert found.questions == (() if verdict == "in place" else ("Length and cable of every run on L2?",))


def test_a_line_that_stays_on_a_bus_without_power_draws_nothing_from_the_gateway() -> None:
    draft = with_a_line_that_stays(29.0)
    draft.buses = [
        (where, replace(bus, protocol="CAMPUSNET") if bus.key == "L2" else bus) for where, bus in draft.buses
    ]
    draft = with_model(with_model(draft, "SN-5", protocol="CAMPUSNET"), "GW-2", protocol_2="OPENPAIR")
    assert report(draft).decided_by is None


def test_a_line_that_cannot_convert_keeps_the_other_line_of_its_gateway_from_it() -> None:
    blocked = shared(length_m=600.0)
    assert report(blocked, "L2").verdict == "new cable"
    found = report(blocked, "L1")
    assert (found.verdict, found.decided_by) == ("other method", "gateway")
    assert "L2 (stays PAIRBUS, itself new cable)" in found.why


def test_a_line_that_must_be_surveyed_makes_the_other_line_of_its_gateway_wait() -> None:
    waiting = shared(length_m=None)
    found = report(waiting, "L1")
    assert (found.verdict, found.questions) == ("survey first", ("Can segment L2 convert in the same outage?",))


def test_a_line_of_the_same_gateway_without_old_stations_is_cut_off() -> None:
    draft = shared()
    draft.nodes = [replace(row, model="PN-1") if row.key == "B1-S102" else row for row in draft.nodes]
    assert "L2 (stays PAIRBUS)" in finding(draft, "gateway").why


def test_a_gateway_whose_other_side_nobody_recorded_is_asked_about() -> None:
    draft = with_node(line(), "L1-G", buses=("L1",))
    draft.runs = [run for run in draft.runs if run.key != "L1-N"]
    assert finding(draft, "gateway").missing == ("Other buses of gateway L1-G",)


def test_like_for_like_disturbs_nobody() -> None:
    new = Model(
        key="WS-22",
        kind=NodeKind.STATION,
        protocol="PAIRBUS",
        draw_w=1.0,
        lowest_supply_v=9.0,
        unit_loads=1.0,
        zones=8,
        scenes=8,
        box_gangs=2,
        ends_bus=line().catalogue.models[4].ends_bus,
    )
    draft = with_model(beside("PN-1"), "PN-1", supply_v=0.0)  # a panel that says it feeds nothing
    draft = with_catalogue(draft, models=(*draft.catalogue.models, new))
    draft = with_method(draft, "M-20", new_model="WS-22", new_protocol="PAIRBUS", bit_rate_kbit_s=None)
    found = report(draft)
    assert (found.verdict, found.others) == ("in place", ("X",))
    assert {one.rule: one.outcome for one in found.findings}["alone"] is PASS


@pytest.mark.parametrize(
    ("rate", "verdict", "questions"),
    [(None, "survey first", ("Bit rate of L1?",)), (9.6, "in place", ()), (19.2, "new cable", ())],
)
def test_a_bus_that_keeps_an_unknown_bit_rate_is_asked_for_it_where_it_matters(
    rate: Any, verdict: str, questions: tuple[str, ...]
) -> None:
    draft = with_method(line(length_m=200.0), "M-20", new_protocol="PAIRBUS", bit_rate_kbit_s=None)
    draft = with_model(draft, "WS-70", protocol="PAIRBUS")
    slow = next(row for row in draft.catalogue.protocols if row.protocol == "PAIRBUS")
    fast = replace(slow, bit_rate_kbit_s=19.2, total_wire_m=100.0)
    draft = with_catalogue(draft, protocols=(*draft.catalogue.protocols, fast))
    draft.buses = [(b, replace(bus, bit_rate_kbit_s=rate if bus.key == "L1" else None)) for b, bus in draft.buses]
    found = report(draft)
    assert (found.verdict, found.questions) == (verdict, questions)


def test_records_that_agree_pass() -> None:
    assert finding(line(), "records").outcome is PASS


def test_a_doubtful_membership_decides_before_anything_else() -> None:
    draft = beside("PN-1")  # alone fails too
    add_station(draft, "L2", "B1-S102", add_line(draft, "L2"))
    draft.run("CROSS", "L1", ("X", "B1-S102"), cable="2x2 18AWG", length_m=2.0)
    found = report(draft)
    assert (found.verdict, found.decided_by) == ("survey first", "records")
    assert "Does run CROSS (Bus L1) really end at B1-S102, which names Bus L2?" in found.questions


def test_a_station_without_bus_is_asked_about_even_where_a_run_reaches_it() -> None:
    found = report(with_node(line(), "B1-S101", buses=()))
    assert found.verdict == "survey first"
    assert "Bus of B1-S101?" in found.questions


def test_a_station_on_a_bus_that_it_does_not_speak_is_asked_about() -> None:
    draft = line()
    draft.buses = [(b, replace(bus, protocol="CAMPUSNET") if bus.key == "L1" else bus) for b, bus in draft.buses]
    found = report(draft)
    assert found.verdict == "survey first"
    assert "Protocol of B1-S101, station of PAIRBUS on a bus of CAMPUSNET?" in found.questions


def test_a_node_on_a_bus_that_it_cannot_speak_is_asked_about_even_where_it_may_stay() -> None:
    # a new station on an old bus: either the bus is converted already or the station is recorded on the wrong one
    found = report(beside("WS-70"))
    assert found.verdict == "survey first"
    assert found.questions == ("Protocol of X, station of OPENPAIR on a bus of PAIRBUS?",)


def test_a_gateway_with_both_sides_on_one_wire_is_said_to_be_one() -> None:
    draft = line()
    draft.bus("L2")
    draft.nodes = [replace(node, buses=("L1", "L2")) if node.key == "L1-G" else node for node in draft.nodes]
    draft.run("R-X", "L2", ("L1-G", "B1-S101"), cable="2x2 18AWG", length_m=5.0)
    found = report(draft)
    said = {one.rule: one.why for one in found.findings}
    assert said["gateway"] == "2 sides of L1-G are on one wire."
    assert said["one source"] == "2 sides of L1-G feed the power pair; one may, unless listed for it."
    assert found.gateways == ("L1-G",)


def test_nobody_is_asked_which_of_several_sources_feeds_a_line_whose_wiring_is_in_doubt() -> None:
    # if the run really ends there, two sides of one gateway are on one wire, whichever feeds it; if not, each line has one
    draft = line()
    draft.bus("L2")
    draft.nodes = [replace(node, buses=(*node.buses, "L2")) if node.key == "L1-G" else node for node in draft.nodes]
    add_station(draft, "L2", "B1-S102", "L1-G")
    draft.run("R-X", "L2", ("B1-S102", "B1-S101"), cable="2x2 18AWG", length_m=5.0)
    found = report(draft)
    assert found.verdict == "survey first"
    assert found.questions == ("Does run R-X (Bus L2) really end at B1-S101, which names Bus L1?",)
