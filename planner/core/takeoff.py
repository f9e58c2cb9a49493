"""The take-off: what to buy for each phase, and by when to order it.

Phases are taken by their start, the orders of a phase by theirs. What an order needs comes first from units that work
finished before it has freed, then from the shelf, then from what is due by then, then from what is bought. The spare
allowance of a phase, in whole units where the part is counted, is met the same way, and what packs leave over goes on
the shelf for later phases.
The order-by date counts back from the first night that is short: until then stock serves.
"""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from decimal import ROUND_CEILING, Decimal

from inventory.core.catalogue import Part
from inventory.core.snapshot import Snapshot
from planner.core.brief import Brief
from planner.core.materials import Takeoff, TakeoffLine
from planner.core.money import sum_by_currency, to_cents
from planner.core.netting import ZERO, round_up
from planner.core.order_dates import OrderCalendar
from planner.core.plans import Order, Placed, Plan
from planner.core.shelves import Shelf, freed_of, shelf_for

MEASURED_UNITS = frozenset(
    {"m", "metre", "metres", "meter", "meters", "ft", "foot", "feet", "kg", "g", "l", "litre", "litres"}
)
ONE = Decimal(1)


@dataclass(frozen=True, slots=True, kw_only=True)
class Use:
    """What one placed order needs of one part."""

    part: str
    quantity: Decimal
    start: datetime
    night: date
    building: str


def take_off(plan: Plan, orders: tuple[Order, ...], snapshot: Snapshot, brief: Brief) -> Takeoff:
    """Return the material list of a plan.

    Parameters
    ----------
    plan : Plan
        Which order is done when; orders that are not planned need nothing.
    orders : tuple of Order
        With their parts and what they free.
    snapshot : Snapshot
        Stock, packs, prices, lead times, models; holidays of the buildings.
    brief : Brief
        The receiving reserve.

    Returns
    -------
    Takeoff
        Lines by start of phase and part; `by_order` sorted by order and part; cost by currency.

    """
    by_key = {order.key: order for order in orders}
    parts = {part.key: part for part in snapshot.catalogue.parts}
    uses = _uses(plan.placed, by_key)
    needed = sorted({use.part for phase in uses.values() for use in phase})
    freed = freed_of(plan.placed, by_key, snapshot.catalogue.models)
    reserve, today = brief.receiving_reserve_days, snapshot.taken_on
    shelves = {key: shelf_for(parts.get(key, Part(key=key)), freed, reserve, today) for key in needed}
    calendar = OrderCalendar(buildings=snapshot.buildings, reserve_days=brief.receiving_reserve_days)
    starts = {phase.phase: phase.start for phase in plan.phases}
    lines = tuple(
        _line(phase, parts.get(part, Part(key=part)), own, shelves[part], calendar)
        for phase in sorted(uses, key=lambda phase: (starts.get(phase) or uses[phase][0].night, phase))
        for part in needed
        if (own := tuple(use for use in uses[phase] if use.part == part))
    )
    return Takeoff(
        lines=lines,
        by_order=tuple(sorted(_by_order(plan.placed, by_key))),
        cost_by_currency=sum_by_currency(
            (line.currency, line.cost) for line in lines if line.currency and line.cost is not None
        ),
    )


def _uses(placed: Iterable[Placed], orders: dict[str, Order]) -> dict[str, tuple[Use, ...]]:
    """Return what is needed by phase, in order of time."""
    uses: dict[str, list[Use]] = defaultdict(list)
    for place in sorted(placed, key=lambda place: (place.start, place.order)):
        order = orders[place.order]
        uses[place.phase] += [
            Use(part=need.part, quantity=need.quantity, start=place.start, night=place.night, building=order.building)
            for need in order.parts
        ]
    return {phase: tuple(found) for phase, found in uses.items() if found}


def _by_order(placed: Iterable[Placed], orders: dict[str, Order]) -> Iterable[tuple[str, str, Decimal]]:
    return ((place.order, need.part, need.quantity) for place in placed for need in orders[place.order].parts)


def _line(phase: str, part: Part, uses: tuple[Use, ...], shelf: Shelf, calendar: OrderCalendar) -> TakeoffLine:
    gross = sum((use.quantity for use in uses), ZERO)
    allowance = _allowance(part, gross)
    first = uses[0]
    taken = [shelf.take(use.quantity, use.start, use.night) for use in uses]
    spare = shelf.take(allowance, first.start, first.night)
    short = next((use for use, found in zip(uses, taken, strict=True) if found.units < use.quantity), first)
    all_taken = sum(taken, spare)
    net = gross + allowance - all_taken.units
    pack = part.pack if part.pack is not None and part.pack > 0 else ONE
    bought = round_up(net, pack)
    shelf.stock += bought - net
    return TakeoffLine(
        phase=phase,
        part=part.key,
        description=part.description,
        unit=part.unit,
        supplier=part.supplier,
        gross=gross,
        allowance=allowance,
        from_stock=all_taken.stock,
        from_freed=all_taken.freed,
        from_due=all_taken.due,
        net=net,
        pack=pack,
        packs=int(bought / pack),
        bought=bought,
        price=part.price,
        currency=part.currency,
        cost=None if part.price is None else to_cents(part.price * bought),
        first_need=first.night,
        short_on=short.night if net else None,
        lead_time_days=part.lead_time_days,
        order_by=calendar.order_by(short.building, short.night, part.lead_time_days) if net else None,
        note="; ".join(
            _notes(part, net, calendar.note(short.building, short.night, part.lead_time_days) if net else None)
        )
        or None,
    )


def _allowance(part: Part, gross: Decimal) -> Decimal:
    """Return the spare allowance, in whole units unless the part is measured."""
    exact = gross * (part.spare_allowance_pct or ZERO) / 100
    measured = part.unit is not None and part.unit.strip().casefold() in MEASURED_UNITS
    return exact if measured else exact.to_integral_value(rounding=ROUND_CEILING)


def _notes(part: Part, net: Decimal, holidays: str | None) -> Iterable[str]:
    """Yield in words what is not known, and what was done about it."""
    unknown = (
        (part.on_hand is None, "stock is not known: counted as none"),
        (part.spare_allowance_pct is None, "spare allowance is not known: none added"),
        (bool(net) and part.pack is None, "pack size is not known: bought singly"),
        (bool(net) and part.lead_time_days is None, "lead time is not known: no order-by date"),
        (bool(net) and part.price is None, "price is not known: cost left open"),
        (part.price is not None and part.currency is None, "currency is not known: left out of the sums"),
        (holidays is not None, holidays or ""),
    )
    return (words for holds, words in unknown if holds)
