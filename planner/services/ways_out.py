"""Look for the cheapest ways out: for the whole campus with its assessment, or for one segment when asked."""

from django.db import transaction
from django.utils import timezone

from inventory.core.snapshot import Snapshot
from inventory.store import load_snapshot
from planner.core.brief import Brief
from planner.core.findings import CONVERTIBLE, SegmentReport, Verdict
from planner.core.reliefs import ways_out, with_ways_out
from planner.core.verdicts import assess
from planner.models import Job, Segment
from planner.models.briefs import FIRST_BRIEF
from planner.services.jobs import Outcome, Tell
from planner.store.briefs import load_brief
from planner.store.records import to_json
from planner.store.verdicts import current_assessment

MOST_AT_ONCE = 1000  # more segments than this are looked at one by one, when somebody asks


class NoSuchSegment(ValueError):  # noqa: N818 - says what happened
    """The segment is not one of the campus as it stands now."""


def needs_way_out(report: SegmentReport) -> bool:
    """Tell whether a segment has old stations and does not convert as it is."""
    return report.verdict not in (*CONVERTIBLE, Verdict.LEAVE)


def with_ways_of_campus(
    snapshot: Snapshot, reports: tuple[SegmentReport, ...], brief: Brief
) -> tuple[SegmentReport, ...]:
    """Return the reports with their ways out; as they are where the campus has too many to look at all at once."""
    asked = sum(map(needs_way_out, reports))
    return with_ways_out(snapshot, reports, brief) if 0 < asked <= MOST_AT_ONCE else reports


def do(job: Job, tell: Tell) -> Outcome:
    """Look for the way out of one segment in the background, and keep it with the segment's verdict."""
    key = job.demand["segment"]
    tell("Reading the campus", 0.0)
    snapshot, brief = load_snapshot(taken_on=timezone.localdate()), load_brief(FIRST_BRIEF)
    tell("Judging segments", 0.2)
    reports = assess(snapshot, brief)
    tell("Looking for the way out", 0.6)
    found = ways_out(snapshot, reports, brief, only=(key,)).get(key)
    _keep(key, None if found is None else to_json(found))
    return Outcome(result={"segment": key, "found": found is not None})


@transaction.atomic
def _keep(key: str, way: object) -> None:
    segment = Segment.objects.select_for_update().filter(assessment=current_assessment(), key=key).first()
    if segment is None:
        message = f"There is no segment {key} any more. Have the campus assessed anew and look at the list of segments."
        raise NoSuchSegment(message)
    segment.report["way_out"] = way
    segment.save(update_fields=["report"])
