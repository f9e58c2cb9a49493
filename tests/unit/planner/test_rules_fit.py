"""Rules about the equipment: nodes, box, functions."""

from dataclasses import replace
from typing import Any

import pytest

from planner.core.findings import Outcome
from tests.campuses import Draft
from tests.unit.planner.lines import finding, line, report, with_model, with_node, with_row

PASS, CLOSE, FAIL, UNKNOWN = Outcome.PASS, Outcome.CLOSE, Outcome.FAIL, Outcome.UNKNOWN


# Gateway and station are two nodes; junctions and supplies say nothing. 10 % of 3 is 0.3, of 2 is 0.2.
@pytest.mark.parametrize(("most", "outcome"), [(3, PASS), (2, CLOSE), (1, FAIL), (None, UNKNOWN)])
def test_nodes_are_counted_without_junctions_and_supplies(most: Any, outcome: Outcome) -> None:
    draft = with_row(line(), most_nodes=most, most_unit_loads=None)
    draft.node("J", "JB-1", "L1")
    draft.run("R-J", "L1", ("B1-S101", "J"), cable="2x2 18AWG", length_m=1.0)
    assert finding(draft, "nodes").outcome is outcome


# Gateway 1 and station 0.25 unit loads.
@pytest.mark.parametrize(("most", "outcome"), [(1.4, PASS), (1.25, CLOSE), (1.24, FAIL)])
def test_unit_loads_are_summed(most: Any, outcome: Outcome) -> None:
    found = finding(with_row(line(), most_unit_loads=most), "nodes")
    assert (found.outcome, found.measured) == (outcome, 1.25) if outcome is not PASS else found.outcome is PASS


def test_unit_loads_are_asked_for_only_where_the_bus_limits_them() -> None:
    draft = with_model(line(), "WS-70", unit_loads=None)
    assert finding(draft, "nodes").missing == ("Unit loads of model WS-70",)
    assert finding(with_row(draft, most_unit_loads=None), "nodes").outcome is PASS


def test_unit_loads_past_the_limit_fail_whatever_is_not_known() -> None:
    draft = with_row(with_model(line(), "WS-70", unit_loads=None), most_unit_loads=0.9)  # the gateway alone is 1
    assert finding(draft, "nodes").outcome is FAIL


@pytest.mark.parametrize(
    ("opening", "old", "outcome"),
    [
        (2, 2, PASS),
        (1, 2, CLOSE),  # the old station needs two gangs and sits there: one of the two records is a slip
        (None, 2, PASS),
        (1, 1, FAIL),
        (None, 1, FAIL),
        (1, None, FAIL),
        (3, 1, PASS),
        (None, None, UNKNOWN),
    ],
)
def test_the_opening_must_take_the_new_station(opening: Any, old: Any, outcome: Outcome) -> None:
    draft = with_node(with_model(line(), "WS-20", box_gangs=old), "B1-S101", box_gangs=opening)
    assert finding(draft, "box").outcome is outcome


def test_an_opening_recorded_as_narrower_than_what_sits_in_it_is_told() -> None:
    draft = with_node(with_model(line(), "WS-20", box_gangs=2), "B1-S101", box_gangs=1)
    assert finding(draft, "box").why.endswith("recorded as 1 gang wide, and WS-20, which sits in it, is wider.")


def test_a_box_adapter_cures_a_small_opening_where_the_method_lists_one() -> None:
    small: dict[str, Any] = {"model": "WS-21", "box_gangs": 1}
    found = report(line(**small))
    assert (found.verdict, found.extras) == ("in place", ("box adapter",))
    box = next(one for one in found.findings if one.rule == "box")
    assert (box.outcome, box.cured_by, box.measured, box.limit) == (FAIL, "box adapter", 2.0, 1.0)


def test_the_box_of_a_new_station_that_nobody_knows_is_asked_for() -> None:
    assert finding(with_model(line(), "WS-70", box_gangs=None), "box").missing == ("Box gangs of model WS-70",)


def functions(used: int | None, old: int | None, new: int | None, rows: int = 0) -> Draft:
    draft = with_model(with_model(line(), "WS-20", zones=old), "WS-70", zones=new)
    draft.zones = [("B1-S101", str(number), None) for number in range(rows)]
    return with_node(draft, "B1-S101", zones_used=used)


@pytest.mark.parametrize(
    ("used", "old", "new", "rows", "outcome"),
    [
        (8, 16, 8, 0, PASS),
        (9, 16, 8, 0, FAIL),
        (None, 8, 8, 0, PASS),  # the old station has no more than eight
        (99, 8, 8, 0, CLOSE),  # nor can more be in use than it has: one of the two records is a slip
        (None, 16, 8, 0, UNKNOWN),
        (None, None, 8, 0, UNKNOWN),
        (None, None, 8, 9, FAIL),  # nine are written down
        (4, 16, 8, 9, FAIL),
        (6, 8, None, 0, UNKNOWN),
    ],
)
def test_zones_in_use_must_fit(used: Any, old: Any, new: Any, rows: Any, outcome: Outcome) -> None:
    assert finding(functions(used, old, new, rows), "functions").outcome is outcome


def test_more_zones_in_use_than_the_old_station_has_are_told() -> None:
    found = finding(functions(99, 8, 8), "functions")
    assert found.why.endswith("Look before: more zones are recorded in use than WS-20 has.")


def test_scenes_in_use_must_fit_too() -> None:
    draft = with_model(with_node(line(), "B1-S101", scenes_used=8), "WS-70", scenes=7)
    found = finding(draft, "functions")
    assert (found.outcome, found.measured, found.limit, found.unit) == (FAIL, 8.0, 7.0, "scenes")


def test_of_several_stations_the_one_that_does_not_fit_is_named() -> None:
    draft = line()
    draft.node("B1-S102", "WS-20", "L1", box_gangs=2, zones_used=1, scenes_used=1)
    draft.run("R2", "L1", ("B1-S101", "B1-S102"), cable="2x2 18AWG", length_m=10.0)
    draft.nodes = [replace(row, scenes_used=99) if row.key == "B1-S102" else row for row in draft.nodes]
    draft = with_model(draft, "WS-20", scenes=None)
    assert "B1-S102" in finding(draft, "functions").why
