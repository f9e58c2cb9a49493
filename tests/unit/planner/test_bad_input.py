"""Records that cannot be true, and segments that are far too large: a finding or an error in words, never a number."""

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from inventory.core.snapshot import Snapshot
from planner.core.brief import Brief
from planner.core.findings import CONVERTIBLE, Outcome, SegmentReport
from planner.core.judgements import judge
from tests.campus_catalogue import catalogue
from tests.campuses import Draft, add_line, add_station
from tests.unit.planner.lines import finding, line, report, with_cable, with_method, with_model, with_row

NOT_FIGURES = (math.nan, -1.0, math.inf, -math.inf)


def judged(snapshot: Snapshot, key: str = "L1") -> SegmentReport:
    """Return the report on a segment, after the columns have said the same."""
    judgements = judge(snapshot, Brief())
    label = judgements.key.index(key)
    found = judgements.report(label)
    assert judgements.verdict_of(label) == (found.verdict, found.decided_by)
    return found


def figures(found: SegmentReport) -> list[float]:
    """Return every number of a report."""
    of_findings = [value for one in found.findings for value in (one.measured, one.limit, one.margin)]
    of_loads = [value for one in found.voltages for value in (one.voltage_v, one.current_a)]
    return [value for value in (*of_findings, *of_loads, found.wire_m) if value is not None]


def with_length(draft: Draft, length_m: float) -> Snapshot:
    snapshot = draft.snapshot()
    lengths = snapshot.runs.length_m.copy()
    lengths[snapshot.runs.key.index("R-B1-S101")] = length_m
    return replace(snapshot, runs=replace(snapshot.runs, length_m=lengths))


@pytest.mark.parametrize("length_m", NOT_FIGURES)
def test_a_length_that_cannot_be_one_is_asked_for(length_m: float) -> None:
    found = judged(with_length(line(), length_m))
    assert found.verdict not in CONVERTIBLE
    assert found.wire_m is None
    assert any("Length of run R-B1-S101" in question for question in found.questions)
    assert all(math.isfinite(value) for value in figures(found))


@pytest.mark.parametrize("draw_w", [None, *NOT_FIGURES])
def test_a_model_without_a_draw_gives_no_voltage(draw_w: float | None) -> None:
    found = judged(with_model(line(), "WS-70", draw_w=draw_w).snapshot())
    assert found.verdict not in CONVERTIBLE
    assert [one.voltage_v for one in found.voltages if one.node == "B1-S101"] == [None]
    assert all(math.isfinite(value) for value in figures(found))


def test_a_supply_of_0_v_is_named_and_no_number_is_given() -> None:
    draft = with_method(with_model(line(), "GW-7", supply_v=0.0), "M-20", parts=())  # no local supply cures it
    for rule in ("voltage", "supply", "current"):
        one = finding(draft, rule)
        assert one.outcome is Outcome.FAIL
        assert "L1-G is recorded with 0 V" in one.why
        assert one.measured is None
    found = judged(draft.snapshot())
    assert found.verdict not in CONVERTIBLE
    assert all(one.voltage_v is None for one in found.voltages)


@pytest.mark.parametrize("field", ["supply_v", "supply_rating_w", "lowest_supply_v", "unit_loads"])
@pytest.mark.parametrize("value", NOT_FIGURES)
def test_a_figure_of_a_model_that_cannot_be_one_is_not_known(field: str, value: float) -> None:
    facts: dict[str, Any] = {field: value}
    for model in ("GW-7", "WS-70"):
        bad = report(with_model(line(), model, **facts))
        blank = report(with_model(line(), model, **{field: None}))
        assert bad == blank
        assert all(math.isfinite(figure) for figure in figures(bad))


@pytest.mark.parametrize("field", ["longest_bus_m", "most_unit_loads", "longest_stub_m", "lowest_impedance_ohm"])
@pytest.mark.parametrize("value", NOT_FIGURES)
def test_limits_with_a_figure_that_cannot_be_one_are_not_on_record(field: str, value: float) -> None:
    facts: dict[str, Any] = {field: value}
    # the row at the next higher rate, whose limits are stricter, would be taken in its place
    found = judged(with_row(with_row(line(), **facts), rate=250.0, **facts).snapshot())
    assert found.verdict not in CONVERTIBLE
    assert all(math.isfinite(figure) for figure in figures(found))


