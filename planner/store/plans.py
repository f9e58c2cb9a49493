"""Plans into tables and back."""

from collections.abc import Iterable
from datetime import datetime
from typing import Any

from django.contrib.auth.models import User
from django.db import transaction

from inventory.models import Building
from planner.core.brief import Brief as BriefRecord
from planner.core.comparison import Entry
from planner.core.materials import Takeoff
from planner.core.materials import TakeoffLine as TakeoffLineRecord
from planner.core.pipeline import Planned
from planner.core.plans import CheckLine, OrderState, PhaseSummary, Placed, Unplanned
from planner.core.plans import Order as OrderRecord
from planner.core.plans import Plan as PlanRecord
from planner.core.replanning import Standing
from planner.models import Assessment, Brief, Order, Plan, TakeoffLine
from planner.models.plans import AFRESH
from planner.store.records import from_json, to_json

OVER = (OrderState.ACCEPTED.value, OrderState.BACKED_OUT.value)
PLACED_FIELDS = ("crew", "phase", "night", "start", "end", "dark_from", "dark_to")
LINE_FIELDS = tuple(name for name in TakeoffLineRecord.__slots__)


@transaction.atomic
def save_plan(
    planned: Planned,
    *,
    brief: Brief,
    assessment: Assessment,
    by: User | None,
    made: datetime,
    goes_on_from: Plan | None = None,
    origin: str = AFRESH,
) -> Plan:
    """Store a plan with its orders and take-off; nothing of an older plan changes."""
    record = planned.plan
    plan = Plan.objects.create(
        brief=brief,
        assessment=assessment,
        made=made,
        by=by,
        settings_used=to_json(planned.team.brief),
        method=record.method,
        objective=record.objective,
        bound=record.bound,
        gap=record.gap,
        list_objective=record.list_objective,
        listed=to_json(record.listed),
        settled=record.settled,
        settled_objective=record.settled_objective,
        seed=record.seed,
        seconds=record.seconds,
        check_lines=to_json(record.check),
        phases=to_json(record.phases),
        crews_used=to_json(planned.team.crews),
        phases_used=to_json(planned.team.phases),
        remarks=list(record.remarks),
        origin=origin,
        goes_on_from=goes_on_from,
        changes=to_json(planned.shifts),
    )
    _save_orders(plan, planned)
    save_lines(plan, planned.takeoff.lines, counted=made)
    return plan


def save_lines(plan: Plan, lines: Iterable[TakeoffLineRecord], *, counted: datetime) -> None:
    """Store the take-off of a plan in place of the one before, and when it was counted."""
    plan.takeoff.all().delete()
    TakeoffLine.objects.bulk_create(
        TakeoffLine(plan=plan, **{name: getattr(line, name) for name in LINE_FIELDS}) for line in lines
    )
    plan.counted = counted
    plan.save(update_fields=["counted"])


def load_line_records(plan: Plan) -> tuple[TakeoffLineRecord, ...]:
    """Return the stored lines of a plan's take-off, by phase and part."""
    return tuple(
        TakeoffLineRecord(**{name: getattr(row, name) for name in LINE_FIELDS})
        for row in plan.takeoff.order_by("phase", "part")
    )


def _save_orders(plan: Plan, planned: Planned) -> None:
    buildings = dict(Building.objects.values_list("key", "pk"))
    placed = {one.order: one for one in planned.plan.placed}
    left_out = {one.order: one for one in planned.plan.unplanned}
    stood = {one.order.key: one for one in planned.standings}
    before = dict(plan.goes_on_from.orders.values_list("key", "pk")) if plan.goes_on_from else {}
    rows = [
        _order_row(plan, order, buildings[order.building], placed.get(order.key), left_out.get(order.key))
        for order in planned.orders
    ]
    for row in rows:
        row.goes_on_from_id = before.get(row.key)
        _carry_on(row, stood.get(row.key))
    Order.objects.bulk_create(rows)


def _carry_on(row: Order, standing: Standing | None) -> None:
    """Let an order that is begun be what it was, and remember what was put off and what was backed out."""
    if standing is None:
        return
    row.not_before = standing.not_before
    if standing.begun:
        row.state, row.data = standing.state.value, to_json(standing.order)


