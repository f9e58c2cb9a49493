"""Judge again just what a change of the records can touch, and say which verdicts it turned."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import TypeVar

from django.db import models, transaction
from django.utils import timezone

from inventory.store.targets import By
from planner.models import Assessment
from planner.models.briefs import FIRST_BRIEF
from planner.services import jobs
from planner.services.taken_ways import look_again
from planner.store.briefs import load_brief
from planner.store.nearby import Before, TooMany, judge_again, look_before
from planner.store.segment_rows import Cause
from planner.store.touches import NOTHING, Touched, touched_by
from planner.store.verdicts import Turned, current_assessment, own_assessment, replace_segments

T = TypeVar("T")


@dataclass(frozen=True, slots=True, kw_only=True)
class Reassessed:
    """What a change did to verdicts: those it turned, how many segments were judged again, or the work that will tell.

    `job` : the number of the background work that assesses the whole campus, where the change touches too much.
    """

    turned: tuple[Turned, ...] = ()
    judged: int = 0
    job: int | None = None


UNTOUCHED = Reassessed()


@transaction.atomic
def change(
    rows: Iterable[models.Model],
    work: Callable[[], tuple[T, Sequence[models.Model]]],
    because: str,
    *,
    by: By,
) -> tuple[T, Reassessed]:
    """Do a piece of work that changes records, and judge again what it touches, all in one transaction.

    `rows` are the records about to change, as stored; `work` returns its result and the records as they are then (none
    for what was removed). `because` says in words what changed and who did it.
    """
    assessment = current_assessment()
    if assessment is None:
        return work()[0], UNTOUCHED
    touched = touched_by(rows)
    held = _held(assessment) if touched else None
    first = _first(held, touched) if held else None
    done, after = work()
    touched |= touched_by(after)
    if not touched:
        return done, UNTOUCHED
    if held is None:
        held = _held(assessment)
        first = _first(held, NOTHING)
    return done, _again(held, first, touched, because, by)


def _held(assessment: Assessment) -> Assessment:
    """Return the assessment to change, kept from others until the transaction ends."""
    own = own_assessment(assessment)
    return Assessment.objects.select_for_update().get(pk=own.pk)


def _first(assessment: Assessment, touched: Touched) -> Before | None:
    if touched.everything:
        return None
    try:
        return look_before(assessment, touched)
    except TooMany:
        return None


def _again(assessment: Assessment, first: Before | None, touched: Touched, because: str, by: By) -> Reassessed:
    now = timezone.now()
    if first is None or touched.everything:
        return _whole(assessment, because, by)
    try:
        again = judge_again(assessment, first, touched, load_brief(FIRST_BRIEF), timezone.localdate())
    except TooMany:
        return _whole(assessment, because, by)
    cause = Cause(words=because, at=now)
    turned = replace_segments(assessment, again.gone, again.judged, cause)
    look_again({one.key for one in again.gone} | {report.segment for report in again.reports}, by=by)
    return Reassessed(turned=turned, judged=len(again.reports))


def _whole(assessment: Assessment, because: str, by: By) -> Reassessed:
    """Have the whole campus assessed in the background, also where that is being done already: it began too early."""
    assessment.changed = timezone.now()
    assessment.save(update_fields=["changed"])
    job = jobs.ask_once("assess", {"because": because}, by=by)
    return Reassessed(job=job.pk)
