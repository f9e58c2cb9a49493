"""Take ways out for segments, give them up, and see which of them still hold."""

from collections.abc import Collection, Iterable, Sequence
from datetime import datetime
from decimal import Decimal

from django.db import transaction
from django.utils import timezone

from inventory.core.snapshot import Snapshot
from inventory.store import load_snapshot
from inventory.store.targets import By
from planner.core.brief import Brief
from planner.core.choices import Tick
from planner.core.findings import CONVERTIBLE, SegmentReport, WayOut
from planner.core.reliefs import TakenUp, take_up, ways_out
from planner.models import Assessment, Job, Segment, TakenWay
from planner.models.briefs import FIRST_BRIEF
from planner.services.jobs import Outcome, Tell, ask_once
from planner.services.ways_out import keep_ways
from planner.services.words import load_reports, report_on
from planner.store.briefs import load_brief
from planner.store.choices import keep_taken, load_ticks
from planner.store.records import from_json, to_json
from planner.store.verdicts import current_assessment

MOST_CHECKED = 2000  # of a campus with more segments, ways out are checked with the next assessment or plan
LOT = 1000


class NotToBeTaken(ValueError):  # noqa: N818 - says what it is
    """A way out that cannot be taken; the message says why and what to do."""


@transaction.atomic
def take(key: str, *, by: By) -> tuple[TakenWay, ...]:
    """Take the way out of a segment, and of those that must take theirs with it; return them all."""
    assessment = current_assessment()
    row = Segment.objects.filter(assessment=assessment, key=key).first()
    if assessment is None or row is None:
        message = f"There is no segment {key} any more. Look at the list of segments."
        raise NotToBeTaken(message)
    way = _way_of(row)
    others = Segment.objects.filter(assessment=assessment, key__in=way.along).exclude(verdict__in=CONVERTIBLE)
    group = {row.key: (row, way)} | {other.key: (other, _way_of(other)) for other in others.order_by("key")}
    taken = [_keep(assessment, one, found, by=by) for one, found in group.values()]
    _refuse_what_falls(assessment, set(group))
    return tuple(TakenWay.objects.filter(pk__in=[one.pk for one in taken]).order_by("segment"))


def _way_of(row: Segment) -> WayOut:
    """Return the way out of a stored segment, if it can be taken."""
    found = report_on(row).way_out
    if found is None:
        message = f"No way out is known for segment {row.key}. Have it looked for on the segment's page first."
        raise NotToBeTaken(message)
    if not found.passes:
        message = f"No set of changes makes every rule pass on segment {row.key}, so that there is none to take."
        raise NotToBeTaken(message)
    return found


def _keep(assessment: Assessment, row: Segment, way: WayOut, *, by: By) -> TakenWay:
    facts = {
        "by": by,
        "at": timezone.now(),
        "verdict": row.verdict,
        "assessed": assessment.changed or assessment.at,
        "way": to_json(way),
        "price": way.price,
        "price_now": way.price,
        "currency": way.currency,
        "void": None,
        "checked": None,
    }
    return TakenWay.objects.update_or_create(segment=row.key, defaults=facts)[0]


def _refuse_what_falls(assessment: Assessment, keys: set[str]) -> None:
    """Check all that are taken, where the campus is small enough to do it at once; refuse new ones that do not hold."""
    if assessment.segments.count() > MOST_CHECKED:
        _refuse_clashes(keys)
        return
    falls = [one for one in check_taken().refused if one.about in keys]
    if falls:
        message = f"Segment {falls[0].about}: {falls[0].why}"
        raise NotToBeTaken(message)


def _refuse_clashes(keys: set[str]) -> None:
    """Refuse, by what is stored alone, what moves nodes to a segment that takes its own way out."""
    ticks = load_ticks()
    taken = {tick.segment for tick in ticks}
    for tick in ticks:
        targets = {change.to for change in tick.way.changes if change.to in taken}
        if targets and (tick.segment in keys or targets & keys):
            message = f"The way out of segment {tick.segment} moves nodes to {min(targets)}, which takes its own. Give one up."
            raise NotToBeTaken(message)


@transaction.atomic
def give_up(key: str, *, by: By) -> None:
    """Take back that a way out was taken; who did it stays in its history."""
    row = TakenWay.objects.filter(segment=key).first()
    if row is not None:
        row._history_user = by  # type: ignore[attr-defined]  # noqa: SLF001 - the name that django-simple-history asks for
        row.delete()


