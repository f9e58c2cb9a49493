"""What to order now, what can wait, and what is too late, in words with the dates behind them."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum

from inventory.core.saying import day_words
from planner.core.arrivals import after_working_days
from planner.core.materials import TakeoffLine

AHEAD_WORKING_DAYS = 10  # what is to be ordered within two weeks is ordered now; common practice


class Urgency(StrEnum):
    """How a purchase stands, the most pressing first."""

    LATE = "too late"
    OPEN = "no date"
    NOW = "order now"
    WAIT = "can wait"


@dataclass(frozen=True, slots=True, kw_only=True)
class Purchase:
    """One line to buy: how it stands, in words why, and the day of first use if it is ordered today."""

    line: TakeoffLine
    urgency: Urgency
    words: str
    usable_on: date | None


def purchases(lines: Iterable[TakeoffLine], reserve_days: int, today: date) -> tuple[Purchase, ...]:
    """Return what is to be bought, the most pressing first, then by order-by date, part and phase."""
    found = [_purchase(line, reserve_days, today) for line in lines if line.packs > 0]
    rank = {urgency: place for place, urgency in enumerate(Urgency)}
    return tuple(
        sorted(
            found,
            key=lambda one: (rank[one.urgency], one.line.order_by or date.max, one.line.part, one.line.phase),
        )
    )


def _purchase(line: TakeoffLine, reserve_days: int, today: date) -> Purchase:
    lead, short_on = line.lead_time_days, line.short_on or line.first_need
    if lead is None or line.order_by is None or short_on is None:
        words = "Its lead time is not known, so nobody can tell by when to order: ask the supplier."
        return Purchase(line=line, urgency=Urgency.OPEN, words=words, usable_on=None)
    usable = after_working_days(today + timedelta(days=lead), reserve_days)
    urgency = _urgency(line.order_by, usable, short_on, today)
    words = _words(urgency, line.order_by, usable, short_on)
    return Purchase(line=line, urgency=urgency, words=words, usable_on=usable)


def _urgency(order_by: date, usable: date, short_on: date, today: date) -> Urgency:
    if order_by < today:
        return Urgency.LATE if usable > short_on else Urgency.NOW
    return Urgency.NOW if order_by <= after_working_days(today, AHEAD_WORKING_DAYS) else Urgency.WAIT


def _words(urgency: Urgency, order_by: date, usable: date, short_on: date) -> str:
    if urgency is Urgency.LATE:
        late = (usable - short_on).days
        days = "1 day" if late == 1 else f"{late} days"
        return (
            f"Was to be ordered by {day_words(order_by)}. Ordered today it can be used from {day_words(usable)}, "
            f"{days} after the night of {day_words(short_on)}, which is the first to be short of it."
        )
    return f"Order by {day_words(order_by)} for the night of {day_words(short_on)}."
