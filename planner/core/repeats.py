"""How often an order does each step of a method: once a station, once a segment, once a gateway, or once in all.

A step that says nothing is done at each station. What is done once a gateway is done with the first segment that hangs
on it; a segment whose gateway is not known has the step to itself, so that no work is left out. Two methods of an order
that say the same step once a gateway, or once in all, mean one and the same: nobody swaps a gateway twice.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import groupby

from inventory.core.catalogue import Method, MethodStep
from planner.core.plans import Conversion

STATION, SEGMENT, GATEWAY, ORDER = "station", "segment", "gateway", "order"


class Stage(StrEnum):
    """When a step is done: the rooms are dark in the second only."""

    BEFORE = "before the outage"
    DARK = "in the outage"
    AFTER = "after the outage"


@dataclass(frozen=True, slots=True, kw_only=True)
class Done:
    """A step where it is done: `place` is the station, segment or gateway, or "" for what is done once in the order."""

    step: MethodStep
    stage: Stage
    method: str
    segment: str
    place: str
    station: str | None


def done_steps(conversions: Sequence[Conversion], methods: Mapping[str, Method]) -> tuple[Done, ...]:
    """Return every step of an order where it is done, in the order of work.

    Parameters
    ----------
    conversions : sequence of Conversion
        The segments of the order, in the order in which they are done.
    methods : mapping
        Methods by key; a station whose method is not among them has no steps.

    Returns
    -------
    tuple of Done
        Segments that share a gateway are done together, the others one after the other. Steps that follow each other
        and are done at each station are done at one station before the next, but for those in the outage: a segment is
        isolated and powered as a whole, and a gateway with all its segments, so that each of them is done at every place
        before the next step. Methods whose steps are alike are done step by step together, others one after the other.

    """
    found: dict[tuple[str, str, str], Done] = {}
    for group in _sharing(conversions):
        used = dict.fromkeys(method for one in group for _, method in one.stations if method in methods)
        for several in _alike(methods[key] for key in used):
            for done in _of_methods(group, several):
                mark = _mark(done)
                if done.stage is Stage.AFTER and done.step.per == ORDER:
                    found.pop(mark, None)  # once all else is done, not once its first segment is
                found.setdefault(mark, done)
    return tuple(found.values())


def _sharing(conversions: Sequence[Conversion]) -> list[list[Conversion]]:
    """Return the conversions by gateway: those that share one, directly or by others, in the order of the first of them."""
    groups: list[list[Conversion]] = []
    for one in conversions:
        own = set(one.gateways)
        mine = [group for group in groups if any(own & set(other.gateways) for other in group)]
        others = [group for group in groups if group not in mine]
        first = [other for group in mine for other in group]
        place = groups.index(mine[0]) if mine else len(groups)
        groups = [*others[:place], [*first, one], *others[place:]]
    return groups


def _alike(methods: Iterable[Method]) -> list[list[Method]]:
    """Return methods by what their steps are done for, when, and with which hold points."""
    found: dict[object, list[Method]] = {}
    for method in methods:
        shape = tuple(
            (per, tuple((stage, bool(step.hold_point)) for step, stage in several))
            for per, several in _together(method)
        )
        found.setdefault(shape, []).append(method)
    return list(found.values())


def _mark(done: Done) -> tuple[str, str, str]:
    """Return what tells a step at its place from others: its words where methods share it, else its place in its method.

    A segment is isolated for each method by itself: between two methods that are not alike it has been powered.
    """
    per = done.step.per or STATION
    words = done.step.text if per in (GATEWAY, ORDER) else f"{done.method} {done.step.step}"
    return per, done.place, words


def _of_methods(group: Sequence[Conversion], several: Sequence[Method]) -> Iterator[Done]:
    """Yield the steps of methods that are alike, run by run at every place of a group of segments."""
    for runs in zip(*(_together(method) for method in several), strict=True):
        for method, (per, steps) in zip(several, runs, strict=True):
            for conversion in group:
                yield from _at(conversion, method, per, steps)


def _at(conversion: Conversion, method: Method, per: str, steps: Sequence[tuple[MethodStep, Stage]]) -> Iterator[Done]:
    """Yield some steps of a method at each place of a segment that has stations under it."""
    stations = [station for station, key in conversion.stations if key == method.key]
    places = stations if per == STATION else _places(conversion, per) if stations else ()
    for place in places:
        for step, stage in steps:
            yield Done(
                step=step,
                stage=stage,
                method=method.key,
                segment=conversion.segment,
                place=place,
                station=place if per == STATION else None,
            )


def _together(method: Method) -> Iterator[tuple[str, tuple[tuple[MethodStep, Stage], ...]]]:
    """Yield the steps that are done one after the other at one place before the next, with what they are done for."""
    runs = groupby(enumerate(staged(method)), key=lambda one: _run_of(one[0], *one[1]))
    return ((run[0], tuple(one for _, one in several)) for run, several in runs)


def _run_of(position: int, step: MethodStep, stage: Stage) -> tuple[str, int]:
    per = step.per or STATION
    return per, position if per == STATION and stage is Stage.DARK else -1


def _places(conversion: Conversion, per: str) -> tuple[str, ...]:
    places = {
        SEGMENT: (conversion.segment,),
        GATEWAY: conversion.gateways or (conversion.segment,),
        ORDER: ("",),
    }
    return places[per]


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
