"""One order through plan after plan: each plan has a row of its own, and what was done stays with the row of its time."""

from planner.models import Order


def rows_of(order: Order) -> list[int]:
    """Return the ids of an order's row and of those it goes on from, the newest first."""
    found, more = [order.pk], order.goes_on_from_id
    while more is not None and more not in found:
        found.append(more)
        more = Order.objects.filter(pk=more).values_list("goes_on_from_id", flat=True).first()
    return found


def row_in_force(pk: int) -> int:
    """Return the id of the row under which an order goes on: that of the plan adopted last, else its own."""
    seen = {pk}
    while True:
        adopted = Order.objects.filter(goes_on_from=pk, plan__adopted__isnull=False)
        following = adopted.order_by("-plan__adopted", "-pk").values_list("pk", flat=True).first()
        if following is None or following in seen:
            return pk
        seen.add(following)
        pk = following
