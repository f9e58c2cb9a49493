"""Judged segments into the table of segments and that of their members, column by column."""

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise

import numpy as np

from inventory.store.snapshot import Stored
from planner.core.campus import Campus
from planner.core.findings import SegmentReport
from planner.core.judgements import Judgements
from planner.core.outlines import Outlines, outlines_of
from planner.models import Assessment, Segment, SegmentMember
from planner.store.insert import insert, prepared
from planner.store.records import to_json
from planner.store.walk import in_lots

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
PREPARED = ("oldest", "buses", "since", "report")  # columns whose values a database wants in its own way


@dataclass(frozen=True, slots=True, kw_only=True)
class Cause:
    """What verdicts changed for: in words, and when."""

    words: str | None
    at: datetime


@dataclass(frozen=True, slots=True)
class Past:
    """What is kept of a stored segment when it is judged again."""

    pk: int
    key: str
    verdict: str
    since: datetime | None
    because: str | None
    was: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """Segments with their verdicts, as they are to be stored; without reports, words follow."""

    stored: Stored
    outlines: Outlines
    key: Sequence[str]
    verdict: Sequence[str]
    decided_by: Sequence[str | None]
    reports: Sequence[SegmentReport | None]

    def __len__(self) -> int:
        return len(self.key)

    def nodes(self, place: int) -> list[int]:
        """Return the ids of one segment's nodes."""
        first = self.outlines.first_node
        found: list[int] = self.stored.nodes[self.outlines.node[first[place] : first[place + 1]]].tolist()
        return found


def judged_all(stored: Stored, judgements: Judgements, reports: Sequence[SegmentReport] | None) -> Judged:
    """Return all segments of a campus as they are to be stored, with reports on all of them or without any."""
    count = len(judgements)
    told = [judgements.verdict_of(label) for label in range(count)]
    return Judged(
        stored=stored,
        outlines=outlines_of(judgements.campus, np.arange(count)),
        key=judgements.key,
        verdict=[verdict.value for verdict, _ in told],
        decided_by=[rule for _, rule in told],
        reports=[None] * count if reports is None else reports,
    )


def judged_some(stored: Stored, campus: Campus, reports: Sequence[SegmentReport]) -> Judged:
    """Return the segments of a campus that there are reports on as they are to be stored."""
    of = {report.segment: report for report in reports}
    labels = [label for label, key in enumerate(campus.segments.key) if key in of]
    own = [of[campus.segments.key[label]] for label in labels]
    return Judged(
        stored=stored,
        outlines=outlines_of(campus, np.array(labels, dtype=np.int64)),
        key=[one.segment for one in own],
        verdict=[one.verdict.value for one in own],
        decided_by=[one.decided_by for one in own],
        reports=own,
    )


def keep_rows(assessment: Assessment, judged: Judged, before: Mapping[str, Past], cause: Cause) -> None:
    """Store judged segments; `before` tells what each was, by its name now. A verdict holds since it last changed."""
    columns = _columns(judged, before, cause)
    made = [prepared(Segment, name, columns[name]) if name in PREPARED else columns[name] for name in COPIED]
    rows = zip(*made, strict=True)
    insert(Segment, ("assessment_id", *COPIED), ((assessment.pk, *row) for row in rows))
    insert(SegmentMember, ("segment_id", "node_id"), _members(assessment, judged))


def _columns(judged: Judged, before: Mapping[str, Past], cause: Cause) -> dict[str, Sequence[object]]:
    outlines, stored = judged.outlines, judged.stored
    building = np.append(stored.buildings, 0)[outlines.building].tolist()
    past = [before.get(key) for key in judged.key] if before else [None] * len(judged)
    held = [one is not None and one.verdict == verdict for one, verdict in zip(past, judged.verdict, strict=True)]
    kept = [one if holds else None for one, holds in zip(past, held, strict=True)]
    return {
        "key": judged.key,
        "building_id": [pk or None for pk in building],
        "verdict": judged.verdict,
        "why": [report.why if report else "" for report in judged.reports],
        "decided_by": judged.decided_by,
        "station_count": outlines.stations.tolist(),
        "node_count": outlines.nodes.tolist(),
        "oldest": outlines.oldest.tolist(),
        "buses": list(_buses(judged)),
        "since": [one.since if one else cause.at for one in kept],
        "because": [one.because if one else cause.words for one in kept],
        "was": [
            None if one is None else one.was if holds else one.verdict for one, holds in zip(past, held, strict=True)
        ],
        "report": [to_json(report) if report else None for report in judged.reports],
    }


def _buses(judged: Judged) -> Iterator[list[int]]:
    first = judged.outlines.first_bus.tolist()
    ids = judged.stored.buses[judged.outlines.bus].tolist()
    return (sorted(ids[begin:end]) for begin, end in pairwise(first))


def _members(assessment: Assessment, judged: Judged) -> Iterator[tuple[int, int]]:
    pks = _pks(assessment, judged.key)
    outlines = judged.outlines
    segment = np.repeat(np.array([pks[key] for key in judged.key], dtype=np.int64), outlines.nodes)
    return zip(segment.tolist(), judged.stored.nodes[outlines.node].tolist(), strict=True)


def _pks(assessment: Assessment, keys: Collection[str]) -> dict[str, int]:
    """Return the ids of stored segments by name."""
    rows = assessment.segments.order_by()
    if len(keys) > assessment.segments.count() // 2:
        return dict(rows.values_list("key", "pk"))
    found: dict[str, int] = {}
    for some in in_lots(keys):
        found |= dict(rows.filter(key__in=some).values_list("key", "pk"))
    return found
