"""The time-phased record of one part along a plan: the textbook's rows, on the days on which something happens.

What is due and what earlier work frees count as scheduled receipts, a delivery from the day on which it is received. A
planned receipt covers what is short for the rest of its phase, in whole packs; its release lies so many working and
calendar days earlier that it can be used in the night that is short.
"""

from collections import defaultdict
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

from planner.core.netting import ZERO, LotRule, net_record

ReleaseDay = Callable[[date], date | None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Need:
    """So many units needed on a day for a phase."""

    day: date
    quantity: Decimal
    phase: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SupplyDay:
    """One day of a record. `release`: the day on which the planned receipt is to be ordered, None if not known."""

    day: date
    phase: str | None
    gross: Decimal
    scheduled: Decimal
    net: Decimal
    receipt: Decimal
    on_hand: Decimal
    release: date | None


def supply_record(
    needs: Sequence[Need],
    scheduled: Sequence[tuple[date, Decimal]],
    *,
    on_hand: Decimal,
    pack: Decimal | None,
    release: ReleaseDay,
) -> tuple[SupplyDay, ...]:
    """Return the record of one part.

    Parameters
    ----------
    needs : sequence of Need
        Gross requirements, in any order.
    scheduled : sequence of (date, Decimal)
        Day of first use and units of each receipt that is due or freed.
    on_hand : Decimal
        Stock before the first day.
    pack : Decimal or None
        Units are bought in whole packs of so many; None: any quantity.
    release : callable
        From the day on which units are needed to the day on which to order them.

    Returns
    -------
    tuple of SupplyDay
        By day; days on which nothing happens are left out.

    """
    days = sorted({need.day for need in needs} | {day for day, _ in scheduled})
    gross, due, phase = _by_day(needs, scheduled)
    record = net_record(
        [gross[day] for day in days],
        scheduled=[due[day] for day in days],
        on_hand=on_hand,
        rule=LotRule(multiple=pack),
        covers=_covers([phase.get(day) for day in days]),
    )
    return tuple(
        SupplyDay(
            day=day,
            phase=phase.get(day),
            gross=record.gross[at],
            scheduled=record.scheduled[at],
            net=record.net[at],
            receipt=record.receipt[at],
            on_hand=record.on_hand[at],
            release=release(day) if record.receipt[at] else None,
        )
        for at, day in enumerate(days)
    )


def _by_day(
    needs: Sequence[Need], scheduled: Sequence[tuple[date, Decimal]]
) -> tuple[dict[date, Decimal], dict[date, Decimal], dict[date, str]]:
    gross: dict[date, Decimal] = defaultdict(lambda: ZERO)
    due: dict[date, Decimal] = defaultdict(lambda: ZERO)
    phase: dict[date, str] = {}
    for need in needs:
        gross[need.day] += need.quantity
        phase.setdefault(need.day, need.phase)
    for day, quantity in scheduled:
        due[day] += quantity
    return gross, due, phase


def _covers(phases: Sequence[str | None]) -> list[int]:
    """Return for each day over how many days from it on a lot is meant to last: to the last one of its phase."""
    last = {phase: at for at, phase in enumerate(phases)}
    return [1 if phase is None else last[phase] - at + 1 for at, phase in enumerate(phases)]


def calendar_days_before(lead_days: int) -> ReleaseDay:
    """Return the release of a part whose lead time is so many calendar days, with nothing else to wait for."""
    return lambda day: day - timedelta(days=lead_days)
