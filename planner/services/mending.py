"""Say what was done about the reason for which an order was backed out; from then on plans date it again."""

from django.db import transaction
from django.utils import timezone

from inventory.store.targets import By
from planner.core.choices import Stop
from planner.core.replanning import BEGUN
from planner.models import Order, OrderEvent
from planner.store.stops import load_stops

MOST_SAID = 1000


class MendRefused(ValueError):  # noqa: N818 - says what is the matter
    """What was said cannot be kept; the message says why and what to do."""


def stops_of(order: Order) -> tuple[Stop, ...]:
    """Return what keeps plans from dating an order: none where it is begun or was never backed out."""
    return () if order.state in BEGUN else load_stops(order.data["segments"])


@transaction.atomic
def mend(order: Order, what: str, *, by: By) -> None:
    """Keep what was done about what stopped an order, on the order that was backed out; who said so and when stays with it.

    Raises
    ------
    MendRefused
        Where nothing is said, or nothing stops the order; what was said a moment ago in the same words is no fault.

    """
    said = what.strip()
    if not said:
        raise MendRefused("Say what was done about it, or who looked and found it good: the next crew goes by that.")
    if len(said) > MOST_SAID:
        raise MendRefused(f"Keep it under {MOST_SAID} letters; this has {len(said)}.")
    rows = list(Order.objects.select_for_update(of=("self",)).filter(pk__in=[int(one.name) for one in stops_of(order)]))
    if not rows and not _said_before(order, said):
        raise MendRefused(
            f"Nothing stops order {order.key}: it was not backed out, or somebody has said what was done."
        )
    now = timezone.now()
    OrderEvent.objects.bulk_create(OrderEvent(order=row, at=now, by=by, state=row.state, mended=said) for row in rows)


def _said_before(order: Order, said: str) -> bool:
    """Tell whether just this was said already of one of its segments: the form was sent twice."""
    own = set(order.data["segments"])
    rows = OrderEvent.objects.filter(mended=said).values_list("order__data__segments", flat=True)
    return any(own & set(segments) for segments in rows)
