"""From orders, windows and the brief to the network of tasks that the core solves, and back to placed orders."""

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta
from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal
from itertools import product
from math import ceil, floor

from planner.core.arrivals import Arrivals, Shelf, shelf_of
from planner.core.demands import Demands
from planner.core.plans import Order, Phase, Place, Placed, Places, Wear, Window
from planner.core.pools import losses
from planner.core.schedule.objective import Pricing
from planner.core.schedule.places import place_named, shift_span, travel_min
from planner.core.schedule.tasks import Capacity, Charge, Choice, Limit, Network, Option, Pool, Task, Use

EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
MINUTE = timedelta(minutes=1)
PARTS_SCALE, MONEY_SCALE, UNITS_SCALE = 10_000, 100, 1000


@dataclass(frozen=True, slots=True, kw_only=True)
class Way:
    """What an option stands for: the order, and the window or the fixed place it came from."""

    order: str
    crew: str
    phase: str
    night: date


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderNetwork:
    """The network of a plan. Task i is order i of `orders`, then come fixed orders that `orders` does not know."""

    network: Network
    ways: tuple[tuple[Way, ...], ...]
    orders: tuple[Order, ...]
    fixed: tuple[Placed, ...]


def minute_of(instant: datetime, *, up: bool = False) -> int:
    """Return an instant as minutes from 1970 UTC, cut off, or rounded up."""
    whole, rest = divmod(instant - EPOCH, MINUTE)
    return whole + (1 if up and rest else 0)


def build_network(demands: Demands, price: Pricing) -> OrderNetwork:
    """Return the network of tasks of a plan, with every rule in it."""
    orders = tuple(sorted(demands.orders, key=lambda order: order.key))
    fixed = {placed.order: placed for placed in demands.fixed}
    strangers = [placed for key, placed in sorted(fixed.items()) if key not in {order.key for order in orders}]
    windows = {each.order: each.windows for each in demands.windows}
    rule = Admission(demands)
    settled = {placed.order: placed for placed in demands.pinned} | fixed
    made = [
        _fixed_task(order.building, settled[order.key], _price_of(settled[order.key], price))
        if order.key in settled
        else _open_task(order, rule.admitted(order, windows.get(order.key, ())), price)
        for order in orders
    ]
    made += [_fixed_task(f"?{placed.order}", placed, 0) for placed in strangers]
    ways = tuple(way for _, way in made)
    network = Network(
        tasks=tuple(task for task, _ in made),
        precedence=_precedence(orders, fixed),
        capacities=tuple(_capacities(orders, fixed, demands.places)),
        limits=tuple(_relieved(limit, orders, fixed) for limit in _limits(orders, ways, demands)),
        charges=tuple(_outings(orders, ways, price)) if price.outing else (),
        pools=tuple(_pools(orders, demands)),
        gaps=_gaps({task.place for task, _ in made}, demands),
    )
    return OrderNetwork(network=network, ways=ways, orders=orders, fixed=tuple(fixed[key] for key in sorted(fixed)))


def placed_from(built: OrderNetwork, chosen: tuple[Choice | None, ...]) -> tuple[Placed, ...]:
    """Return the placed orders of a choice, by start and order; fixed orders exactly as they were given."""
    given = {placed.order: placed for placed in built.fixed}
    placed = list(given.values())
    for order, ways, choice in zip(built.orders, built.ways, chosen, strict=False):
        if choice is not None and order.key not in given:
            placed.append(_placed(order, ways[choice[0]], choice[1]))
    return tuple(sorted(placed, key=lambda each: (each.start, each.order)))


def _placed(order: Order, way: Way, start: int) -> Placed:
    begin = EPOCH + start * MINUTE
    dark_from = begin + order.setup_min * MINUTE
    return Placed(
        order=order.key,
        crew=way.crew,
        phase=way.phase,
        night=way.night,
        start=begin,
        end=begin + order.onsite_min * MINUTE,
        dark_from=dark_from,
        dark_to=dark_from + order.outage_min * MINUTE,
    )


