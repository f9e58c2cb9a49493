"""Have the whole campus assessed, and keep the verdicts."""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime

from django.db import transaction
from django.utils import timezone

from inventory.core.snapshot import Snapshot
from inventory.store import load_snapshot
from planner.core.findings import SegmentReport, Verdict
from planner.core.verdicts import assess
from planner.models import Assessment, Job
from planner.models.briefs import FIRST_BRIEF
from planner.services.ageing import reckon_risks
from planner.services.jobs import Outcome, Tell
from planner.services.taken_ways import check_against
from planner.services.ways_out import with_ways_of_campus
from planner.store.briefs import load_brief
from planner.store.verdicts import save_assessment

TRIES = 3  # readings of the campus before it is kept still


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


def assess_campus(
    *, by: str | None, because: str | None = None, look_at: Collection[str] = (), tell: Tell = silent
) -> Assessed:
    """Judge every segment of the campus as stored now, and keep the verdicts as the current ones.

    `because` says in words what verdicts that turn have turned for. Where the records change meanwhile, they are read
    again; the last time nobody can change them until the verdicts are kept. `look_at` are segments whose ways out are
    looked for also on a campus of very many.
    """
    words = because or _anew(by)
    for _ in range(TRIES):
        seen = _last_change()
        reports, snapshot = _reports(look_at, tell)
        with transaction.atomic():
            if _last_change() == seen:
                return _kept(snapshot, reports, words, by, tell)
        tell("Reading the campus again: it has changed", 0.0)
    with transaction.atomic():
        reports, snapshot = _reports(look_at, tell)
        return _kept(snapshot, reports, words, by, tell)


def _anew(by: str | None) -> str:
    return f"the campus was assessed anew by {by}" if by else "the campus was assessed anew"


def _last_change() -> tuple[int, datetime | None] | None:
    return Assessment.objects.order_by("-at", "-pk").values_list("pk", "changed").first()


def _reports(look_at: Collection[str], tell: Tell) -> tuple[tuple[SegmentReport, ...], Snapshot]:
    tell("Reading the campus", 0.0)
    snapshot = load_snapshot(taken_on=timezone.now().date())
    tell("Judging segments", 0.3)
    brief = load_brief(FIRST_BRIEF)
    reports = assess(snapshot, brief)
    tell("Looking for ways out", 0.5)
    return with_ways_of_campus(snapshot, reports, brief, look_at), snapshot


def _kept(  # noqa: PLR0917 - what is kept, and who had it made
    snapshot: Snapshot, reports: tuple[SegmentReport, ...], because: str, by: str | None, tell: Tell
) -> Assessed:
    tell("Keeping verdicts", 0.7)
    now = timezone.now()
    assessment = save_assessment(snapshot, reports, (), at=now, by=by, because=because)
    check_against(snapshot, reports, load_brief(FIRST_BRIEF), at=now)
    return Assessed(assessment=assessment, reports=reports)


def do(job: Job, tell: Tell) -> Outcome:
    """Assess in the background."""
    assessed = assess_campus(by=str(job.by) if job.by else None, because=job.demand.get("because"), tell=tell)
    tell("Reckoning what fails next", 0.9)
    reckon_risks()
    return Outcome(result={"counts": assessed.counts, "assessment": assessed.assessment.pk})
