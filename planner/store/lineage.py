"""One order through plan after plan: each plan has a row of its own, and what was done stays with the row of its time."""

from collections.abc import Iterable, Iterator, Mapping

from planner.models import Order


def rows_of(order: Order) -> list[int]:
    """Return the ids of an order's row and of those it goes on from, the newest first."""
    return lineages([order])[order.pk]


def lineages(orders: Iterable[Order]) -> dict[int, list[int]]:
    """Return of each order the ids of its row and of those it goes on from, the newest first: a query a plan, not an order."""
    before: dict[int, int | None] = {order.pk: order.goes_on_from_id for order in orders}
    own = list(before)
    while more := {pk for pk in before.values() if pk is not None} - before.keys():
        found = dict(Order.objects.filter(pk__in=more).order_by().values_list("pk", "goes_on_from_id"))
        before.update({pk: found.get(pk) for pk in more})
    return {pk: list(_back_from(pk, before)) for pk in own}


def _back_from(pk: int, before: Mapping[int, int | None]) -> Iterator[int]:
    seen, at = set[int](), pk
    while at not in seen:
        yield at
        seen.add(at)
        further = before[at]
        if further is None:
            return
        at = further


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