def check_taken() -> TakenUp:
    """Judge again all ways out that were taken, on the campus as stored now, and keep which of them hold."""
    assessment = current_assessment()
    snapshot = load_snapshot(taken_on=timezone.localdate())
    reports = load_reports(assessment) if assessment else ()
    return check_against(snapshot, reports, load_brief(FIRST_BRIEF), at=timezone.now())


def check_against(snapshot: Snapshot, reports: tuple[SegmentReport, ...], brief: Brief, *, at: datetime) -> TakenUp:
    """Judge again all ways out that were taken, on a campus just assessed, and keep which of them hold."""
    taken = take_up(snapshot, reports, load_ticks(), brief)
    keep_taken(taken, at=at)
    return taken


@transaction.atomic
def look_again(keys: Collection[str], *, by: By) -> Job | None:
    """Have the ways out that were taken looked at again, in the background, where some of these segments bear on them."""
    rows = [row for row in TakenWay.objects.all() if not _about(row).isdisjoint(keys)]
    if not rows:
        return None
    TakenWay.objects.filter(pk__in=[row.pk for row in rows]).update(checked=None)
    return ask_once("check ways out", {}, by=by)


def _about(row: TakenWay) -> set[str]:
    """Return the segments that a way out is about: its own, those that go along, those that take its nodes."""
    way = from_json(WayOut, row.way)
    return {row.segment, *way.along, *(change.to for change in way.changes if change.to)}


def do_check(_: Job, tell: Tell) -> Outcome:
    """Look, in the background, at all ways out that were taken."""
    tell("Judging ways out again", 0.1)
    taken = check_taken()
    return Outcome(result={"hold": len(taken.ways), "void": len(taken.refused)})


def do_take(job: Job, tell: Tell) -> Outcome:
    """Take, in the background, the cheapest way out of each of some segments that costs less than a limit."""
    below, keys = Decimal(job.demand["below"]), job.demand["segments"]
    snapshot, brief = load_snapshot(taken_on=timezone.localdate()), load_brief(FIRST_BRIEF)
    _look_for_missing(snapshot, brief, keys, tell)
    tell("Checking which hold together", 0.9)
    taken, refused = take_below(snapshot, brief, keys, below, by=job.by)
    return Outcome(result={"taken": taken, "refused": refused, "below": str(below), "currency": brief.currency})


def _look_for_missing(snapshot: Snapshot, brief: Brief, keys: Sequence[str], tell: Tell) -> None:
    """Look for the ways out that nobody has looked for yet, lot by lot."""
    assessment = current_assessment()
    if assessment is None:
        return
    reports = load_reports(assessment)
    without = {one.segment for one in reports if one.way_out is None and one.verdict not in CONVERTIBLE}
    missing = sorted(without & set(keys))
    for begin in range(0, len(missing), LOT):
        tell(f"Looking for ways out, {begin} of {len(missing)} segments", 0.1 + 0.8 * begin / len(missing))
        keep_ways(dict(ways_out(snapshot, reports, brief, only=missing[begin : begin + LOT])))


@transaction.atomic
def take_below(
    snapshot: Snapshot, brief: Brief, keys: Iterable[str], below: Decimal, *, by: By
) -> tuple[list[str], list[tuple[str, str]]]:
    """Take the ways out that cost less than a limit, cheap ones first; return those taken, and why others were not."""
    assessment = current_assessment()
    if assessment is None:
        return [], []
    wanted = set(keys) - set(TakenWay.objects.values_list("segment", flat=True))
    reports = load_reports(assessment)
    cheap = sorted(_cheap(reports, wanted, below), key=lambda tick: (tick.way.price or 0, tick.segment))
    found = take_up(snapshot, reports, (*load_ticks(), *cheap), brief)
    holding = {tick.segment: tick.way for tick in found.ways}
    for row in Segment.objects.filter(assessment=assessment, key__in=[tick.segment for tick in cheap]).order_by("key"):
        if row.key in holding:
            _keep(assessment, row, holding[row.key], by=by)
    keep_taken(found, at=timezone.now())
    offered = {tick.segment for tick in cheap}
    return (
        [tick.segment for tick in cheap if tick.segment in holding],
        [(one.about, one.why) for one in found.refused if one.about in offered],
    )


def _cheap(reports: Iterable[SegmentReport], wanted: set[str], below: Decimal) -> Iterable[Tick]:
    for report in reports:
        way = report.way_out
        if way is not None and way.passes and way.price is not None and way.price < below and report.segment in wanted:
            yield Tick(segment=report.segment, way=way)
