"""One segment with what a change does to it, and the drawings and the table that follow from that."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from planner.core.changes import LEAVE_OUT, MOVE
from planner.core.circuits import Stretch
from planner.core.ends import EndResistor
from planner.core.findings import CONVERTIBLE, Outcome, SegmentReport, Verdict
from planner.core.rules.table import BOX, LARGER, LOCAL
from planner.handover.drawn import DrawnNode, DrawnRun, DrawnSegment, Note, Sign
from planner.handover.reading import Step, loops_of, steps_of

NOT_KNOWN = "length not known"
BEFORE, AFTER = "before, as recorded", "after the change"


@dataclass(frozen=True, slots=True, kw_only=True)
class SketchNode:
    """One node: what it is now and after the change (`after` None: it stays as it is).

    has_end : an end resistor is in circuit as recorded. adapter : the new unit needs a wider box than there is.
    """

    key: str
    kind: str
    model: str
    after: str | None = None
    room: str | None = None
    has_end: bool = False
    is_old: bool = False
    adapter: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Sketch:
    """One segment with its change.

    set_over : the new bus, where the gateway stays and is set over to it. ends : end resistors after the change. volts :
    voltage at each node then, in words. worked : nodes at whose cable ends breakouts and patch leads go on. changes :
    (node or run, what, words) of a way out that comes with it. line : the runs of a new line that takes the place of all others. feeds : what feeds the segment then. leads : whether the
    method puts patch leads on.
    """

    segment: str
    verdict: Verdict
    nodes: tuple[SketchNode, ...]
    runs: tuple[Stretch, ...]
    root: str | None = None
    set_over: str | None = None
    ends: tuple[EndResistor, ...] = ()
    volts: tuple[tuple[str, str], ...] = ()
    worked: frozenset[str] = frozenset()
    extras: tuple[str, ...] = ()
    changes: tuple[tuple[str, str, str], ...] = ()
    line: tuple[Stretch, ...] = ()
    feeds: str | None = None
    leads: bool = True

    @property
    def runs_after(self) -> tuple[Stretch, ...]:
        """Return the runs after the change, those that are left out among them."""
        return self.line or self.runs

    @property
    def converts(self) -> bool:
        """Tell whether there is an after to draw: it converts as it is, or by a way out."""
        return self.verdict in CONVERTIBLE or bool(self.changes)


def before(sketch: Sketch) -> DrawnSegment:
    """Return the segment as recorded; what the change takes out is crossed."""
    changes = _by_key(sketch)
    return DrawnSegment(
        segment=sketch.segment,
        verdict=sketch.verdict.value,
        nodes=tuple(_node_before(sketch, node, changes) for node in sketch.nodes),
        runs=tuple(
            DrawnRun(key=run.key, ends=run.ends, label=label_of(run), length_m=run.length_m) for run in sketch.runs
        ),
        root=sketch.root,
        when=BEFORE,
    )


def after(sketch: Sketch) -> DrawnSegment:
    """Return the segment after the change; what it puts in carries a plus."""
    changes, volts, ends = _by_key(sketch), dict(sketch.volts), {one.node: one for one in sketch.ends}
    nodes = []
    for node in sketch.nodes:
        notes = tuple(_notes_after(sketch, node, volts.get(node.key), ends.get(node.key), changes))
        sign = _sign_after(node, changes)
        nodes.append(DrawnNode(key=node.key, kind=node.kind, notes=notes, sign=sign))
    return DrawnSegment(
        segment=sketch.segment,
        verdict=sketch.verdict.value,
        nodes=tuple(nodes),
        runs=tuple(_run_after(sketch, run, changes) for run in sketch.runs_after),
        root=sketch.root,
        when=AFTER,
        says_runs=False,
    )


Changes = Mapping[str, list[tuple[str, str]]]


def _by_key(sketch: Sketch) -> Changes:
    found: dict[str, list[tuple[str, str]]] = {}
    for about, what, words in sketch.changes:
        found.setdefault(about, []).append((what, words))
    return found


def label_of(run: Stretch) -> str:
    """Return length and cable of a run in words."""
    metres = NOT_KNOWN if run.length_m is None else f"{run.length_m:g} m"
    return f"{metres}, {run.cable.key if run.cable is not None else 'cable not known'}"


def _node_before(sketch: Sketch, node: SketchNode, changes: Changes) -> DrawnNode:
    goes = sketch.converts and (node.after is not None or _moves(node.key, changes))
    notes = [Note(text=", ".join(part for part in (node.kind, node.model, _room(node)) if part))]
    if node.has_end:
        notes.append(Note(text="end resistor built in", sign=Sign.END))
    if goes:
        notes.append(Note(text="is taken out", sign=Sign.OUT))
    return DrawnNode(
        key=node.key, kind=node.kind, notes=tuple(notes), is_old=node.is_old, sign=Sign.OUT if goes else Sign.NONE
    )


def _room(node: SketchNode) -> str | None:
    return f"room {node.room}" if node.room else None


def _moves(key: str, changes: Changes) -> bool:
    return any(what == MOVE for what, _ in changes.get(key, ()))


def _sign_after(node: SketchNode, changes: Changes) -> Sign:
    if _moves(node.key, changes):
        return Sign.OUT
    return Sign.IN if node.after is not None else Sign.NONE


def _notes_after(
    sketch: Sketch, node: SketchNode, volts: str | None, end: EndResistor | None, changes: Changes
) -> Iterator[Note]:
    """Yield the words under a node after the change."""
    if node.after is None:
        yield Note(text=", ".join(part for part in (node.kind, node.model, _room(node)) if part))
    else:
        yield Note(text=", ".join(part for part in (node.kind, _room(node)) if part))
        yield Note(text=f"{node.after} put in for {node.model}", sign=Sign.IN)
    if volts is not None:
        yield Note(text=volts)
    if end is not None:
        yield Note(text=f"end resistor {end.how.value}", sign=Sign.END if end.works else Sign.NONE)
    for what in done_at(sketch, node):
        yield Note(text=what, sign=Sign.IN)
    if sketch.line and not any(node.key in run.ends for run in sketch.line) and not _moves(node.key, changes):
        yield Note(text="not on the new line", sign=Sign.OUT)
    for what, words in changes.get(node.key, ()):
        yield Note(text=f"{what}: {words}", sign=_sign_of(what))


def done_at(sketch: Sketch, node: SketchNode) -> Iterator[str]:
    """Yield what else is put in or set at a node."""
    if sketch.set_over is not None and node.key == sketch.root:
        yield f"set over to {sketch.set_over}"
    if LOCAL in sketch.extras and node.is_old:
        yield "local supply put in"
    if BOX in sketch.extras and node.adapter:
        yield "box adapter put in"
    if LARGER in sketch.extras and node.key == sketch.feeds:
        yield "larger supply put in"


def _run_after(sketch: Sketch, run: Stretch, changes: Changes) -> DrawnRun:
    done = changes.get(run.key, ())
    notes = [Note(text=f"{what}: {words}", sign=_sign_of(what)) for what, words in done]
    if sketch.line:
        notes.append(Note(text="new cable pulled", sign=Sign.IN))
    left_out = any(what == LEAVE_OUT for what, _ in done)
    landed = [end for end in run.ends if end in sketch.worked and not left_out]
    if landed:
        what = "breakout and lead" if sketch.leads else "breakout"
        where = "both ends" if len(landed) == len(run.ends) else f"at {landed[0]}"
        notes.append(Note(text=f"{what} put in, {where}", sign=Sign.IN))
    return DrawnRun(
        key=run.key,
        ends=run.ends,
        label=label_of(run),
        length_m=run.length_m,
        notes=tuple(notes),
        sign=Sign.IN if sketch.line else (_sign_of(done[0][0]) if done else Sign.NONE),
    )


def _sign_of(change: str) -> Sign:
    return Sign.OUT if change in (MOVE, LEAVE_OUT) else Sign.IN


@dataclass(frozen=True, slots=True, kw_only=True)
class CableEnd:
    """One end of an old cable that is landed: at which node, of which run, whose far end is where, the resistor there."""

    node: str
    run: str
    far: str
    resistor: str


def cable_ends(sketch: Sketch) -> tuple[CableEnd, ...]:
    """Return every cable end that the change lands, by node and run; runs that are left out are capped, not landed."""
    ends = {one.node: f"end resistor {one.how.value}" for one in sketch.ends}
    without = "no end resistor" if sketch.ends else "not known where the line ends"
    left_out = {about for about, what, _ in sketch.changes if what == LEAVE_OUT}
    found = [
        CableEnd(node=node, run=run.key, far=far, resistor=ends.get(node, without))
        for run in sketch.runs_after
        for node, far in (run.ends, run.ends[::-1])
        if node in sketch.worked and run.key not in left_out
    ]
    return tuple(sorted(found, key=lambda one: (one.node, one.run)))


@dataclass(frozen=True, slots=True, kw_only=True)
class SketchRow:
    """One row of the table behind the drawings, in the order in which they are read; `run` None: the first of its wire."""

    node: str
    kind: str
    before: str
    after: str
    room: str | None
    run: str | None
    origin: str | None
    wire: str | None
    volts: str | None
    done: tuple[str, ...]


def rows_of(sketch: Sketch) -> tuple[SketchRow, ...]:
    """Return the table behind both drawings: each node with the run that leads to it; then runs that close loops."""
    kinds = {node.key: node.kind for node in sketch.nodes}
    steps = tuple(steps_of(kinds, sketch.runs, sketch.root))
    loops = loops_of(steps, sketch.runs, kinds)
    then = {run.key: run for run in after(sketch).runs} if sketch.converts else {}
    return (
        *rows_along(sketch, steps),
        *(_more(sketch, "closes a ring", then.get(run.key, run)) for run in loops),
        *(_more(sketch, "new line", then[run.key]) for run in sketch.line if sketch.converts),
    )


def rows_along(sketch: Sketch, steps: Iterable[Step[Stretch]]) -> tuple[SketchRow, ...]:
    """Return the table of some nodes in the order in which they are read."""
    then = after(sketch)
    nodes = {node.key: node for node in sketch.nodes}
    words = {node.key: node for node in then.nodes}
    runs = {run.key: run for run in then.runs}
    volts = dict(sketch.volts)
    return tuple(
        SketchRow(
            node=step.node,
            kind=nodes[step.node].kind,
            before=nodes[step.node].model,
            after=nodes[step.node].after or nodes[step.node].model,
            room=nodes[step.node].room,
            run=step.run.key if step.run is not None else None,
            origin=step.parent,
            wire=label_of(step.run) if step.run is not None else None,
            volts=volts.get(step.node),
            done=_done(sketch, words[step.node], runs.get(step.run.key) if step.run is not None else None),
        )
        for step in steps
    )


def _done(sketch: Sketch, node: DrawnNode, run: DrawnRun | None) -> tuple[str, ...]:
    if not sketch.converts:
        return ()
    notes = (*(run.notes if run is not None else ()), *node.notes)
    off = (f"end resistor {one.how.value}" for one in sketch.ends if one.node == node.key and not one.works)
    return (*(note.text for note in notes if note.sign is not Sign.NONE), *off)


def _more(sketch: Sketch, kind: str, run: Stretch | DrawnRun) -> SketchRow:
    """Return the row of a run that is told by itself: of the node that it leads to its room and voltage, too."""
    node = run.ends[1]
    notes = run.notes if isinstance(run, DrawnRun) else ()
    return SketchRow(
        node=node,
        kind=kind,
        before="",
        after="",
        room=next((one.room for one in sketch.nodes if one.key == node), None),
        run=run.key,
        origin=run.ends[0],
        wire=run.label if isinstance(run, DrawnRun) else label_of(run),
        volts=dict(sketch.volts).get(node),
        done=tuple(note.text for note in notes if note.sign is not Sign.NONE),
    )


def volts_of(report: SegmentReport, all_volts: Mapping[str, float]) -> tuple[tuple[str, str], ...]:
    """Return the voltage after the change at each node, in words; `all_volts` tells those of nodes that draw nothing."""
    asked = any(one.rule == "voltage" and one.outcome is Outcome.UNKNOWN for one in report.findings)
    without = "voltage not known" if asked else "no operating point"
    found = {node: f"{volts:.1f} V" for node, volts in all_volts.items()}
    found |= {
        load.node: f"{load.voltage_v:.1f} V" if load.voltage_v is not None else without for load in report.voltages
    }
    return tuple(sorted(found.items()))
