"""The states of an order: which may follow which, and who brought it there."""

from django.db import transaction
from django.utils import timezone

from inventory.store.targets import By
from planner.core.plans import OrderState
from planner.models import Order, OrderEvent

S = OrderState
FOLLOWS: dict[OrderState, frozenset[OrderState]] = {
    S.DRAFTED: frozenset({S.BOOKED}),
    S.BOOKED: frozenset({S.DRAFTED, S.UNDER_WAY, S.BACKED_OUT}),
    S.UNDER_WAY: frozenset({S.ACCEPTED, S.BACKED_OUT}),
    S.ACCEPTED: frozenset({S.BACKED_OUT}),
    S.BACKED_OUT: frozenset({S.BOOKED}),
}


class NotNow(ValueError):  # noqa: N818 - says what is the matter
    """The order cannot come into this state now; the message says why and what to do."""


@transaction.atomic
def bring(order: Order, state: OrderState, *, by: By, why: str | None = None) -> Order:
    """Bring an order into a state and keep who did it, when and why."""
    order = Order.objects.select_for_update(of=("self",)).get(pk=order.pk)
    now = OrderState(order.state)
    if state not in FOLLOWS[now]:
        after = ", ".join(sorted(FOLLOWS[now])) or "nothing"
        raise NotNow(f"Order {order.key} is {now}, so it cannot become {state}; what can follow: {after}.")
    order.state = state.value
    order.save(update_fields=["state"])
    OrderEvent.objects.create(order=order, at=timezone.now(), by=by, state=state.value, why=why or None)
    return order
