"""Rules about the wires: each at its limit and just past it."""

from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest

from inventory.core.catalogue import EndsBus, Layout, MethodPart, MethodPin
from planner.core.findings import Outcome
from planner.core.rules.loops import longest_way_m
from tests.campus_catalogue import METHODS
from tests.campuses import Draft
from tests.laws.test_law_screen import check
from tests.unit.planner.lines import (
    finding,
    line,
    report,
    with_cable,
    with_method,
    with_model,
    with_node,
    with_row,
    with_run,
    without_leads,
)

PASS, CLOSE, FAIL, UNKNOWN = Outcome.PASS, Outcome.CLOSE, Outcome.FAIL, Outcome.UNKNOWN


def branch(stub_m: float | None, *, arm_m: float = 100.0) -> Draft:
    """A junction 100 m from the gateway, the station an arm further, a sensor that speaks both on a stub."""
    draft = without_leads(line(length_m=arm_m))
    draft.node("J", "JB-1", "L1")
    draft.node("SN", "SN-5", "L1")
    draft.runs = [replace(run, from_node="J") if run.key == "R-B1-S101" else run for run in draft.runs]
    draft.run("R-J", "L1", ("L1-G", "J"), cable="2x2 18AWG", length_m=100.0)
    draft.run("R-SN", "L1", ("J", "SN"), cable="2x2 18AWG", length_m=stub_m)
    return draft


# Trunk limit 500 m, reserve 10 %: 450 m leaves exactly 50 m and passes, 450.1 m is close, 500 m close, 500.1 m fails.
@pytest.mark.parametrize(("length_m", "outcome"), [(450.0, PASS), (450.1, CLOSE), (500.0, CLOSE), (500.1, FAIL)])
def test_length_passes_to_its_limit_and_is_close_within_the_reserve(length_m: float, outcome: Outcome) -> None:
    found = finding(without_leads(line(length_m=length_m)), "length")
    assert (found.outcome, found.measured, found.limit) == (outcome, length_m, 500.0)
    assert found.margin == pytest.approx(500.0 - length_m)


# One lead of 1 m at the gateway and one at the station: 498 + 2 = 500 m.
@pytest.mark.parametrize(("length_m", "outcome"), [(498.0, CLOSE), (498.1, FAIL)])
def test_patch_leads_count_as_length(length_m: float, outcome: Outcome) -> None:
    assert finding(line(length_m=length_m), "length").outcome is outcome


def test_every_run_end_at_a_station_in_the_middle_has_a_lead() -> None:
    # gateway - S101 - S102: ends at L1-G, twice at S101, once at S102: 4 leads of 1 m on 40 + 10 m.
    draft = line()
    draft.node("B1-S102", "WS-20", "L1", box_gangs=2, zones_used=1, scenes_used=1)
    draft.run("R2", "L1", ("B1-S101", "B1-S102"), cable="2x2 18AWG", length_m=10.0)
    assert finding(draft, "length").measured == 54.0
    assert report(draft).cable_ends == 4


# Branch: trunk is the longest way, 100 + 100 m; the stub of 20 m counts in the sum of all wire: 220 m.
@pytest.mark.parametrize(
    ("limit", "measured", "outcome"),
    [
        ({"farthest_pair_m": 200.0}, 200.0, CLOSE),
        ({"farthest_pair_m": 199.9}, 200.0, FAIL),
        ({"total_wire_m": 220.0}, 220.0, CLOSE),
        ({"total_wire_m": 219.9}, 220.0, FAIL),
    ],
)
def test_farthest_pair_and_all_wire_are_limits_of_their_own(limit: Any, measured: float, outcome: Outcome) -> None:
    found = finding(with_row(branch(20.0), **limit), "length")
    assert (found.outcome, found.measured) == (outcome, measured)


