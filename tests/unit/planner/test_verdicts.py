"""Verdicts: every one reached, in the order in which they decide, and the choice between methods."""

from dataclasses import replace
from decimal import Decimal
from typing import Any

import numpy as np
import pytest

from inventory.core.catalogue import MethodPart
from planner.core.brief import Brief
from planner.core.findings import CONVERTIBLE, Outcome, Verdict
from planner.core.rules import RULES
from planner.core.verdicts import assess
from tests.campus_catalogue import METHODS, catalogue
from tests.campuses import Draft, add_station, hand_campus, random_campus
from tests.unit.planner.lines import line, report, with_catalogue, with_method, with_model, with_node


def test_the_campus_by_hand_reaches_every_verdict() -> None:
    found = {one.segment: str(one.verdict) for one in assess(hand_campus(), Brief())}
    assert found == {
        "B1-L01": "in place",
        "B1-L02": "together",
        "B1-L03": "clear first",
        "B1-L04": "new cable",
        "B1-L05": "other method",
        "B1-L06": "survey first",
        "B1-N0": "leave",
        "B2-L01": "survey first",
        "B2-L03": "in place",
        "B2-L05": "in place",
        "B2-L06": "in place",
        "B2-L07": "in place",
        "B2-N0": "leave",
        "B3-L01": "survey first",
        "B3-N0": "leave",
        "B3-S199": "survey first",
    }
    assert set(found.values()) == {str(verdict) for verdict in Verdict}


def test_a_report_says_all_that_later_stages_need() -> None:
    found = report(line())
    assert (found.building, found.buses, found.gateways, found.old_stations) == ("B1", ("L1",), ("L1-G",), ("B1-S101",))
    assert (found.nodes, found.runs, found.others) == (("B1-S101", "L1-G"), ("R-B1-S101",), ())
    assert (found.methods, found.new_protocol, found.bit_rate_kbit_s) == ((("B1-S101", "M-20"),), "OPENPAIR", 125.0)
    assert (found.places, found.gateway_neighbours) == ((("B1", "101"),), ("B1-N0",))
    assert (found.cable_ends, found.wire_m) == (2, 40.0)
    assert [one.rule for one in found.findings] == [rule.code for rule in RULES]


@pytest.mark.parametrize("rogue", [False, True])
def test_what_converts_has_no_finding_that_fails_uncured_or_is_unknown(rogue: Any) -> None:
    for one in assess(random_campus(3, 1500, rogue=rogue), Brief()):
        if one.verdict in CONVERTIBLE:
            assert all(f.outcome is not Outcome.UNKNOWN for f in one.findings)
            assert all(f.cured_by in one.extras for f in one.findings if f.outcome is Outcome.FAIL)
            assert one.questions == ()
            assert one.decided_by is None
        elif one.verdict is Verdict.SURVEY_FIRST:
            assert one.questions


def test_new_cable_decides_before_other_method() -> None:
    found = report(line(length_m=600.0, zones_used=99, model="WS-21"))
    assert (found.verdict, found.decided_by) == ("new cable", "length")


def test_clear_first_decides_before_new_cable() -> None:
    draft = line(length_m=600.0)
    draft.node("X", "PN-1", "L1")
    draft.run("R-X", "L1", ("B1-S101", "X"), cable="2x2 18AWG", length_m=5.0)
    assert report(draft).verdict == "clear first"


def test_a_known_fail_decides_before_a_missing_fact_which_is_then_not_asked() -> None:
    found = report(line(length_m=None, zones_used=99, model="WS-21"))
    assert (found.verdict, found.questions) == ("other method", ())


def test_a_fact_that_cannot_change_the_answer_is_not_asked() -> None:
    # the old station has eight zones and so has the new one: how many are in use is of no consequence
    assert report(line(zones_used=None)).verdict == "in place"


def second_method(**facts: object) -> Draft:
    draft = line()
    other = replace(METHODS[0], key="M-20-B", **facts)  # type: ignore[arg-type]
    return with_catalogue(draft, methods=(METHODS[0], other, METHODS[1]))


def test_of_two_methods_that_convert_the_cheaper_one_wins() -> None:
    # M-20: station 210, gateway 480, two ends x (7.40 + 2.10) = 709.00; M-20-B leaves the breakouts out
    cheaper = second_method(parts=METHODS[0].parts[2:])
    assert report(cheaper).methods == (("B1-S101", "M-20-B"),)
    dearer = second_method(parts=(*METHODS[0].parts, MethodPart(part="P-2070", quantity=Decimal(1), per="station")))
    assert report(dearer).methods == (("B1-S101", "M-20"),)


def test_an_unknown_price_comes_after_a_known_one() -> None:
    unknown = second_method(parts=(MethodPart(part="P-9", quantity=Decimal(1), per="station"),))
    assert report(unknown).methods == (("B1-S101", "M-20"),)


