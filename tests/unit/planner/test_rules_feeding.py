"""Rules about power: one source, voltage, supply, current; the state judged is the one after conversion."""

from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest

from inventory.core.catalogue import Layout, MethodPart
from planner.core.findings import Outcome
from tests.campus_catalogue import METHODS
from tests.campuses import Draft
from tests.laws.test_law_screen import check
from tests.unit.planner.lines import (
    finding,
    line,
    report,
    with_cable,
    with_catalogue,
    with_method,
    with_model,
    with_row,
    with_run,
    without_leads,
)

PASS, CLOSE, FAIL, UNKNOWN = Outcome.PASS, Outcome.CLOSE, Outcome.FAIL, Outcome.UNKNOWN
COPPER = {"power_conductor": "1.5 mm2", "conductor_class": "solid"}  # IEC 60228 class 1: 12.1 ohm/km at 20 C


def fed(length_m: float | None, *, draw_w: float = 20.0, lowest_v: float = 20.0) -> Draft:
    """One station of 20 W behind 24.2 ohm/km out and back at 20 C, from 24 V, with no patch leads."""
    draft = with_cable(without_leads(line(length_m=length_m)), "2x2 18AWG", **COPPER)
    return with_model(draft, "WS-70", draw_w=draw_w, lowest_supply_v=lowest_v)


# 20 W at 20 V draw 1 A; 4 V are left for the wire: 4 ohm, 4 / 0.0242 = 165.289256 m.
@pytest.mark.parametrize(("length_m", "outcome"), [(165.289256, CLOSE), (165.3, FAIL)])
def test_voltage_at_its_limit_and_just_past_it(length_m: float, outcome: Outcome) -> None:
    found = finding(fed(length_m), "voltage", conductor_c=20.0)
    assert found.outcome is outcome
    assert found.measured == pytest.approx(20.0, abs=1e-3)
    assert found.limit == 20.0


# Lowest 20 V, reserve 10 %: 22 V leave exactly the reserve. 20 W at 22 V draw 0.9091 A, 2 V are left for the wire:
# 2.2 ohm, 90.909 m.
@pytest.mark.parametrize(("length_m", "outcome"), [(90.909, PASS), (91.0, CLOSE)])
def test_voltage_is_close_within_the_reserve(length_m: float, outcome: Outcome) -> None:
    assert finding(fed(length_m), "voltage", conductor_c=20.0).outcome is outcome


def test_hot_copper_drops_more() -> None:
    # at 50 C the resistance is 1.1179 times greater: 165.289 / 1.1179 = 147.857 m
    assert finding(fed(147.85), "voltage", conductor_c=50.0).outcome is CLOSE
    assert finding(fed(147.87), "voltage", conductor_c=50.0).outcome is FAIL


def test_patch_leads_resist_too_and_two_pairs_halve_it() -> None:
    # Category lead, two pairs in parallel: 2 x 0.0938 / 2 = 0.0938 ohm a metre, 2 m of it: 0.1876 ohm. The run keeps
    # (4 - 0.1876) / 0.0242 = 157.537 m.
    def leaded(length_m: float) -> Draft:
        draft = fed(length_m)
        return with_method(draft, "M-20", patch_cable="Cat 6 patch", patch_lead_m=1.0)

    assert finding(leaded(157.53), "voltage", conductor_c=20.0).outcome is CLOSE
    assert finding(leaded(157.55), "voltage", conductor_c=20.0).outcome is FAIL


def test_where_no_operating_point_exists_there_is_no_number() -> None:
    # 24 V can deliver 24^2 / (4 R) at most: 20 W need R <= 7.2 ohm, 297.5 m
    draft = fed(298.0, lowest_v=1.0)
    found = finding(draft, "voltage", conductor_c=20.0)
    assert (found.outcome, found.measured, found.margin) == (FAIL, None, None)
    assert "no operating point" in found.why
    assert report(draft, conductor_c=20.0).voltages == () or report(draft, conductor_c=20.0).extras