@pytest.mark.parametrize(("stub_m", "outcome"), [(19.8, PASS), (22.0, CLOSE), (22.1, FAIL)])
def test_the_longest_stub_has_a_limit(stub_m: float, outcome: Outcome) -> None:
    found = finding(branch(stub_m), "stubs")
    assert (found.outcome, found.measured) == (outcome, stub_m)


def test_a_branch_longer_than_the_arm_is_the_trunk_and_the_arm_its_stub() -> None:
    # arms from the junction: gateway 100 m, sensor 30 m, station 20 m: trunk gateway to sensor, stub 20 m.
    found = finding(branch(30.0, arm_m=20.0), "stubs")
    assert found.measured == 20.0


@pytest.mark.parametrize(("each_m", "outcome"), [(21.9, FAIL), (18.3, CLOSE)])
def test_all_stubs_together_have_a_limit(each_m: float, outcome: Outcome) -> None:
    # six stubs: 6 x 21.9 = 131.4 m and 6 x 18.3 = 109.8 m against 110 m
    draft = branch(each_m)
    for number in range(5):
        draft.node(f"SN{number}", "SN-5", "L1")
        draft.run(f"R-SN{number}", "L1", ("J", f"SN{number}"), cable="2x2 18AWG", length_m=each_m)
    found = finding(draft, "stubs")
    assert found.outcome is outcome
    assert found.measured == pytest.approx(6 * each_m)


def test_no_branch_no_stub_limit_needed() -> None:
    assert finding(with_row(line(), longest_stub_m=None, all_stubs_m=None), "layout").outcome is PASS


def test_a_branch_where_no_stub_limit_is_on_record_is_asked_about() -> None:
    found = finding(with_row(branch(5.0), longest_stub_m=None, all_stubs_m=None), "layout")
    assert (found.outcome, found.missing) == (UNKNOWN, ("Longest stub of protocol OPENPAIR",))


@pytest.mark.parametrize(("layout", "outcome"), [(Layout.LINE, FAIL), (Layout.TREE, FAIL), (Layout.ANY, PASS)])
def test_a_loop_is_for_protocols_that_allow_any_layout(layout: Layout, outcome: Outcome) -> None:
    draft = with_row(line(), layout=layout)
    draft.run("R9", "L1", ("L1-G", "B1-S101"), cable="2x2 18AWG", length_m=60.0)
    assert finding(draft, "layout").outcome is outcome


def test_the_longest_way_in_a_ring_goes_round_it() -> None:
    # ring of 10, 20, 30, 40 m: leave out the shortest wire
    assert longest_way_m([(0, 1, 10.0), (1, 2, 20.0), (2, 3, 30.0), (3, 0, 40.0)], 1) == 90.0


def test_of_two_runs_side_by_side_the_longer_counts() -> None:
    draft = with_row(without_leads(line()), layout=Layout.ANY, longest_bus_m=500.0)
    draft.run("R9", "L1", ("L1-G", "B1-S101"), cable="2x2 18AWG", length_m=60.0)
    assert finding(draft, "length").measured == 60.0


def test_two_rings_are_cut_in_every_way() -> None:
    # a square 0-1-2-3 of 10 m sides with the diagonal 0-2 of 14 m: 1-0-2-3 is 10 + 14 + 10
    wires = [(0, 1, 10.0), (1, 2, 10.0), (2, 3, 10.0), (3, 0, 10.0), (0, 2, 14.0)]
    assert longest_way_m(wires, 2) == 34.0


def test_too_many_loops_count_as_all_wire_which_no_way_exceeds() -> None:
    wires = [(0, 1, 1.0), (0, 1, 2.0), (0, 1, 3.0), (0, 1, 4.0)]
    assert longest_way_m(wires, 3) == 10.0


