"""Orders that were backed out and of which nobody has said what was done about it."""

from collections.abc import Iterable

from django.utils import timezone

from planner.core.choices import Stop
from planner.core.plans import OrderState
from planner.models import Order, OrderEvent


def load_stops(segments: Iterable[str] | None = None) -> tuple[Stop, ...]:
    """Return what stops segments, all or those asked for, by the last order of each that was backed out, the newest first."""
    asked = None if segments is None else set(segments)
    tries = sorted(_tries(), key=lambda row: (row[1].at, row[1].pk), reverse=True)
    found, seen = [], set[str]()
    for row, event, mended in tries:
        own = set(row.data["segments"])
        newer, seen = own <= seen, seen | own
        if not newer and not mended and (asked is None or asked & own):
            found.append(_stop(row, event))
    return tuple(found)


def _tries() -> list[tuple[Order, OrderEvent, bool]]:
    """Return each order that was backed out with that event, and whether what stopped it is mended."""
    rows = Order.objects.filter(state=OrderState.BACKED_OUT).prefetch_related("events")
    found = []
    for row in rows:
        events = [event for event in reversed(row.events.all()) if event.state == OrderState.BACKED_OUT]
        if events:  # putting it off later leaves events of that state too
            found.append((row, events[0], any(event.mended for event in events)))
    return found


def _stop(row: Order, event: OrderEvent) -> Stop:
    return Stop(
        name=str(row.pk),
        order=row.key,
        segments=tuple(row.data["segments"]),
        on=timezone.localdate(event.at),
        why=(event.why or "").strip().rstrip(".") or None,
    )
