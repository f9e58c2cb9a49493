"""A way out that was taken, done again to the wiring as it stands now, and judged by every rule."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from planner.core.changes import EXTRAS, LEAVE_OUT, MOVE, NEW_LINE, PULL
from planner.core.choices import Tick
from planner.core.findings import CONVERTIBLE, Change, SegmentReport, Verdict, WayOut
from planner.core.pieces import Piece, piece_of
from planner.core.reliefs.pieces import in_one_line, pulled_anew, without_nodes, without_runs
from planner.core.reliefs.shapes import Shape
from planner.core.reliefs.trying import Trial, is_wrong, key_of, open_rows
from planner.core.reliefs.view import View
from planner.core.rules.case import Case
from planner.core.rules.table import RATE
from planner.core.verdicts import Judged


class Falls(Exception):  # noqa: N818 - what happens to the tick
    """A way out does not hold any more; the message says why."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Changed:
    """One segment as its way out would leave it, before it is judged."""

    tick: Tick
    report: SegmentReport
    one: Judged
    shape: Shape
    pulled: tuple[int, ...]
    cable: int | None

    @property
    def piece(self) -> Piece:
        """Return its wiring with all changes."""
        return (
            self.shape.piece
            if self.cable is None
            else pulled_anew(self.shape.piece, frozenset(self.pulled), self.cable)
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """One segment as its way out would leave it, with every rule passing; `along` must take theirs with it."""

    changed: Changed
    trial: Trial
    along: tuple[str, ...]

    @property
    def key(self) -> str:
        """Return the segment's name."""
        return self.changed.report.segment

    @property
    def moves(self) -> dict[int, str]:
        """Return the nodes that move, by position, with the segment each goes to."""
        return dict(self.changed.shape.moved)


def wanting(by_key: Mapping[str, SegmentReport], tick: Tick) -> SegmentReport:
    """Return the report of a segment that still wants a way out."""
    report = by_key.get(tick.segment)
    if report is None:
        raise Falls(f"There is no segment {tick.segment} any more.")
    if report.verdict is Verdict.LEAVE:
        raise Falls("No old station stands on it any more.")
    if report.verdict in CONVERTIBLE:
        raise Falls("It converts as it is now, so that no change is needed.")
    if not tick.way.passes:
        raise Falls("This way out does not make every rule pass.")
    return report


def changed_again(view: View, report: SegmentReport, tick: Tick) -> Changed:
    """Return a segment with the changes of its way out made to its wiring."""
    label = view.labels[report.segment]
    whole = piece_of(view.snapshot, view.segments, label)
    options = view.judged.get(label, [])
    one = next((judged for judged in options if key_of(judged.settled.case) == tick.way.methods), None)
    if whole is None:
        raise Falls("How it is wired does not follow from the records any more.")
    if one is None:
        raise Falls(f"It does not convert by {', '.join(tick.way.methods)} any more.")
    case = one.settled.case
    if case.doubts or case.doubtful or case.silent or case.lost:
        raise Falls("The records leave open what is wired to it; the questions come first.")
    cable, pulled = _pulled(view, whole, tick.way)
    return Changed(
        tick=tick, report=report, one=one, shape=_shape(view, whole, case, tick.way), pulled=pulled, cable=cable
    )


def _shape(view: View, whole: Piece, case: Case, way: WayOut) -> Shape:
    moved = {_place(view.nodes, change.about, whole.nodes): change.to or "" for change in _of(way, MOVE)}
    runs = {view.snapshot.runs.key[link.run]: link.run for link in whole.links}
    left_out = tuple(_place(runs, change.about, tuple(runs.values())) for change in _of(way, LEAVE_OUT))
    piece = without_nodes(whole, moved, view.junctions) if moved else whole
    piece = without_runs(piece, left_out, view.junctions) if left_out else piece
    moves = tuple(sorted(moved.items()))
    for change in _of(way, NEW_LINE):
        cable, root = _cable(view, change.to), view.root(case)
        line = in_one_line(piece, root, view.junctions, cable) if root is not None else None
        if line is None:
            raise Falls("The way of the new line does not follow from the records any more.")
        return Shape(piece=line, moved=moves, line=cable)
    return Shape(piece=piece, moved=moves, left_out=left_out)


def _pulled(view: View, whole: Piece, way: WayOut) -> tuple[int | None, tuple[int, ...]]:
    runs = {view.snapshot.runs.key[link.run]: link.run for link in whole.links}
    pulled = tuple(_place(runs, change.about, tuple(runs.values())) for change in _of(way, PULL))
    cables = {_cable(view, change.to) for change in _of(way, PULL)}
    return (cables.pop() if cables else None), tuple(sorted(pulled))


def _of(way: WayOut, what: str) -> Iterator[Change]:
    return (change for change in way.changes if change.what == what)


def _place(places: Mapping[str, int], key: str, allowed: tuple[int, ...]) -> int:
    place = places.get(key, -1)
    if place not in allowed:
        raise Falls(f"{key} is not on it any more.")
    return place


def _cable(view: View, key: str | None) -> int:
    names = [cable.key for cable in view.snapshot.catalogue.cables]
    if key not in names:
        raise Falls(f"Cable {key} is not in the catalogue any more.")
    return names.index(key)


def judged_again(view: View, changed: Changed, cases: Sequence[Case]) -> Standing:
    """Judge a changed segment by every rule."""
    way = changed.tick.way
    case = next((one for one in cases if key_of(one) == way.methods), None)
    if case is None:
        raise Falls(f"It does not convert by {', '.join(way.methods)} any more.")
    extras = frozenset(change.what for change in way.changes if change.what in EXTRAS)
    gone = sorted(extras - case.option.extras - {RATE})
    if gone:
        raise Falls(f"The method lists no parts for {', '.join(gone)} any more.")
    row = (
        next((row for row, _ in open_rows(case) if row.bit_rate_kbit_s == _rate(way)), None)
        if RATE in extras
        else case.row
    )
    if row is None:
        raise Falls(f"The limits of {case.option.new_protocol} at its bit rate are not known.")
    label = view.labels[changed.report.segment]
    trial = Trial(case=replace(case, row=row, extras=extras), fixed=view.fixed(label, changed.one, alone=False))
    wrong = [finding for finding in trial.findings if is_wrong(finding)]
    if wrong:
        raise Falls("; ".join(f"{one.rule}: {one.why}" for one in wrong))
    return Standing(changed=changed, trial=trial, along=view.needs(label, changed.one))


def _rate(way: WayOut) -> float | None:
    return next((change.rate_kbit_s for change in way.changes if change.what == RATE), None)