def test_a_loop_is_solved_as_a_loop() -> None:
    # two runs of 100 m side by side halve the resistance: 20 W behind 1.21 ohm: (24 + sqrt(576 - 96.8)) / 2 = 22.9453 V
    draft = with_row(fed(100.0), layout=Layout.ANY)
    draft.run("R9", "L1", ("L1-G", "B1-S101"), cable="2x2 18AWG", length_m=100.0)
    assert finding(draft, "voltage", conductor_c=20.0).measured == pytest.approx(22.9453, abs=1e-4)


@pytest.mark.parametrize(
    ("facts", "fact"),
    [({"draw_w": None}, "Draw of model WS-70"), ({"lowest_supply_v": None}, "Lowest supply of model WS-70")],
)
def test_voltage_asks_for_what_the_catalogue_does_not_say(facts: Any, fact: str) -> None:
    found = finding(with_model(fed(50.0), "WS-70", **facts), "voltage", conductor_c=20.0)
    assert (found.outcome, found.missing) == (UNKNOWN, (fact,))


def test_voltage_asks_for_the_conductor_of_the_cable() -> None:
    found = finding(with_cable(fed(50.0), "2x2 18AWG", power_conductor=None), "voltage")
    assert (found.outcome, found.missing) == (UNKNOWN, ("Power conductor of cable 2x2 18AWG",))


def test_a_length_that_is_not_known_cannot_save_a_voltage_that_fails_without_it() -> None:
    draft = with_method(fed(200.0), "M-20", parts=())
    draft.node("SN", "SN-5", "L1")
    draft.run("R-SN", "L1", ("B1-S101", "SN"), cable="2x2 18AWG", length_m=None)
    assert finding(draft, "voltage", conductor_c=20.0).outcome is FAIL


@pytest.mark.parametrize("volts", [float("nan"), -1.0])
def test_a_supply_voltage_that_cannot_be_one_is_not_known(volts: Any) -> None:
    found = finding(with_model(fed(50.0), "GW-7", supply_v=volts), "voltage")
    assert (found.outcome, found.missing) == (UNKNOWN, ("Supply of model GW-7",))


def test_a_supply_of_no_volts_feeds_nothing() -> None:
    draft = with_model(fed(50.0), "GW-7", supply_v=None, supply_rating_w=None)
    draft.node("SU", "SU-3", "L1")
    draft.run("R-SU", "L1", ("B1-S101", "SU"), cable="2x2 18AWG", length_m=1.0)
    found = report(with_model(draft, "SU-3", supply_v=0.0))
    voltage = next(one for one in found.findings if one.rule == "voltage")
    assert (voltage.outcome, voltage.measured) == (FAIL, None)


def test_exactly_one_source() -> None:
    assert finding(line(), "one source").outcome is PASS
    two = line()
    two.node("SU", "SU-3", "L1")
    two.run("R-SU", "L1", ("B1-S101", "SU"), cable="2x2 18AWG", length_m=1.0)
    found = finding(two, "one source")
    assert (found.outcome, found.measured, found.limit) == (FAIL, 2.0, 1.0)
    assert report(two).verdict == "other method"
    none = with_model(line(), "GW-7", supply_v=None, supply_rating_w=None)
    assert finding(none, "one source").missing == ("What feeds L1",)


def test_a_bus_without_power_needs_no_source() -> None:
    draft = with_row(with_model(line(), "GW-7", supply_v=None, supply_rating_w=None), power_on_bus=False)
    draft = with_row(draft, 9.6, "PAIRBUS", power_on_bus=False)
    assert [finding(draft, rule).outcome for rule in ("one source", "voltage", "supply", "current")] == [PASS] * 4


# 12 W at the end of nothing (0 m): 12 W drawn. Rating 15 W less 20 % reserve: 12 W usable. 15.1 -> 12.08, 14.9 -> 11.92.
@pytest.mark.parametrize(("rating", "outcome"), [(15.0, CLOSE), (14.9, FAIL), (16.7, PASS), (None, UNKNOWN)])
def test_supply_keeps_the_briefs_reserve(rating: Any, outcome: Outcome) -> None:
    draft = with_model(fed(0.0, draw_w=12.0), "GW-7", supply_rating_w=rating)
    assert finding(draft, "supply").outcome is outcome


