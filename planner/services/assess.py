"""Have the whole campus assessed, and keep the verdicts."""

from collections.abc import Collection
from dataclasses import dataclass

from django.db import transaction
from django.db.models import Count, Max, Min
from django.utils import timezone

from inventory.models import Building, Bus, Node
from inventory.store import Stored, load_stored
from planner.core.brief import Brief
from planner.core.findings import SegmentReport, Verdict
from planner.core.judgements import Judgements, judge
from planner.models import Assessment, Job
from planner.models.briefs import FIRST_BRIEF
from planner.services.ageing import reckon_risks
from planner.services.jobs import Outcome, Tell
from planner.services.taken_ways import check_against
from planner.services.ways_out import keep_ways, with_ways_of_campus
from planner.store.briefs import load_brief
from planner.store.segment_rows import judged_all
from planner.store.verdicts import current_assessment, forget_older, keep_words, save_verdicts

TRIES = 3  # readings of the campus before it is kept still
WITH_WORDS = 2_000  # segments: on a larger campus verdicts are kept first, and words follow, so many at a time


@dataclass(frozen=True, slots=True, kw_only=True)
class Assessed:
    """A stored assessment with its reports."""

    assessment: Assessment
    reports: tuple[SegmentReport, ...]

    @property
    def counts(self) -> dict[str, int]:
        """Segments by verdict, every verdict named."""
        return {verdict.value: self.assessment.counts.get(verdict.value, 0) for verdict in Verdict}


@dataclass(frozen=True, slots=True, kw_only=True)
class _Found:
    """A campus as read and judged; without reports where words follow."""

    stored: Stored
    judgements: Judgements
    brief: Brief
    reports: tuple[SegmentReport, ...] | None


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
    assessment, found = _verdicts(because or _anew(by), by, look_at, tell)
    forget_older(assessment)
    reports = found.reports
    if reports is None:
        reports = _in_words(assessment, found, look_at, tell)
        check_against(found.stored.snapshot, reports, found.brief, at=timezone.now())
    return Assessed(assessment=assessment, reports=reports)


def _anew(by: str | None) -> str:
    return f"the campus was assessed anew by {by}" if by else "the campus was assessed anew"


def _verdicts(because: str, by: str | None, look_at: Collection[str], tell: Tell) -> tuple[Assessment, _Found]:
    for _ in range(TRIES):
        seen = _state()
        found = _judged(look_at, tell)
        with transaction.atomic():
            if _state() == seen:
                return _kept(found, because, by, tell), found
        tell("Reading the campus again: it has changed", 0.0)
    with transaction.atomic():
        found = _judged(look_at, tell)
        return _kept(found, because, by, tell), found


def _state() -> tuple[object, ...]:
    """Return what differs once verdicts were given anew, or rows came or went: ids are never given twice."""
    last = Assessment.objects.order_by("-at", "-pk").values_list("pk", "changed").first()
    return last, *(
        rows.aggregate(Count("pk"), Max("pk"), Min("pk")) for rows in (Node.objects, Bus.objects, Building.objects)
    )


def _judged(look_at: Collection[str], tell: Tell) -> _Found:
    tell("Reading the campus", 0.0)
    stored, brief = load_stored(taken_on=timezone.now().date()), load_brief(FIRST_BRIEF)
    tell("Judging segments", 0.2)
    judgements = judge(stored.snapshot, brief)
    reports = None
    if len(judgements) <= WITH_WORDS:
        tell("Looking for ways out", 0.5)
        reports = with_ways_of_campus(stored.snapshot, judgements.reports(), brief, look_at)
    return _Found(stored=stored, judgements=judgements, brief=brief, reports=reports)


def _kept(found: _Found, because: str, by: str | None, tell: Tell) -> Assessment:
    tell("Keeping verdicts", 0.6)
    now = timezone.now()
    judged = judged_all(found.stored, found.judgements, found.reports)
    assessment = save_verdicts(judged, at=now, by=by, because=because)
    if found.reports is not None:
        check_against(found.stored.snapshot, found.reports, found.brief, at=now)
    return assessment


def _in_words(assessment: Assessment, found: _Found, look_at: Collection[str], tell: Tell) -> tuple[SegmentReport, ...]:
    """Write the words of verdicts that are kept, lot by lot; those of segments that changed since are not touched."""
    reports: list[SegmentReport] = []
    count = len(found.judgements)
    for begin in range(0, count, WITH_WORDS):
        tell(f"Writing reasons, {begin} of {count} segments", 0.7 + 0.2 * begin / count)
        lot = found.judgements.reports(range(begin, min(begin + WITH_WORDS, count)))
        reports += lot
        current = current_assessment()
        if current is not None and current.at == assessment.at:  # or a copy of it that is changed instead
            keep_words(current, lot)
    told = with_ways_of_campus(found.stored.snapshot, tuple(reports), found.brief, look_at)
    keep_ways({one.segment: one.way_out for one in told if one.way_out is not None})
    return told


def do(job: Job, tell: Tell) -> Outcome:
    """Assess in the background."""
    assessed = assess_campus(by=str(job.by) if job.by else None, because=job.demand.get("because"), tell=tell)
    tell("Reckoning what fails next", 0.9)
    reckon_risks()
    return Outcome(result={"counts": assessed.counts, "assessment": assessed.assessment.pk})
