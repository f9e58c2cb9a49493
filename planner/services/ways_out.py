"""Look for the cheapest ways out: for the whole campus with its assessment, or for one segment when asked."""

from collections.abc import Collection, Mapping
from dataclasses import replace

from django.db import transaction
from django.utils import timezone

from inventory.core.snapshot import Snapshot
from inventory.store import load_snapshot
from planner.core.brief import Brief
from planner.core.findings import CONVERTIBLE, SegmentReport, Verdict, WayOut
from planner.core.reliefs import ways_out, with_ways_out
from planner.core.verdicts import assess
from planner.models import Job, Segment
from planner.models.briefs import FIRST_BRIEF
from planner.services.jobs import Outcome, Tell
from planner.services.words import report_on
from planner.store.briefs import load_brief
from planner.store.records import to_json
from planner.store.verdicts import current_assessment

ALL = "all"
MOST_AT_ONCE = 1000  # more segments than this are looked at one by one, when somebody asks


class NoSuchSegment(ValueError):  # noqa: N818 - says what happened
    """The segment is not one of the campus as it stands now."""


def needs_way_out(report: SegmentReport) -> bool:
    """Tell whether a segment has old stations and does not convert as it is."""
    return report.verdict not in (*CONVERTIBLE, Verdict.LEAVE)


def with_ways_of_campus(
    snapshot: Snapshot, reports: tuple[SegmentReport, ...], brief: Brief, look_at: Collection[str] = ()
) -> tuple[SegmentReport, ...]:
    """Return the reports with their ways out: all of them, or where there are too many to look at, those asked for.

    `all` in `look_at` stands for every segment, however many there are.
    """
    asked = sum(map(needs_way_out, reports))
    if asked and (asked <= MOST_AT_ONCE or ALL in look_at):
        return with_ways_out(snapshot, reports, brief)
    found = ways_out(snapshot, reports, brief, only=look_at) if look_at else {}
    return tuple(replace(one, way_out=found[one.segment]) if one.segment in found else one for one in reports)


def do(job: Job, tell: Tell) -> Outcome:
    """Look for the way out of one segment in the background, and keep it with the segment's verdict."""
    key = job.demand["segment"]
    tell("Reading the campus", 0.0)
    snapshot, brief = load_snapshot(taken_on=timezone.localdate()), load_brief(FIRST_BRIEF)
    tell("Judging segments", 0.2)
    reports = assess(snapshot, brief)
    tell("Looking for the way out", 0.6)
    found = ways_out(snapshot, reports, brief, only=(key,))
    if not keep_ways({key: found.get(key)}):
        message = f"There is no segment {key} any more. Have the campus assessed anew and look at the list of segments."
        raise NoSuchSegment(message)
    return Outcome(result={"segment": key, "found": key in found})


@transaction.atomic
def keep_ways(found: Mapping[str, WayOut | None]) -> int:
    """Keep ways out with the verdicts of their segments; return how many of those there are."""
    rows = list(Segment.objects.select_for_update().filter(assessment=current_assessment(), key__in=found))
    for row in rows:
        row.report = to_json(replace(report_on(row), way_out=found[row.key]))
    Segment.objects.bulk_update(rows, ["report"], batch_size=200)
    return len(rows)
