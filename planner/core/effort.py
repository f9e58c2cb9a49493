"""Time and people an order takes, by the steps of its methods.

Steps are done once for each station. From the first to the last step that needs the outage the rooms are dark, the
steps between them included; a step that does not say counts as needing it. Steps before and after are on site only.
A step without minutes is never taken for none: it is named, and the order cannot be dated until it is filled in.
"""

import math
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

from inventory.core.catalogue import Method


@dataclass(frozen=True, slots=True, kw_only=True)
class Effort:
    """Minutes on site before, in and after the outage, people at once, and in words what is not known."""

    before_min: float = 0.0
    dark_min: float = 0.0
    after_min: float = 0.0
    people: int = 1
    unknown: tuple[str, ...] = ()

    def __add__(self, other: "Effort") -> "Effort":
        return Effort(
            before_min=self.before_min + other.before_min,
            dark_min=self.dark_min + other.dark_min,
            after_min=self.after_min + other.after_min,
            people=max(self.people, other.people),
            unknown=tuple(dict.fromkeys(self.unknown + other.unknown)),
        )

    @property
    def whole_min(self) -> tuple[int, int, int]:
        """Before, dark and after, each rounded up to whole minutes."""
        before, dark, after = (math.ceil(round(m, 6)) for m in (self.before_min, self.dark_min, self.after_min))
        return before, dark, after


def method_effort(method: Method) -> Effort:
    """Return what a method takes for one station.

    Parameters
    ----------
    method : Method
        Its steps in any order.

    Returns
    -------
    Effort
        People is the most that any step needs; steps that leave it blank are taken to need no more than the others.

    Examples
    --------
    >>> from inventory.core.catalogue import MethodStep as Step
    >>> steps = Step(step=1, text="unpack", minutes=5, people=1, outage=False), Step(step=2, text="land", minutes=9)
    >>> effort = method_effort(Method(key="M", old_model="A", new_model="B", new_protocol="P", steps=steps))
    >>> effort.before_min, effort.dark_min, effort.people
    (5, 9, 1)

    """
    steps = sorted(method.steps, key=lambda step: step.step)
    dark = [at for at, step in enumerate(steps) if step.outage is not False]
    first, last = (dark[0], dark[-1] + 1) if dark else (len(steps), len(steps))
    minutes = [step.minutes or 0 for step in steps]
    people = [step.people for step in steps if step.people is not None]
    return Effort(
        before_min=sum(minutes[:first]),
        dark_min=sum(minutes[first:last]),
        after_min=sum(minutes[last:]),
        people=max(people, default=1),
        unknown=_unknown(method, people),
    )


def _unknown(method: Method, people: list[int]) -> tuple[str, ...]:
    if not method.steps:
        return (f"method {method.key} has no steps: how long it takes is not known",)
    blank = (
        f"minutes of step {step.step} of method {method.key} are not known"
        for step in method.steps
        if step.minutes is None
    )
    nobody = () if people else (f"people of method {method.key} are not known",)
    return (*sorted(blank), *nobody)


def total_effort(methods: Iterable[Method]) -> Effort:
    """Return what several stations take one after the other, given the method of each."""
    total = Effort()
    kept = tuple(methods)
    counts = Counter(method.key for method in kept)
    for method in sorted({method.key: method for method in kept}.values(), key=lambda method: method.key):
        one, times = method_effort(method), counts[method.key]
        total += Effort(
            before_min=one.before_min * times,
            dark_min=one.dark_min * times,
            after_min=one.after_min * times,
            people=one.people,
            unknown=one.unknown,
        )
    return total
