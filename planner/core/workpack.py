"""The work pack of an order: what the crew at the wall box needs, in the order in which it is done.

The steps of a method are done once for each station: those before the first that needs the outage, then the dark ones
station by station, then those after. Changes beside the conversion (extras, nodes moved, cable pulled) come first in
their stage. A hold point stops the work until a second person has looked.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

from inventory.core.catalogue import Method, MethodStep
from inventory.core.snapshot import Snapshot
from planner.core.plans import ChangeStep, Order

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


class Stage(StrEnum):
    """When a step is done."""

    BEFORE = "before the outage"
    DARK = "in the outage"
    AFTER = "after the outage"


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkStep:
    """One step to tick. `code` names it within its order; minutes and people None are not known.

    `station` and `method` are those of a step of a method, `segment` alone belongs to a change beside it.
    """

    code: str
    stage: Stage
    segment: str
    station: str | None
    method: str | None
    text: str
    minutes: float | None
    people: int | None
    hold: bool


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
        steps=tuple(_steps(order, stations)),
        settings=tuple(_settings(order, snapshot)),
        methods=used,
        cautions=tuple(dict.fromkeys(method.caution for method in used if method.caution)),
        missing=tuple(_missing(order, stations)),
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


def _steps(order: Order, stations: Sequence[_Station]) -> Iterator[WorkStep]:
    for stage in Stage:
        yield from _changes(order.changes, stage)
        for station in stations:
            yield from (step for step in _method_steps(station) if step.stage is stage)


def _changes(changes: Sequence[ChangeStep], stage: Stage) -> Iterator[WorkStep]:
    for number, change in enumerate(changes, start=1):
        if stage is (Stage.DARK if change.dark else Stage.BEFORE):
            yield WorkStep(
                code=f"change {number}",
                stage=stage,
                segment=change.segment,
                station=None,
                method=None,
                text=f"{change.what.capitalize()}: {change.words}",
                minutes=change.minutes,
                people=change.people,
                hold=False,
            )


def _method_steps(station: _Station) -> Iterator[WorkStep]:
    for step, stage in staged(station.method):
        yield WorkStep(
            code=f"{station.key} {step.step}",
            stage=stage,
            segment=station.segment,
            station=station.key,
            method=station.method.key,
            text=step.text,
            minutes=step.minutes,
            people=step.people,
            hold=bool(step.hold_point),
        )


def staged(method: Method) -> tuple[tuple[MethodStep, Stage], ...]:
    """Return the steps of a method in their order, each with its stage; one that does not say counts as dark.

    Examples
    --------
    >>> from inventory.core.catalogue import MethodStep as Step
    >>> steps = Step(step=3, text="try", outage=False), Step(step=1, text="save", outage=False), Step(step=2, text="land")
    >>> method = Method(key="M", old_model="A", new_model="B", new_protocol="P", steps=steps)
    >>> [(step.text, stage.value) for step, stage in staged(method)]
    [('save', 'before the outage'), ('land', 'in the outage'), ('try', 'after the outage')]

    """
    steps = sorted(method.steps, key=lambda step: step.step)
    dark = [at for at, step in enumerate(steps) if step.outage is not False]
    first, last = (dark[0], dark[-1]) if dark else (len(steps), len(steps))
    return tuple(
        (step, Stage.BEFORE if at < first else Stage.AFTER if at > last else Stage.DARK)
        for at, step in enumerate(steps)
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


def first_hindrance(pack: WorkPack, ticked: Iterable[str], code: str) -> str | None:
    """Return in words why a step may not be ticked now; None where it may.

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
    before = [step for step in pack.steps[:at] if step.code not in done]
    holds = [step for step in before if step.hold]
    if holds:
        return f"Hold point: {holds[0].text} ({holds[0].station or holds[0].segment}) comes first."
    if pack.steps[at].hold and before:
        return f"Hold point: {before[0].text} ({before[0].station or before[0].segment}) is not ticked yet."
    return None
