"""Corners of the verdicts: gateways shared twice, methods that disagree, an empty campus, figures that are none, very many."""

from dataclasses import replace

import numpy as np
import pytest

from planner.core.brief import Brief
from planner.core.findings import Outcome, SegmentReport
from planner.core.verdicts import assess
from tests.campuses import Draft, add_station
from tests.unit.planner.lines import finding, line, report, with_method, with_model, with_node

FAIL = Outcome.FAIL


def test_two_lines_that_share_two_gateways_are_not_converted() -> None:
    draft = line()
    draft.bus("L2")
    draft.node("G2", "GW-2", "L1", "L2")
    draft.run("R-G2", "L1", ("B1-S101", "G2"), cable="2x2 18AWG", length_m=5.0)
    draft = with_node(draft, "L1-G", buses=("L1", "B1-N0", "L2"))
    add_station(draft, "L2", "B1-S102", "L1-G")
    draft.run("R-G2-2", "L2", ("B1-S102", "G2"), cable="2x2 18AWG", length_m=5.0)
    assert [str(report(draft, key).verdict) for key in ("L1", "L2")] == ["other method", "other method"]


def test_two_old_models_by_methods_that_disagree_are_another_method() -> None:
    draft = with_method(line(), "M-21", new_gateway_model="GW-9")
    add_station(draft, "L1", "B1-S102", "B1-S101", model="WS-21", length_m=5.0)
    assert report(draft).verdict == "other method"


def test_an_old_station_that_speaks_the_new_bus_too_is_still_an_old_station() -> None:
    draft = with_model(line(), "WS-20", protocol_2="OPENPAIR")
    add_station(draft, "L1", "B1-S102", "B1-S101", length_m=5.0)
    assert (report(draft).verdict, report(draft).old_stations) == ("together", ("B1-S101", "B1-S102"))


def test_a_campus_without_anything_has_no_verdict() -> None:
    assert assess(Draft(catalogue=line().catalogue).snapshot(), Brief()) == ()


@pytest.mark.parametrize("length_m", [np.nan, -1.0, np.inf, -np.inf])
def test_numbers_that_are_no_lengths_are_not_known_wherever_they_stand(length_m: float) -> None:
    snapshot = line().snapshot()
    runs = replace(snapshot.runs, length_m=np.full(len(snapshot.runs), length_m))
    found: SegmentReport = next(one for one in assess(replace(snapshot, runs=runs), Brief()) if one.segment == "L1")
    assert (found.verdict, found.wire_m) == ("survey first", None)


def test_a_line_of_very_many_stations_is_judged_in_one_go() -> None:
    draft = line()
    for number in range(2, 3000):
        add_station(
            draft, "L1", f"B1-S{number:05d}", f"B1-S{number - 1:05d}" if number > 2 else "B1-S101", length_m=0.1
        )
    found = report(draft)
    assert (found.verdict, len(found.old_stations)) == ("new cable", 2999)
    assert finding(draft, "nodes").outcome is FAIL
