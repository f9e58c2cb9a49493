"""The work pack of an order: what the crew at the wall box needs, in the order in which it is done.

Where each step of a method is done is in `repeats`: those before the first that needs the outage come first, then the
dark ones, then those after. Changes beside the conversion (extras, nodes moved, cable pulled) come first, those in the
outage once the segment is isolated: after its first hold point. A hold point stops the work until a second person has
looked.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from inventory.core.catalogue import Method
from inventory.core.snapshot import Snapshot
from planner.core.landing import landing_faults
from planner.core.plans import ChangeStep, Order
from planner.core.repeats import Done, Stage, done_steps, staged
from planner.core.rules.table import RATE

# What a crew carries to a wall box (common practice).
TOOLS = (
    "two-pole voltage tester, proved on a known live source before and after use",
    "lock, tag and key for the isolating point",
    "meter that reads ohms to a tenth and volts to a hundredth",
    "hand driver for the cover screws; no power driver on plates",
    "terminal driver, stripper, snips, labels, marker",
    "lamp of its own, since the room's lights may be out",
    "camera, to keep how the old station was landed",
)

# How a station goes back as it was (common practice).
WAY_BACK = (
    "Stop, isolate again and prove dead.",
    "Take the new station and the patch leads off both ends.",
    "Land the old conductors as the photograph taken before shows; the column Old conductor of the landing table names them.",
    "Put the old station back; where the gateway was swapped or set over, put the old one back or set it back.",
    "Power up, try every zone and scene of the room, and leave the watch in place until the lights answer.",
    "Back the order out here and say why, so that it is planned again.",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkStep:
    """One step to tick. `code` names it within its order; minutes and people None are not known.

    `method` is that of a step of a method, `station` that of one done at each station; `where` is what the step is
    done at: station, segment, gateway, or the order itself.
    """

    code: str
    stage: Stage
    segment: str
    station: str | None
    where: str
    method: str | None
    text: str
    minutes: float | None
    people: int | None
    hold: bool
    reading: str | None = None  # the Quantity that is measured at it


@dataclass(frozen=True, slots=True, kw_only=True)
class Setting:
    """One zone or scene to enter on the new station, with the label that the room's people chose."""

    station: str
    kind: str
    key: str
    label: str | None
    what: str


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkPack:
    """All that goes to the wall box with one order."""

    order: Order
    steps: tuple[WorkStep, ...]
    settings: tuple[Setting, ...]
    methods: tuple[Method, ...]
    cautions: tuple[str, ...]
    missing: tuple[str, ...]  # what the pack lacks, in words
    faults: tuple[str, ...]  # what is wrong with where conductors land, and with hold points, in words

    @property
    def codes(self) -> tuple[str, ...]:
        """Return the codes of its steps, in their order."""
        return tuple(step.code for step in self.steps)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Station:
    """An old station of the order with the method that replaces it."""

    key: str
    segment: str
    method: Method


def work_pack(order: Order, snapshot: Snapshot) -> WorkPack:
    """Return the work pack of an order.

    Parameters
    ----------
    order : Order
        As planned.
    snapshot : Snapshot
        The catalogue with the methods, and the zones and scenes of the order's stations.

    Returns
    -------
    WorkPack
        `missing` names stations without a method and methods without steps: such an order is not to be begun.

    """
    methods = {method.key: method for method in snapshot.catalogue.methods}
    stations = tuple(_stations(order, methods))
    used = tuple(methods[key] for key in sorted({station.method.key for station in stations}))
    return WorkPack(
        order=order,
        steps=tuple(_steps(order, methods)),
        settings=tuple(_settings(order, snapshot)),
        methods=used,
        cautions=tuple(dict.fromkeys(method.caution for method in used if method.caution)),
        missing=tuple(_missing(order, stations)),
        faults=tuple(dict.fromkeys((*_landing_faults(order, methods), *_without_hold(used)))),
    )


def _stations(order: Order, methods: Mapping[str, Method]) -> Iterator[_Station]:
    for conversion in order.conversions:
        for key, method in conversion.stations:
            if method in methods:
                yield _Station(key=key, segment=conversion.segment, method=methods[method])


def _missing(order: Order, stations: Sequence[_Station]) -> Iterator[str]:
    told = {station.key for station in stations}
    for key in order.stations:
        if key not in told:
            yield f"No method on record replaces {key}: plan again before it is opened."
    for method in sorted({station.method.key for station in stations if not station.method.steps}):
        yield f"Method {method} has no steps on record: write them down (sheet Method steps) before the work begins."


def _landing_faults(order: Order, methods: Mapping[str, Method]) -> Iterator[str]:
    for conversion in order.conversions:
        used = [methods[key] for key in sorted({key for _, key in conversion.stations if key in methods})]
        for method, faults in zip(used, landing_faults(used), strict=True):
            yield from (f"Landing by method {method.key}: {fault}" for fault in faults)


def _without_hold(methods: Iterable[Method]) -> Iterator[str]:
    for method in methods:
        dark = [step for step, stage in staged(method) if stage is Stage.DARK]
        if dark and not any(step.hold_point for step in dark):
            yield (
                f"Method {method.key} has no hold point in the outage, so that nobody is asked to check both ends "
                "before power: name one (sheet Method steps, column Hold point)."
            )


