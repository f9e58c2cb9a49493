"""The runs of an order's segments as they lie once it is done: left out, laid anew, or joined through where a node was."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace

from inventory.core.catalogue import NodeKind
from inventory.core.snapshot import UNKNOWN, Snapshot
from planner.core.plans import Conversion, Order
from planner.core.rules.columns import known

PAIR = 2  # runs at a node in the middle of a line


@dataclass(frozen=True, slots=True, kw_only=True)
class Laid:
    """One run: its name, bus, the nodes at its ends, cable (None not known) and length [m] (None not known)."""

    run: str
    bus: str
    ends: tuple[str, str]
    cable: str | None
    length_m: float | None

    def far(self, node: str) -> str:
        """Return the node at the other end."""
        return self.ends[1] if self.ends[0] == node else self.ends[0]


@dataclass(frozen=True, slots=True, kw_only=True)
class Joint:
    """A junction put in where a node was at which more than two runs met; `was` is that node, `model` None where none is on record."""

    node: str
    was: str
    bus: str
    model: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Wired:
    """What changes of the wiring, each sorted by name.

    gone : runs that nothing is connected to any more. changed : runs on record that end elsewhere than before (what is
    pulled anew between the same nodes is told by the conversion). laid : new ones. joints : junctions put in. idle : junctions that no run reaches any more.
    """

    gone: tuple[str, ...] = ()
    changed: tuple[Laid, ...] = ()
    laid: tuple[Laid, ...] = ()
    joints: tuple[Joint, ...] = ()
    idle: tuple[str, ...] = ()


@dataclass(slots=True, kw_only=True)
class _Wiring:
    """The runs of one segment while its changes are made to them."""

    runs: dict[str, Laid]
    joints: list[Joint] = field(default_factory=list)

    def at(self, node: str) -> list[Laid]:
        return [run for _, run in sorted(self.runs.items()) if node in run.ends]


def wired_after(order: Order, snapshot: Snapshot) -> Wired:
    """Return what an order changes of the wiring that is on record.

    Parameters
    ----------
    order : Order
        As planned, with the changes of ways out that were taken.
    snapshot : Snapshot
        The nodes and runs of its segments as they stand, and the catalogue.

    """
    before, moved = _runs_of(snapshot), {node for one in order.conversions for node, _ in one.moved}
    after, joints = dict(before), []
    for one in order.conversions:
        mine = _Wiring(runs={key: run for key, run in after.items() if run.bus in one.buses})
        others = {key: run for key, run in after.items() if run.bus not in one.buses}
        _rewire(mine, one, order.key, snapshot)
        after = others | mine.runs
        joints += mine.joints
    return Wired(
        gone=tuple(sorted(before.keys() - after.keys())),
        changed=tuple(run for key, run in sorted(after.items()) if key in before and run.ends != before[key].ends),
        laid=tuple(run for key, run in sorted(after.items()) if key not in before),
        joints=tuple(joints),
        idle=tuple(key for key in _idle(snapshot, before, after) if key not in moved),
    )


def _runs_of(snapshot: Snapshot) -> dict[str, Laid]:
    runs, names, buses, cables = snapshot.runs, snapshot.nodes.key, snapshot.buses, snapshot.catalogue.cables
    columns = zip(
        runs.key, runs.bus.tolist(), runs.from_node.tolist(), runs.to_node.tolist(), runs.cable.tolist(),
        runs.length_m.tolist(), strict=True,
    )  # fmt: skip
    return {
        key: Laid(
            run=key,
            bus=buses[bus].key,
            ends=(names[tail], names[head]),
            cable=None if cable == UNKNOWN else cables[cable].key,
            length_m=known(length_m),
        )
        for key, bus, tail, head, cable, length_m in columns
        if UNKNOWN not in (bus, tail, head)
    }


def _rewire(wiring: _Wiring, one: Conversion, order: str, snapshot: Snapshot) -> None:
    if one.line:
        bus = one.segment if one.segment in one.buses else one.buses[0]
        wiring.runs = {run.run: run for run in _new_line(one, bus, order)}
        return
    for key in one.left_out:
        wiring.runs.pop(key, None)
    for key, cable in one.pulled:
        if key in wiring.runs:
            wiring.runs[key] = replace(wiring.runs[key], cable=cable)
    for node, _ in one.moved:
        _take_off(wiring, node, order, snapshot)


def _new_line(one: Conversion, bus: str, order: str) -> Iterator[Laid]:
    for number, (near, far, length_m) in enumerate(one.line, start=1):
        name = f"{order}-{one.segment}-{number:02d}"
        yield Laid(run=name, bus=bus, ends=(near, far), cable=one.line_cable, length_m=length_m)


def _take_off(wiring: _Wiring, node: str, order: str, snapshot: Snapshot) -> None:
    """Take a node off its segment: a run that led to it alone is out of use, two are joined, more meet at a junction."""
    met = wiring.at(node)
    if len(met) > PAIR:
        joint = Joint(node=f"{order}-{node}", was=node, bus=met[0].bus, model=_junction(snapshot))
        wiring.joints.append(joint)
        for run in met:
            ends = tuple(joint.node if end == node else end for end in run.ends)
            wiring.runs[run.run] = replace(run, ends=(ends[0], ends[1]))
        return
    for run in met:
        del wiring.runs[run.run]
    if len(met) == PAIR and met[0].far(node) != met[1].far(node):
        wiring.runs[met[0].run] = _joined(met[0], met[1], node)


def _joined(one: Laid, two: Laid, node: str) -> Laid:
    """Return two runs as one; what differs or is not known of either is not known of both."""
    lengths = one.length_m, two.length_m
    return replace(
        one,
        ends=(one.far(node), two.far(node)),
        cable=one.cable if one.cable == two.cable else None,
        length_m=None if lengths[0] is None or lengths[1] is None else round(lengths[0] + lengths[1], 6),
    )


def _junction(snapshot: Snapshot) -> str | None:
    """Return a junction of the catalogue, the first by name; None where it has none."""
    return min((model.key for model in snapshot.catalogue.models if model.kind is NodeKind.JUNCTION), default=None)


def _idle(snapshot: Snapshot, before: dict[str, Laid], after: dict[str, Laid]) -> Iterator[str]:
    models = snapshot.catalogue.models
    kinds = [None if at == UNKNOWN else models[at].kind for at in snapshot.nodes.model.tolist()]
    was, still = _reached(before.values()), _reached(after.values())
    for key, kind in sorted(zip(snapshot.nodes.key, kinds, strict=True)):
        if kind is NodeKind.JUNCTION and key in was and key not in still:
            yield key


def _reached(runs: Iterable[Laid]) -> set[str]:
    return {end for run in runs for end in run.ends}
