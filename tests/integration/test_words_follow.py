"""On a large campus verdicts are kept first and their words follow: at last nothing differs, and nobody waits for words."""

from dataclasses import replace
from pathlib import Path

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from inventory.models import Node
from inventory.services.intake import take_in
from inventory.store import load_stored
from planner.core.judgements import judge
from planner.models import Assessment, Segment
from planner.services import assess
from planner.services.assess import assess_campus
from planner.services.words import NotInWords, load_reports, report_on
from planner.store.briefs import load_brief
from planner.store.intake import ALL_TARGETS
from planner.store.segment_rows import judged_all
from planner.store.verdicts import current_assessment, forget_older, keep_words, save_verdicts
from tests.site_campus import person

pytestmark = pytest.mark.django_db
CAMPUS = Path(__file__).resolve().parents[2] / "fixtures" / "campus.xlsx"
FACTS = (
    "key",
    "building__key",
    "verdict",
    "why",
    "decided_by",
    "station_count",
    "node_count",
    "oldest",
    "buses",
    "report",
)


@pytest.fixture(autouse=True)
def campus() -> None:
    take_in(CAMPUS.read_bytes(), "campus.xlsx", ALL_TARGETS, None)


def rows() -> list[tuple[object, ...]]:
    return list(Segment.objects.filter(assessment=current_assessment()).order_by("key").values_list(*FACTS))


def silent() -> Assessment:
    """Keep verdicts without words, as they stand on a large campus for a while."""
    stored = load_stored()
    return save_verdicts(judged_all(stored, judge(stored.snapshot, load_brief()), None), at=timezone.now(), by=None)


def test_words_that_follow_are_those_that_come_with_the_verdicts(monkeypatch: pytest.MonkeyPatch) -> None:
    together = assess_campus(by=None, look_at=["all"]).reports
    at_once = rows()
    monkeypatch.setattr(assess, "WITH_WORDS", 7)
    assert assess_campus(by=None, look_at=["all"]).reports == together
    assert rows() == at_once


def test_rows_say_of_a_segment_what_its_report_says() -> None:
    assess_campus(by=None)
    for row in Segment.objects.filter(assessment=current_assessment()).select_related("building"):
        report = report_on(row)
        assert (row.key, row.building and row.building.key) == (report.segment, report.building)
        assert row.station_count == len(report.old_stations)
        members = row.members.values_list("node__key", flat=True)
        assert sorted(members) == list(report.nodes)
        assert row.node_count == len(report.nodes)
        days = Node.objects.filter(key__in=report.old_stations, installed__isnull=False)
        assert row.oldest == min(days.values_list("installed", flat=True), default=None)


def test_a_segment_asked_for_before_its_words_are_written_is_put_into_words_then() -> None:
    assess_campus(by=None)
    with_words = {row[0]: row for row in rows()}
    silent()
    waiting = Segment.objects.filter(assessment=current_assessment(), report__isnull=True)
    assert waiting.count() == len(with_words)
    for row in waiting[:10]:
        report = report_on(row)
        assert report.why == with_words[row.key][3]
        assert Segment.objects.get(pk=row.pk).why == report.why


def test_all_reports_asked_for_before_their_words_are_written_are_put_into_words_then() -> None:
    assess_campus(by=None)
    before = current_assessment()
    assert before is not None
    with_words = load_reports(before)
    assert load_reports(silent()) == tuple(replace(one, way_out=None) for one in with_words)


def test_what_was_assessed_meanwhile_is_not_forgotten() -> None:
    oldest, own, newest = silent(), silent(), silent()
    forget_older(own)
    assert set(Assessment.objects.values_list("pk", flat=True)) == {own.pk, newest.pk}
    assert not Segment.objects.filter(assessment=oldest.pk).exists()


def test_words_are_never_put_beside_a_verdict_that_they_do_not_say() -> None:
    assessment = silent()
    report = report_on(Segment.objects.filter(assessment=assessment, verdict="in place")[0])
    Segment.objects.filter(assessment=assessment, key=report.segment).update(verdict="leave", report=None, why="")
    keep_words(assessment, [report])
    row = Segment.objects.get(assessment=assessment, key=report.segment)
    assert (row.report, row.why) == (None, "")
    with pytest.raises(NotInWords, match="assessed anew"):
        report_on(row)
    with pytest.raises(NotInWords, match="assessed anew"):
        load_reports(assessment)


def test_a_page_whose_reasons_cannot_be_written_says_what_to_do(client: Client) -> None:
    assessment = silent()
    key = assessment.segments.filter(verdict="in place").values_list("key", flat=True)[0]
    assessment.segments.filter(key=key).update(verdict="leave")
    client.force_login(person("somebody", is_superuser=True))
    answer = client.get(reverse("segment", args=[key]))
    assert answer.status_code == 503
    assert f"The records around segment {key} have changed since its verdict" in answer.content.decode()


def test_pages_show_verdicts_whose_words_are_not_written_yet(client: Client) -> None:
    assessment = silent()
    client.force_login(person("planning-too", is_superuser=True))
    row = Segment.objects.filter(assessment=assessment, verdict="survey first")[0]
    for address in (reverse("campus"), reverse("segments"), reverse("segment", args=[row.key])):
        assert client.get(address).status_code == 200
    assert (
        report_on(Segment.objects.get(pk=row.pk)).why in client.get(reverse("segment", args=[row.key])).content.decode()
    )
