"""Time and people an order takes, by the steps of its methods.

How often a step is done is in `repeats`. From the first to the last step that needs the outage the rooms are dark, the
steps between them included; a step that does not say counts as needing it. Steps before and after are on site only.
A step without minutes is never taken for none: it is named, and the order cannot be dated until it is filled in.
"""

import math
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from inventory.core.catalogue import Method
from planner.core.plans import Conversion
from planner.core.repeats import Stage, done_steps


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


def total_effort(conversions: Sequence[Conversion], methods: Mapping[str, Method]) -> Effort:
    """Return what several segments take one after the other.

    Parameters
    ----------
    conversions : sequence of Conversion
        The segments with the method of each station.
    methods : mapping
        Methods by key; a station whose method is not among them adds nothing here.

    Returns
    -------
    Effort
        People is the most that any step needs; steps that leave it blank are taken to need no more than the others.
        What is done once a gateway or once an order counts once.

    Examples
    --------
    >>> from inventory.core.catalogue import MethodStep as Step
    >>> steps = Step(step=1, text="unpack", minutes=5, people=1, outage=False), Step(step=2, text="land", minutes=9)
    >>> method = Method(key="M", old_model="A", new_model="B", new_protocol="P", steps=steps)
    >>> facts = dict(segment="L1", protocol="P", bit_rate_kbit_s=None, buses=("L1",), gateways=("G",))
    >>> effort = total_effort([Conversion(**facts, stations=(("S1", "M"), ("S2", "M")))], {"M": method})
    >>> effort.before_min, effort.dark_min, effort.people
    (10.0, 18.0, 1)

    """
    used = sorted({key for one in conversions for _, key in one.stations if key in methods})
    minutes: dict[Stage, float] = defaultdict(float)
    for done in done_steps(conversions, methods):
        minutes[done.stage] += done.step.minutes or 0
    told = [step.people for key in used for step in methods[key].steps if step.people is not None]
    return Effort(
        before_min=minutes[Stage.BEFORE],
        dark_min=minutes[Stage.DARK],
        after_min=minutes[Stage.AFTER],
        people=max(told, default=1),
        unknown=tuple(dict.fromkeys(word for key in used for word in _unknown(methods[key]))),
    )


def _unknown(method: Method) -> Iterator[str]:
    if not method.steps:
        yield f"method {method.key} has no steps: how long it takes is not known"
        return
    for step in sorted(method.steps, key=lambda step: step.step):
        if step.minutes is None:
            yield f"minutes of step {step.step} of method {method.key} are not known"
    if all(step.people is None for step in method.steps):
        yield f"people of method {method.key} are not known"
