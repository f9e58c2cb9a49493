"""The material list of a plan, counted anew whenever stock, deliveries or orders change."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import date, datetime
from decimal import Decimal
from uuid import UUID

from django.db import transaction
from django.utils import timezone

from inventory.models import Delivery, Part
from inventory.services import stock
from inventory.store.snapshot import Extent, load_part
from inventory.store.targets import By
from planner.core.arrivals import after_working_days
from planner.core.materials import Takeoff
from planner.core.order_dates import OrderCalendar
from planner.core.purchases import Purchase, purchases
from planner.core.shelves import due_units, freed_of
from planner.core.supply import Need, SupplyDay, supply_record
from planner.core.takeoff import take_off
from planner.models import Order, Plan
from planner.services.standing import ENDED, current_plan
from planner.store.plans import load_line_records, load_orders, load_plan, load_settings, save_lines

NOWHERE = Extent(nodes=frozenset(), runs=frozenset(), buses=frozenset(), rooms=frozenset())


def count_takeoff(plan: Plan, today: date) -> Takeoff:
    """Return the take-off of what is still to be done of a plan, from stock and deliveries as they are now."""
    record = load_plan(plan)
    ended = set(plan.orders.filter(state__in=ENDED).values_list("key", flat=True))
    to_do = replace(record, placed=tuple(each for each in record.placed if each.order not in ended))
    return take_off(to_do, load_orders(plan), load_part(NOWHERE, taken_on=today), load_settings(plan))


@transaction.atomic
def count_anew(plan: Plan) -> None:
    """Replace the stored take-off of a plan by one from stock, deliveries and orders as they are now."""
    plan = Plan.objects.select_for_update().get(pk=plan.pk)
    now = timezone.now()
    save_lines(plan, count_takeoff(plan, timezone.localdate()).lines, counted=now)


def changed_since(plan: Plan) -> bool:
    """Tell whether stock, deliveries or orders have changed since the take-off of a plan was counted."""
    since: datetime = plan.counted or plan.made
    return (
        Part.history.filter(history_date__gt=since).exists()
        or Delivery.history.filter(history_date__gt=since).exists()
        or Order.objects.filter(plan=plan, state__in=ENDED, events__at__gt=since).exists()
    )


def to_buy(plan: Plan, today: date) -> tuple[Purchase, ...]:
    """Return what is to be bought for a plan, the most pressing first."""
    return purchases(load_line_records(plan), load_settings(plan).receiving_reserve_days, today)


@transaction.atomic
def order_part(token: UUID, what: stock.Ordered, by: By) -> bool:
    """Put on record that a part is ordered, and count anew; False where this form has been counted before."""
    return _counted(stock.order(token, what, by))


@transaction.atomic
def take_delivery(token: UUID, delivery_id: int, quantity: Decimal, by: By) -> bool:
    """Put a delivery on the shelf, and count anew; False where this form has been counted before."""
    return _counted(stock.deliver(token, delivery_id, quantity, by))


@transaction.atomic
def expect_delivery(delivery_id: int, due: date, by: By) -> None:
    """Change the day on which a delivery is expected, and count anew."""
    stock.expect(delivery_id, due, by)
    _counted(first_time=True)


def _counted(first_time: bool) -> bool:  # noqa: FBT001 - what the service before it said
    plan = current_plan()
    if first_time and plan is not None:
        count_anew(plan)
    return first_time


def record_of(part_key: str, plan: Plan | None, today: date) -> tuple[SupplyDay, ...]:
    """Return the time-phased record of one part along a plan."""
    snapshot = load_part(NOWHERE, taken_on=today)
    part = next((each for each in snapshot.catalogue.parts if each.key == part_key), None)
    if plan is None or part is None:
        return ()
    brief, orders = load_settings(plan), {order.key: order for order in load_orders(plan)}
    ended = set(plan.orders.filter(state__in=ENDED).values_list("key", flat=True))
    placed = [each for each in load_plan(plan).placed if each.order not in ended]
    needs = [
        Need(day=each.night, quantity=need.quantity, phase=each.phase)
        for each in placed
        for need in orders[each.order].parts
        if need.part == part_key
    ]
    needs += [
        Need(day=line.first_need, quantity=line.allowance, phase=line.phase)
        for line in load_line_records(plan)
        if line.part == part_key and line.first_need is not None
    ]
    building = next((orders[each.order].building for each in placed), "")
    calendar = OrderCalendar(buildings=snapshot.buildings, reserve_days=brief.receiving_reserve_days)
    freed = freed_of(placed, orders, snapshot.catalogue.models).get(part_key, [])
    return supply_record(
        needs,
        [*due_units(part, brief.receiving_reserve_days, today), *_next_days(freed)],
        on_hand=part.on_hand or Decimal(0),
        pack=part.pack or None,
        release=lambda day: calendar.order_by(building, day, part.lead_time_days),
    )


def _next_days(freed: list[tuple[datetime, Decimal]]) -> Iterator[tuple[date, Decimal]]:
    """Yield units from the day on which they can be used: the next night after they came free."""
    return ((at.date(), units) for at, units in freed)


def usable_if_ordered(part: Part, plan: Plan, today: date) -> date | None:
    """Return the first day of use of a part that is ordered today, None where its lead time is not known."""
    if part.lead_time_days is None:
        return None
    arrives = date.fromordinal(today.toordinal() + part.lead_time_days)
    return after_working_days(arrives, load_settings(plan).receiving_reserve_days)
