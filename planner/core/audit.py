"""The independent check of a finished plan: one function per rule, from the records alone.

It shares no code with the schedule that makes plans, so that one mistake cannot hide in both. A breach that concerns
fixed orders only is not counted: they are where they are, and no plan can mend that. Of an order that is moved by
hand, only breaches that it has a part in are asked for.
"""

from bisect import bisect_left, bisect_right
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal
from itertools import accumulate
from typing import cast
from zoneinfo import ZoneInfo

import numpy as np

from inventory.core.catalogue import Part, Spare
from inventory.core.saying import day_words, moment_words, number_words
from planner.core.brief import Brief
from planner.core.plans import CheckLine, Crew, Order, Phase, Place, Placed, Places, Wear, Window, WindowsOfOrder

DAYS_PER_YEAR = 365.2425  # mean year of the Gregorian calendar
SLIP = 1e-6  # units, for rounding


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """A plan with all it must obey, by key."""

    placed: tuple[Placed, ...]
    orders: dict[str, Order]
    windows: dict[str, tuple[Window, ...]]
    crews: dict[str, Crew]
    phases: dict[str, Phase]
    brief: Brief
    places: dict[str, Place]
    time_zone: str
    parts: dict[str, Part]
    spares: tuple[Spare, ...]
    now: datetime
    fixed: dict[str, Placed]
    booked: dict[str, Placed]
    forced: frozenset[str]
    asked: frozenset[str] | None
    wear: dict[str, Wear]

    def free(self) -> list[Placed]:
        """Return the placed orders that the plan decided on, of those that are asked for."""
        return [each for each in self.placed if self.decided(each)]

    def decided(self, *some: Placed) -> bool:
        """Tell whether at least one of those was for the plan to decide, and is asked for."""
        return any(each.order not in self.fixed and (self.asked is None or each.order in self.asked) for each in some)

    def order(self, each: Placed) -> Order | None:
        """Return the order that stands behind a placed one; None for a fixed one of an earlier list."""
        return self.orders.get(each.order)

    def place(self, building: str) -> Place:
        """Return what is known of a building."""
        return self.places.get(building, Place(building=building))


def audit(  # noqa: PLR0917 - all that a plan stands on, in the order of the sentence
    placed: tuple[Placed, ...],
    orders: tuple[Order, ...],
    windows: tuple[WindowsOfOrder, ...],
    crews: tuple[Crew, ...],
    phases: tuple[Phase, ...],
    brief: Brief,
    places: Places,
    parts: tuple[Part, ...],
    spares: tuple[Spare, ...],
    now: datetime,
    fixed: tuple[Placed, ...] = (),
    booked: tuple[Placed, ...] = (),
    forced: frozenset[str] = frozenset(),
    asked: frozenset[str] | None = None,
    wear: tuple[Wear, ...] = (),
) -> tuple[CheckLine, ...]:
    """Check a plan rule by rule, each with its first breach in words.

    `fixed` are orders begun or accepted, `booked` those of the last plan that are agreed, `forced` the booked ones
    that can stay in no plan; `asked` limits the check to breaches in which one of these orders has a part.
    """
    case = Case(
        placed=tuple(sorted(placed, key=lambda each: (each.start, each.order))),
        orders={order.key: order for order in orders},
        windows={each.order: each.windows for each in windows},
        crews={crew.key: crew for crew in crews},
        phases={phase.key: phase for phase in phases},
        brief=brief,
        places={place.building: place for place in places.places},
        time_zone=places.time_zone,
        parts={part.key: part for part in parts},
        spares=spares,
        now=now,
        fixed={each.order: each for each in fixed},
        booked={each.order: each for each in booked},
        forced=forced,
        asked=asked,
        wear={each.model: each for each in wear},
    )
    return tuple(_line(number, rule, next(look(case), None)) for number, rule, look in RULES)


def _line(number: int, rule: str, breach: str | None) -> CheckLine:
    return CheckLine(number=number, rule=rule, holds=breach is None, breach=breach)


