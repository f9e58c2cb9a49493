"""Verdicts into tables and back."""

from collections.abc import Iterable, Sequence
from datetime import date, datetime

import numpy as np
from django.db import transaction

from inventory.core.snapshot import Snapshot
from inventory.models import Building, Node
from planner.core.findings import SegmentReport, Verdict
from planner.models import Assessment, Segment, SegmentMember
from planner.store.records import from_json, to_json

BATCH = 2000


@transaction.atomic
def save_assessment(
    snapshot: Snapshot, reports: Sequence[SegmentReport], problems: Sequence[str], *, at: datetime, by: str | None
) -> Assessment:
    """Store an assessment as the current one; older ones that no plan was made from go."""
    counts = {verdict.value: 0 for verdict in Verdict}
    for report in reports:
        counts[report.verdict.value] += 1
    assessment = Assessment.objects.create(at=at, by=by, counts=counts, problems=list(problems))
    _save_segments(assessment, snapshot, reports)
    Assessment.objects.filter(plans__isnull=True).exclude(pk=assessment.pk).delete()
    return assessment


def _save_segments(assessment: Assessment, snapshot: Snapshot, reports: Sequence[SegmentReport]) -> None:
    buildings = dict(Building.objects.values_list("key", "pk"))
    installed = _installed(snapshot)
    rows = [_segment_row(assessment, report, buildings, installed) for report in reports]
    Segment.objects.bulk_create(rows, batch_size=BATCH)
    segment_ids = dict(assessment.segments.values_list("key", "pk"))
    node_ids = dict(Node.objects.values_list("key", "pk"))
    SegmentMember.objects.bulk_create(
        (
            SegmentMember(segment_id=segment_ids[report.segment], node_id=node_ids[node])
            for report in reports
            for node in report.nodes
            if node in node_ids
        ),
        batch_size=BATCH,
    )


def _installed(snapshot: Snapshot) -> dict[str, date]:
    known = ~np.isnat(snapshot.nodes.installed)
    days = snapshot.nodes.installed.astype("datetime64[D]").astype(object)
    return {snapshot.nodes.key[place]: days[place] for place in np.flatnonzero(known).tolist()}


def _segment_row(
    assessment: Assessment, report: SegmentReport, buildings: dict[str, int], installed: dict[str, date]
) -> Segment:
    return Segment(
        assessment=assessment,
        key=report.segment,
        building_id=buildings.get(report.building or ""),
        verdict=report.verdict.value,
        why=report.why,
        decided_by=report.decided_by,
        station_count=len(report.old_stations),
        node_count=len(report.nodes),
        oldest=_oldest(report.old_stations, installed),
        report=to_json(report),
    )


def _oldest(stations: Iterable[str], installed: dict[str, date]) -> date | None:
    return min((installed[key] for key in stations if key in installed), default=None)


def current_assessment() -> Assessment | None:
    """Return the newest assessment, or None on a campus that was never assessed."""
    return Assessment.objects.order_by("-at", "-pk").first()


def load_reports(assessment: Assessment) -> tuple[SegmentReport, ...]:
    """Return the reports of an assessment, sorted by segment key."""
    stored = assessment.segments.values_list("report", flat=True)
    return tuple(sorted((from_json(SegmentReport, data) for data in stored), key=lambda report: report.segment))