def test_a_method_that_does_not_convert_loses_to_one_that_does() -> None:
    cheap_but_wrong = second_method(parts=(), old_gateway_model="GW-7")
    assert report(cheap_but_wrong).methods == (("B1-S101", "M-20"),)


def test_the_brief_can_prefer_and_forbid_methods() -> None:
    cheaper = second_method(parts=METHODS[0].parts[2:])
    assert report(cheaper, preferred_methods=("M-20",)).methods == (("B1-S101", "M-20"),)
    assert report(cheaper, forbidden_methods=("M-20-B",)).methods == (("B1-S101", "M-20"),)
    none = report(cheaper, forbidden_methods=("M-20", "M-20-B"))
    assert (none.verdict, none.old_stations) == ("other method", ("B1-S101",))
    assert "WS-20" in none.why


def mixed() -> Draft:
    draft = line()
    add_station(draft, "L1", "B1-S102", "B1-S101", model="WS-21", zones_used=4)
    return draft


def test_stations_under_different_methods_are_judged_by_their_own() -> None:
    found = report(mixed())
    assert (found.verdict, found.methods) == ("together", (("B1-S101", "M-20"), ("B1-S102", "M-21")))


@pytest.mark.parametrize(
    "facts", [{"new_protocol": "CAMPUSNET"}, {"new_gateway_model": "GW-2"}, {"bit_rate_kbit_s": 250.0}]
)
def test_methods_on_one_segment_must_agree(facts: Any) -> None:
    found = report(with_method(mixed(), "M-21", **facts))
    assert (found.verdict, found.decided_by) == ("other method", "gateway")
    assert "agree" in found.why


def test_a_lower_bit_rate_is_open_where_the_method_names_none() -> None:
    # M-21 names no rate: 250 kbit/s is tried first and allows 250 m, 125 kbit/s allows 500 m; 300 + 2 m of leads
    found = report(line(model="WS-21", length_m=300.0))
    assert (found.verdict, found.bit_rate_kbit_s, found.extras) == ("in place", 125.0, ("lower bit rate",))
    length = next(one for one in found.findings if one.rule == "length")
    assert (length.outcome, length.limit, length.cured_by) == (Outcome.FAIL, 250.0, "lower bit rate")
    short = report(line(model="WS-21", length_m=200.0))
    assert (short.bit_rate_kbit_s, short.extras) == (250.0, ())


def test_a_method_that_names_its_rate_is_held_to_it() -> None:
    named = with_method(line(model="WS-21", length_m=300.0), "M-21", bit_rate_kbit_s=250.0)
    assert report(named).verdict == "new cable"


def test_a_rate_between_two_rows_is_judged_by_the_faster_row_never_in_between() -> None:
    between = with_method(line(length_m=300.0), "M-20", bit_rate_kbit_s=200.0)
    assert (report(between).verdict, report(between).bit_rate_kbit_s) == ("new cable", 250.0)


def test_a_station_whose_model_no_method_replaces_is_not_old() -> None:
    assert report(with_node(line(), "B1-S101", model="WS-70")).verdict == "leave"


def test_an_empty_campus_has_no_reports() -> None:
    assert assess(Draft(catalogue=catalogue()).snapshot(), Brief()) == ()


def test_a_campus_without_a_catalogue_is_left() -> None:
    snapshot = hand_campus()
    nodes = replace(snapshot.nodes, model=np.full(len(snapshot.nodes), -1, dtype=np.int32))
    bare = replace(snapshot, nodes=nodes, catalogue=replace(snapshot.catalogue, models=(), methods=()))
    assert {one.verdict for one in assess(bare, Brief())} == {Verdict.LEAVE}


@pytest.mark.parametrize("value", [float("nan"), float("inf"), -1.0])
@pytest.mark.parametrize("fact", ["draw_w", "lowest_supply_v", "unit_loads"])
def test_a_figure_that_cannot_be_one_is_not_known(value: Any, fact: str) -> None:
    assert report(with_model(line(), "WS-70", **{fact: value})).verdict == "survey first"


@pytest.mark.parametrize("length_m", [float("nan"), float("inf"), -5.0])
def test_a_length_that_cannot_be_one_is_not_known(length_m: float) -> None:
    assert report(line(length_m=length_m)).verdict == "survey first"


def test_a_segment_of_very_many_nodes_gets_an_answer() -> None:
    draft = line()
    last = "B1-S101"
    for number in range(3000):
        draft.node(f"P{number:05d}", "SN-5", "L1")
        draft.run(f"RP{number:05d}", "L1", (last, f"P{number:05d}"), cable="2x2 18AWG", length_m=1.0)
        last = f"P{number:05d}"
    found = report(draft)
    assert (found.verdict, found.decided_by) == ("new cable", "length")
    assert len(found.why) < 500


def test_the_same_campus_gives_the_same_reports() -> None:
    assert assess(random_campus(5, 800, rogue=True), Brief()) == assess(random_campus(5, 800, rogue=True), Brief())