def _steps(order: Order, methods: Mapping[str, Method]) -> Iterator[WorkStep]:
    done = done_steps(order.conversions, methods)
    for stage in Stage:
        mine = [one for one in done if one.stage is stage]
        changes = tuple(_changes(order.changes, stage))
        isolated = _isolated(mine) if stage is Stage.DARK else {}
        at = {one.code: _place_of(one, order, mine, isolated) for one in changes}
        yield from (_isolating(one) if stage is Stage.DARK else one for one in changes if one.segment not in isolated)
        for number, one in enumerate(mine):
            yield _work_step(one, order.key)
            yield from (change for change in changes if at.get(change.code) == number)


def _isolated(done: Sequence[Done]) -> dict[str, int]:
    """Return by segment the position of the step after which it is isolated: its first hold point, wherever it is done.

    A hold point that ends the work in the outage is no such step: power may be on by then.
    """
    last = {one.segment: (one.method, one.step.step) for one in done}
    first = {one.segment: (one.method, one.step.step) for one in reversed(done) if one.step.hold_point}
    isolating = [first.get(one.segment) == (one.method, one.step.step) != last[one.segment] for one in done]
    found: dict[str, int] = {}
    for number, one in reversed(tuple(enumerate(done))):
        if isolating[number]:
            # nothing is opened before all of a gateway is dead
            together = number + 1 < len(done) and isolating[number + 1]
            found.setdefault(one.segment, found[done[number + 1].segment] if together else number)
    return found


def _place_of(change: WorkStep, order: Order, done: Sequence[Done], isolated: Mapping[str, int]) -> int | None:
    """Return the position after which a change in the outage comes: its segment's isolation, of a bit rate its gateway's step."""
    place = isolated.get(change.segment)
    rates = {f"change {number}" for number, one in enumerate(order.changes, start=1) if one.what == RATE}
    if place is None or change.code not in rates:
        return place
    gateways = {key for one in order.conversions if one.segment == change.segment for key in one.gateways}
    return max((number for number, one in enumerate(done) if one.place in gateways), default=place)


def _isolating(change: WorkStep) -> WorkStep:
    """Return a change of a segment that no step of this order isolates, with the caution to do so."""
    return replace(change, text=f"Isolate, lock off and prove dead before this. {change.text}")


def _changes(changes: Sequence[ChangeStep], stage: Stage) -> Iterator[WorkStep]:
    for number, change in enumerate(changes, start=1):
        if stage is (Stage.DARK if change.dark else Stage.BEFORE):
            yield WorkStep(
                code=f"change {number}",
                stage=stage,
                segment=change.segment,
                station=None,
                where=change.segment,
                method=None,
                text=f"{change.what.capitalize()}: {change.words}",
                minutes=change.minutes,
                people=change.people,
                hold=False,
            )


def _work_step(one: Done, order: str) -> WorkStep:
    step = one.step
    return WorkStep(
        code=f"{one.place} {step.step}" if one.station else f"{one.place} {one.method} {step.step}".strip(),
        stage=one.stage,
        segment=one.segment,
        station=one.station,
        where=one.place or order,
        method=one.method,
        text=step.text,
        minutes=step.minutes,
        people=step.people,
        hold=bool(step.hold_point),
        reading=step.reading,
    )


def _settings(order: Order, snapshot: Snapshot) -> Iterator[Setting]:
    wanted = set(order.stations)
    key = snapshot.nodes.key
    for zone in snapshot.zones:
        if key[zone.node] in wanted:
            panel = f"panel {key[zone.panel]}" if zone.panel >= 0 else "panel not known"
            circuit = f"circuit {zone.circuit}" if zone.circuit else "circuit not known"
            yield Setting(
                station=key[zone.node],
                kind="zone",
                key=zone.key,
                label=zone.label,
                what=f"{panel}, {circuit}{_span(zone.lowest_pct, zone.highest_pct)}",
            )
    for scene in snapshot.scenes:
        if key[scene.node] in wanted:
            yield Setting(
                station=key[scene.node],
                kind="scene",
                key=scene.key,
                label=scene.label,
                what=scene.levels or "levels not known",
            )


def _span(lowest_pct: float | None, highest_pct: float | None) -> str:
    if lowest_pct is None and highest_pct is None:
        return ""
    low, high = ("not known" if pct is None else f"{pct:g} %" for pct in (lowest_pct, highest_pct))
    return f", {low} to {high}"


def hindered_by(pack: WorkPack, ticked: Iterable[str], code: str) -> int | None:
    """Return the place of the step that keeps another from being ticked now, from 0; None where nothing does.

    A hold point asks for every step before it; nothing beyond a hold point is ticked before the hold point is.

    Raises
    ------
    KeyError
        If the pack has no such step; the message names it.

    """
    codes = pack.codes
    if code not in codes:
        raise KeyError(f"this order has no step {code}")
    done, at = set(ticked), codes.index(code)
    before = [place for place in range(at) if codes[place] not in done]
    holds = [place for place in before if pack.steps[place].hold]
    return next(iter([*holds, *(before if pack.steps[at].hold else ())]), None)


def first_hindrance(pack: WorkPack, ticked: Iterable[str], code: str) -> str | None:
    """Return in words why a step may not be ticked now, None where it may; KeyError where the pack has no such step."""
    place = hindered_by(pack, ticked, code)
    if place is None:
        return None
    step = pack.steps[place]
    said = f"{step.text} ({step.where})"
    return f"Hold point: {said} comes first." if step.hold else f"Before this hold point: {said} is not ticked yet."