class Admission:
    """Which windows of an order may be used at all: people, shift, phase, district, price, parts, and not the past."""

    def __init__(self, demands: Demands) -> None:
        self._crews = {crew.key: crew for crew in demands.crews}
        self._phases = {phase.key: phase for phase in demands.phases}
        self._places = demands.places
        self._arrivals = demands.arrivals
        self._shelves = _shelves(demands)
        self._now = minute_of(demands.now, up=True)
        self._known = {order.key for order in demands.orders} | {placed.order for placed in demands.fixed}

    def admitted(self, order: Order, windows: Iterable[Window]) -> list[tuple[Window, int, int]]:
        """Return the windows with the first and last minute that may be used, sorted by start, crew and end."""
        if order.stopped or order.unknown or not set(order.predecessors) <= self._known:
            return []
        place = place_named(self._places, order.building)
        spans = [
            (window, *self._span(window, place))
            for window in windows
            if self._people(order, window) and self._phase(order, window, place) and self._parts(order, window)
        ]
        fit = [each for each in spans if each[1] + order.onsite_min <= each[2]]
        return sorted(fit, key=lambda each: (each[1], each[0].crew, each[2]))

    def _people(self, order: Order, window: Window) -> bool:
        crew = self._crews.get(window.crew)
        return crew is not None and crew.people >= order.people

    def _phase(self, order: Order, window: Window, place: Place) -> bool:
        phase = self._phases.get(window.phase)
        if phase is None or not phase.start <= window.night <= phase.end:
            return False
        if phase.districts and (place.district or order.district) not in phase.districts:
            return False
        return phase.budget is None or not order.unpriced

    def _parts(self, order: Order, window: Window) -> bool:
        return all(
            need.quantity <= self._shelves.get(need.part, Shelf()).by(window.night)
            or not is_early(self._arrivals, window, need.part)
            for need in order.parts
        )

    def _span(self, window: Window, place: Place) -> tuple[int, int]:
        shift = shift_span(self._crews[window.crew], window.night, place.time_zone or self._places.time_zone)
        if shift is None:
            return 0, 0
        start = max(minute_of(window.start, up=True), minute_of(shift[0], up=True), self._now)
        return start, min(minute_of(window.end), minute_of(shift[1]))


def is_early(arrivals: Arrivals, window: Window | Way, part: str) -> bool:
    """Tell whether a part bought for the window's phase could not be there yet, so that it must come from stock."""
    day = arrivals[window.phase, part]
    return day is None or window.night < day


def _open_task(order: Order, windows: list[tuple[Window, int, int]], price: Pricing) -> tuple[Task, tuple[Way, ...]]:
    options = tuple(
        Option(
            resource=window.crew,
            start=start,
            end=end,
            cost=price.placed(order.key, window.crew, window.night, (EPOCH + start * MINUTE, EPOCH + end * MINUTE)),
        )
        for window, start, end in windows
    )
    ways = tuple(
        Way(order=order.key, crew=window.crew, phase=window.phase, night=window.night) for window, _, _ in windows
    )
    task = Task(
        key=order.key,
        duration=order.onsite_min,
        options=options,
        skip_cost=price.left_out(order.key),
        place=order.building,
    )
    return task, ways


def _price_of(placed: Placed, price: Pricing) -> int:
    return price.placed(placed.order, placed.crew, placed.night, (placed.start, placed.end))


def _fixed_task(place: str, placed: Placed, cost: int) -> tuple[Task, tuple[Way, ...]]:
    start, end = minute_of(placed.start), minute_of(placed.end, up=True)
    option = Option(resource=placed.crew, start=start, end=end, cost=cost)
    way = Way(order=placed.order, crew=placed.crew, phase=placed.phase, night=placed.night)
    return Task(key=placed.order, duration=end - start, options=(option,), place=place), (way,)


