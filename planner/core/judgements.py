"""Verdicts of a whole campus as columns, one row a segment; a report in words is made for those that are asked for.

`judge` is for callers that count, sort and store many segments; `Judgements.report` for the one that somebody looks at.
"""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from inventory.core.snapshot import Snapshot
from planner.core.brief import Brief
from planner.core.findings import SegmentReport, Verdict
from planner.core.rules.table import RULES
from planner.core.segments import Segments, find_segments
from planner.core.verdicts import Campus, reports_of

Small = NDArray[np.int8]
Ints = NDArray[np.int32]

VERDICTS: tuple[Verdict, ...] = tuple(Verdict)  # a verdict's code is its place here
NOTHING = -1  # decided_by, where no rule decides


@dataclass(frozen=True, slots=True, kw_only=True)
class Judgements:
    """All segments of a campus, judged, in the order of their keys.

    verdict : int8[k], places in VERDICTS. decided_by : int8[k], places in RULES, NOTHING where no rule decides.
    stations : int32[k], old stations. label, everywhere, is the place of a segment in these columns.
    """

    campus: Campus
    verdict: Small
    decided_by: Small
    stations: Ints

    @property
    def segments(self) -> Segments:
        """Return the segments that were judged."""
        return self.campus.segments

    @property
    def key(self) -> tuple[str, ...]:
        """Return the name of each segment."""
        return self.campus.segments.key

    def __len__(self) -> int:
        return len(self.verdict)

    def verdict_of(self, label: int) -> tuple[Verdict, str | None]:
        """Return the verdict on one segment, and the rule that decides."""
        rule = int(self.decided_by[label])
        return VERDICTS[int(self.verdict[label])], None if rule == NOTHING else RULES[rule].code

    def report(self, label: int) -> SegmentReport:
        """Return the report on one segment."""
        return self.reports((label,))[0]

    def reports(self, labels: Iterable[int] | None = None) -> tuple[SegmentReport, ...]:
        """Return the reports on some segments, in the order asked for; on all of them by default."""
        return reports_of(self.campus, range(len(self)) if labels is None else labels)


def judge(snapshot: Snapshot, brief: Brief) -> Judgements:
    """Return the verdict on every segment of a campus, or of a part of one.

    Parameters
    ----------
    snapshot : Snapshot
        A campus at one moment. A part of one gives the same verdicts where it holds whole segments with all that
        share a gateway with them, and with all that share a gateway with those.
    brief : Brief
        Conductor temperature, reserves, doubt reach, forbidden and preferred methods.

    Returns
    -------
    Judgements
        The same verdicts as those of `planner.core.verdicts.assess`.

    """
    return judge_segments(snapshot, find_segments(snapshot), brief)


def judge_segments(snapshot: Snapshot, segments: Segments, brief: Brief) -> Judgements:
    """Return the verdicts on segments that were found before."""
    campus = Campus(snapshot, segments, brief)
    reports = reports_of(campus, range(len(segments)))
    verdict_codes = {verdict: place for place, verdict in enumerate(VERDICTS)}
    rule_codes = {rule.code: place for place, rule in enumerate(RULES)}
    return Judgements(
        campus=campus,
        verdict=np.array([verdict_codes[one.verdict] for one in reports], dtype=np.int8),
        decided_by=np.array([rule_codes.get(one.decided_by or "", NOTHING) for one in reports], dtype=np.int8),
        stations=np.array([len(one.old_stations) for one in reports], dtype=np.int32),
    )
