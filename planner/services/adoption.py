"""Agree on a plan: from then on the site works by it, and its dated orders are booked."""

from collections import Counter
from collections.abc import Iterable
from datetime import date

from django.db import transaction
from django.utils import timezone

from inventory.store.targets import By
from planner.core.comparison import compare, tally
from planner.core.plans import OrderState
from planner.core.replanning import BEGUN
from planner.models import Adoption, Order, OrderEvent, Plan
from planner.store.plans import load_entries
from planner.store.stops import load_stops

AT_ONCE = 500


class PlanNotFit(ValueError):  # noqa: N818 - says what it is
    """A plan that cannot be adopted; the message says why and what to do."""


@transaction.atomic
def adopt(plan: Plan, *, by: By) -> Plan:
    """Adopt a plan, recording who, when and in place of which; what the plan before had booked and not begun is free.

    What the plan before has begun must stand in the new one just so, and goes on in it.
    """
    plan = Plan.objects.select_for_update().get(pk=plan.pk)
    before = Plan.objects.adopted()
    if plan == before:
        return plan
    if not all(line["holds"] for line in plan.check_lines):
        message = f"Plan {plan.pk} breaks a rule of its check. Make a new one and adopt that."
        raise PlanNotFit(message)
    _insist_mended(plan)
    if before is not None:
        _take_over(before, plan)
    now = timezone.now()
    _book(plan, by, before)
    changes = Counter[str]()
    if before is not None:
        rows = compare((load_entries(before), load_entries(plan)))
        changes.update({difference.value: count for difference, count in tally(rows, 1).items() if count})
    Adoption.objects.create(plan=plan, at=now, by=by, in_place_of=before, changes=dict(changes))
    plan.adopted, plan.adopted_by = now, by
    plan.save(update_fields=["adopted", "adopted_by"])
    return plan


def _insist_mended(plan: Plan) -> None:
    """Refuse a plan that dates what was backed out before anybody has said what was done about that."""
    stops = load_stops()
    if not stops:
        return
    stopping = {segment for each in stops for segment in each.segments}
    dated = plan.orders.filter(start__isnull=False, state=OrderState.DRAFTED).order_by("key")
    early = [row.key for row in dated if not stopping.isdisjoint(row.data["segments"])]
    if early:
        message = (
            f"{_named(early)} was backed out, and nobody has said what was done about that, but plan {plan.pk} dates it. "
            "Say on the page of the order what was done, or plan again and adopt that."
        )
        raise PlanNotFit(message)


def _take_over(before: Plan, plan: Plan) -> None:
    """Let what is begun go on in the new plan; refuse where it does not stand there as it is."""
    rows = {row.key: row for row in plan.orders.all()}
    begun = list(before.orders.filter(state__in=BEGUN).order_by("key"))
    lost = [old.key for old in begun if not _goes_on(old, rows.get(old.key))]
    if lost:
        message = (
            f"Plan {plan.pk} does not hold {_named(lost)} as begun under plan {before.pk}. "
            "Plan again, going on from the adopted plan, and adopt that."
        )
        raise PlanNotFit(message)
    for old in begun:
        rows[old.key].state = old.state
    Order.objects.bulk_update([rows[old.key] for old in begun], ["state"], AT_ONCE)
    late = [
        old.key
        for old in before.orders.filter(not_before__isnull=False).exclude(state__in=BEGUN).order_by("key")
        if _is_too_early(rows.get(old.key), old.not_before)
    ]
    if late:
        message = (
            f"{_named(late)} has been put off to a later night than plan {plan.pk} gives it. "
            "Plan again and adopt that, or take the delay back on the page of the order."
        )
        raise PlanNotFit(message)


def _goes_on(old: Order, new: Order | None) -> bool:
    same = new is not None and (new.crew, new.start, new.end) == (old.crew, old.start, old.end)
    return same and new is not None and new.data["segments"] == old.data["segments"]


def _is_too_early(new: Order | None, not_before: date | None) -> bool:
    return new is not None and new.night is not None and not_before is not None and new.night < not_before


def _named(keys: Iterable[str]) -> str:
    return "Order " + ", ".join(keys)


def _book(plan: Plan, by: By, before: Plan | None) -> None:
    """Book what the plan dates, and set free what other plans had booked; what was booked just so has no new event."""
    Order.objects.filter(state=OrderState.BOOKED).exclude(plan=plan).exclude(plan=before).update(
        state=OrderState.DRAFTED
    )
    old = {}
    if before is not None:
        booked = before.orders.filter(state=OrderState.BOOKED)
        old = {row.key: (row.crew, row.start, row.end) for row in booked}
        booked.update(state=OrderState.DRAFTED)
    dated = list(plan.orders.filter(start__isnull=False, state=OrderState.DRAFTED))
    now = timezone.now()
    for row in dated:
        row.state = OrderState.BOOKED.value
    Order.objects.bulk_update(dated, ["state"], AT_ONCE)
    OrderEvent.objects.bulk_create(
        (
            OrderEvent(order=row, at=now, by=by, state=OrderState.BOOKED.value, why=f"plan {plan.pk} adopted")
            for row in dated
            if old.get(row.key) != (row.crew, row.start, row.end)
        ),
        AT_ONCE,
    )