def inside_windows(case: Case) -> Iterator[str]:
    """Yield breaches of rule 1."""
    seen: set[str] = set()
    for each in case.placed:
        if each.order in seen:
            yield f"order {each.order} is planned twice"
        seen.add(each.order)
    for each in case.free():
        order = case.order(each)
        if order is None:
            yield f"order {each.order} is not one of the orders to plan"
        elif wrong := _wrong_times(order, each):
            yield f"order {each.order} {wrong}"
        elif each.start < case.now:
            yield f"order {each.order} would start at {_at(case, each.start, each)}, in the past"
        elif not any(_holds(window, each) for window in case.windows.get(each.order, ())):
            yield (
                f"order {each.order} with crew {each.crew}, {_at(case, each.start, each)} to {_at(case, each.end, each)}, "
                f"is in no window of the night of {day_words(each.night)} in {each.phase}"
            )


def _wrong_times(order: Order, each: Placed) -> str | None:
    wanted = each.start + timedelta(minutes=order.setup_min)
    if each.end - each.start != timedelta(minutes=order.setup_min + order.outage_min + order.restore_min):
        return f"does not last its {order.setup_min + order.outage_min + order.restore_min} min"
    if each.dark_from != wanted or each.dark_to != wanted + timedelta(minutes=order.outage_min):
        return f"is not dark for its {order.outage_min} min after {order.setup_min} min of setting up"
    return None


def _holds(window: Window, each: Placed) -> bool:
    same = (window.crew, window.night, window.phase) == (each.crew, each.night, each.phase)
    return same and window.start <= each.start and each.end <= window.end


def crews_can(case: Case) -> Iterator[str]:
    """Yield breaches of rule 2."""
    for each in case.free():
        crew, order = case.crews.get(each.crew), case.order(each)
        if crew is None:
            yield f"order {each.order} has crew {each.crew}, which does not exist"
        elif order is not None:
            if crew.people < order.people:
                yield f"order {each.order} needs {order.people} people, crew {crew.key} has {crew.people}"
            if not _on_shift(case, crew, order, each):
                yield f"order {each.order}, {_at(case, each.start, each)} to {_at(case, each.end, each)}, is outside the shift of {crew.key}"
    yield from _crew_clashes(case)


def _on_shift(case: Case, crew: Crew, order: Order, each: Placed) -> bool:
    if each.night.weekday() not in crew.days:
        return False
    zone = case.place(order.building).time_zone or case.time_zone
    next_day = crew.shift_to_min <= crew.shift_from_min
    begins = _local(each.night, crew.shift_from_min, zone)
    ends = _local(each.night + timedelta(days=1) if next_day else each.night, crew.shift_to_min, zone)
    return begins <= each.start and each.end <= ends


def _local(day: date, minute: int, zone: str) -> datetime:
    wall = datetime.combine(day, time()) + timedelta(minutes=minute)
    return wall.replace(tzinfo=ZoneInfo(zone)).astimezone(UTC)


def _crew_clashes(case: Case) -> Iterator[str]:
    by_crew: dict[str, list[Placed]] = defaultdict(list)
    for each in case.placed:
        by_crew[each.crew].append(each)
    farthest = timedelta(minutes=max(case.brief.travel_same_district_min, case.brief.travel_between_districts_min))
    for crew, mine in sorted(by_crew.items()):
        for position, one in enumerate(mine):
            for two in mine[position + 1 :]:
                if two.start >= one.end + farthest:
                    break
                travel = _travel(case, one, two)
                if two.start < one.end + timedelta(minutes=travel) and case.decided(one, two):
                    yield (
                        f"crew {crew} is at order {one.order} until {_at(case, one.end, one)} and needs {travel} min to order "
                        f"{two.order}, which starts at {_at(case, two.start, two)}"
                    )


