"""Whatever is read on site, it makes no segment convertible that its records alone do not; and what contradicts asks."""

import math
from dataclasses import replace
from datetime import date

from hypothesis import given
from hypothesis import strategies as st

from inventory.core.readings import BETWEEN_TWO, Quantity, Reading
from inventory.core.snapshot import Snapshot
from planner.core.brief import Brief
from planner.core.findings import CONVERTIBLE, SegmentReport, Verdict
from planner.core.judgements import judge
from planner.core.verdicts import assess
from tests.laws.settings import LAW
from tests.laws.test_law_verdicts import campuses

BRIEF = Brief()
VALUES = st.one_of(st.floats(0.0, 60.0), st.sampled_from((0.0, 24.0, 60.0, 120.0, 1e4)))


@st.composite
def read(draw: st.DrawFn) -> tuple[Snapshot, tuple[SegmentReport, ...]]:
    """Draw a campus with readings anywhere on it, most of them where something is predicted; and its reports without."""
    snapshot = draw(campuses())
    reports = assess(snapshot, BRIEF)
    places = [(one.gateways[0], node) for one in reports if one.gateways for node in one.old_stations]
    anywhere = st.sampled_from(snapshot.nodes.key)
    lines = (
        st.one_of(st.sampled_from(places), st.tuples(anywhere, anywhere)) if places else st.tuples(anywhere, anywhere)
    )
    found = []
    for _ in range(draw(st.integers(1, 6))):
        quantity, (near, far) = draw(st.sampled_from(list(Quantity))), draw(lines)
        two = quantity in BETWEEN_TWO
        found.append(
            Reading(
                quantity=quantity,
                node=near if two else far,
                far=far if two else None,
                value=draw(VALUES),
                on=date(2027, 3, 2),
            )
        )
    return replace(snapshot, readings=tuple(found)), reports


@LAW
@given(read())
def test_no_reading_makes_a_segment_convertible(case: tuple[Snapshot, tuple[SegmentReport, ...]]) -> None:
    snapshot, before = case
    without = {one.segment: one.verdict for one in before}
    for report in assess(snapshot, BRIEF):
        if report.verdict in CONVERTIBLE:
            assert without[report.segment] in CONVERTIBLE, report.segment


@LAW
@given(read())
def test_only_the_records_are_doubted_and_every_doubt_is_a_question(
    case: tuple[Snapshot, tuple[SegmentReport, ...]],
) -> None:
    snapshot, before = case
    without = {one.segment: one for one in before}
    for report in assess(snapshot, BRIEF):
        found = next((one for one in report.findings if one.rule == "records"), None)
        if found is None or "What was measured contradicts" not in found.why:
            continue
        assert report.verdict is Verdict.SURVEY_FIRST
        assert report.decided_by == "records"
        assert {f"{fact}?" for fact in found.missing} <= set(report.questions)
        assert [one for one in report.findings if one.rule not in {"records", "gateway"}] == [
            one for one in without[report.segment].findings if one.rule not in {"records", "gateway"}
        ] or without[report.segment].methods != report.methods


@LAW
@given(read())
def test_columns_say_what_the_reports_say_with_readings_too(
    case: tuple[Snapshot, tuple[SegmentReport, ...]],
) -> None:
    judgements, reports = judge(case[0], BRIEF), assess(case[0], BRIEF)
    for label, report in enumerate(reports):
        assert judgements.verdict_of(label) == (report.verdict, report.decided_by)


@LAW
@given(campuses())
def test_a_loop_that_is_twice_as_long_puts_what_converts_in_doubt(snapshot: Snapshot) -> None:
    reports = [one for one in assess(snapshot, BRIEF) if one.verdict in CONVERTIBLE and len(one.gateways) == 1]
    lines = [one for one in reports if one.wire_m and math.isfinite(one.wire_m)]
    readings = tuple(
        Reading(quantity=Quantity.LOOP, node=one.gateways[0], far=one.old_stations[0], value=1e4, on=date(2027, 3, 2))
        for one in lines
    )
    after = {one.segment: one for one in assess(replace(snapshot, readings=readings), BRIEF)}
    for one in lines:
        assert after[one.segment].verdict is Verdict.SURVEY_FIRST
