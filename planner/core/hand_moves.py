"""An order moved by hand: where it would be, what that breaks, and the plan with it. Nothing is moved silently."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from planner.core.audit import audit
from planner.core.demands import Demands
from planner.core.plans import CheckLine, Crew, Order, Phase, Placed, Plan, Unplanned, Window
from planner.core.reasons import reasons_for
from planner.core.schedule.objective import objective_of, prices
from planner.core.summaries import summaries

BY_HAND = "by hand"
HOUR_MIN = 60


@dataclass(frozen=True, slots=True, kw_only=True)
class Wish:
    """Where a planner would like an order to be."""

    order: str
    crew: str
    start: datetime


def placed_at(wish: Wish, demands: Demands) -> Placed:
    """Return an order where it is wished to be, in the night and phase of its window there, or of the calendar."""
    order = next(order for order in demands.orders if order.key == wish.order)
    end = wish.start + timedelta(minutes=order.onsite_min)
    night, phase = _night_and_phase(wish, end, order, demands)
    dark_from = wish.start + timedelta(minutes=order.setup_min)
    return Placed(
        order=wish.order,
        crew=wish.crew,
        phase=phase,
        night=night,
        start=wish.start,
        end=end,
        dark_from=dark_from,
        dark_to=dark_from + timedelta(minutes=order.outage_min),
    )


def _night_and_phase(wish: Wish, end: datetime, order: Order, demands: Demands) -> tuple[date, str]:
    windows = _windows_of(wish.order, demands)
    held = [w for w in windows if w.crew == wish.crew and w.start <= wish.start and end <= w.end]
    if held:
        return held[0].night, held[0].phase
    night = _night_of(wish, order, demands)
    return night, _phase_of(night, order, demands.phases)


def _windows_of(order: str, demands: Demands) -> tuple[Window, ...]:
    return next((each.windows for each in demands.windows if each.order == order), ())


def _night_of(wish: Wish, order: Order, demands: Demands) -> date:
    """Return the local date on which the crew's shift starts that a start falls into, else the date of the start."""
    place = next((place for place in demands.places.places if place.building == order.building), None)
    local = wish.start.astimezone(ZoneInfo((place.time_zone if place else None) or demands.places.time_zone))
    crew = next((crew for crew in demands.crews if crew.key == wish.crew), None)
    minute = local.hour * HOUR_MIN + local.minute
    return local.date() - timedelta(days=1) if crew and _is_after_midnight(crew, minute) else local.date()


def _is_after_midnight(crew: Crew, minute: int) -> bool:
    over_midnight = crew.shift_to_min <= crew.shift_from_min
    return over_midnight and minute < crew.shift_to_min


def _phase_of(night: date, order: Order, phases: Iterable[Phase]) -> str:
    """Return the phase of a night, of two the one that works in the order's district; else the nearest."""
    some = sorted(phases, key=lambda phase: (phase.start, phase.key))
    within = [phase for phase in some if phase.start <= night <= phase.end]
    welcome = [phase for phase in within if not phase.districts or order.district in phase.districts]
    away = sorted(some, key=lambda phase: min(abs((phase.start - night).days), abs((phase.end - night).days)))
    return next((phase.key for phase in (*welcome, *within, *away)), "")


def with_move(placed: Iterable[Placed], moved: Placed) -> tuple[Placed, ...]:
    """Return the placed orders with one of them moved, or come in."""
    others = [each for each in placed if each.order != moved.order]
    return tuple(sorted([*others, moved], key=lambda each: (each.start, each.order)))


def check_of(demands: Demands, placed: tuple[Placed, ...], asked: frozenset[str] | None) -> tuple[CheckLine, ...]:
    """Return the check of a plan that was changed by hand, or only what some orders have a part in.

    A planner may move what is booked, whatever the brief lets the search do; its rooms need their notice all the same.
    """
    return audit(
        placed,
        demands.orders,
        demands.windows,
        demands.crews,
        demands.phases,
        replace(demands.brief, booked_may_move=True),
        demands.places,
        demands.parts,
        demands.spares,
        demands.now,
        demands.fixed,
        demands.booked,
        demands.forced,
        asked,
        wear=demands.wear,
    )


def plan_by_hand(demands: Demands, old: Plan, placed: tuple[Placed, ...]) -> Plan:
    """Return a plan changed by hand, with its whole check, which may show breaches; what the old one proved holds on."""
    objective = objective_of(placed, demands.orders, prices(demands))
    bound = min(old.bound, objective)
    return replace(
        old,
        placed=placed,
        unplanned=_left_out(demands, old, placed),
        objective=objective,
        bound=bound,
        gap=(objective - bound) / objective if objective else 0.0,
        method=BY_HAND,
        check=check_of(demands, placed, None),
        phases=summaries(placed, demands),
    )


def _left_out(demands: Demands, old: Plan, placed: tuple[Placed, ...]) -> tuple[Unplanned, ...]:
    """Return what is left out, with the reasons it had."""
    known = {each.order: each for each in old.unplanned}
    fresh = reasons_for(demands, placed)
    return tuple(known.get(each.order, each) for each in fresh)
