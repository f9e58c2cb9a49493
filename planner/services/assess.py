"""Have the whole campus assessed, and keep the verdicts."""

from dataclasses import dataclass

from django.utils import timezone

from inventory.store import load_snapshot
from planner.core.findings import SegmentReport, Verdict
from planner.core.verdicts import assess
from planner.models import Assessment, Job
from planner.models.briefs import FIRST_BRIEF
from planner.services.jobs import Outcome, Tell
from planner.services.ways_out import with_ways_of_campus
from planner.store.briefs import load_brief
from planner.store.verdicts import save_assessment


@dataclass(frozen=True, slots=True, kw_only=True)
class Assessed:
    """A stored assessment with its reports."""

    assessment: Assessment
    reports: tuple[SegmentReport, ...]

    @property
    def counts(self) -> dict[str, int]:
        """Segments by verdict, every verdict named."""
        return {verdict.value: self.assessment.counts.get(verdict.value, 0) for verdict in Verdict}


def silent(_doing: str, _done: float | None = None) -> bool:
    """Tell nobody, go on."""
    return True


def assess_campus(*, by: str | None, tell: Tell = silent) -> Assessed:
    """Judge every segment of the campus as stored now, and keep the verdicts as the current ones."""
    now = timezone.now()
    tell("Reading the campus", 0.0)
    snapshot = load_snapshot(taken_on=now.date())
    tell("Judging segments", 0.3)
    brief = load_brief(FIRST_BRIEF)
    reports = assess(snapshot, brief)
    tell("Looking for ways out", 0.5)
    reports = with_ways_of_campus(snapshot, reports, brief)
    tell("Keeping verdicts", 0.7)
    assessment = save_assessment(snapshot, reports, (), at=now, by=by)
    return Assessed(assessment=assessment, reports=reports)


def do(job: Job, tell: Tell) -> Outcome:
    """Assess in the background."""
    assessed = assess_campus(by=str(job.by) if job.by else None, tell=tell)
    return Outcome(result={"counts": assessed.counts, "assessment": assessed.assessment.pk})