def test_losses_count_against_the_supply() -> None:
    # 20 W behind 100 m x 0.0242: V = (24 + sqrt(576 - 4 x 20 x 2.42)) / 2 = 21.7775 V, I = 0.91838 A, 22.041 W drawn
    found = finding(fed(100.0), "supply", conductor_c=20.0)
    assert found.measured == pytest.approx(22.041, abs=1e-3)
    assert found.limit == pytest.approx(48.0)


@pytest.mark.parametrize(
    ("facts", "outcome"),
    [
        ({"supply_v": 30.0}, PASS),
        ({"supply_v": 30.1}, CLOSE),
        ({"supply_rating_w": 100.0}, PASS),
        ({"supply_rating_w": 100.1}, CLOSE),
    ],
)
def test_more_than_a_class_2_circuit_is_a_caution(facts: Any, outcome: Outcome) -> None:
    found = finding(with_model(line(), "GW-7", **facts), "supply")
    assert found.outcome is outcome
    assert ("Class 2" in found.why) is (outcome is CLOSE)


def test_a_larger_supply_cures_a_rating_where_the_method_lists_one() -> None:
    part = MethodPart(part="P-1004", quantity=Decimal(1), per="segment", when="larger supply")
    draft = with_model(fed(10.0, draw_w=12.0), "GW-7", supply_rating_w=10.0)
    assert report(with_method(draft, "M-20", parts=())).verdict == "other method"
    cured = report(with_method(draft, "M-20", parts=(*METHODS[0].parts, part)))
    assert (cured.verdict, cured.extras) == ("in place", ("larger supply",))


# RJ45 contacts carry 0.75 A each, two in parallel 1.5 A. 24 V straight at the source (0 m): 36 W draw 1.5 A.
# The leads drop a little, so that 35.5 W draw 35.5 / 23.72 = 1.497 A.
@pytest.mark.parametrize(("draw_w", "outcome"), [(35.5, CLOSE), (35.7, FAIL)])
def test_connector_contacts_carry_their_current(draw_w: float, outcome: Outcome) -> None:
    draft = with_model(line(length_m=0.0), "WS-70", draw_w=draw_w)
    found = finding(draft, "current", conductor_c=20.0)
    assert found.outcome is outcome
    assert found.source == "IEC 60603-7, from memory"


# NMRA S-9.7.1.1 allows 0.5 A a connector, so 0.25 A on each of two contacts: 11.9 W at 24 V draw 0.496 A and a little.
@pytest.mark.parametrize(("draw_w", "outcome"), [(11.8, CLOSE), (12.1, FAIL)])
def test_a_standard_may_allow_a_connector_less_than_its_contacts_carry(draw_w: float, outcome: Outcome) -> None:
    nmra = "CAN over RJ45 (NMRA S-9.7.1.1)"
    draft = line(length_m=0.0)
    rows = tuple(replace(row, protocol=nmra) for row in draft.catalogue.protocols if row.protocol == "OPENPAIR")
    draft = with_catalogue(draft, protocols=(*draft.catalogue.protocols, *rows))
    draft = with_model(draft, "WS-70", draw_w=draw_w, protocol=nmra)
    draft = with_method(draft, "M-20", new_protocol=nmra, parts=())  # nothing to cure it with
    draft = with_model(draft, "GW-7", protocol=nmra)
    found = finding(draft, "current", conductor_c=20.0)
    assert (found.outcome, found.source) == (outcome, "NMRA S-9.7.1.1: 0.5 A a connector")
    assert check(draft.snapshot())


# NMRA S-9.7.1.1: 0.5 A a connector; 11.8 W at 24 V draw 0.492 A, 12.1 W 0.504 A, and no lead of ours carries them
@pytest.mark.parametrize(("draw_w", "outcome"), [(11.8, CLOSE), (12.1, FAIL)])
def test_the_limit_of_a_connector_binds_a_run_that_ends_in_one_without_a_lead(draw_w: float, outcome: Outcome) -> None:
    nmra = "CAN over RJ45 (NMRA S-9.7.1.1)"
    draft = without_leads(line(length_m=0.0))
    rows = tuple(replace(row, protocol=nmra) for row in draft.catalogue.protocols if row.protocol == "OPENPAIR")
    draft = with_catalogue(draft, protocols=(*draft.catalogue.protocols, *rows))
    draft = with_model(draft, "WS-70", draw_w=draw_w, protocol=nmra)
    draft = with_method(draft, "M-20", new_protocol=nmra, parts=())
    found = finding(with_model(draft, "GW-7", protocol=nmra), "current", conductor_c=20.0)
    assert (found.outcome, found.source) == (outcome, "NMRA S-9.7.1.1: 0.5 A a connector")
    assert check(with_model(draft, "GW-7", protocol=nmra).snapshot())


