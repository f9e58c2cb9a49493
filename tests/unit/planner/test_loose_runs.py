"""Runs whose bus or an end nobody recorded are asked for where they may be, and nowhere else."""

from typing import Any

import pytest

from planner.core.findings import CONVERTIBLE
from tests.campuses import Draft, add_line, add_station
from tests.unit.planner.lines import line, report, with_node


def two_buildings() -> Draft:
    """A line L1 in B1 and a line L2 in B2, each on the backbone of its building; both convert."""
    draft = line()
    draft.building("B2")
    draft.bus("B2-N0", "B2", "CAMPUSNET")
    draft.node("B2-C1", "CT-1", "B2-N0", building="B2")
    add_station(draft, "L2", "B2-S101", add_line(draft, "L2", building="B2"), building="B2")
    return draft


def asked(draft: Draft, segment: str) -> bool:
    """Tell whether a segment waits for the run; where it does not, it converts."""
    found = report(draft, segment)
    waits = any("run R-LOOSE" in question for question in found.questions)
    assert waits != (found.verdict in CONVERTIBLE)
    return waits


@pytest.mark.parametrize(
    ("bus", "ends", "waiting"),
    [
        ("L1", (None, None), ["L1"]),  # on bus L1, which runs in B1
        ("L1", ("L1-G", None), ["L1"]),
        (None, ("L1-G", "B1-S101"), ["L1"]),  # both ends in B1
        (None, ("B2-S101", None), ["L2"]),
        (None, ("L1-G", "B2-S101"), ["L1", "L2"]),
        (None, (None, None), ["L1", "L2"]),  # nobody knows anything
    ],
)
def test_a_run_of_which_something_is_not_known_is_asked_for_where_it_may_be(
    bus: str | None, ends: tuple[Any, Any], waiting: list[str]
) -> None:
    draft = two_buildings()
    draft.run("R-LOOSE", bus, ends, cable="2x2 18AWG", length_m=9.0)
    assert [segment for segment in ("L1", "L2") if asked(draft, segment)] == waiting


def test_an_end_at_a_node_whose_bus_runs_elsewhere_reaches_that_building_too() -> None:
    draft = with_node(two_buildings(), "L1-G", buses=("L1", "B1-N0", "L2"))
    draft.run("R-LOOSE", None, ("L1-G", None), cable="2x2 18AWG", length_m=9.0)
    assert any("run R-LOOSE" in question for question in report(draft, "L2").questions)


def test_a_run_that_ends_in_a_building_may_be_on_lines_that_have_a_node_there() -> None:
    draft = with_node(two_buildings(), "B1-S101", building="B2")
    draft.run("R-LOOSE", None, ("B2-S101", None), cable="2x2 18AWG", length_m=9.0)
    assert any("run R-LOOSE" in question for question in report(draft, "L1").questions)
