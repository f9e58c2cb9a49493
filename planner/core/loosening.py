"""The demands on a plan by name, each with how to drop it and how to loosen it a little: see `planner.core.clashes`.

DEMANDS is the table. Of sets that clash, the one is told that has more of what stands later in it.
"""

from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal

from inventory.core.catalogue import Part
from inventory.core.opening import Opening, read_openings, write_openings
from inventory.core.saying import day_words, money_words
from inventory.core.snapshot import Closure, Snapshot
from planner.core.brief import Brief
from planner.core.clashes import Demand, Ground
from planner.core.money import hours_of, to_cents
from planner.core.plans import Crew, Order, Phase

DAY_MIN, STEP_MIN, CENTS = 24 * 60, 15, 100
MOST_PEOPLE, MOST_DAYS, MOST_CREWS = 20, 366, 6
WELCOME = "welcome"
PLENTY = Decimal(10**9)
EVERY_DAY = tuple(range(7))


def demands_on(ground: Ground, *, every: bool = True) -> tuple[Demand, ...]:
    """Return every demand that the dating of these orders stands under; of any of them, what binds each alone."""
    return tuple(demand for make in DEMANDS if every or make not in BETWEEN for demand in make(ground))


def _most_people(ground: Ground) -> int:
    return max((order.people for order in ground.orders), default=0)


def _labour(ground: Ground, people: int, minutes: int) -> Decimal:
    return to_cents(ground.brief.labour_rate * people * hours_of(minutes))


def _longest(ground: Ground) -> int:
    return max((order.onsite_min for order in ground.orders), default=0)


def _with_crew(ground: Ground, changed: Crew) -> Ground:
    return ground.but(crews=tuple(changed if each.key == changed.key else each for each in ground.crews))


def _with_phase(ground: Ground, key: str, change: Callable[[Phase], Phase]) -> Ground:
    return ground.but(phases=tuple(change(each) if each.key == key else each for each in ground.phases))


def _with_brief(ground: Ground, change: Callable[[Brief], Brief]) -> Ground:
    return ground.but(brief=change(ground.brief))


def _unbound(ground: Ground, row: str) -> Ground:
    return ground.but(without=ground.without | {row})


def _crew_of(ground: Ground, key: str) -> Crew:
    return next(each for each in ground.crews if each.key == key)


def holidays(ground: Ground) -> Iterator[Demand]:
    """Yield that holidays are kept free of work."""
    if not ground.brief.work_on_holidays:
        yield Demand(
            name="nights that start on a public holiday are kept free",
            drop=lambda on: _with_brief(on, lambda brief: replace(brief, work_on_holidays=True)),
            say=lambda _: "work on public holidays too",
        )


def districts(ground: Ground) -> Iterator[Demand]:
    """Yield in which districts each phase may work."""
    yield from (_district(phase) for phase in ground.phases if phase.districts)


def _district(phase: Phase) -> Demand:
    return Demand(
        name=f"{phase.key} works in {', '.join(phase.districts)} alone",
        drop=lambda on: _with_phase(on, phase.key, lambda each: replace(each, districts=())),
        say=lambda _: f"{phase.key} may work in every district",
    )


def rooms_dark(ground: Ground) -> Iterator[Demand]:
    """Yield that no room is dark twice in a night, and how many outages a building bears, where several are asked for."""
    if len(ground.orders) > 1:
        yield Demand(
            name="no room is dark twice in one night",
            drop=lambda on: _unbound(on, "dark"),
            say=lambda _: "rooms may be dark twice in a night",
        )
        yield from (_outages(ground, building) for building in sorted({order.building for order in ground.orders}))


def _outages(ground: Ground, building: str) -> Demand:
    return Demand(
        name=f"{building} bears only so many outages at once",
        drop=lambda on: _unbound(on, f"outages {building}"),
        loosen=lambda on, n: _with_outages(on, building, n),
        most=len(ground.orders),
        say=lambda n: f"{n} more {_plural(n, 'outage')} at once in {building}",
    )


