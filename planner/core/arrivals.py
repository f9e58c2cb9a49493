"""When bought parts can be used: the day the phase orders them, the lead time, and the receiving reserve."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

from inventory.core.catalogue import Part
from planner.core.plans import Order, Phase

SATURDAY = 5
Arrivals = Mapping[tuple[str, str], date | None]  # by phase and part; None: nobody knows when


@dataclass(frozen=True, slots=True, kw_only=True)
class Shelf:
    """Units of one part on hand, and those still to come: first day of use and units, by day."""

    on_hand: Decimal = Decimal(0)
    coming: tuple[tuple[date, Decimal], ...] = ()

    def by(self, night: date) -> Decimal:
        """Return the units that are there in a night."""
        if not self.coming:
            return self.on_hand
        return self.on_hand + sum((units for day, units in self.coming if day <= night), Decimal(0))


def shelf_of(part: Part | None, reserve_days: int, today: date) -> Shelf:
    """Return what is there of a part and when more is; a delivery that is overdue counts for nothing until it comes.

    Examples
    --------
    >>> from inventory.core.catalogue import Delivery
    >>> due = Delivery(part="P", due=date(2027, 3, 5), quantity=Decimal(4))  # a Friday
    >>> shelf = shelf_of(Part(key="P", on_hand=Decimal(2), deliveries=(due,)), 1, date(2027, 3, 1))
    >>> [str(shelf.by(date(2027, 3, day))) for day in (7, 8)]
    ['2', '6']

    """
    if part is None:
        return Shelf()
    coming = sorted(
        (after_working_days(each.due, reserve_days), each.quantity) for each in part.deliveries if each.due >= today
    )
    return Shelf(on_hand=part.on_hand or Decimal(0), coming=tuple(coming))


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

    Nothing can be ordered before today, whatever day the phase names: what has been ordered is a delivery, and counts
    as such (`shelf_of`). Lead times are calendar days, the receiving reserve is working days (Monday to Friday).
    """
    if part is None or part.lead_time_days is None:
        return None
    ordered = max(phase.materials_ordered_on or today, today)
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