def _travel(case: Case, one: Placed, two: Placed) -> int:
    first, second = case.order(one), case.order(two)
    if first is not None and second is not None:
        if first.building == second.building:
            return 0
        district = case.place(first.building).district
        if district is not None and district == case.place(second.building).district:
            return case.brief.travel_same_district_min
    return case.brief.travel_between_districts_min


def outages_bearable(case: Case) -> Iterator[str]:
    """Yield breaches of rule 3."""
    by_building: dict[str, list[Placed]] = defaultdict(list)
    by_room: dict[tuple[str, str, date], list[Placed]] = defaultdict(list)
    for each in case.placed:
        order = case.order(each)
        if order is not None and each.dark_to > each.dark_from:
            by_building[order.building].append(each)
            for building, room in order.rooms:
                by_room[building, room, each.night].append(each)
    for building, mine in sorted(by_building.items()):
        most = case.place(building).outages_at_once or 1
        for each in mine:
            dark = [other for other in mine if other.dark_from <= each.dark_from < other.dark_to]
            if len(dark) > most and case.decided(*dark):
                yield f"building {building} has {len(dark)} outages at {_at(case, each.dark_from, each)}, {most} allowed"
    for (building, room, night), mine in sorted(by_room.items()):
        if len(mine) > 1 and case.decided(*mine):
            yield f"room {room} of {building} is dark twice in the night of {day_words(night)}: orders {_names(mine)}"


def phases_keep(case: Case) -> Iterator[str]:
    """Yield breaches of rule 4."""
    for each in case.free():
        phase, order = case.phases.get(each.phase), case.order(each)
        if phase is None:
            yield f"order {each.order} is in {each.phase}, a phase that does not exist"
        elif not phase.start <= each.night <= phase.end:
            yield f"order {each.order} in the night of {day_words(each.night)} is outside {phase.key}"
        elif order is not None and phase.districts and _district(case, order) not in phase.districts:
            yield f"order {each.order} is not in a district of {phase.key}"
    for key, phase in sorted(case.phases.items()):
        if phase.budget is not None:
            yield from _budget(case, [each for each in case.placed if each.phase == key], phase, phase.budget)


def _district(case: Case, order: Order) -> str | None:
    return case.place(order.building).district or order.district


def _budget(case: Case, mine: list[Placed], phase: Phase, budget: Decimal) -> Iterator[str]:
    orders = [(each, order) for each in mine if (order := case.order(each)) is not None]
    total = sum((order.cost for _, order in orders), Decimal(0))
    if total > budget and any(order.cost > 0 and case.decided(each) for each, order in orders):
        yield f"{phase.key} costs {total}, its budget is {budget}"
    for each, order in orders:
        if order.unpriced and case.decided(each):
            yield f"order {order.key} has no price for {', '.join(order.unpriced)}, so the budget of {phase.key} is open"
        if order.currency != case.brief.currency and case.decided(each):
            yield f"order {order.key} is in {order.currency}, the budget of {phase.key} in {case.brief.currency}"


def predecessors_first(case: Case) -> Iterator[str]:
    """Yield breaches of rule 5."""
    there = {each.order: each for each in case.placed}
    for each in case.placed:
        order = case.order(each)
        for before in order.predecessors if order and each.order not in case.fixed else ():
            first = there.get(before)
            if first is None:
                if case.decided(each) or before in (case.asked or ()):
                    yield f"order {each.order} needs order {before} first, which is not planned"
            elif first.end > each.start and case.decided(each, first):
                yield f"order {each.order} starts at {_at(case, each.start, each)}, before order {before} ends"


def parts_there(case: Case) -> Iterator[str]:
    """Yield breaches of rule 6."""
    for each, part, quantity in _early_needs(case):
        there = _there(case, part, each.night)
        if quantity > there and case.decided(each):
            usable = _usable_from(case, each.phase, part)
            when = "an unknown day (no lead time)" if usable is None else day_words(usable)
            yield (
                f"order {each.order} needs {number_words(quantity)} of {part} in the night of {day_words(each.night)}; "
                f"{number_words(there)} are there, bought from {when}"
            )