def _with_outages(ground: Ground, building: str, more: int) -> Ground:
    buildings = tuple(
        replace(each, outages_at_once=(each.outages_at_once or 1) + more) if each.key == building else each
        for each in ground.snapshot.buildings
    )
    return ground.but(snapshot=replace(ground.snapshot, buildings=buildings))


def spares(ground: Ground) -> Iterator[Demand]:
    """Yield the floor of the spare pools, where an order takes from one."""
    taken = sorted({model for order in ground.orders for model, count in order.freed if count < 0})
    yield from (_spare(ground, model) for model in taken)


def _spare(ground: Ground, model: str) -> Demand:
    return Demand(
        name=f"the spares of {model} do not fall below {ground.brief.spare_floor}",
        drop=lambda on: _unbound(on, f"spares {model}"),
        say=lambda _: f"more spares of {model} on the shelf",
    )


def calendars(ground: Ground) -> Iterator[Demand]:
    """Yield the bookings of the rooms that go dark."""
    rooms = {room for order in ground.orders for room in order.rooms}
    names = [building.key for building in ground.snapshot.buildings]
    if any(room.calendar and (names[room.building], room.key) in rooms for room in ground.snapshot.rooms):
        yield Demand(
            name="rooms are booked as their calendars say",
            drop=lambda on: on.but(snapshot=_without_calendars(on.snapshot)),
            say=lambda _: "its rooms free of bookings for one night",
        )


def _without_calendars(snapshot: Snapshot) -> Snapshot:
    return replace(snapshot, rooms=tuple(replace(room, calendar=None) for room in snapshot.rooms))


def closures(ground: Ground) -> Iterator[Demand]:
    """Yield each closure that keeps work out."""
    yield from (_closure(closure) for closure in ground.snapshot.closures if closure.kind != WELCOME)


def _closure(closure: Closure) -> Demand:
    why = closure.why or "a closure"
    return Demand(
        name=f"{why} from {day_words(closure.start.date())} to {day_words(closure.end.date())} keeps work out",
        drop=lambda on: on.but(snapshot=_lifted(on.snapshot, closure)),
        say=lambda _: f"{why} lifted",
    )


def _lifted(snapshot: Snapshot, closure: Closure) -> Snapshot:
    return replace(snapshot, closures=tuple(each for each in snapshot.closures if each != closure))


def openings(ground: Ground) -> Iterator[Demand]:
    """Yield the hours at which each building that has some of its own admits crews."""
    own = {order.building for order in ground.orders}
    for building in ground.snapshot.buildings:
        if building.key in own and building.crews_admitted is not None:
            yield _opening(building.key, building.crews_admitted)


def _opening(building: str, text: str) -> Demand:
    """Return the hours of a building as a demand: open a little longer on its days, at most open always."""
    try:
        hours = read_openings(text)
    except ValueError:
        hours = ()  # they cannot be read, so that no longer ones can be told
    shortest = min((_length(one.from_min, one.to_min) for one in hours), default=DAY_MIN)
    most = (DAY_MIN - shortest) // STEP_MIN + 1
    return Demand(
        name=f"{building} admits crews {text}",
        drop=lambda on: _admitting(on, building, None),
        loosen=lambda on, n: _admitting(on, building, None if n >= most else write_openings(_longer(hours, n))),
        most=most,
        say=lambda n: (
            f"{building} admits crews at all hours"
            if n >= most
            else f"{building} admits crews {n * STEP_MIN} min longer: {write_openings(_longer(hours, n))}"
        ),
    )


def _longer(hours: tuple[Opening, ...], steps: int) -> tuple[Opening, ...]:
    """Return hours that end so many steps later, each at most a whole day long."""
    return tuple(
        replace(
            one, to_min=(one.from_min + min(_length(one.from_min, one.to_min) + steps * STEP_MIN, DAY_MIN)) % DAY_MIN
        )
        for one in hours
    )


