"""The states of an order: which may follow which, and who brought it there."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import datetime

from django.db import transaction
from django.utils import timezone

from inventory.store.targets import By
from planner.core.plans import OrderState
from planner.core.replanning import BEGUN
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


@dataclass(frozen=True, slots=True, kw_only=True)
class BackOut:
    """That an order was backed out: when, by whom and, without a full stop, why; None where nobody said.

    `mended` is what was done about it since, `mended_at` when and `mended_by` who said so.
    """

    at: datetime
    by: str
    why: str | None
    mended: str | None = None
    mended_at: datetime | None = None
    mended_by: str | None = None


def last_back_out(events: Iterable[OrderEvent]) -> BackOut | None:
    """Return how the last try of an order ended where it was backed out and not begun again since.

    `events` come newest first, those under the plans before included. Putting an order off that is backed out leaves
    events of that state too: the first of a row is the one.
    """
    found = mended = None
    for event in events:
        if event.mended:
            mended = mended or event
        elif event.state == S.BACKED_OUT:
            found = event
        elif found is not None or event.state in BEGUN:
            break
    if found is None:
        return None
    told = BackOut(at=found.at, by=_who(found), why=(found.why or "").strip().rstrip(".") or None)
    if mended is None:
        return told
    said = (mended.mended or "").rstrip(".")
    return replace(told, mended=said, mended_at=mended.at, mended_by=_who(mended))


def _who(event: OrderEvent) -> str:
    return "the command line" if event.by is None else event.by.get_full_name() or event.by.get_username()


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