@pytest.mark.parametrize(
    ("gateway", "station", "outcome"),
    [
        (EndsBus.YES, EndsBus.SWITCH, PASS),
        (EndsBus.YES, EndsBus.YES, PASS),
        (EndsBus.SWITCH, EndsBus.SWITCH, PASS),
        (EndsBus.NO, EndsBus.SWITCH, FAIL),
        (EndsBus.YES, EndsBus.NO, FAIL),
        (None, EndsBus.YES, UNKNOWN),
        (EndsBus.YES, None, UNKNOWN),
        (EndsBus.NO, None, FAIL),  # whatever the station has, the gateway's end stays bare
    ],
)
def test_both_ends_of_the_trunk_need_a_resistor(gateway: Any, station: Any, outcome: Outcome) -> None:
    draft = line()
    models = {"GW-7": gateway, "WS-70": station}
    draft.catalogue = replace(
        draft.catalogue,
        models=tuple(replace(m, ends_bus=models.get(m.key, m.ends_bus)) for m in draft.catalogue.models),
    )
    assert finding(draft, "ends").outcome is outcome


@pytest.mark.parametrize(("ends", "outcome"), [(EndsBus.NO, PASS), (EndsBus.SWITCH, PASS), (EndsBus.YES, FAIL)])
def test_a_resistor_in_the_middle_must_not_stay_in_circuit(ends: Any, outcome: Outcome) -> None:
    draft = branch(5.0)
    draft.catalogue = replace(
        draft.catalogue,
        models=tuple(replace(m, ends_bus=ends) if m.key == "JB-1" else m for m in draft.catalogue.models),
    )
    assert finding(draft, "ends").outcome is outcome


def test_where_model_and_row_disagree_the_resistor_can_be_put_in_or_out() -> None:
    draft = with_node(branch(5.0), "J", ends_bus=EndsBus.YES)  # model JB-1 says no: somebody added one
    assert finding(draft, "ends").outcome is PASS


@pytest.mark.parametrize(("needed", "outcome"), [(0, FAIL), (1, PASS), (2, PASS)])
def test_the_protocol_says_how_many_ends(needed: int, outcome: Outcome) -> None:
    # gateway: built in; station: on a switch, used only where it is needed
    assert finding(with_row(line(), ends=needed), "ends").outcome is outcome


# A line that is closed once is closed at an end (common practice); a bus of any layout wherever it is.
@pytest.mark.parametrize(("layout", "outcome"), [(Layout.LINE, FAIL), (Layout.ANY, PASS)])
def test_the_one_end_resistor_of_a_line_is_at_an_end(layout: Layout, outcome: Outcome) -> None:
    in_the_middle = branch(5.0)
    in_the_middle.catalogue = replace(
        in_the_middle.catalogue,
        models=tuple(
            replace(model, ends_bus=EndsBus.YES if model.key == "JB-1" else EndsBus.NO)
            for model in in_the_middle.catalogue.models
        ),
    )
    assert finding(with_row(in_the_middle, ends=1, layout=layout), "ends").outcome is outcome
    assert check(in_the_middle.snapshot())
    switched = with_model(with_row(branch(5.0), ends=1, layout=layout), "JB-1", ends_bus=EndsBus.SWITCH)
    for model in ("GW-7", "WS-70"):
        switched = with_model(switched, model, ends_bus=EndsBus.NO)
    assert finding(switched, "ends").outcome is outcome
    assert check(switched.snapshot())
    assert finding(with_model(switched, "WS-70", ends_bus=EndsBus.SWITCH), "ends").outcome is PASS


def test_where_a_line_that_is_closed_once_ends_is_asked_for() -> None:
    draft = with_row(branch(None), ends=1, layout=Layout.LINE)
    assert finding(draft, "ends").outcome is UNKNOWN
    assert check(draft.snapshot())


def test_an_end_resistor_cures_a_bare_end_only_where_the_method_lists_one() -> None:
    draft = line()
    draft.catalogue = replace(
        draft.catalogue,
        models=tuple(replace(m, ends_bus=EndsBus.NO) if m.key == "WS-70" else m for m in draft.catalogue.models),
    )
    assert report(draft).verdict == "other method"
    part = MethodPart(part="P-1003", quantity=Decimal(1), per="segment", when="end resistor")
    cured = report(with_method(draft, "M-20", parts=(*METHODS[0].parts, part)))
    assert (cured.verdict, cured.extras) == ("in place", ("end resistor",))
    found = next(one for one in cured.findings if one.rule == "ends")
    assert (found.outcome, found.cured_by) == (FAIL, "end resistor")