def _admitting(ground: Ground, building: str, text: str | None) -> Ground:
    buildings = tuple(
        replace(each, crews_admitted=text) if each.key == building else each for each in ground.snapshot.buildings
    )
    return ground.but(snapshot=replace(ground.snapshot, buildings=buildings))


def parts(ground: Ground) -> Iterator[Demand]:
    """Yield when each part can be there."""
    needed = sorted({need.part for order in ground.orders for need in order.parts})
    yield from (_part(ground, key) for key in needed)


def _part(ground: Ground, key: str) -> Demand:
    known = {part.key: part for part in ground.snapshot.catalogue.parts}.get(key)
    needed = sum((need.quantity for order in ground.orders for need in order.parts if need.part == key), Decimal(0))
    price = known.price if known and known.currency == ground.brief.currency else None
    return Demand(
        name=f"part {key} is there when it is delivered",
        drop=lambda on: _stocked(on, key, PLENTY),
        loosen=lambda on, n: _stocked(on, key, Decimal(n)),
        most=max(_ceiling(needed), 1),
        say=lambda n: f"{n} more of part {key} on the shelf today",
        money=lambda n: None if price is None else to_cents(price * n),
    )


def _stocked(ground: Ground, key: str, more: Decimal) -> Ground:
    catalogue = ground.snapshot.catalogue
    part = next((part for part in catalogue.parts if part.key == key), Part(key=key))
    fuller = replace(part, on_hand=(part.on_hand or Decimal(0)) + more)
    others = [each for each in catalogue.parts if each.key != key]
    shelf = tuple(sorted([*others, fuller], key=lambda each: each.key))
    return ground.but(snapshot=replace(ground.snapshot, catalogue=replace(catalogue, parts=shelf)))


def work_days(ground: Ground) -> Iterator[Demand]:
    """Yield the days on which the brief lets work start."""
    if len(ground.brief.work_days) < len(EVERY_DAY):
        yield Demand(
            name="the brief lets work start on some days of the week alone",
            drop=lambda on: _with_brief(on, lambda brief: replace(brief, work_days=EVERY_DAY)),
            say=lambda _: "work on every day of the week",
        )


def phase_dates(ground: Ground) -> Iterator[Demand]:
    """Yield when each phase ends."""
    yield from (_phase_dates(phase) for phase in ground.phases)


def _phase_dates(phase: Phase) -> Demand:
    return Demand(
        name=f"{phase.key} runs from {day_words(phase.start)} to {day_words(phase.end)}",
        drop=lambda on: _later(on, phase.key, MOST_DAYS),
        loosen=lambda on, n: _later(on, phase.key, n),
        most=MOST_DAYS,
        say=lambda n: f"{phase.key} ends {n} {_plural(n, 'day')} later",
    )


def _later(ground: Ground, key: str, days: int) -> Ground:
    return _with_phase(ground, key, lambda each: replace(each, end=each.end + timedelta(days=days)))


def crews_at_once(ground: Ground) -> Iterator[Demand]:
    """Yield that a crew does one order at a time, where several are asked for."""
    if len(ground.orders) > 1:
        yield from (_crew_at_once(ground, crew) for crew in ground.crews)


def _crew_at_once(ground: Ground, crew: Crew) -> Demand:
    onsite_min = sum(order.onsite_min for order in ground.orders)
    return Demand(
        name=f"crew {crew.key} does one order at a time",
        drop=lambda on: _more_like(on, crew.key, len(on.orders)),
        loosen=lambda on, n: _more_like(on, crew.key, n),
        most=MOST_CREWS,
        say=lambda n: f"{n} more {_plural(n, 'crew')} like {crew.key}",
        money=lambda n: _labour(ground, crew.people * n, onsite_min),
    )