# 24 AWG solid: 0.2047 mm2 x 4 A/mm2 = 0.8189 A.
@pytest.mark.parametrize(("draw_w", "outcome"), [(19.6, CLOSE), (19.7, FAIL)])
def test_conductors_carry_their_current(draw_w: float, outcome: Outcome) -> None:
    draft = with_model(without_leads(line(length_m=0.0, cable="2x2 24AWG")), "WS-70", draw_w=draw_w)
    assert finding(draft, "current").outcome is outcome


# 4 A/mm2 (common practice): 30 AWG, 0.0509 mm2, carries 0.204 A; at 24 V that is 4.9 W in one pair of a lead
@pytest.mark.parametrize(("draw_w", "outcome"), [(4.0, PASS), (5.2, FAIL)])
def test_conductors_of_a_patch_lead_carry_their_current_too(draw_w: float, outcome: Outcome) -> None:
    draft = with_cable(line(), "Cat 6 patch", power_conductor="30 AWG", conductor_class="solid", power_pairs=1)
    method = next(one for one in draft.catalogue.methods if one.key == "M-20")
    draft = with_method(draft, "M-20", parts=tuple(part for part in method.parts if part.when == "always"))
    found = finding(with_model(draft, "WS-70", draw_w=draw_w), "current")
    assert (found.outcome, found.limit) == (outcome, pytest.approx(0.204, abs=0.001))


def test_a_local_supply_takes_the_station_off_the_wire() -> None:
    found = report(fed(200.0), conductor_c=20.0)
    assert (found.verdict, found.extras) == ("in place", ("local supply",))
    assert found.voltages == ()


def test_a_staying_node_is_a_load_too() -> None:
    # sensor of 0.5 W that needs 23.9 V behind the station: it fails though the station does not
    draft = with_model(line(), "SN-5", lowest_supply_v=23.9)
    draft.node("SN", "SN-5", "L1")
    draft.run("R-SN", "L1", ("B1-S101", "SN"), cable="2x2 18AWG", length_m=40.0)
    found = finding(draft, "voltage")
    assert found.outcome is FAIL
    assert found.why.startswith("SN gets")


def test_where_nothing_leads_from_the_source_to_a_load_the_wiring_is_asked_for() -> None:
    draft = line()
    draft.runs = [run for run in draft.runs if run.key != "R-B1-S101"]
    found = report(draft)
    assert found.verdict == "survey first"
    assert "Which run reaches B1-S101 (Bus L1)?" in found.questions


def test_predicted_voltages_stand_in_the_report() -> None:
    # 20 W behind 100 m x 0.0242 ohm/m: 21.7775 V, 0.91838 A
    (load,) = report(fed(100.0), conductor_c=20.0).voltages
    assert load.node == "B1-S101"
    assert load.voltage_v == pytest.approx(21.7775, abs=1e-4)
    assert load.current_a == pytest.approx(0.91838, abs=1e-5)


def test_a_source_draws_nothing_through_the_wires() -> None:
    assert finding(with_model(line(), "GW-7", draw_w=500.0), "voltage").outcome is PASS


def test_a_junction_of_unknown_draw_is_asked_about() -> None:
    draft = with_model(line(), "JB-1", draw_w=None)
    draft.node("J", "JB-1", "L1")
    draft.run("R-J", "L1", ("L1-G", "J"), cable="2x2 18AWG", length_m=1.0)
    draft = with_run(draft, "R-B1-S101", from_node="J")
    assert finding(draft, "voltage").missing == ("Draw of model JB-1", "Lowest supply of model JB-1")
