"""Small plans by hand: orders, windows and crews around a few nights of March 2027. Invented."""

from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from typing import Any

from inventory.core.catalogue import Part, Spare
from planner.core.audit import audit
from planner.core.brief import Brief
from planner.core.plans import (
    CheckLine,
    Crew,
    Order,
    PartNeed,
    Phase,
    Place,
    Placed,
    Places,
    Plan,
    Wear,
    Window,
    WindowsOfOrder,
)
from planner.core.schedule import make_plan

NOW = datetime(2027, 3, 1, 12, 0, tzinfo=UTC)
MONDAY = date(2027, 3, 8)


def at(night: int, hour: float) -> datetime:
    """Return the instant `hour` hours after the midnight that begins night 0, 1, ... (Monday 8 March is 0)."""
    return datetime(2027, 3, 8, tzinfo=UTC) + timedelta(days=night, hours=hour)


def order(key: str, building: str = "North", hours: float = 2, **facts: Any) -> Order:
    """Return an order that is dark all the time on site, unless told otherwise."""
    plain: dict[str, Any] = {
        "district": "east",
        "segments": (f"bus {key}",),
        "stations": (f"station {key}",),
        "rooms": ((building, f"room {key}"),),
        "people": 1,
        "setup_min": 0,
        "outage_min": round(hours * 60),
        "restore_min": 0,
        "parts": (),
        "freed": (),
        "cost_parts": Decimal(100),
        "cost_labour": Decimal(0),
        "cost_outage": Decimal(0),
        "currency": "EUR",
        "unpriced": (),
        "benefit": 1.0,
        "oldest": date(2005, 1, 1),
    }
    return Order(key=key, building=building, **{**plain, **facts})


def window(
    key: str, night: int = 0, start: float = 20, end: float = 26, *, crew: str = "Red", phase: str = "P1"
) -> Window:
    """Return a window from and to hours after the midnight that begins its night."""
    return Window(
        order=key,
        crew=crew,
        start=at(night, start),
        end=at(night, end),
        night=MONDAY + timedelta(days=night),
        phase=phase,
    )


def crew(key: str = "Red", people: int = 2, **facts: Any) -> Crew:
    """Return a crew on shift every night from 20:00 to 06:00."""
    plain: dict[str, Any] = {"days": tuple(range(7)), "shift_from_min": 20 * 60, "shift_to_min": 6 * 60}
    return Crew(key=key, people=people, **{**plain, **facts})


def need(part: str, quantity: int = 1) -> PartNeed:
    """Return a need of a part."""
    return PartNeed(part=part, quantity=Decimal(quantity))


PLACES = Places(
    places=(
        Place(building="North", district="east", outages_at_once=1, time_zone="UTC"),
        Place(building="South", district="east", outages_at_once=1, time_zone="UTC"),
        Place(building="Far", district="west", outages_at_once=2, time_zone="UTC"),
    )
)
PHASE = Phase(key="P1", start=MONDAY, end=MONDAY + timedelta(days=13), materials_ordered_on=NOW.date())


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """All that make_plan takes; windows by order key come from `spans`."""

    orders: tuple[Order, ...]
    spans: tuple[Window, ...]
    crews: tuple[Crew, ...] = (crew(),)
    phases: tuple[Phase, ...] = (PHASE,)
    brief: Brief = field(default_factory=Brief)
    places: Places = PLACES
    parts: tuple[Part, ...] = ()
    spares: tuple[Spare, ...] = ()
    fixed: tuple[Placed, ...] = ()
    booked: tuple[Placed, ...] = ()  # for the check; a plan is made again by `going_on`
    last: tuple[Placed, ...] = ()
    longest_free_min: int = 360
    wear: tuple[Wear, ...] = ()

    @property
    def windows(self) -> tuple[WindowsOfOrder, ...]:
        """Return the windows by order."""
        return tuple(
            WindowsOfOrder(
                order=each.key,
                windows=tuple(span for span in self.spans if span.order == each.key),
                longest_free_min=self.longest_free_min,
            )
            for each in self.orders
        )

    def plan(self, seconds: float = 2, seed: int = 1, workers: int = 1, **more: Any) -> Plan:
        """Make the plan."""
        return make_plan(
            self.orders,
            self.windows,
            self.crews,
            self.phases,
            self.brief,
            self.places,
            parts=self.parts,
            spares=self.spares,
            now=NOW,
            seconds=seconds,
            seed=seed,
            workers=workers,
            fixed=self.fixed,
            last=self.last,
            wear=self.wear,
            **more,
        )

    def audit(self, placed: tuple[Placed, ...]) -> tuple[CheckLine, ...]:
        """Check placed orders against this job."""
        return audit(
            placed,
            self.orders,
            self.windows,
            self.crews,
            self.phases,
            self.brief,
            self.places,
            self.parts,
            self.spares,
            NOW,
            self.fixed,
            self.booked,
            wear=self.wear,
        )

    def but(self, **changes: Any) -> "Job":
        """Return the job with changes."""
        return replace(self, **changes)


def broken(lines: tuple[CheckLine, ...]) -> list[int]:
    """Return the numbers of the rules that do not hold."""
    return [line.number for line in lines if not line.holds]


def put(each: Order, night: int, hour: float, by: str = "Red", phase: str = "P1") -> Placed:
    """Return an order placed at `hour` hours after the midnight that begins a night."""
    start = at(night, hour)
    dark = start + timedelta(minutes=each.setup_min)
    return Placed(
        order=each.key,
        crew=by,
        phase=phase,
        night=MONDAY + timedelta(days=night),
        start=start,
        end=start + timedelta(minutes=each.onsite_min),
        dark_from=dark,
        dark_to=dark + timedelta(minutes=each.outage_min),
    )
