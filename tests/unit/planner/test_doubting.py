"""Facts that nobody recorded: by hand, where both ends of what they may be give one verdict, and where they do not."""

from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest

from inventory.core.catalogue import Cable, MethodPart
from inventory.core.conductors import parse_conductor
from planner.core.brief import Brief
from planner.core.doubting.facts import facts_of, lacking
from planner.core.doubting.ranges import MOST_PAIRS, RANGES, THICKEST, End, Of, best_cable
from planner.core.findings import CONVERTIBLE, Outcome, SegmentReport
from planner.core.rules.settle import settle
from planner.core.segments import find_segments
from planner.core.verdicts import Campus, cases_of
from tests.campus_catalogue import CABLES
from tests.campuses import Draft, add_station
from tests.unit.planner.lines import line, report, with_cable, with_method, with_model, with_node, with_row, with_run


def without_local(draft: Draft) -> Draft:
    """Let method M-20 list no local supply, so that nothing cures a voltage that is too low."""
    method = next(one for one in draft.catalogue.methods if one.key == "M-20")
    return with_method(draft, "M-20", parts=tuple(part for part in method.parts if part.when == "always"))


def picky(length_m: float, **run: Any) -> Draft:
    """A station that needs 23.9 of the source's 24 V."""
    draft = with_model(without_local(line(length_m=length_m)), "WS-70", lowest_supply_v=23.9)
    return with_run(draft, "R-B1-S101", **run)


# Best cable: 11 AWG is 4.17 mm2, 1 / (58 x 4.17) = 4.14 milliohm a metre at 20 C, 4.62 at 50 C; out and back with three
# pairs in parallel 3.08. Two leads of 1 m have 0.21 ohm. 3 W at 24 V are 0.125 A, so that 0.1 V fall along 0.8 ohm:
# 400 m are 1.23 + 0.21 = 1.44 ohm, too much with any cable; 100 m are 0.31 + 0.21 = 0.52 ohm, so that it depends.
@pytest.mark.parametrize(("length_m", "verdict"), [(400.0, "new cable"), (100.0, "survey first")])
def test_a_cable_that_is_not_known_is_asked_for_only_where_the_best_there_is_would_do(
    length_m: float, verdict: str
) -> None:
    found = report(picky(length_m, cable=None))
    question = "Cable of run R-B1-S101 (Bus L1)"
    assert found.verdict == verdict
    assert (f"{question}?" in found.questions) == (verdict == "survey first")
    assert (question in found.not_asked) == (verdict != "survey first")


def test_a_verdict_that_holds_whatever_is_not_known_says_so() -> None:
    found = report(picky(400.0, cable=None))
    assert found.decided_by == "voltage"
    assert "That is at the best that may be of: Cable of run R-B1-S101 (Bus L1)." in found.why
    assert found.why.endswith("no answer would make it convertible: Cable of run R-B1-S101 (Bus L1).")


def test_a_length_is_not_asked_for_where_the_cable_has_no_pair_for_data() -> None:
    found = report(with_run(line(cable="bell wire"), "R-B1-S101", length_m=None))
    assert (found.verdict, found.decided_by) == ("new cable", "cable")
    assert found.questions == ()
    assert found.why == (
        "bell wire has no data pair. Not known, and no answer would make it convertible: "
        "Length of run R-B1-S101 (Bus L1)."
    )


# 130 V is above extra-low voltage: no source of a wall station's bus gives it. 24 V may be had.
@pytest.mark.parametrize(("lowest_v", "verdict"), [(130.0, "new cable"), (12.0, "survey first")])
def test_the_voltage_of_a_source_is_asked_for_only_where_some_source_would_do(lowest_v: float, verdict: str) -> None:
    draft = with_model(without_local(line()), "GW-7", supply_v=None)
    found = report(with_model(draft, "WS-70", lowest_supply_v=lowest_v))
    assert found.verdict == verdict
    assert ("Supply of model GW-7?" in found.questions) == (verdict == "survey first")


@pytest.mark.parametrize(("used", "verdict"), [(0, "in place"), (1, "survey first")])
def test_what_the_new_station_can_do_is_not_asked_for_where_nothing_of_it_is_in_use(used: int, verdict: str) -> None:
    found = report(with_model(with_node(line(), "B1-S101", scenes_used=used), "WS-70", scenes=None))
    assert found.verdict == verdict
    assert ("Scenes of model WS-70" in found.not_asked) == (used == 0)
    finding = next(one for one in found.findings if one.rule == "functions")
    assert finding.outcome is (Outcome.PASS if used == 0 else Outcome.UNKNOWN)


def ring() -> Draft:
    """A sensor beside the station, wired to it and to the gateway: the three runs close a loop."""
    draft = line()
    draft.node("X", "SN-5", "L1")
    for number, origin in enumerate(("B1-S101", "L1-G")):
        draft.run(f"R-X{number}", "L1", (origin, "X"), cable="2x2 18AWG", length_m=5.0)
    return draft


