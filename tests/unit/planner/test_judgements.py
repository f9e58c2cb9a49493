"""Columns of verdicts where segments bear on each other, and extras of which one makes another needless."""

from dataclasses import replace
from decimal import Decimal

from inventory.core.catalogue import MethodPart
from planner.core.brief import Brief
from planner.core.judgements import NOTHING, VERDICTS, judge
from planner.core.verdicts import assess
from tests.campuses import Draft, add_line, add_station, hand_campus
from tests.laws.test_law_screen import check
from tests.unit.planner.lines import line, report, with_catalogue, with_method, with_model, with_node


def two_lines_of_one_gateway() -> Draft:
    """Return L1 and L2, each with a station, on gateway L1-G, whose successor does not speak their old bus."""
    draft = line()
    add_line(draft, "L2", gateway="L1-G")
    place = next(place for place, row in enumerate(draft.nodes) if row.key == "L1-G")
    draft.nodes[place] = replace(draft.nodes[place], buses=("L1", "B1-N0", "L2"))
    add_station(draft, "L2", "B1-S102", "L1-G")
    return draft


def test_two_lines_of_one_gateway_convert_together() -> None:
    draft = two_lines_of_one_gateway()
    assert [report(draft, key).verdict for key in ("L1", "L2")] == ["in place", "in place"]


def test_a_line_waits_for_a_survey_of_the_other_line_of_its_gateway() -> None:
    # the second run beside the first leaves open who is on L2; that alone decides about L1
    draft = two_lines_of_one_gateway()
    draft.run("R-TWIN", "L2", ("L1-G", "B1-S102"), cable="2x2 18AWG", length_m=40.0)
    assert (report(draft, "L2").verdict, report(draft, "L2").decided_by) == ("survey first", "records")
    assert (report(draft, "L1").verdict, report(draft, "L1").decided_by) == ("survey first", "gateway")


def test_a_line_that_cannot_convert_holds_the_other_line_of_its_gateway_back() -> None:
    draft = two_lines_of_one_gateway()
    draft.node("B1-P1", "PN-1", "L2")
    draft.run("R-P1", "L2", ("B1-S102", "B1-P1"), cable="2x2 18AWG", length_m=5.0)
    assert report(draft, "L2").verdict == "clear first"
    assert (report(draft, "L1").verdict, report(draft, "L1").decided_by) == ("other method", "gateway")


def test_a_fact_that_cannot_change_the_verdict_of_one_line_does_not_hold_the_other_line_back() -> None:
    # how many zones the new station of L2 has nobody knows, and none is in use there: even none would do
    draft = two_lines_of_one_gateway()
    new = next(model for model in draft.catalogue.models if model.key == "WS-70")
    draft = with_catalogue(draft, models=(*draft.catalogue.models, replace(new, key="WS-80", zones=None)))
    draft = with_method(draft, "M-21", new_model="WS-80", bit_rate_kbit_s=125.0)
    draft = with_node(draft, "B1-S102", model="WS-21", zones_used=0)
    assert [report(draft, key).verdict for key in ("L2", "L1")] == ["in place", "in place"]


def test_an_extra_that_another_makes_needless_is_left_out() -> None:
    # 40 W over 5 m: more than a contact of two carries (0.83 A of 0.75 A) and more than 40 W less 20 % give. A larger supply
    # cures the second and a local supply the first, with which nothing is drawn from the bus any more
    extras = tuple(
        MethodPart(part="P-1004", quantity=Decimal(1), per="station", when=extra)
        for extra in ("local supply", "larger supply")
    )
    draft = with_method(line(length_m=5.0), "M-20", parts=extras)
    draft = with_model(with_model(draft, "WS-70", draw_w=40.0), "GW-7", supply_rating_w=40.0)
    assert report(draft).extras == ("local supply",)
    assert check(draft.snapshot())


def test_columns_stand_in_the_order_of_the_keys_and_reports_come_in_the_order_asked_for() -> None:
    snapshot = hand_campus()
    judgements, reports = judge(snapshot, Brief()), assess(snapshot, Brief())
    assert judgements.key == tuple(one.segment for one in reports)
    labels = (7, 2, 5)
    assert judgements.reports(labels) == tuple(reports[label] for label in labels)
    assert judgements.reports() == reports


def test_a_segment_without_old_stations_is_left_and_no_rule_decides() -> None:
    judgements = judge(hand_campus(), Brief())
    label = judgements.key.index("B1-N0")
    assert VERDICTS[judgements.verdict[label]] == "leave"
    assert judgements.decided_by[label] == NOTHING
    assert judgements.stations[label] == 0


def test_a_station_whose_methods_are_all_forbidden_waits_for_another_method() -> None:
    judgements = judge(hand_campus(), Brief(forbidden_methods=("M-20",)))
    assert judgements.verdict_of(judgements.key.index("B1-L01")) == ("other method", "gateway")