@pytest.mark.parametrize(
    ("impedance", "outcome"), [(95.0, PASS), (94.9, FAIL), (140.0, PASS), (140.1, FAIL), (None, UNKNOWN)]
)
def test_the_data_pair_must_fit_the_impedance(impedance: float | None, outcome: Outcome) -> None:
    assert finding(with_cable(line(), "2x2 18AWG", impedance_ohm=impedance), "cable").outcome is outcome


@pytest.mark.parametrize(
    ("facts", "outcome"),
    [
        ({"data_pairs": 0}, FAIL),
        ({"data_pairs": None}, UNKNOWN),
        ({"power_pairs": 0}, FAIL),
        ({"power_pairs": None}, UNKNOWN),
    ],
)
def test_every_run_needs_a_data_pair_and_a_power_pair(facts: Any, outcome: Outcome) -> None:
    assert finding(with_cable(line(), "2x2 18AWG", **facts), "cable").outcome is outcome


def screened_ground(*, screened: bool | None) -> Draft:
    """A method that lands its ground on the screen of the old cable."""
    draft = with_cable(line(), "2x2 18AWG", screened=screened)
    method = next(one for one in draft.catalogue.methods if one.key == "M-20")
    return with_method(
        draft, "M-20", pins=(*method.pins, MethodPin(signal="GND", old_conductor="Screen", terminal="5", rj45_pin=3))
    )


@pytest.mark.parametrize(
    ("screened", "verdict", "questions"),
    [
        (True, "in place", ()),
        (False, "new cable", ()),
        (None, "survey first", ("Screen of cable 2x2 18AWG?",)),
    ],
)
def test_a_signal_that_lands_on_the_screen_needs_cable_with_one(
    *, screened: bool | None, verdict: str, questions: tuple[str, ...]
) -> None:
    found = report(screened_ground(screened=screened))
    assert (found.verdict, found.questions) == (verdict, questions)


def test_cable_that_nobody_knows_is_asked_for_once_where_a_signal_lands_on_the_screen() -> None:
    draft = with_run(screened_ground(screened=True), "R-B1-S101", cable=None)
    assert report(draft).questions == ("Cable of run R-B1-S101 (Bus L1)?",)


def test_a_bus_without_power_needs_no_power_pair() -> None:
    draft = with_row(with_cable(line(), "2x2 18AWG", power_pairs=0), power_on_bus=False)
    assert finding(draft, "cable").outcome is PASS


def test_a_run_of_unknown_cable_is_asked_about_by_name() -> None:
    found = finding(line(cable=None), "cable")
    assert (found.outcome, found.missing) == (UNKNOWN, ("Cable of run R-B1-S101 (Bus L1)",))


def test_a_length_that_is_not_known_is_asked_for_by_name() -> None:
    found = finding(line(length_m=None), "length")
    assert (found.outcome, found.missing) == (UNKNOWN, ("Length of run R-B1-S101 (Bus L1)",))


def test_no_length_is_asked_for_where_the_rest_is_too_long_already() -> None:
    draft = line(length_m=501.0)
    draft.node("SN", "SN-5", "L1")
    draft.run("R-SN", "L1", ("B1-S101", "SN"), cable="2x2 18AWG", length_m=None)
    found = report(draft)
    assert (found.verdict, found.decided_by, found.questions) == ("new cable", "length", ())


def test_a_protocol_without_rows_is_asked_about() -> None:
    draft = with_method(line(), "M-20", new_protocol="NOWHERE")
    assert finding(draft, "length").outcome is UNKNOWN
