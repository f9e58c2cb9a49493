"""What orders, windows and a plan are. Instants are aware and in UTC; spans are half-open; money is Decimal."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from enum import StrEnum

from planner.core.watches import Watch


class OrderState(StrEnum):
    """States of an order."""

    DRAFTED = "drafted"
    BOOKED = "booked"
    UNDER_WAY = "under way"
    ACCEPTED = "accepted"
    BACKED_OUT = "backed out"


@dataclass(frozen=True, slots=True, kw_only=True)
class PartNeed:
    """So many units of a part (gross)."""

    part: str
    quantity: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangeStep:
    """One change beside the conversion itself: an extra that is fitted, or what a way out that was taken asks for.

    `minutes` None is not known. `dark` tells whether it is done in the outage; `priced` whether the brief's rate for it
    (pulling, moving) holds the labour, which is then not counted again. `to` is the segment a node moves to.
    """

    segment: str
    what: str
    words: str
    minutes: float | None
    people: int
    dark: bool
    priced: bool = False
    to: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Conversion:
    """What one segment of an order becomes.

    `stations` are its old stations, each with the method that replaces it; `moved` nodes with the segment they go to;
    `pulled` runs with the cable that takes their place; `left_out` runs that are left unconnected; `line` the runs of a new
    line in place of all others (from, to, length [m]), of `line_cable`.
    """

    segment: str
    protocol: str | None
    bit_rate_kbit_s: float | None
    buses: tuple[str, ...]
    gateways: tuple[str, ...]
    stations: tuple[tuple[str, str], ...]
    moved: tuple[tuple[str, str], ...] = ()
    pulled: tuple[tuple[str, str], ...] = ()
    left_out: tuple[str, ...] = ()
    line: tuple[tuple[str, str, float], ...] = ()
    line_cable: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Order:
    """The work done in one outage of one building.

    Minutes are for the whole order with its crew. `setup_min` before and `restore_min` after the outage are on site
    too: the crew is busy for `onsite_min`, and the rooms are dark for `outage_min` of it. `freed` are units that go
    back to the shelf: (model, count). `cost_*` in `currency`; None if a price is not known (then `unpriced` says
    which). `benefit` is dimensionless, see planner.core.orders. `predecessors` are order keys.
    """

    key: str
    building: str
    district: str | None
    segments: tuple[str, ...]
    stations: tuple[str, ...]
    rooms: tuple[tuple[str, str], ...]
    people: int
    setup_min: int
    outage_min: int
    restore_min: int
    parts: tuple[PartNeed, ...]
    freed: tuple[tuple[str, int], ...]
    cost_parts: Decimal
    cost_labour: Decimal
    cost_outage: Decimal
    currency: str
    unpriced: tuple[str, ...]
    benefit: float
    oldest: date | None
    predecessors: tuple[str, ...] = ()
    methods: tuple[str, ...] = ()
    extras: tuple[tuple[str, str], ...] = ()  # (segment, extra)
    cost_call_out: Decimal = Decimal(0)
    changes: tuple[ChangeStep, ...] = ()
    cost_changes: Decimal = Decimal(0)  # pulling and moving by the brief's rates, labour included
    watches: tuple[Watch, ...] = ()  # those of `rooms` that must not fail or are on a way out of the building
    conversions: tuple[Conversion, ...] = ()  # one for each of `segments`
    unknown: tuple[str, ...] = ()  # facts the minutes or people lack, in words; such an order cannot be dated
    stopped: tuple[str, ...] = ()  # why it was backed out, in words, until somebody says what was done; it is not dated

    @property
    def onsite_min(self) -> int:
        """Minutes the crew is on site."""
        return self.setup_min + self.outage_min + self.restore_min

    @property
    def cost(self) -> Decimal:
        """Parts, changes, labour, outage and call-out together."""
        return self.cost_parts + self.cost_changes + self.cost_labour + self.cost_outage + self.cost_call_out


@dataclass(frozen=True, slots=True, kw_only=True)
class Crew:
    """A crew: `days` are weekdays (Monday 0) on which a shift starts, local minutes of the day from and to.

    `shift_to_min` at or below `shift_from_min` means the shift ends on the next day.
    """

    key: str
    people: int
    days: tuple[int, ...]
    shift_from_min: int
    shift_to_min: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Phase:
    """A span of dates (both included) with a budget (None: no limit) and the districts it may work in (empty: all)."""

    key: str
    start: date
    end: date
    budget: Decimal | None = None
    materials_ordered_on: date | None = None
    districts: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """A span in which one order may be done by one crew: rooms free, building open to crews, crew on shift.

    `night` is the local date on which the crew's shift starts; `phase` the phase that contains it.
    """

    order: str
    crew: str
    start: datetime
    end: datetime
    night: date
    phase: str


@dataclass(frozen=True, slots=True, kw_only=True)
class WindowsOfOrder:
    """All windows of one order, and what to say where there are none."""

    order: str
    windows: tuple[Window, ...]
    longest_free_min: int  # longest span found, long enough or not
    problems: tuple[str, ...] = ()  # e.g. a calendar that cannot be read, in words


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """One planned order. `start` to `end` is the crew's time on site, `dark_from` to `dark_to` the outage."""

    order: str
    crew: str
    phase: str
    night: date
    start: datetime
    end: datetime
    dark_from: datetime
    dark_to: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """What a plan must know of one building.

    `district` None is not known: travel to any other building then counts as travel between districts.
    `outages_at_once` None is not known: then one, the most careful count. `time_zone` None: that of `Places`.
    """

    building: str
    district: str | None = None
    outages_at_once: int | None = None
    time_zone: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Places:
    """The buildings of a campus; `time_zone` (IANA name) holds where a building has none of its own.

    A building that is not listed is treated as one of which nothing is known.
    """

    places: tuple[Place, ...] = ()
    time_zone: str = "UTC"


