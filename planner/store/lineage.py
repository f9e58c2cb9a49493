"""One order through plan after plan: each plan has a row of its own, and what was done stays with the row of its time."""

from collections.abc import Iterable, Iterator, Mapping

from django.db.models import Case, F, OuterRef, QuerySet, Subquery, When
from django.db.models.functions import Coalesce

from planner.core.plans import OrderState
from planner.models import Order, Plan


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


def as_it_stands(rows: QuerySet[Order]) -> QuerySet[Order]:
    """Return rows of plans with `stands`, the state of each order by the plan in force; `stands_night` and `stands_plan` say where.

    An order is the same one where it has its name and its segments. What was accepted or backed out under a plan stays so there.
    """
    adopted = Plan.objects.adopted()
    now = Order.objects.filter(plan=adopted, key=OuterRef("key"), data__segments=OuterRef("data__segments"))
    open_ = (OrderState.DRAFTED.value, OrderState.UNDER_WAY.value)
    in_force = Coalesce(Subquery(now.values("state")[:1]), F("state"))
    return rows.annotate(
        stands=Case(When(state__in=open_, then=in_force), default=F("state")),
        stands_night=Subquery(now.values("night")[:1]),
        stands_plan=Subquery(now.values("plan")[:1]),
    )