def _precedence(orders: tuple[Order, ...], fixed: dict[str, Placed]) -> tuple[tuple[int, int], ...]:
    """Return the pairs that bind; a fixed order is where it is, whatever should have come before it."""
    position = {order.key: index for index, order in enumerate(orders)}
    return tuple(
        (position[before], index)
        for index, order in enumerate(orders)
        for before in sorted(order.predecessors)
        if before in position and order.key not in fixed
    )


def _capacities(orders: tuple[Order, ...], fixed: dict[str, Placed], places: Places) -> Iterator[Capacity]:
    by_building: dict[str, list[Use]] = defaultdict(list)
    for index, order in enumerate(orders):
        placed = fixed.get(order.key)
        lead = order.setup_min if placed is None else minute_of(placed.dark_from) - minute_of(placed.start)
        tail = (
            order.restore_min if placed is None else minute_of(placed.end, up=True) - minute_of(placed.dark_to, up=True)
        )
        by_building[order.building].append(Use(task=index, lead=lead, tail=tail))
    for building, uses in sorted(by_building.items()):
        limit = place_named(places, building).outages_at_once or 1
        if len(uses) > limit:
            yield Capacity(name=f"outages {building}", limit=limit, uses=tuple(uses))


def _limits(orders: tuple[Order, ...], ways: tuple[tuple[Way, ...], ...], demands: Demands) -> Iterator[Limit]:
    yield from _dark_rooms(orders, ways)
    yield from _budgets(orders, ways, demands.phases)
    yield from _stock(orders, ways, demands)


def _relieved(limit: Limit, orders: tuple[Order, ...], fixed: dict[str, Placed]) -> Limit:
    """Return the limit, raised to what fixed orders already use: they leave nothing, and are no fault of this plan."""
    used = sum(amount for index, _, amount in limit.terms if orders[index].key in fixed)
    return limit if used <= limit.limit else replace(limit, limit=used)


def _dark_rooms(orders: tuple[Order, ...], ways: tuple[tuple[Way, ...], ...]) -> Iterator[Limit]:
    """No room twice in a night; rooms that the same orders darken share one row."""
    by_room: dict[tuple[str, str], list[int]] = defaultdict(list)
    for index, order in enumerate(orders):
        for room in order.rooms if order.outage_min else ():
            by_room[room].append(index)
    for group in sorted({tuple(indices) for indices in by_room.values() if len(indices) > 1}):
        by_night: dict[date, list[tuple[int, int, int]]] = defaultdict(list)
        for index in group:
            for number, way in enumerate(ways[index]):
                by_night[way.night].append((index, number, 1))
        for night, terms in sorted(by_night.items()):
            if len({term[0] for term in terms}) > 1:
                yield Limit(name=f"dark {night}", limit=1, terms=tuple(terms))


def _scaled(value: Decimal, scale: int, rounding: str) -> int:
    return int((value * scale).to_integral_value(rounding=rounding))


def _budgets(
    orders: tuple[Order, ...], ways: tuple[tuple[Way, ...], ...], phases: tuple[Phase, ...]
) -> Iterator[Limit]:
    for phase in phases:
        if phase.budget is None:
            continue
        terms = tuple(
            (index, number, _scaled(order.cost, MONEY_SCALE, ROUND_CEILING))
            for index, order in enumerate(orders)
            for number, way in enumerate(ways[index])
            if way.phase == phase.key
        )
        yield Limit(name=f"budget {phase.key}", limit=_scaled(phase.budget, MONEY_SCALE, ROUND_FLOOR), terms=terms)


