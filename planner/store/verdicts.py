"""Verdicts into tables and back; each says since when it holds and what changed it."""

from collections import Counter, defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime

import numpy as np
from django.db import connection, models, transaction

from inventory.core.snapshot import Snapshot
from inventory.models import Building, Bus, Node
from planner.core.findings import SegmentReport, Verdict
from planner.models import Assessment, Segment, SegmentMember
from planner.store.insert import insert, prepared
from planner.store.records import from_json, to_json
from planner.store.walk import in_lots

BATCH = 2000
COPIED = (
    "key",
    "building_id",
    "verdict",
    "why",
    "decided_by",
    "station_count",
    "node_count",
    "oldest",
    "buses",
    "since",
    "because",
    "was",
    "report",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Cause:
    """What verdicts changed for: in words, and when."""

    words: str | None
    at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class Turned:
    """One segment whose verdict a change turned: its name, the verdict before (None: there was no such segment)."""

    segment: str
    was: str | None
    verdict: str | None
    why: str


@transaction.atomic
def save_assessment(
    snapshot: Snapshot,
    reports: Sequence[SegmentReport],
    problems: Sequence[str],
    *,
    at: datetime,
    by: str | None,
    because: str | None = None,
) -> Assessment:
    """Store an assessment as the current one; older ones that no plan was made from go."""
    counts = {verdict.value: 0 for verdict in Verdict}
    for report in reports:
        counts[report.verdict.value] += 1
    before = _stored(current_assessment())
    assessment = Assessment.objects.create(at=at, by=by, counts=counts, problems=list(problems))
    cause = Cause(words=because if before else None, at=at)
    _save_segments(assessment, snapshot, reports, _predecessors(reports, before), cause)
    _forget(Assessment.objects.filter(plans__isnull=True).exclude(pk=assessment.pk))
    return assessment


def _forget(assessments: "models.QuerySet[Assessment]") -> None:
    """Remove assessments with all that hangs on them, by the database alone: none of it need be read for that."""
    for one in assessments:
        SegmentMember.objects.filter(segment__assessment=one).delete()
        Segment.objects.filter(assessment=one).delete()
    assessments.delete()


@dataclass(frozen=True, slots=True)
class _Past:
    """What is kept of a stored segment when it is judged again."""

    pk: int
    key: str
    verdict: str
    since: datetime | None
    because: str | None
    was: str | None


def _stored(assessment: Assessment | None) -> dict[str, _Past]:
    if assessment is None:
        return {}
    rows = assessment.segments.values_list("pk", "key", "verdict", "since", "because", "was")
    return {row[1]: _Past(*row) for row in rows}


def _predecessors(reports: Iterable[SegmentReport], before: Mapping[str, _Past]) -> dict[str, _Past]:
    """Return what each segment was before: the one of its name, or the one that most of its nodes were on."""
    reports = tuple(reports)
    found = {report.segment: before[report.segment] for report in reports if report.segment in before}
    strangers = [report for report in reports if report.segment not in before]
    if not strangers or not before:
        return found
    home = _homes({past.pk: past for past in before.values()}, {key for one in strangers for key in one.nodes})
    for report in strangers:
        votes = Counter(past for key in report.nodes for past in home[key])
        if votes:
            found[report.segment] = min(votes, key=lambda past: (-votes[past], past.key))
    return found


def _homes(before: Mapping[int, _Past], nodes: Collection[str]) -> dict[str, list[_Past]]:
    """Return the stored segments that each node was on."""
    found: dict[str, list[_Past]] = defaultdict(list)
    keys = sorted(nodes)
    for begin in range(0, len(keys), BATCH):
        rows = SegmentMember.objects.filter(node__key__in=keys[begin : begin + BATCH]).order_by("segment_id")
        for key, segment in rows.values_list("node__key", "segment_id"):
            if segment in before:
                found[key].append(before[segment])
    return found


def _save_segments(
    assessment: Assessment,
    snapshot: Snapshot,
    reports: Sequence[SegmentReport],
    before: Mapping[str, _Past],
    cause: Cause,
) -> None:
    make = _RowMaker(assessment, snapshot, reports, cause)
    rows = [make.row(report, before.get(report.segment)) for report in reports]
    names = ("assessment_id", *COPIED)
    columns = (prepared(Segment, name, column) for name, column in zip(names, zip(*rows, strict=True), strict=False))
    insert(Segment, names, zip(*columns, strict=True))
    segment_ids = {key: pk for key, pk in assessment.segments.values_list("key", "pk")}  # noqa: C416 - typed so
    node_ids = _node_ids(snapshot, reports)
    members = (
        (segment_ids[report.segment], node_ids[node]) for report in reports for node in report.nodes if node in node_ids
    )
    insert(SegmentMember, ("segment_id", "node_id"), members)


def _node_ids(snapshot: Snapshot, reports: Sequence[SegmentReport]) -> dict[str, int]:
    wanted = sorted({node for report in reports for node in report.nodes})
    if 2 * len(wanted) > len(snapshot.nodes):
        return dict(Node.objects.filter(key__gte=wanted[0], key__lte=wanted[-1]).values_list("key", "pk"))
    found: dict[str, int] = {}
    for begin in range(0, len(wanted), BATCH):
        found |= dict(Node.objects.filter(key__in=wanted[begin : begin + BATCH]).values_list("key", "pk"))
    return found


class _RowMaker:
    """Makes rows of segments; holds what names stand for."""

    def __init__(
        self, assessment: Assessment, snapshot: Snapshot, reports: Sequence[SegmentReport], cause: Cause
    ) -> None:
        self._assessment, self._cause = assessment, cause
        self._buildings = dict(Building.objects.values_list("key", "pk"))
        self._buses = _bus_ids({bus for report in reports for bus in report.buses})
        self._installed = _installed(snapshot)

    def row(self, report: SegmentReport, past: _Past | None) -> tuple[object, ...]:
        """Return the row of a report, an assessment and what COPIED names; the verdict holds since it last changed."""
        holds = past is not None and past.verdict == report.verdict.value
        return (
            self._assessment.pk,
            report.segment,
            self._buildings.get(report.building or ""),
            report.verdict.value,
            report.why,
            report.decided_by,
            len(report.old_stations),
            len(report.nodes),
            _oldest(report.old_stations, self._installed),
            sorted(self._buses[bus] for bus in report.buses if bus in self._buses),
            past.since if past is not None and holds else self._cause.at,
            past.because if past is not None and holds else self._cause.words,
            (past.was if holds else past.verdict) if past is not None else None,
            to_json(report),
        )


def _bus_ids(keys: Collection[str]) -> dict[str, int]:
    found: dict[str, int] = {}
    ordered = sorted(keys)
    for begin in range(0, len(ordered), BATCH):
        found |= dict(Bus.objects.filter(key__in=ordered[begin : begin + BATCH]).values_list("key", "pk"))
    return found


def _installed(snapshot: Snapshot) -> dict[str, date]:
    known = ~np.isnat(snapshot.nodes.installed)
    days = snapshot.nodes.installed.astype("datetime64[D]").astype(object)
    return {snapshot.nodes.key[place]: days[place] for place in np.flatnonzero(known).tolist()}


def _oldest(stations: Iterable[str], installed: dict[str, date]) -> date | None:
    return min((installed[key] for key in stations if key in installed), default=None)


@transaction.atomic
def replace_segments(
    assessment: Assessment,
    gone: Collection[Segment],
    reports: Sequence[SegmentReport],
    snapshot: Snapshot,
    cause: Cause,
) -> tuple[Turned, ...]:
    """Put reports in the place of stored segments, and return those whose verdict is another one now."""
    before = {one.key: _Past(one.pk, one.key, one.verdict, one.since, one.because, one.was) for one in gone}
    past = _predecessors(reports, before)
    for some in in_lots([one.pk for one in gone]):
        SegmentMember.objects.filter(segment__in=some).delete()
        Segment.objects.filter(pk__in=some).delete()
    _save_segments(assessment, snapshot, reports, past, cause)
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
    before: Mapping[str, _Past], reports: Sequence[SegmentReport], past: Mapping[str, _Past]
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


def load_reports(assessment: Assessment) -> tuple[SegmentReport, ...]:
    """Return the reports of an assessment, sorted by segment key."""
    stored = assessment.segments.values_list("report", flat=True)
    return tuple(sorted((from_json(SegmentReport, data) for data in stored), key=lambda report: report.segment))
