"""Verdicts in columns are those of the reports in words, on any campus; and one report alone is the report among all."""

from hypothesis import given
from hypothesis import strategies as st

from inventory.core.snapshot import Snapshot
from planner.core.brief import Brief
from planner.core.judgements import judge
from planner.core.verdicts import assess
from tests.laws.settings import LAW
from tests.laws.test_law_verdicts import campuses

BRIEF = Brief()


@LAW
@given(campuses())
def test_columns_say_what_the_reports_say(snapshot: Snapshot) -> None:
    judgements, reports = judge(snapshot, BRIEF), assess(snapshot, BRIEF)
    assert judgements.key == tuple(report.segment for report in reports)
    for label, report in enumerate(reports):
        assert judgements.verdict_of(label) == (report.verdict, report.decided_by)
        assert judgements.stations[label] == len(report.old_stations)


@LAW
@given(campuses(), st.data())
def test_one_report_asked_for_alone_is_the_same_as_among_all(snapshot: Snapshot, data: st.DataObject) -> None:
    reports = assess(snapshot, BRIEF)
    label = data.draw(st.integers(0, len(reports) - 1))
    assert judge(snapshot, BRIEF).report(label) == reports[label]