def _more_like(ground: Ground, key: str, more: int) -> Ground:
    now = _crew_of(ground, key)
    return ground.but(crews=(*ground.crews, *(replace(now, key=f"{key} {n + 2}") for n in range(more))))


def shifts(ground: Ground) -> Iterator[Demand]:
    """Yield how long each crew's shift is."""
    yield from (_shift(ground, crew) for crew in ground.crews)


def _shift(ground: Ground, crew: Crew) -> Demand:
    return Demand(
        name=f"the shift of {crew.key} is {_clock(crew.shift_from_min)} to {_clock(crew.shift_to_min)} on its days",
        drop=lambda on: _with_crew(on, _on_shift_always(_crew_of(on, crew.key), on.brief.work_from_min)),
        loosen=lambda on, n: _with_crew(
            on, replace(_crew_of(on, crew.key), shift_to_min=(crew.shift_to_min + n * STEP_MIN) % DAY_MIN)
        ),
        most=(DAY_MIN - _length(crew.shift_from_min, crew.shift_to_min)) // STEP_MIN,
        say=lambda n: f"the shift of {crew.key} {n * STEP_MIN} min longer",
        money=lambda n: _labour(ground, crew.people, n * STEP_MIN),
    )


def _on_shift_always(crew: Crew, from_min: int) -> Crew:
    """Return a crew that is on shift from when work may begin until it may begin again, so that no night is cut in two."""
    return replace(crew, shift_from_min=from_min, shift_to_min=from_min, days=EVERY_DAY)


def work_hours(ground: Ground) -> Iterator[Demand]:
    """Yield the hours in which the brief lets crews work."""
    begin, end = ground.brief.work_from_min, ground.brief.work_to_min
    if _length(begin, end) < DAY_MIN:
        yield Demand(
            name=f"work is done from {_clock(begin)} to {_clock(end)}",
            drop=lambda on: _with_brief(on, lambda brief: replace(brief, work_from_min=0, work_to_min=0)),
            loosen=lambda on, n: _with_brief(
                on, lambda brief: replace(brief, work_to_min=(end + n * STEP_MIN) % DAY_MIN)
            ),
            most=(DAY_MIN - _length(begin, end)) // STEP_MIN,
            say=lambda n: f"the window {n * STEP_MIN} min longer: work until {_clock(end + n * STEP_MIN)}",
            money=lambda n: _labour(ground, _most_people(ground), n * STEP_MIN),
        )


def outage_limit(ground: Ground) -> Iterator[Demand]:
    """Yield how long rooms may be dark."""
    limit = ground.brief.longest_outage_min
    longest = max((order.outage_min for order in ground.orders), default=0)
    if longest > limit:
        yield Demand(
            name=f"no room is dark for more than {limit} min",
            drop=lambda on: _with_brief(on, lambda brief: replace(brief, longest_outage_min=longest)),
            loosen=lambda on, n: _with_brief(on, lambda brief: replace(brief, longest_outage_min=limit + n)),
            most=longest - limit,
            say=lambda n: f"the longest outage {n} min longer",
        )


def people(ground: Ground) -> Iterator[Demand]:
    """Yield how many people each crew has, where an order needs more."""
    yield from (_people(ground, crew) for crew in ground.crews if crew.people < _most_people(ground))


def _people(ground: Ground, crew: Crew) -> Demand:
    def with_more(on: Ground, more: int) -> Ground:
        now = _crew_of(on, crew.key)
        return _with_crew(on, replace(now, people=now.people + more))

    return Demand(
        name=f"crew {crew.key} has {crew.people} {_plural(crew.people, 'person', 'people')}",
        drop=lambda on: with_more(on, MOST_PEOPLE),
        loosen=with_more,
        most=MOST_PEOPLE,
        say=lambda n: f"{n} more {_plural(n, 'person', 'people')} in crew {crew.key}",
        money=lambda n: _labour(ground, n, _longest(ground)),
    )


