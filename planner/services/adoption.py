"""Agree on a plan: from then on the site works by it, and its dated orders are booked."""

from django.db import transaction
from django.utils import timezone

from inventory.store.targets import By
from planner.core.plans import OrderState
from planner.models import Order, Plan


class PlanNotFit(ValueError):  # noqa: N818 - says what it is
    """A plan that cannot be adopted; the message says why and what to do."""


@transaction.atomic
def adopt(plan: Plan, *, by: By) -> Plan:
    """Adopt a plan, recording who and when; what an earlier plan had booked and not begun is free again."""
    plan = Plan.objects.select_for_update().get(pk=plan.pk)
    if not all(line["holds"] for line in plan.check_lines):
        message = f"Plan {plan.pk} breaks a rule of its check. Make a new one and adopt that."
        raise PlanNotFit(message)
    if plan == Plan.objects.current() and plan.adopted:
        return plan
    Order.objects.filter(state=OrderState.BOOKED).exclude(plan=plan).update(state=OrderState.DRAFTED)
    plan.orders.filter(start__isnull=False, state=OrderState.DRAFTED).update(state=OrderState.BOOKED)
    plan.adopted, plan.adopted_by = timezone.now(), by
    plan.save(update_fields=["adopted", "adopted_by"])
    return plan