@dataclass(frozen=True, slots=True, kw_only=True)
class Progress:
    """How far a plan is: what it is doing, best objective and proved bound so far (None: none yet), share done 0..1.

    `best` makes the best plan so far when called; it is another one only where the plan is.
    """

    doing: str
    objective: int | None
    bound: int | None
    done: float
    best: Callable[[], tuple[Placed, ...]] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Wear:
    """How an old model wears: its Weibull life by failures that take a spare, and the age of each unit on a day.

    ages : (station, age in years), sorted by station; of unknown ages, the median of the known ones.
    """

    model: str
    shape: float
    scale_years: float
    as_of: date
    ages: tuple[tuple[str, float], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Unplanned:
    """One order left out: `code` from planner.core.reasons, `reason` in words with the figures behind it."""

    order: str
    code: str
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckLine:
    """One rule of the independent check: its number in design 4 section 3, and the first breach if any."""

    number: int
    rule: str
    holds: bool
    breach: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class PhaseSummary:
    """What one phase does and costs."""

    phase: str
    start: date
    end: date
    orders: int
    stations: int
    cost: Decimal
    budget: Decimal | None
    currency: str
    first_night: date | None
    last_night: date | None
    materials_order_by: date | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """A finished plan. `remarks` say in words what the brief cannot do, though a plan was made. objective, bound: lower is better, the unit is explained in planner.core.schedule.

    `listed` is the plain list, oldest first, against which the plan is held, and `list_objective` what it comes to.
    `gap` = (objective - bound) / objective, 0 where both are 0. `method` names how it was found: "exact" (proved to be the
    best), "search" (better than the plain list) or "list". `settled` orders were not free to be planned, and come to
    `settled_objective` by themselves (planner.core.settled).
    """

    placed: tuple[Placed, ...]
    unplanned: tuple[Unplanned, ...]
    objective: int
    bound: int
    gap: float
    list_objective: int
    method: str
    check: tuple[CheckLine, ...]
    phases: tuple[PhaseSummary, ...]
    seed: int
    seconds: float
    remarks: tuple[str, ...] = ()
    listed: tuple[Placed, ...] = ()
    settled: int = 0
    settled_objective: int = 0