def prices(ground: Ground) -> Iterator[Demand]:
    """Yield that a budget needs prices, where some are not known."""
    unknown = ", ".join(sorted({what for order in ground.orders for what in order.unpriced}))
    if unknown:
        yield Demand(
            name=f"no price is known for {unknown}, and a budget needs one",
            drop=lambda on: on.but(orders=tuple(replace(order, unpriced=()) for order in on.orders)),
            say=lambda _: f"a price for {unknown}",
        )


def budgets(ground: Ground) -> Iterator[Demand]:
    """Yield the budget of each phase that cannot pay for all."""
    cost = sum((order.cost for order in ground.orders), Decimal(0))
    for phase in ground.phases:
        if phase.budget is not None and phase.budget < cost:
            yield _budget(phase.key, phase.budget, cost, ground.brief.currency)


def _budget(phase: str, budget: Decimal, cost: Decimal, currency: str) -> Demand:
    def with_budget(on: Ground, amount: Decimal) -> Ground:
        return _with_phase(on, phase, lambda each: replace(each, budget=amount))

    return Demand(
        name=f"{phase} has a budget of {money_words(budget, currency)}",
        drop=lambda on: with_budget(on, PLENTY),
        loosen=lambda on, n: with_budget(on, budget + Decimal(n) / CENTS),
        most=_ceiling((cost - budget) * CENTS),
        say=lambda n: f"the budget of {phase} higher by {money_words(Decimal(n) / CENTS, currency)}",
        money=lambda n: Decimal(n) / CENTS,
    )


def delays(ground: Ground) -> Iterator[Demand]:
    """Yield until when each order was put off."""
    asked = {order.key for order in ground.orders}
    yield from (_delay(order, night) for order, night in ground.put_off if order in asked)


def _delay(order: str, night: date) -> Demand:
    def from_night(on: Ground, first: date) -> Ground:
        return on.but(put_off=tuple((key, first if key == order else other) for key, other in on.put_off))

    return Demand(
        name=f"order {order} is put off to the night of {day_words(night)} or later",
        drop=lambda on: on.but(put_off=tuple(each for each in on.put_off if each[0] != order)),
        loosen=lambda on, n: from_night(on, night - timedelta(days=n)),
        most=MOST_DAYS,
        say=lambda n: f"order {order} put off by {n} {_plural(n, 'day')} less",
    )


def asked_for(ground: Ground) -> Iterator[Demand]:
    """Yield that each order is to be done, where several are asked for."""
    if len(ground.orders) > 1:
        yield from map(_asked, ground.orders)


def _asked(order: Order) -> Demand:
    return Demand(
        name=f"order {order.key} is to be done",
        drop=lambda on: on.but(orders=tuple(each for each in on.orders if each.key != order.key)),
        say=lambda _: f"order {order.key} left out",
    )


def _ceiling(value: Decimal) -> int:
    return int(value.to_integral_value(rounding="ROUND_CEILING"))


def _length(begin_min: int, end_min: int) -> int:
    """Return how long a span of the day is [min]; one that ends where it begins is the whole day."""
    return (end_min - begin_min - 1) % DAY_MIN + 1


def _plural(count: int, one: str, many: str | None = None) -> str:
    return one if count == 1 else many or f"{one}s"


def _clock(minute: int) -> str:
    hour, rest = divmod(minute % DAY_MIN, 60)
    return f"{hour:02}:{rest:02}"


DEMANDS: tuple[Callable[[Ground], Iterator[Demand]], ...] = (
    holidays,
    districts,
    rooms_dark,
    spares,
    closures,
    calendars,
    openings,
    parts,
    work_days,
    phase_dates,
    shifts,
    crews_at_once,
    work_hours,
    outage_limit,
    people,
    prices,
    budgets,
    delays,
    asked_for,
)
BETWEEN = (rooms_dark, crews_at_once, asked_for)  # what binds orders to each other
