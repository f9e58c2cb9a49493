"""The cheapest way out for every segment that is not convertible: all searches go on at once, round by round."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from itertools import islice

from inventory.core.snapshot import Snapshot
from planner.core.brief import Brief
from planner.core.findings import CONVERTIBLE, SegmentReport, Verdict, WayOut
from planner.core.reliefs.search import Found, Rounds
from planner.core.reliefs.trying import judged_pieces
from planner.core.reliefs.view import View, agreed_ways
from planner.core.reliefs.words import Words, all_anew


def ways_out(
    snapshot: Snapshot, reports: Sequence[SegmentReport], brief: Brief, only: Iterable[str] | None = None
) -> dict[str, WayOut]:
    """Return the cheapest way out of each segment with old stations that is not convertible.

    Parameters
    ----------
    snapshot : Snapshot
        The campus that was assessed.
    reports : sequence of SegmentReport
        Its reports, of all segments.
    brief : Brief
        Reserves, temperature, prices of pulling a metre of cable and of moving a node, currency.
    only : iterable of str, optional
        Keys of the segments that are asked about; all where it is left out.

    Returns
    -------
    dict
        WayOut by segment key. Its changes are the cheapest set, parts of the conversion included, that makes every
        rule pass, over extras, bit rates, runs pulled anew with a cable that has a part, runs left out to open a
        loop, one new line through the whole segment, and nodes moved to a segment with room.

    """
    wanted = None if only is None else set(only)
    asked = [
        report
        for report in reports
        if report.verdict not in (*CONVERTIBLE, Verdict.LEAVE) and (wanted is None or report.segment in wanted)
    ]
    if not asked:
        return {}
    every = [report for report in reports if report.verdict not in (*CONVERTIBLE, Verdict.LEAVE)]
    group = asked if wanted is None else _with_their_gateways(asked, every)
    view = View(snapshot, reports, brief, about=[report.segment for report in group])
    found = _run_all(snapshot, brief, view.searches(group, alone=False))
    along = agreed_ways(view, found)
    left = [report for report in group if report.segment in found and report.segment not in along]
    found |= _run_all(snapshot, brief, view.searches(left, alone=True))
    return {one.segment: _way_out(view, one, found.get(one.segment), along.get(one.segment, ())) for one in asked}


def _with_their_gateways(asked: Sequence[SegmentReport], every: Sequence[SegmentReport]) -> list[SegmentReport]:
    """Return the reports asked about and those of segments that hang together with them by gateways."""
    by_key = {report.segment: report for report in every}
    found, waiting = {}, list(asked)
    while waiting:
        report = waiting.pop()
        found[report.segment] = report
        waiting += [by_key[key] for key in report.gateway_neighbours if key in by_key and key not in found]
    return [found[key] for key in sorted(found)]


def with_ways_out(snapshot: Snapshot, reports: Sequence[SegmentReport], brief: Brief) -> tuple[SegmentReport, ...]:
    """Return the same reports with the way out of each segment that needs one."""
    found = ways_out(snapshot, reports, brief)
    return tuple(replace(report, way_out=found.get(report.segment)) for report in reports)


def _run_all(snapshot: Snapshot, brief: Brief, searches: Mapping[str, Rounds]) -> dict[str, Found]:
    """Run all searches side by side: the pieces of one round are judged together."""
    found: dict[str, Found] = {}
    asked = {key: next(one) for key, one in searches.items()}
    while asked:
        pieces = [(key, piece) for key, wanted in asked.items() for piece in wanted]
        cases = iter(judged_pieces(snapshot, brief, [piece for _, piece in pieces], [key for key, _ in pieces]))
        answers = {key: list(islice(cases, len(wanted))) for key, wanted in asked.items()}
        asked = {}
        for key, answer in answers.items():
            try:
                asked[key] = searches[key].send(answer)
            except StopIteration as ended:
                found[key] = ended.value
    return found


def _way_out(view: View, report: SegmentReport, found: Found | None, along: tuple[str, ...]) -> WayOut:
    """Return what was found in words."""
    first = report.verdict is Verdict.SURVEY_FIRST
    if found is None or found.best is None:
        return replace(all_anew(view, report), questions_first=first)
    said = Words(view, report, found.best).way_out()
    return replace(said, along=along, questions_first=first, limited=found.limited, tried=found.tried)
