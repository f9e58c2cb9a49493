"""Verdicts of a whole campus as columns, one row a segment; a report in words is made for those that are asked for.

`judge` is for callers that count, sort and store many segments; `Judgements.report` for the one that somebody looks at.
"""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from inventory.core.snapshot import Snapshot
from planner.core.brief import Brief
from planner.core.campus import Campus
from planner.core.fates import CODE, NOTHING, RULE, VERDICTS, gateway_codes, signatures, verdicts_of_trials
from planner.core.findings import SegmentReport, Verdict
from planner.core.rules.asking import FAIL, UNKNOWN
from planner.core.rules.readings import readings_of
from planner.core.rules.table import RULES
from planner.core.screening import Screened, open_flags, screen_campus
from planner.core.segments import Segments, find_segments
from planner.core.sides import Flags, Longs
from planner.core.telling import told_by_arrays
from planner.core.verdicts import reports_of, verdicts_of

__all__ = ["NOTHING", "VERDICTS", "Judgements", "judge", "judge_segments"]
Small = NDArray[np.int8]
Ints = NDArray[np.int32]
AT_ONCE = 2_000  # segments that are judged in words together: words take memory
ACROSS = 2  # gateways across which the verdict on one segment can bear on that of another


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
    verdict = np.full(len(segments), CODE[Verdict.LEAVE], dtype=np.int8)
    decided = np.full(len(segments), NOTHING, dtype=np.int8)
    stations = campus.stations
    _without_options(campus, verdict, decided)
    in_words = _by_arrays(campus, verdict, decided) if len(campus.tries) else np.empty(0, dtype=np.int64)
    for start in range(0, len(in_words), AT_ONCE):
        for label, (said, rule) in verdicts_of(campus, in_words[start : start + AT_ONCE].tolist()).items():
            verdict[label], decided[label] = CODE[said], NOTHING if rule is None else RULE[rule]
    return Judgements(campus=campus, verdict=verdict, decided_by=decided, stations=stations.astype(np.int32))


def _without_options(campus: Campus, verdict: Small, decided: Small) -> None:
    """Write the verdicts on segments with old stations for which no allowed methods agree."""
    bare = np.setdiff1d(np.fromiter(campus.models_of, dtype=np.int64), campus.tries[:, 0])
    verdict[bare], decided[bare] = CODE[Verdict.OTHER_METHOD], RULE["gateway"]
    doubtful = bare[open_flags(campus).doubtful[bare]]
    verdict[doubtful], decided[doubtful] = CODE[Verdict.SURVEY_FIRST], RULE["records"]


def _by_arrays(campus: Campus, verdict: Small, decided: Small) -> Longs:
    """Write the verdicts on segments with one option, and return those that have to be judged in words.

    These are the ones that lack a fact whose range may settle the verdict (but cables of runs), that were measured, or
    that can be converted in several ways, with all on which their verdicts bear.
    """
    screened = screen_campus(campus)
    failing, unknown = screened.failing, screened.unknown
    asking = unknown.any(axis=0) & ~failing.any(axis=0) & ~screened.screen.tally.doubtful
    worded = told_by_arrays(campus, screened, failing, asking)
    first, _ = verdicts_of_trials(screened, failing, unknown)
    gateway = gateway_codes(campus, screened, first)
    failing[RULE["gateway"]], unknown[RULE["gateway"]] = gateway == FAIL, gateway == UNKNOWN
    second, rule = verdicts_of_trials(screened, failing, unknown)
    segment = screened.screen.tally.segment
    verdict[segment], decided[segment] = second, rule
    measured = np.fromiter(readings_of(campus.snapshot, campus.segments).by_label, dtype=np.int64)
    in_words = np.unique(np.concatenate([segment[worded], measured]))
    for _ in range(ACROSS):
        in_words = campus.tried_near(in_words)
    return np.union1d(in_words, _several_ways(campus, screened))


def _several_ways(campus: Campus, screened: Screened) -> Longs:
    """Return the segments that have several options, or share a gateway with one that makes something else of it."""
    count, segment = len(campus.segments), screened.screen.tally.segment
    signature = signatures(campus)[screened.screen.tally.option]
    low, high = np.full(count, np.iinfo(np.int64).max), np.full(count, -1)
    np.minimum.at(low, segment, signature)
    np.maximum.at(high, segment, signature)
    gateways, nodes = campus.gateways, len(campus.snapshot.nodes)
    least, most = np.full(nodes, np.iinfo(np.int64).max), np.full(nodes, -1)
    np.minimum.at(least, gateways.node, low[gateways.label])
    np.maximum.at(most, gateways.node, high[gateways.label])
    torn: Flags = np.zeros(count, dtype=bool)
    torn[gateways.label[(least < most)[gateways.node]]] = True
    torn |= np.bincount(segment, minlength=count) > 1
    tried = np.zeros(count, dtype=bool)
    tried[segment] = True
    return np.flatnonzero(torn & tried)