def stock_once(case: Case) -> Iterator[str]:
    """Yield breaches of rule 7."""
    by_part: dict[str, list[tuple[Placed, Decimal]]] = defaultdict(list)
    for each, part, quantity in _early_needs(case):
        by_part[part].append((each, quantity))
    for part, mine in sorted(by_part.items()):
        for night in sorted({each.night for each, _ in mine}):
            spent = [(each, quantity) for each, quantity in mine if each.night <= night]
            total, there = sum((quantity for _, quantity in spent), Decimal(0)), _there(case, part, night)
            if total > there and case.decided(*(each for each, _ in spent)):
                names = _names([each for each, _ in spent])
                yield (
                    f"{number_words(total)} of {part} would come from stock by the night of {day_words(night)}, "
                    f"{number_words(there)} are there by then: {names}"
                )


def _early_needs(case: Case) -> Iterator[tuple[Placed, str, Decimal]]:
    """Yield what must come from the shelf, since what is bought for the phase cannot be there yet."""
    for each in case.placed:
        order = case.order(each)
        for need in order.parts if order else ():
            usable = _usable_from(case, each.phase, need.part)
            if need.quantity > 0 and (usable is None or each.night < usable):
                yield each, need.part, need.quantity


def _there(case: Case, part: str, night: date) -> Decimal:
    """Return the stock of a part in a night: on hand, and delivered in time; what is overdue may never come."""
    known = case.parts.get(part)
    if known is None:
        return Decimal(0)
    units = known.on_hand or Decimal(0)
    for delivery in known.deliveries:
        if delivery.due >= case.now.date() and _received(case, delivery.due) <= night:
            units += delivery.quantity
    return units


def _usable_from(case: Case, phase: str, part: str) -> date | None:
    known, within = case.parts.get(part), case.phases.get(phase)
    if known is None or known.lead_time_days is None or within is None:
        return None
    ordered = case.now.date()  # nothing is ordered before today; what was, is a delivery
    if within.materials_ordered_on is not None and within.materials_ordered_on > ordered:
        ordered = within.materials_ordered_on
    return _received(case, ordered + timedelta(days=known.lead_time_days))


def _received(case: Case, there: date) -> date:
    """Return the day on which what comes on a day is received: so many working days later."""
    reserve = case.brief.receiving_reserve_days
    return cast("date", np.busday_offset(there, reserve, roll="backward").item()) if reserve else there


def spares_last(case: Case) -> Iterator[str]:
    """Yield breaches of rule 8."""
    on_hand: dict[str, int] = defaultdict(int)
    for spare in case.spares:
        on_hand[spare.model] += spare.on_hand
    movers: dict[str, list[tuple[Placed, int]]] = defaultdict(list)
    for each in case.placed:
        order = case.order(each)
        for model, count in order.freed if order else ():
            movers[model].append((each, count))
    for model, mine in sorted(movers.items()):
        if case.decided(*(each for each, _ in mine)):
            yield from _pool_breaches(case, model, on_hand[model], mine)


def _pool_breaches(case: Case, model: str, on_hand: int, mine: list[tuple[Placed, int]]) -> Iterator[str]:
    """Yield when orders bring a pool below its floor, or below what failures alone would leave of it."""
    gone = {name: each.end for each in case.placed if (order := case.order(each)) for name in order.stations}
    kept = 1 - case.brief.scrapped_pct / 100
    taken = _Running((each.start, count) for each, count in mine if count < 0)
    freed = _Running((each.end, count * kept) for each, count in mine if count > 0)
    for moment in sorted({at for each, _ in mine for at in (each.start, each.end)} | {max(p.end for p in case.placed)}):
        failed, alone = _failed(case, model, moment, gone), _failed(case, model, moment, {})
        least = min(case.brief.spare_floor, on_hand - alone)
        moved = min(taken.before(moment) + freed.before(moment), taken.by(moment) + freed.by(moment))
        level = on_hand - failed + moved
        if level < least - SLIP:
            yield (
                f"spares of {model} fall to {round(level, 2):g} at {_at(case, moment)}, below {round(least, 2):g}, "
                f"with {round(failed, 2):g} failures to expect by then"
            )