def test_which_layout_a_bus_allows_is_asked_for_only_where_the_wiring_is_more_than_a_line() -> None:
    plain, looped = report(with_row(line(), layout=None)), report(with_row(ring(), layout=None))
    assert (plain.verdict, plain.not_asked) == ("in place", ("Layout of protocol OPENPAIR",))
    assert plain.why.endswith("That holds whatever is not known: Layout of protocol OPENPAIR.")
    assert "Layout of protocol OPENPAIR?" in looped.questions


# An answer that decides whether money is spent on an extra changes the verdict: box adapter or not, local supply or not.
def test_a_fact_that_decides_about_an_extra_is_asked_for() -> None:
    small = with_node(line(model="WS-21"), "B1-S101", box_gangs=None)
    small = with_model(small, "WS-21", box_gangs=None)
    assert report(small).questions == ("Box gangs at B1-S101?",)
    assert report(with_model(line(), "WS-70", draw_w=None)).questions == ("Draw of model WS-70?",)


def two_models(*, draw_w: float | None, length_m: float = 400.0) -> Draft:
    """A WS-20 whose thin wire needs a local supply, and a WS-21 before it whose new station draws nobody knows what."""
    draft = line(length_m=5.0, model="WS-21", zones_used=4)
    add_station(draft, "L1", "B1-S102", "B1-S101", length_m=length_m, cable="2x2 24AWG")
    models = {model.key: model for model in draft.catalogue.models}
    big = replace(models["WS-70"], key="WS-71", draw_w=draw_w)
    draft.catalogue = replace(draft.catalogue, models=(*draft.catalogue.models, big))
    local = MethodPart(part="P-1004", quantity=Decimal(1), per="station", when="local supply")
    m21 = next(one for one in draft.catalogue.methods if one.key == "M-21")
    return with_method(draft, "M-21", parts=(*m21.parts, local), new_model="WS-71", bit_rate_kbit_s=125.0)


def test_a_draw_is_not_asked_for_where_the_local_supply_is_needed_anyway() -> None:
    assert report(two_models(draw_w=3.0)).extras == ("local supply",)
    found = report(two_models(draw_w=None))
    assert (found.verdict, found.extras, found.questions) == ("together", ("local supply",), ())
    voltage = next(one for one in found.findings if one.rule == "voltage")
    assert (voltage.outcome, voltage.cured_by) == (Outcome.FAIL, "local supply")


def test_the_same_draw_is_asked_for_where_no_local_supply_is_needed() -> None:
    assert report(two_models(draw_w=None, length_m=10.0)).questions == ("Draw of model WS-71?",)


def test_of_two_facts_only_the_one_that_counts_is_asked_for() -> None:
    draft = with_run(
        with_model(with_node(line(), "B1-S101", scenes_used=0), "WS-70", scenes=None), "R-B1-S101", length_m=None
    )
    found = report(draft)
    assert found.questions == ("Length of run R-B1-S101 (Bus L1)?",)
    assert found.not_asked == ("Scenes of model WS-70",)
    assert found.why.endswith("Not asked, since no answer changes the verdict: Scenes of model WS-70.")


# With no length there is no drop, so that the conductor would make no difference; at 10 m it does. Asking for the length
# alone would send a surveyor out twice.
def test_facts_that_count_only_together_are_asked_for_together() -> None:
    draft = with_cable(without_local(line()), "2x2 18AWG", power_conductor=None)
    found = report(with_run(draft, "R-B1-S101", length_m=None))
    assert found.questions == ("Length of run R-B1-S101 (Bus L1)?", "Power conductor of cable 2x2 18AWG?")


# No source of 24 V feeds what needs 130 V, unless it draws nothing from the bus, as what is fed elsewhere does.
def test_a_draw_is_asked_for_where_a_station_that_draws_nothing_would_do() -> None:
    draft = with_model(without_local(line()), "WS-70", lowest_supply_v=130.0)
    assert report(draft).decided_by == "voltage"
    assert report(with_model(draft, "WS-70", draw_w=None)).questions == ("Draw of model WS-70?",)
    assert report(with_model(draft, "WS-70", draw_w=0.0)).verdict == "in place"


# 3 W through 480 m of 22 AWG need a local supply, and then no rating counts; 0.5 W through 18 AWG need none, and it does.
def test_a_fact_is_not_taken_for_needless_because_others_usually_call_for_an_extra() -> None:
    draft = with_model(line(length_m=480.0), "WS-70", draw_w=None)
    draft = with_cable(with_model(draft, "GW-7", supply_rating_w=None), "2x2 18AWG", power_conductor=None)
    assert "Supply rating of model GW-7?" in report(draft).questions


def test_a_segment_converts_with_a_neighbour_whose_missing_facts_change_nothing() -> None:
    draft = line()
    draft.bus("L2")
    add_station(draft, "L2", "B1-S102", "L1-G", model="WS-21", zones_used=0)
    draft = with_node(draft, "L1-G", buses=("L1", "B1-N0", "L2"))
    draft = with_node(with_node(draft, "B1-S101", zones_used=0), "B1-S102", zones_used=0, box_gangs=2)
    found = {one.segment: one for one in assess_all(with_model(draft, "WS-70", zones=None))}
    assert {found["L1"].verdict, found["L2"].verdict} == {"in place"}


