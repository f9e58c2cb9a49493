"""What a planner has decided by hand beside the brief: ways out that are taken, which segments share an order, and what comes first."""

from dataclasses import dataclass
from datetime import date

from planner.core.findings import WayOut


@dataclass(frozen=True, slots=True, kw_only=True)
class Tick:
    """A way out that a planner has taken for one segment, as it was then."""

    segment: str
    way: WayOut


@dataclass(frozen=True, slots=True, kw_only=True)
class Sharing:
    """That the segments of each part share an order, and that no two parts do; `name` tells choices apart.

    `alone`: nothing else joins a part either, as with what is booked.
    """

    name: str
    parts: tuple[tuple[str, ...], ...]
    alone: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class After:
    """That every order with a segment of `later` comes after every order with one of `earlier`; `name` tells choices apart."""

    name: str
    earlier: tuple[str, ...]
    later: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Stop:
    """That an order was backed out and nobody has said what was done about it; `name` tells stops apart, `why` is who backed it out's."""

    name: str
    order: str
    segments: tuple[str, ...]
    on: date
    why: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Choices:
    """All that was decided by hand, the oldest first: where two clash, the later one falls. `stops` is what nobody decided yet."""

    ticks: tuple[Tick, ...] = ()
    sharings: tuple[Sharing, ...] = ()
    afters: tuple[After, ...] = ()
    stops: tuple[Stop, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Refusal:
    """A choice that does not hold on the campus as it stands: which, and why, in words."""

    about: str
    why: str


NO_CHOICES = Choices()
