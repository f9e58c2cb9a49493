"""What goes dark while segments are converted."""

from dataclasses import replace

import pytest

from planner.core.brief import Brief
from planner.core.impact import dark_rooms, network_of
from planner.core.verdicts import assess
from tests.campuses import Draft, add_line, add_station, hand_campus
from tests.unit.planner.lines import line, with_node


def dark(draft: Draft, *segments: str) -> tuple[tuple[str, str], ...]:
    snapshot = draft.snapshot()
    return dark_rooms(snapshot, assess(snapshot, Brief()), segments)


def test_the_room_of_the_station_that_is_converted_is_dark() -> None:
    assert dark(line(), "L1") == (("B1", "101"),)


def test_the_gateway_is_out_and_with_it_its_other_lines() -> None:
    draft = line()
    add_line(draft, "L2", gateway="L1-G")
    draft = with_node(draft, "L1-G", buses=("L1", "B1-N0", "L2"))
    add_station(draft, "L2", "B1-S202", "L1-G")
    add_station(draft, "L3", "B1-S303", add_line(draft, "L3"))  # its own gateway: stays lit
    draft.node("B1-C2", "CT-1", "B1-N0")
    draft.run("R-C2", "B1-N0", ("B1-C1", "B1-C2"), cable="Cat 6 patch", length_m=3.0)
    assert dark(draft, "L1") == (("B1", "101"), ("B1", "202"))


def commanded(panel_line: str) -> Draft:
    """A station on L1 that commands a panel on another line, and two more lines."""
    draft = line()
    for name in ("L2", "L3"):
        add_station(draft, name, f"B1-S{name[-1]}0{name[-1]}", add_line(draft, name))
    draft.node("P", "PN-1", panel_line)
    draft.run("R-P", panel_line, (f"{panel_line}-G", "P"), cable="2x2 18AWG", length_m=5.0)
    draft.zones = [("B1-S101", "1", "P")]
    return draft


def test_a_room_is_dark_when_the_panel_it_commands_is_on_the_dead_line() -> None:
    assert dark(commanded("L2"), "L2") == (("B1", "101"), ("B1", "202"))
    assert dark(commanded("L3"), "L2") == (("B1", "202"),)


def test_a_station_that_reaches_all_its_panels_stays_lit_even_on_an_island() -> None:
    # When the backbone dies all gateways are out. L1 keeps its own panel, L2 is the largest part, L3 is cut off.
    draft = commanded("L1")
    add_station(draft, "L2", "B1-S212", "L2-G")
    add_station(draft, "L2", "B1-S213", "B1-S212")
    assert dark(draft, "B1-N0") == (("B1", "303"),)


def test_where_no_panel_is_recorded_the_largest_remaining_part_of_the_building_counts() -> None:
    # gateway L2-G hangs behind a second gateway H from the backbone: while H's line L9 is dead, L2 is cut off
    draft = line()
    draft.bus("L9", protocol="CAMPUSNET")
    draft.node("H", "GW-2", "B1-N0", "L9")
    draft.node("K", "GW-2", "L9", "L2")
    draft.bus("L2")
    add_station(draft, "L2", "B1-S202", "K")
    draft.node("C", "CT-1", "L9")
    assert dark(draft, "L9") == (("B1", "202"),)
    assert dark(draft, "L1") == (("B1", "101"),)


def test_a_room_that_never_reached_its_panel_loses_nothing() -> None:
    draft = commanded("L3")
    draft.nodes = [replace(row, buses=()) if row.key == "P" else row for row in draft.nodes]
    draft.runs = [run for run in draft.runs if run.key != "R-P"]
    assert dark(draft, "L2") == (("B1", "202"),)


def test_several_segments_are_dark_at_once() -> None:
    draft = commanded("L3")
    assert dark(draft, "L1", "L2") == (("B1", "101"), ("B1", "202"))


def test_a_network_is_asked_many_times_and_says_the_same_as_the_function() -> None:
    snapshot = hand_campus()
    reports = assess(snapshot, Brief())
    network = network_of(snapshot, reports)
    for report in reports:
        assert network.dark_rooms((report.segment,)) == dark_rooms(snapshot, reports, (report.segment,))


def test_a_segment_that_does_not_exist_is_refused_by_name() -> None:
    with pytest.raises(KeyError, match="L77"):
        dark(line(), "L77")


def test_nothing_converted_nothing_dark() -> None:
    assert dark(line()) == ()


def test_a_panel_that_the_records_join_to_nothing_counts_as_none_recorded() -> None:
    # as above, but the station cut off commands a panel of which no bus is recorded
    draft = line()
    draft.bus("L9", protocol="CAMPUSNET")
    draft.node("H", "GW-2", "B1-N0", "L9")
    draft.node("K", "GW-2", "L9", "L2")
    draft.bus("L2")
    add_station(draft, "L2", "B1-S202", "K")
    draft.node("C", "CT-1", "L9")
    draft.node("P", "PN-1")
    draft.zones = [("B1-S202", "1", "P")]
    assert dark(draft, "L9") == (("B1", "202"),)