def _stock(orders: tuple[Order, ...], ways: tuple[tuple[Way, ...], ...], demands: Demands) -> Iterator[Limit]:
    """Yield the rows of the shelf: it serves what is done before bought parts can be there, and is not spent twice.

    What is still to come refills it: there is a row for the time before each delivery, and one for all time.
    """
    shelves = _shelves(demands)
    terms: dict[str, list[tuple[date, tuple[int, int, int]]]] = defaultdict(list)
    for index, order in enumerate(orders):
        for need, (number, way) in product(order.parts, enumerate(ways[index])):
            if (
                need.quantity
                and (way.phase, need.part) in demands.arrivals
                and is_early(demands.arrivals, way, need.part)
            ):
                amount = _scaled(need.quantity, PARTS_SCALE, ROUND_CEILING)
                terms[need.part].append((way.night, (index, number, amount)))
    for part, mine in sorted(terms.items()):
        shelf = shelves.get(part, Shelf())
        for day in (*sorted({day for day, _ in shelf.coming}), date.max):
            before = tuple(term for night, term in mine if night < day)
            if before:
                limit = _scaled(shelf.by(day - timedelta(days=1)), PARTS_SCALE, ROUND_FLOOR)
                yield Limit(name=f"stock {part} before {day}", limit=limit, terms=before)


def _shelves(demands: Demands) -> dict[str, Shelf]:
    reserve, today = demands.brief.receiving_reserve_days, demands.now.date()
    return {part.key: shelf_of(part, reserve, today) for part in demands.parts}


def _outings(orders: tuple[Order, ...], ways: tuple[tuple[Way, ...], ...], price: Pricing) -> Iterator[Charge]:
    """Yield what is paid once: a crew's night out, and its coming to a building in that night."""
    terms: dict[tuple[str, date, str], list[tuple[int, int]]] = defaultdict(list)
    for index, order in enumerate(orders):
        for number, way in enumerate(ways[index]):
            terms[way.crew, way.night, ""].append((index, number))
            terms[way.crew, way.night, order.building].append((index, number))
    for (crew, night, building), mine in sorted(terms.items()):
        yield Charge(name=f"out {crew} {night} {building}".strip(), cost=price.outing, terms=tuple(mine))


def _pools(orders: tuple[Order, ...], demands: Demands) -> Iterator[Pool]:
    """Spares of old models, where an order takes some: where orders only free them, no order harms a pool.

    Failures to expect raise the floor, as if nothing were replaced: what is replaced fails less. Where failures alone
    bring a pool below its floor, no order takes from it.
    """
    wear = {each.model: each for each in demands.wear}
    usable = UNITS_SCALE * (1 - demands.brief.scrapped_pct / 100)
    on_hand: dict[str, int] = defaultdict(int)
    for spare in demands.spares:
        on_hand[spare.model] += spare.on_hand
    changes: dict[str, list[tuple[int, int, int]]] = defaultdict(list)
    for index, order in enumerate(orders):
        for model, count in order.freed:
            changes[model].append((index, UNITS_SCALE * min(count, 0), floor(usable * max(count, 0))))
    for model, mine in sorted(changes.items()):
        if any(at_start < 0 for _, at_start, _ in mine):
            initial, wanted = UNITS_SCALE * on_hand[model], UNITS_SCALE * demands.brief.spare_floor
            rises = tuple(_rises(wear.get(model), wanted, initial, demands))
            yield Pool(
                name=f"spares {model}",
                initial=initial,
                floor=min(wanted, initial),
                changes=tuple(mine),
                rises=rises,
            )


def _rises(wear: Wear | None, wanted: int, initial: int, demands: Demands) -> Iterator[tuple[int, int]]:
    """Yield when the floor of a pool goes up, and by how much: for what will have failed by the end of each step."""
    last = max((phase.end for phase in demands.phases), default=demands.now.date())
    level = min(wanted, initial)
    for day, failed in losses(wear, last) if wear else ():
        higher = min(wanted + ceil(UNITS_SCALE * failed), initial)
        if higher > level:
            yield minute_of(datetime.combine(day, time(), UTC)), higher - level
        level = max(level, higher)


def _gaps(buildings: set[str], demands: Demands) -> dict[tuple[str, str], int]:
    places = [place_named(demands.places, building) for building in sorted(buildings)]
    return {
        (one.building, two.building): travel_min(one, two, demands.brief)
        for one, two in product(places, places)
        if one.building != two.building
    }