def _order_row(
    plan: Plan, order: OrderRecord, building_id: int, placed: Placed | None, left_out: Unplanned | None
) -> Order:
    row = Order(
        plan=plan,
        key=order.key,
        building_id=building_id,
        stations=len(order.stations),
        people=order.people,
        outage_min=order.outage_min,
        onsite_min=order.onsite_min,
        benefit=order.benefit,
        cost=order.cost,
        currency=order.currency,
        data=to_json(order),
    )
    if placed:
        for name in PLACED_FIELDS:
            setattr(row, name, getattr(placed, name))
    if left_out:
        row.reason_code, row.reason = left_out.code, left_out.reason
    return row


def load_orders(plan: Plan) -> tuple[OrderRecord, ...]:
    """Return the orders of a plan as records, sorted by key."""
    return tuple(from_json(OrderRecord, data) for data in plan.orders.order_by("key").values_list("data", flat=True))


def keys_over(plan: Plan) -> frozenset[str]:
    """Return the orders of a plan that are accepted or backed out."""
    return frozenset(plan.orders.filter(state__in=OVER).values_list("key", flat=True))


def keys_under_way(plan: Plan) -> frozenset[str]:
    """Return the orders of a plan that a crew is at."""
    return frozenset(plan.orders.filter(state=OrderState.UNDER_WAY.value).values_list("key", flat=True))


def load_standings(plan: Plan) -> tuple[Standing, ...]:
    """Return the orders of a plan as they stand today, sorted by key."""
    return tuple(
        Standing(
            order=from_json(OrderRecord, row.data),
            placed=None if row.start is None else _placed(row),
            state=OrderState(row.state),
            not_before=row.not_before,
        )
        for row in plan.orders.order_by("key")
    )


def load_entries(plan: Plan) -> tuple[Entry, ...]:
    """Return the orders of a plan with where they are dated, or why not, sorted by key."""
    return tuple(
        Entry(
            order=from_json(OrderRecord, row.data),
            placed=None if row.start is None else _placed(row),
            reason=row.reason,
        )
        for row in plan.orders.order_by("key")
    )


def load_plan(plan: Plan) -> PlanRecord:
    """Return a stored plan as the record it was."""
    rows = list(plan.orders.order_by("start", "key"))
    return PlanRecord(
        placed=tuple(_placed(row) for row in rows if row.start is not None),
        unplanned=tuple(
            Unplanned(order=row.key, code=row.reason_code or "", reason=row.reason or "")
            for row in rows
            if row.start is None
        ),
        objective=plan.objective,
        bound=plan.bound,
        gap=plan.gap,
        list_objective=plan.list_objective,
        method=plan.method,
        check=tuple(from_json(CheckLine, line) for line in plan.check_lines),
        phases=tuple(from_json(PhaseSummary, line) for line in plan.phases),
        seed=plan.seed,
        seconds=plan.seconds,
        remarks=tuple(plan.remarks),
        listed=tuple(from_json(Placed, line) for line in plan.listed),
        settled=plan.settled,
        settled_objective=plan.settled_objective,
    )


def _placed(row: Order) -> Placed:
    return Placed(order=row.key, **{name: getattr(row, name) for name in PLACED_FIELDS})


def load_takeoff(plan: Plan) -> Takeoff:
    """Return the stored take-off of a plan; the sums by currency are added up anew."""
    lines = load_line_records(plan)
    by_order = tuple((order.key, need.part, need.quantity) for order in load_orders(plan) for need in order.parts)
    sums: dict[str, Any] = {}
    for line in lines:
        if line.cost is not None and line.currency:
            sums[line.currency] = sums.get(line.currency, 0) + line.cost
    return Takeoff(lines=lines, by_order=by_order, cost_by_currency=tuple(sorted(sums.items())))


def load_settings(plan: Plan) -> BriefRecord:
    """Return the brief exactly as the plan was made from it, whatever became of it since."""
    return from_json(BriefRecord, plan.settings_used)
