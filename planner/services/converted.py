"""Which stations a plan converts, and when: those dated, those whose orders are accepted, month by month."""

from calendar import monthrange
from collections import Counter
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import date

from planner.core.plans import OrderState
from planner.models import Order, Plan

MONTHS_A_YEAR = 12


@dataclass(frozen=True, slots=True, kw_only=True)
class Dated:
    """Stations by the night on which they are converted: of all orders that have one, and of those accepted."""

    planned: dict[str, date]
    done: dict[str, date]


@dataclass(frozen=True, slots=True, kw_only=True)
class Month:
    """How many stations are dated up to the end of a month, and how many of them are converted."""

    year: int
    month: int
    planned: int
    done: int


def last_day(month: Month) -> date:
    """Return the last day of a month."""
    return date(month.year, month.month, monthrange(month.year, month.month)[1])


def stations_dated(plan: Plan | None) -> Dated:
    """Return the stations of a plan by night; one of several orders counts once, what is backed out does not count."""
    made = Dated(planned={}, done={})
    if plan is None:
        return made
    orders = plan.orders.filter(night__isnull=False).exclude(state=OrderState.BACKED_OUT)
    for night, state, keys in orders.order_by("night", "key").values_list("night", "state", "data__stations"):
        if night is None:
            continue
        for key in keys or ():
            made.planned.setdefault(key, night)
            if state == OrderState.ACCEPTED:
                made.done.setdefault(key, night)
    return made


def stations_of_order(plan: Plan | None, order: str) -> tuple[str, ...]:
    """Return the stations of one order of a plan; none where it has no such order."""
    found = Order.objects.filter(plan=plan, key=order).values_list("data__stations", flat=True).first()
    return tuple(found or ())


def orders_of_stations(keys: Collection[str]) -> tuple[str, ...]:
    """Return the orders of the plan in force that are still to convert any of these stations, with their states, in words."""
    wanted, plan = set(keys), Plan.objects.current()
    if plan is None or not wanted:
        return ()
    due = plan.orders.exclude(state__in=[OrderState.ACCEPTED, OrderState.BACKED_OUT]).order_by("key")
    rows = due.values_list("key", "state", "data__stations")
    return tuple(f"{key} ({state})" for key, state, stations in rows if wanted & set(stations or ()))


def month_by_month(dated: Dated) -> tuple[Month, ...]:
    """Return the sums to the end of each month, from the first with a night to the last.

    Examples
    --------
    >>> nights = {"S1": date(2026, 11, 3), "S2": date(2027, 1, 9)}
    >>> [(one.month, one.planned, one.done) for one in month_by_month(Dated(planned=nights, done={"S1": nights["S1"]}))]
    [(11, 1, 1), (12, 1, 1), (1, 2, 1)]

    """
    planned, done = _counted(dated.planned.values()), _counted(dated.done.values())
    months: list[Month] = []
    sums = [0, 0]
    for number in range(min(planned, default=0), max(planned, default=-1) + 1):
        sums = [sums[0] + planned[number], sums[1] + done[number]]
        year, month = divmod(number, MONTHS_A_YEAR)
        months.append(Month(year=year, month=month + 1, planned=sums[0], done=sums[1]))
    return tuple(months)


def _counted(nights: Iterable[date]) -> Counter[int]:
    return Counter(night.year * MONTHS_A_YEAR + night.month - 1 for night in nights)
