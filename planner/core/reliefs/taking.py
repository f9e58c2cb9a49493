"""Ways out that a planner has taken, judged again on the campus as it stands: what still passes goes into orders.

Two that are taken may not count on the same room, nor may one move a node to a segment that another changes: of those
that clash, the later one falls.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TypeVar

from inventory.core.snapshot import Snapshot
from planner.core.brief import Brief
from planner.core.choices import Refusal, Tick
from planner.core.findings import SegmentReport, Verdict, WayOut
from planner.core.pieces import Piece
from planner.core.reliefs.again import Changed, Falls, Standing, changed_again, judged_again, wanting
from planner.core.reliefs.clashes import drop_what_clashes
from planner.core.reliefs.search import Answer
from planner.core.reliefs.trying import judged_pieces
from planner.core.reliefs.view import View
from planner.core.reliefs.words import Words
from planner.core.rules.case import Case
from planner.core.rules.membership import other_members
from planner.core.rules.reports import voltages_of

T = TypeVar("T")


@dataclass(frozen=True, slots=True, kw_only=True)
class TakenUp:
    """What became of ways out that were taken: the reports with those that hold, and why others do not.

    `ways` are those that hold, at today's prices.
    """

    reports: tuple[SegmentReport, ...]
    ways: tuple[Tick, ...] = ()
    refused: tuple[Refusal, ...] = ()


def take_up(snapshot: Snapshot, reports: tuple[SegmentReport, ...], ticks: Sequence[Tick], brief: Brief) -> TakenUp:
    """Return the reports with the ways out that were taken and still hold, and why the others do not.

    Parameters
    ----------
    snapshot : Snapshot
        The campus as it stands.
    reports : tuple of SegmentReport
        Its reports, of all segments.
    ticks : sequence of Tick
        The ways out that were taken, the oldest first.
    brief : Brief
        As for `ways_out`.

    Returns
    -------
    TakenUp
        The report of a segment whose way out holds says how it stands with the changes: it is in place or together, and
        `changes` says what must be done; `nodes` and `runs` are those of today. Each tick is among `ways` or `refused`.

    """
    if not ticks:
        return TakenUp(reports=reports)
    by_key = {report.segment: report for report in reports}
    refused: dict[str, str] = {}
    view = View(snapshot, reports, brief, about=[tick.segment for tick in ticks if tick.segment in by_key])
    changed = [one for tick in ticks if (one := _kept(refused, tick, _change, view, by_key))]
    cases = judged_pieces(snapshot, brief, [one.piece for one in changed], [one.tick.segment for one in changed])
    tried = (_kept(refused, one.tick, _judge, view, one, found) for one, found in zip(changed, cases, strict=True))
    standing = {one.key: one for one in tried if one}
    refused |= drop_what_clashes(view, by_key, standing)
    after = {key: _after(view, one) for key, one in standing.items()}
    return TakenUp(
        reports=tuple(after[report.segment][0] if report.segment in after else report for report in reports),
        ways=tuple(Tick(segment=key, way=way) for key, (_, way) in after.items()),
        refused=tuple(
            Refusal(about=tick.segment, why=refused[tick.segment]) for tick in ticks if tick.segment in refused
        ),
    )


def _kept(refused: dict[str, str], tick: Tick, do: Callable[..., T], *facts: object) -> T | None:
    """Return what comes of a tick, or None and note why it falls."""
    try:
        return do(tick, *facts)
    except Falls as why:
        refused[tick.segment] = str(why)
        return None


def _change(tick: Tick, view: View, by_key: Mapping[str, SegmentReport]) -> Changed:
    return changed_again(view, wanting(by_key, tick), tick)


def _judge(_: Tick, view: View, one: Changed, cases: Sequence[Case]) -> Standing:
    return judged_again(view, one, cases)


def _after(view: View, one: Standing) -> tuple[SegmentReport, WayOut]:
    """Return the report of a segment as it stands with its changes, and its way out at today's prices."""
    changed, case = one.changed, one.trial.case
    answer = Answer(shape=changed.shape, trial=one.trial, pulled=changed.pulled, cable=changed.cable)
    way = replace(Words(view, changed.report, answer).way_out(), along=one.along)
    report = replace(
        changed.report,
        verdict=Verdict.IN_PLACE if len(case.old) == 1 else Verdict.TOGETHER,
        why="With the way out that was taken every rule passes.",
        decided_by=None,
        questions=(),
        others=tuple(sorted(member.key for member in other_members(case))),
        extras=tuple(sorted(case.extras)),
        findings=one.trial.findings,
        methods=tuple(sorted((member.key, member.method.key) for member in case.old if member.method is not None)),
        new_protocol=case.option.new_protocol,
        bit_rate_kbit_s=case.row.bit_rate_kbit_s if case.row is not None else None,
        cable_ends=sum(wire.cable_ends for wire in case.wires),
        wire_m=_wire_m(changed.piece),
        voltages=tuple(voltages_of(case)),
        changes=way.changes,
    )
    return report, way


def _wire_m(piece: Piece) -> float | None:
    lengths = [link.length_m for link in piece.links]
    return round(sum(lengths), 6) if all(length >= 0 for length in lengths) else None  # NaN is not
