"""Put an order off: it is not done before a night, and the next plan goes by that. The plan itself does not change."""

from collections.abc import Iterable
from datetime import date

from django.db import transaction
from django.utils import timezone

from inventory.store.targets import By
from planner.core.plans import OrderState
from planner.core.replanning import BEGUN
from planner.models import Order, OrderEvent
from planner.store.lineage import lineages


class DelayRefused(ValueError):  # noqa: N818 - says what is the matter
    """The order cannot be put off; the message says why and what to do."""


@transaction.atomic
def put_off(order: Order, not_before: date | None, *, by: By, why: str | None = None) -> Order:
    """Put an order off to a night or later, or take that back (None), and keep who said so, when and why."""
    order = Order.objects.select_for_update(of=("self",)).get(pk=order.pk)
    if OrderState(order.state) in BEGUN:
        message = (
            f"Order {order.key} is {order.state} and cannot be put off. Back it out first if it must be done anew."
        )
        raise DelayRefused(message)
    if _said_before(order, not_before, why):
        return order
    order.not_before = not_before
    order.save(update_fields=["not_before"])
    OrderEvent.objects.create(
        order=order, at=timezone.now(), by=by, state=order.state, not_before=not_before, why=why or None
    )
    return order


def _said_before(order: Order, not_before: date | None, why: str | None) -> bool:
    """Tell whether the newest event says just this: the form was sent twice."""
    last = order.events.order_by("-at", "-pk").first()
    return (
        last is not None and (last.not_before, last.why) == (not_before, why or None) and order.not_before == not_before
    )


def events_of(order: Order) -> list[OrderEvent]:
    """Return what happened to an order, the newest first, under the plans before as well."""
    return events_by_order([order])[order.pk]


def events_by_order(orders: Iterable[Order]) -> dict[int, list[OrderEvent]]:
    """Return what happened to each of some orders, by id, the newest first, under the plans before as well."""
    rows = lineages(orders)
    wanted = {pk for several in rows.values() for pk in several}
    found = list(OrderEvent.objects.filter(order_id__in=wanted).select_related("by"))
    return {pk: [event for event in found if event.order_id in several] for pk, several in rows.items()}
