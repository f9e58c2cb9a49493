"""Verdicts into tables and back; each says since when it holds and what changed it."""

from collections import Counter, defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db import connection, transaction

from planner.core.findings import SegmentReport, Verdict
from planner.models import Assessment, Segment, SegmentMember
from planner.store.insert import prepared, update
from planner.store.records import to_json
from planner.store.segment_rows import COPIED, Cause, Judged, Past, keep_rows
from planner.store.walk import in_lots


@dataclass(frozen=True, slots=True, kw_only=True)
class Turned:
    """One segment whose verdict a change turned: its name, the verdict before (None: there was no such segment)."""

    segment: str
    was: str | None
    verdict: str | None
    why: str


@transaction.atomic
def save_verdicts(judged: Judged, *, at: datetime, by: str | None, because: str | None = None) -> Assessment:
    """Store verdicts on all segments as the current assessment."""
    before = _stored(current_assessment())
    counts = Counter(judged.verdict)
    assessment = Assessment.objects.create(
        at=at, by=by, counts={verdict.value: counts[verdict.value] for verdict in Verdict}
    )
    cause = Cause(words=because if before else None, at=at)
    keep_rows(assessment, judged, _predecessors(judged, before), cause)
    return assessment


def forget_older(assessment: Assessment) -> None:
    """Remove older assessments that no plan was made from, by the database alone: none of it need be read for that."""
    others = Assessment.objects.filter(plans__isnull=True, pk__lt=assessment.pk)
    for one in others:
        SegmentMember.objects.filter(segment__assessment=one).delete()
        Segment.objects.filter(assessment=one).delete()
    others.delete()


@transaction.atomic
def keep_words(assessment: Assessment, reports: Iterable[SegmentReport]) -> None:
    """Put reports beside stored verdicts that have none yet and say the same."""
    of = {report.segment: report for report in reports}
    for some in in_lots(of):
        silent = Segment.objects.select_for_update().filter(assessment=assessment, key__in=some, report__isnull=True)
        rows = [
            (pk, of[key]) for pk, key, told in silent.values_list("pk", "key", "verdict") if told == of[key].verdict
        ]
        data = prepared(Segment, "report", [to_json(report) for _, report in rows])
        update(
            Segment,
            ("why", "report"),
            ((report.why, one, pk) for (pk, report), one in zip(rows, data, strict=True)),
        )


def _stored(assessment: Assessment | None) -> dict[str, Past]:
    if assessment is None:
        return {}
    rows = assessment.segments.values_list("pk", "key", "verdict", "since", "because", "was")
    return {row[1]: Past(*row) for row in rows}


def _predecessors(judged: Judged, before: Mapping[str, Past]) -> dict[str, Past]:
    """Return what each segment was before: the one of its name, or the one that most of its nodes were on."""
    found = {key: before[key] for key in judged.key if key in before} if before else {}
    strangers = [place for place, key in enumerate(judged.key) if key not in found] if before else []
    if not strangers:
        return found
    home = _homes(
        {past.pk: past for past in before.values()}, {pk for place in strangers for pk in judged.nodes(place)}
    )
    for place in strangers:
        votes = Counter(past for pk in judged.nodes(place) for past in home[pk])
        if votes:
            found[judged.key[place]] = min(votes, key=lambda past: (-votes[past], past.key))
    return found


def _homes(before: Mapping[int, Past], nodes: Collection[int]) -> dict[int, list[Past]]:
    """Return the stored segments that each node was on."""
    found: dict[int, list[Past]] = defaultdict(list)
    for some in in_lots(sorted(nodes)):
        rows = SegmentMember.objects.filter(node__in=some).order_by("segment_id")
        for pk, segment in rows.values_list("node_id", "segment_id"):
            if segment in before:
                found[pk].append(before[segment])
    return found


@transaction.atomic
def replace_segments(
    assessment: Assessment,
    gone: Collection[Segment],
    judged: Judged,
    cause: Cause,
) -> tuple[Turned, ...]:
    """Put reports in the place of stored segments, and return those whose verdict is another one now."""
    before = {one.key: Past(one.pk, one.key, one.verdict, one.since, one.because, one.was) for one in gone}
    past = _predecessors(judged, before)
    for some in in_lots([one.pk for one in gone]):
        SegmentMember.objects.filter(segment__in=some).delete()
        Segment.objects.filter(pk__in=some).delete()
    keep_rows(assessment, judged, past, cause)
    reports = [report for report in judged.reports if report is not None]
    assessment.counts = _recounted(assessment.counts, gone, reports)
    assessment.changed = cause.at
    assessment.save(update_fields=["counts", "changed"])
    return _turned(before, reports, past)


def _recounted(counts: Mapping[str, int], gone: Iterable[Segment], reports: Iterable[SegmentReport]) -> dict[str, int]:
    found = Counter(counts)
    found.subtract(one.verdict for one in gone)
    found.update(report.verdict.value for report in reports)
    return {verdict.value: found[verdict.value] for verdict in Verdict}


def _turned(
    before: Mapping[str, Past], reports: Sequence[SegmentReport], past: Mapping[str, Past]
) -> tuple[Turned, ...]:
    turned = [
        Turned(
            segment=report.segment,
            was=past[report.segment].verdict if report.segment in past else None,
            verdict=report.verdict.value,
            why=report.why,
        )
        for report in reports
        if report.segment not in past or past[report.segment].verdict != report.verdict.value
    ]
    names = {report.segment for report in reports}
    turned += [
        Turned(segment=key, was=one.verdict, verdict=None, why="There is no such segment any more.")
        for key, one in before.items()
        if key not in names
    ]
    return tuple(sorted(turned, key=lambda one: one.segment))


@transaction.atomic
def own_assessment(assessment: Assessment) -> Assessment:
    """Return an assessment that may be changed: itself, or, where a plan was made from it, a copy that is current now."""
    if not assessment.plans.exists():
        return assessment
    copy = Assessment.objects.create(
        at=assessment.at, by=assessment.by, counts=assessment.counts, problems=assessment.problems
    )
    quote = connection.ops.quote_name
    segments, members = quote(Segment._meta.db_table), quote(SegmentMember._meta.db_table)  # noqa: SLF001 - its documented name
    columns = ", ".join(map(quote, COPIED))
    with connection.cursor() as cursor:
        cursor.execute(
            f"INSERT INTO {segments} (assessment_id, {columns}) SELECT %s, {columns} FROM {segments} "  # noqa: S608 - names of the models
            "WHERE assessment_id = %s ORDER BY id",
            (copy.pk, assessment.pk),
        )
        cursor.execute(
            f"INSERT INTO {members} (segment_id, node_id) SELECT new.id, m.node_id FROM {members} m "  # noqa: S608
            f"JOIN {segments} old ON old.id = m.segment_id JOIN {segments} new ON new.key = old.key "
            "WHERE old.assessment_id = %s AND new.assessment_id = %s",
            (assessment.pk, copy.pk),
        )
    return copy


def current_assessment() -> Assessment | None:
    """Return the newest assessment, or None on a campus that was never assessed."""
    return Assessment.objects.order_by("-at", "-pk").first()
