"""Reports in words on stored verdicts. On a large campus words follow verdicts: until then they are made when asked for."""

from collections.abc import Iterable

from django.utils import timezone

from inventory.store import load_stored
from planner.core.findings import SegmentReport
from planner.core.judgements import judge
from planner.models import Assessment, Segment
from planner.models.briefs import FIRST_BRIEF
from planner.store.briefs import load_brief
from planner.store.nearby import TooMany, judge_again, look_before
from planner.store.records import from_json
from planner.store.touches import Touched
from planner.store.verdicts import keep_words

CHANGED = "The records around segment {} have changed since its verdict. Have the campus assessed anew."


class NotInWords(Exception):  # noqa: N818 - says what it is
    """A verdict that nobody can put into words now; the message says what to do."""


def report_on(row: Segment) -> SegmentReport:
    """Return the report on a stored segment; made, and kept, where its words have not been written yet."""
    if row.report is None:
        keep_words(row.assessment, _around(row))
        row.refresh_from_db(fields=["why", "report"])
    if row.report is None:
        raise NotInWords(CHANGED.format(row.key))
    return from_json(SegmentReport, row.report)


def _around(row: Segment) -> tuple[SegmentReport, ...]:
    """Judge a segment again, with what bears on it."""
    nodes = frozenset(row.members.exclude(node__model__kind="gateway").values_list("node_id", flat=True))
    touched = Touched(nodes=nodes, buses=frozenset(row.buses))
    try:
        before = look_before(row.assessment, touched)
        return judge_again(row.assessment, before, touched, load_brief(FIRST_BRIEF), timezone.localdate()).reports
    except TooMany:
        message = f"So much hangs together with segment {row.key} that its reasons come with the whole campus alone. Wait a little."
        raise NotInWords(message) from None


def load_reports(assessment: Assessment) -> tuple[SegmentReport, ...]:
    """Return the reports of an assessment, sorted by segment key; made, and kept, where words have not been written."""
    silent = assessment.segments.filter(report__isnull=True)
    if silent.exists():
        _write(assessment, silent.values_list("key", flat=True))
    for key in silent.values_list("key", flat=True)[:1]:
        raise NotInWords(CHANGED.format(key))
    stored = assessment.segments.values_list("report", flat=True)
    return tuple(sorted((from_json(SegmentReport, data) for data in stored), key=lambda report: report.segment))


def _write(assessment: Assessment, keys: Iterable[str]) -> None:
    """Put the whole campus into words where they are missing; what does not stand as it did stays silent."""
    judgements = judge(load_stored(taken_on=timezone.localdate()).snapshot, load_brief(FIRST_BRIEF))
    silent = frozenset(keys)
    labels = [label for label, key in enumerate(judgements.key) if key in silent]
    keep_words(assessment, judgements.reports(labels))
