"""What is done beside the conversion itself: extras fitted, nodes moved, cable pulled; with minutes and people."""

from collections.abc import Iterable, Iterator
from decimal import Decimal

from planner.core.brief import Brief
from planner.core.effort import Effort
from planner.core.findings import Change, SegmentReport
from planner.core.money import to_cents
from planner.core.plans import ChangeStep, Conversion
from planner.core.rules.table import BOX, END, LARGER, LOCAL, RATE

MOVE, LEAVE_OUT, NEW_LINE, PULL = "move", "leave out", "new line", "pull anew"
EXTRAS = (BOX, END, LARGER, LOCAL, RATE)
BOTH_ENDS = 2  # most end resistors that a trunk can lack
EXTRA_WORDS = {  # where an extra goes
    BOX: "where the opening is too small",
    END: "at each end of the trunk that has none",
    LARGER: "in place of what feeds the segment now",
    LOCAL: "at each old station",
    RATE: "at the gateway",
}


def change_steps(report: SegmentReport, brief: Brief) -> tuple[ChangeStep, ...]:
    """Return the steps of a segment beside those of its methods, in the order in which they are done.

    New cable is pulled beside the old before the outage; runs are changed over, nodes moved and extras fitted in it.
    """
    said = {change.what: change.words for change in report.changes}
    extras = [_extra(report, extra, said.get(extra), brief) for extra in report.extras]
    changes = [step for change in report.changes for step in _steps(report.segment, change, brief)]
    return tuple(sorted((*changes, *extras), key=lambda step: step.dark))


def _extra(report: SegmentReport, extra: str, words: str | None, brief: Brief) -> ChangeStep:
    stations = len(report.old_stations)
    places = {LOCAL: stations, BOX: stations, END: BOTH_ENDS, LARGER: 1, RATE: 0}.get(extra, 1)
    return ChangeStep(
        segment=report.segment,
        what=extra,
        words=words or EXTRA_WORDS.get(extra, extra),
        minutes=float(brief.extra_min * places),
        people=1,
        dark=True,
    )


def _steps(segment: str, change: Change, brief: Brief) -> Iterator[ChangeStep]:
    if change.what in (PULL, NEW_LINE):
        metres = change.length_m
        yield ChangeStep(
            segment=segment,
            what=change.what,
            words=change.words,
            minutes=None if metres is None else metres * brief.pull_min_per_m,
            people=brief.pull_people,
            dark=False,
            priced=True,
        )
        yield _in_outage(segment, "change over", change, brief.change_over_min * change.places)
    elif change.what == LEAVE_OUT:
        yield _in_outage(segment, change.what, change, brief.change_over_min)
    elif change.what == MOVE:
        yield _in_outage(segment, change.what, change, brief.move_min, priced=True)


def _in_outage(segment: str, what: str, change: Change, minutes: float, *, priced: bool = False) -> ChangeStep:
    return ChangeStep(
        segment=segment,
        what=what,
        words=change.words,
        minutes=float(minutes),
        people=1,
        dark=True,
        priced=priced,
        to=change.to if what == MOVE else None,
    )


def conversion_of(report: SegmentReport) -> Conversion:
    """Return what a segment becomes, with the way out that was taken."""
    told = [change for change in report.changes if change.to is not None]
    line = next((change for change in report.changes if change.what == NEW_LINE), None)
    return Conversion(
        segment=report.segment,
        protocol=report.new_protocol,
        bit_rate_kbit_s=report.bit_rate_kbit_s,
        buses=report.buses,
        gateways=report.gateways,
        stations=report.methods,
        moved=tuple((change.about, change.to or "") for change in told if change.what == MOVE),
        pulled=tuple((change.about, change.to or "") for change in told if change.what == PULL),
        left_out=tuple(change.about for change in report.changes if change.what == LEAVE_OUT),
        line=line.line if line is not None else (),
        line_cable=line.to if line is not None else None,
    )


def effort_of(steps: Iterable[ChangeStep]) -> Effort:
    """Return what some changes take, one after the other; what is not known is named, never taken for nothing."""
    found = tuple(steps)
    return Effort(
        before_min=sum(step.minutes or 0.0 for step in found if not step.dark),
        dark_min=sum(step.minutes or 0.0 for step in found if step.dark),
        people=max((step.people for step in found), default=1),
        unknown=tuple(
            f"how long it takes to {step.what} is not known: {step.words}" for step in found if step.minutes is None
        ),
    )


def cable_needs(report: SegmentReport) -> Iterator[tuple[str, Decimal]]:
    """Yield the cables that are pulled, by name, with their length [m]."""
    for change in report.changes:
        if change.what in (PULL, NEW_LINE) and change.to is not None and change.length_m is not None:
            yield change.to, Decimal(repr(round(change.length_m, 6)))


def cost_of(reports: Iterable[SegmentReport], brief: Brief) -> Decimal:
    """Return what pulling and moving cost by the brief's rates, labour included, cable not."""
    changes = [change for report in reports for change in report.changes]
    moves = sum(change.what == MOVE for change in changes)
    metres = sum((metres for report in reports for _, metres in cable_needs(report)), Decimal(0))
    return to_cents(brief.move_rate * moves + brief.pull_rate * metres)