def assess_all(draft: Draft) -> list[SegmentReport]:
    return [report(draft, segment) for segment in ("L1", "L2")]


def test_a_blank_about_the_wiring_is_never_reckoned_away() -> None:
    draft = with_row(line(), layout=None)
    draft.node("Y", "SN-5", "L1")
    found = report(draft)
    assert found.verdict not in CONVERTIBLE
    assert "Which run reaches Y (Bus L1)?" in found.questions


# The panel makes the line wait to be cleared. Where it is wired is open too: it may not be on this line at all.
def test_who_is_wired_to_whom_is_never_said_to_make_no_difference() -> None:
    draft = line()
    draft.node("P", "PN-1", "L1")
    found = report(with_run(draft, "R-B1-S101", length_m=None))
    assert found.verdict == "clear first"
    assert found.not_asked == ("Length of run R-B1-S101 (Bus L1)",)


# --- the table of ranges ---


def settled_of(draft: Draft) -> Any:
    snapshot = draft.snapshot()
    campus = Campus(snapshot, find_segments(snapshot), Brief())
    return settle(next(case for label, case in cases_of(campus) if campus.segments.key[label] == "L1"))


def lacking_everything() -> Draft:
    """A line on which every fact that has a range is blank."""
    draft = line()
    draft = with_node(draft, "B1-S101", box_gangs=None, zones_used=None, scenes_used=None, ends_bus=None)
    draft = with_model(draft, "WS-20", box_gangs=None, zones=None, scenes=None, ends_bus=None)
    blank: dict[str, Any] = dict.fromkeys(("draw_w", "lowest_supply_v", "unit_loads", "ends_bus", "box_gangs"))
    draft = with_model(draft, "WS-70", **blank, zones=None, scenes=None)
    draft = with_model(draft, "GW-7", supply_rating_w=None)
    draft.node("J", "JB-1", "L1")
    draft = with_run(draft, "R-B1-S101", from_node="J", length_m=None)
    draft.run("R-J", "L1", ("L1-G", "J"), cable=None, length_m=3.0)
    for key in ("2x2 18AWG",):
        draft = with_cable(draft, key, power_conductor=None, power_pairs=None, data_pairs=None, impedance_ohm=None)
    return with_row(draft, layout=None)


def test_every_fact_with_a_range_is_recognised_by_the_words_of_the_rules() -> None:
    drafts = [
        lacking_everything(),
        with_model(
            with_node(line(), "B1-S101", zones_used=None, scenes_used=None, box_gangs=None),
            "WS-20",
            zones=None,
            scenes=None,
            box_gangs=None,
        ),
        with_model(line(), "GW-7", supply_v=None),
        with_cable(line(), "2x2 18AWG", power_conductor="thin"),
        with_method(line(), "M-20", patch_lead_m=None),
        with_method(line(), "M-20", patch_cable=None),
        with_row(with_row(line(), power_on_bus=False), 9.6, "PAIRBUS", power_on_bus=None),
        with_cable(with_row(line(), data_conductor="24 AWG"), "2x2 18AWG", data_conductor=None),
    ]
    asked = {fact.range.asked for draft in drafts for fact in facts_of(settled_of(draft))}
    assert asked == {row.asked for row in RANGES}


def test_what_has_no_range_is_left_to_be_asked() -> None:
    settled = settled_of(with_model(line(), "WS-70", protocol=None))
    assert lacking(settled) == {"Protocol of model WS-70"}
    assert facts_of(settled) == ()


def test_the_best_cable_is_at_least_as_good_as_any_of_the_catalogue() -> None:
    thick = Cable(key="rod", power_conductor="10 mm2", conductor_class="solid", power_pairs=7)
    assert best_cable((*CABLES, thick)).power_conductor == "10 mm2"
    assert best_cable((*CABLES, thick)).power_pairs == 7
    found = best_cable(CABLES)
    assert (found.power_conductor, found.power_pairs) == (THICKEST, MOST_PAIRS)
    assert found.data_pairs is None


# IEC 60999-1 and makers' sheets give 4 mm2 as the most of small terminals (from memory); 11 AWG is the next gauge above.
def test_the_thickest_conductor_is_more_than_a_bus_terminal_takes() -> None:
    assert 4.0 < parse_conductor(THICKEST).area_mm2 < 4.3


def test_every_row_says_why_and_has_a_value_for_each_of_its_cells() -> None:
    for row in RANGES:
        assert row.reason
        assert "{}" in row.asked
        assert len(row.best) == len(row.usual) == len(row.cells)
        assert row.worst is None or set(row.at(End.WORST)) == set(row.cells)
    assert {row.of for row in RANGES} == set(Of)
