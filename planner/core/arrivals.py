"""When bought parts can be used: the day the phase orders them, the lead time, and the receiving reserve."""

from collections.abc import Iterable, Mapping
from datetime import date, timedelta

from inventory.core.catalogue import Part
from planner.core.plans import Order, Phase

SATURDAY = 5
Arrivals = Mapping[tuple[str, str], date | None]  # by phase and part; None: nobody knows when


def after_working_days(day: date, count: int) -> date:
    """Return the day that is `count` working days (Monday to Friday) after `day`; for none, `day` itself.

    Examples
    --------
    >>> after_working_days(date(2027, 3, 5), 1)  # a Friday
    datetime.date(2027, 3, 8)

    """
    while count > 0:
        day += timedelta(days=1)
        count -= day.weekday() < SATURDAY
    return day


def arrival(part: Part | None, phase: Phase, reserve_days: int, today: date) -> date | None:
    """Return the first day on which a part ordered for a phase can be used, None where its lead time is not known.

    A phase that does not say when its materials are ordered can order them today at the earliest. Lead times are
    calendar days, the receiving reserve is working days (Monday to Friday).
    """
    if part is None or part.lead_time_days is None:
        return None
    ordered = phase.materials_ordered_on or today
    return after_working_days(ordered + timedelta(days=part.lead_time_days), reserve_days)


def arrivals(
    orders: Iterable[Order], parts: tuple[Part, ...], phases: tuple[Phase, ...], reserve_days: int, today: date
) -> Arrivals:
    """Return the first day of use for every part that the orders need, by phase and part."""
    by_key = {part.key: part for part in parts}
    needed = sorted({need.part for order in orders for need in order.parts})
    return {
        (phase.key, part): arrival(by_key.get(part), phase, reserve_days, today) for phase in phases for part in needed
    }