class _Running:
    """Amounts with their moments, summed up to any moment."""

    def __init__(self, some: Iterable[tuple[datetime, float]]) -> None:
        dated = sorted(some)
        self._moments = [moment for moment, _ in dated]
        self._sums = [0.0, *accumulate(amount for _, amount in dated)]

    def before(self, moment: datetime) -> float:
        """Return the sum of what was before a moment."""
        return self._sums[bisect_left(self._moments, moment)]

    def by(self, moment: datetime) -> float:
        """Return the sum of what was before a moment or at it."""
        return self._sums[bisect_right(self._moments, moment)]


def _failed(case: Case, model: str, moment: datetime, gone: dict[str, datetime]) -> float:
    """Return the failures to expect until a moment of all that still hangs there."""
    wear = case.wear.get(model)
    if wear is None:
        return 0.0
    first, total = datetime.combine(wear.as_of, time(), UTC), 0.0
    for station, age in wear.ages:
        until = min(moment, gone.get(station, moment))
        years = max(0.0, (until - first) / timedelta(days=DAYS_PER_YEAR))
        total += ((age + years) / wear.scale_years) ** wear.shape - (age / wear.scale_years) ** wear.shape
    return total


def fixed_stay(case: Case) -> Iterator[str]:
    """Yield breaches of rule 9."""
    now = {each.order: each for each in case.placed}
    for key, each in sorted(case.fixed.items()):
        if now.get(key) != each:
            yield f"order {key} is fixed at {_at(case, each.start, each)} with crew {each.crew}, and is not there"
    for key, each in sorted(case.booked.items()):
        if now.get(key) != each and (case.asked is None or key in case.asked):
            yield from _moved(case, each, now.get(key))


def _moved(case: Case, old: Placed, new: Placed | None) -> Iterator[str]:
    """Yield what speaks against moving a booked order, or leaving it out."""
    wanted = case.brief.notice_days
    if old.order not in case.forced:
        if not case.brief.booked_may_move:
            yield f"order {old.order} is booked at {_at(case, old.start, old)} with crew {old.crew}, and the brief keeps what is booked"
        elif (left := (old.night - case.now.date()).days) < wanted:
            yield f"order {old.order} is booked in {left} days, and moving it needs {wanted} days of notice"
    if new is not None and (left := (new.night - case.now.date()).days) < wanted:
        yield f"order {old.order} would move to a night in {left} days, and its rooms need {wanted} days of notice"


def _at(case: Case, instant: datetime, each: Placed | None = None) -> str:
    """Return an instant by the clock in the building of an order, else of the campus, with the name of its zone."""
    order = case.order(each) if each is not None else None
    zone = (case.place(order.building).time_zone if order is not None else None) or case.time_zone
    local = instant.astimezone(ZoneInfo(zone))
    return f"{moment_words(local)} {local:%Z}"


def _names(some: list[Placed]) -> str:
    return ", ".join(sorted(each.order for each in some))


Look = Callable[[Case], Iterator[str]]
RULES: tuple[tuple[int, str, Look], ...] = (
    (1, "each order lies inside one window of its own, never split", inside_windows),
    (2, "a crew does one order at a time, with travel, within its shift, with enough people", crews_can),
    (3, "no more outages at once than a building bears, no room dark twice in a night", outages_bearable),
    (4, "a phase keeps its dates, districts and budget", phases_keep),
    (5, "what must come first comes first", predecessors_first),
    (6, "no order starts before its parts can be there", parts_there),
    (7, "stock is not spent twice", stock_once),
    (8, "no order takes a spare pool below its floor; failures alone may", spares_last),
    (9, "what is begun stays where it is, and what is booked where the brief does not let it move", fixed_stay),
)