@pytest.mark.parametrize("value", NOT_FIGURES)
def test_a_patch_lead_or_impedance_that_cannot_be_one_is_not_known(value: float) -> None:
    for draft in (
        with_method(line(), "M-20", patch_lead_m=value),
        with_cable(line(), "2x2 18AWG", impedance_ohm=value),
        with_cable(line(), "2x2 18AWG", power_conductor="-1 mm2"),
    ):
        found = judged(draft.snapshot())
        assert found.verdict not in CONVERTIBLE
        assert all(math.isfinite(figure) for figure in figures(found))


@pytest.mark.parametrize("name", ["conductor_c", "reserve_pct", "supply_reserve_pct"])
def test_a_brief_with_a_setting_that_is_no_number_is_refused_by_name(name: str) -> None:
    facts: dict[str, Any] = {name: math.nan}
    with pytest.raises(ValueError, match=f"{name} of the brief is nan"):
        judge(line().snapshot(), Brief(**facts))


def long_segment(nodes: int, *, ring: bool, length_m: float = 1.0) -> Snapshot:
    draft = Draft(catalogue=catalogue())
    draft.building("B1")
    draft.bus("B1-N0", "B1", "CAMPUSNET")
    draft.node("B1-C1", "CT-1", "B1-N0")
    last = gateway = add_line(draft, "L1")
    for number in range(nodes):
        draft.node(f"J{number:06d}", "JB-1", "L1")
        draft.run(f"R{number:06d}", "L1", (last, f"J{number:06d}"), cable="2x2 18AWG", length_m=length_m)
        last = f"J{number:06d}"
    add_station(draft, "L1", "B1-S101", last, length_m=length_m)
    if ring:
        draft.run("Z", "L1", ("B1-S101", gateway), cable="2x2 18AWG", length_m=length_m)
    return draft.snapshot()


@pytest.mark.parametrize("ring", [False, True])
def test_a_segment_of_a_hundred_thousand_nodes_is_answered_in_words(ring: bool) -> None:  # noqa: FBT001
    found = judged(long_segment(100_000, ring=ring))
    assert found.verdict == "new cable"
    length = next(one for one in found.findings if one.rule == "length")
    # 100,001 runs of 1 m and a lead at either end; the ring has one run and two leads more, and any way leaves a run out
    assert length.measured == (100_003.0 if not ring else 100_005.0)
    assert length.outcome is Outcome.FAIL
    assert "500 m allowed" in length.why
    assert all(math.isfinite(figure) for figure in figures(found))


def test_a_very_long_line_of_short_runs_still_has_its_voltage() -> None:
    # 20,000 runs of 1 mm and leads of 1 m at both ends: next to the straight line of 20 m with the same leads
    found = judged(long_segment(20_000, ring=False, length_m=0.001))
    same = judged(long_segment(1, ring=False, length_m=10.0))
    volts = [one.voltage_v for report_ in (found, same) for one in report_.voltages if one.node == "B1-S101"]
    assert None not in volts
    assert volts[0] == pytest.approx(volts[1], abs=1e-3)


def test_more_loops_than_can_be_searched_are_said_and_bounded_by_all_wire() -> None:
    draft = with_row(line(length_m=10.0), layout=None)
    nodes = ["L1-G", "B1-S101"]
    for number in range(6):
        draft.node(f"J{number}", "JB-1", "L1")
        nodes.append(f"J{number}")
    rng = np.random.default_rng(1)
    for number, node in enumerate(nodes[2:]):
        for twice in range(2):
            origin = nodes[int(rng.integers(0, number + 2))] if twice else nodes[number + 1]
            draft.run(f"X{number}{twice}", "L1", (origin, node), cable="2x2 18AWG", length_m=7.0)
    found = judged(draft.snapshot())
    length = next(one for one in found.findings if one.rule == "length")
    assert "all wire, since" in length.why
    assert "loops are too many to search" in length.why
    assert found.wire_m is not None
    assert length.measured is not None
    assert length.measured >= found.wire_m - 40.0
