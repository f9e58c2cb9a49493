"""What comes first by a planner's choice: put one order after another, and take that back. The next plan goes by it."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from django.db import transaction
from django.utils import timezone

from inventory.core.saying import day_words
from inventory.store.targets import By
from planner.core.choices import After
from planner.core.plans import OrderState
from planner.core.replanning import BEGUN
from planner.core.sequence import ring_in, sequenced
from planner.models import Order, Plan, Precedence
from planner.store.choices import load_afters
from planner.store.plans import load_orders

MOST_NAMED = 300  # orders that a page offers by name


class SequenceRefused(ValueError):  # noqa: N818 - says what is the matter
    """The order cannot come after the other; the message says why and what to do."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Link:
    """One choice as an order of a plan sees it: the orders of the plan at its other end, and whether they come first."""

    row: Precedence
    others: tuple[Order, ...]
    earlier: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Wait:
    """An order that must come first, and why by whoever chose that."""

    order: Order
    why: str | None


def links_of(order: Order) -> tuple[Link, ...]:
    """Return the choices that say what an order comes after, or what comes after it, the oldest first."""
    choices = tuple(Precedence.objects.select_related("by"))
    return _links(order, choices, _holders(order.plan) if choices else {})


def _links(order: Order, choices: Iterable[Precedence], holders: dict[str, Order]) -> tuple[Link, ...]:
    mine = set(order.data["segments"])
    found = [
        (row, mine.isdisjoint(row.earlier))
        for row in choices
        if not (mine.isdisjoint(row.later) and mine.isdisjoint(row.earlier))
    ]
    return tuple(
        Link(row=row, others=_at(holders, row.earlier if is_later else row.later), earlier=is_later)
        for row, is_later in found
    )


def open_before(order: Order) -> tuple[Wait, ...]:
    """Return what must come before an order and is not accepted yet, by the choices that stand today."""
    return waits_of([order])[order.pk]


def waits_of(orders: Sequence[Order]) -> dict[int, tuple[Wait, ...]]:
    """Return of each of some orders of one plan, by id, what must come before it; see `open_before`."""
    choices = tuple(Precedence.objects.select_related("by"))
    holders = _holders(orders[0].plan) if choices and orders else {}
    return {order.pk: _waits(order, _links(order, choices, holders)) for order in orders}


def _waits(order: Order, links: Iterable[Link]) -> tuple[Wait, ...]:
    found = {
        one.pk: Wait(order=one, why=link.row.why)
        for link in links
        if link.earlier and link.row.void is None
        for one in link.others
        if one.pk != order.pk and one.state != OrderState.ACCEPTED
    }
    return tuple(found.values())


def waits_in_words(waits: Iterable[Wait]) -> str:
    """Return what must come first, how it stands and why it comes first."""
    return "; ".join(
        f"{one.order.key} comes first and is {one.order.state}, {_when(one.order)}{f': {one.why}' if one.why else ''}"
        for one in waits
    )


def _when(order: Order) -> str:
    return "not planned" if order.night is None else f"night of {day_words(order.night)}"


def _holders(plan: Plan) -> dict[str, Order]:
    """Return the order of a plan that holds each segment."""
    return {segment: row for row in plan.orders.order_by("key") for segment in row.data["segments"]}


def _at(holders: dict[str, Order], segments: Iterable[str]) -> tuple[Order, ...]:
    found = {holders[segment].pk: holders[segment] for segment in segments if segment in holders}
    return tuple(sorted(found.values(), key=lambda row: row.key))


@transaction.atomic
def put_after(order: Order, first: str, *, by: By, why: str | None = None) -> Precedence:
    """Say that an order comes after the order called `first` in the same plan.

    Raises
    ------
    SequenceRefused
        Where there is no such order, it is the same one, the order is begun, or the two would wait for each other.

    """
    earlier = order.plan.orders.filter(key__iexact=first.strip()).first()
    if earlier is None:
        raise SequenceRefused(f"Plan {order.plan_id} has no order {first.strip()!r}. Write its name as on the plan.")
    if earlier.pk == order.pk:
        raise SequenceRefused(f"Order {order.key} cannot come after itself. Name another order.")
    if order.state in BEGUN:
        raise SequenceRefused(f"Order {order.key} is {order.state}: it has begun, so nothing can come before it.")
    ends = {"earlier": list(earlier.data["segments"]), "later": list(order.data["segments"])}
    kept = next((row for row in Precedence.objects.all() if (row.earlier, row.later) == tuple(ends.values())), None)
    if kept is not None:
        return kept
    new = After(name="new", earlier=tuple(ends["earlier"]), later=tuple(ends["later"]))
    ring = ring_in(sequenced(load_orders(order.plan), (*load_afters(), new)))
    if ring:
        raise SequenceRefused(_ring_words(ring, order.key, earlier.key))
    return Precedence.objects.create(
        **ends, first=earlier.key, then=order.key, by=by, at=timezone.now(), why=why or None
    )


def _ring_words(ring: tuple[str, ...], order: str, first: str) -> str:
    """Say which orders would wait for each other; a ring reads each after the next."""
    chain = ", ".join(f"{one} after {two}" for one, two in zip(ring, (*ring[1:], ring[0]), strict=True))
    return (
        f"Order {order} cannot come after {first}: then {chain}, so none of them could be first. "
        "Take one of the others back first."
    )


@transaction.atomic
def take_back(row: Precedence, *, by: By) -> None:
    """Take a choice back; who did it stays in its history."""
    row._history_user = by  # type: ignore[attr-defined]  # noqa: SLF001 - the name that django-simple-history asks for
    row.delete()


def names_to_offer(order: Order) -> list[str]:
    """Return names of orders that another may come after: of the same building first, at most MOST_NAMED."""
    rows = order.plan.orders.exclude(pk=order.pk).values_list("key", "building_id")
    ranked = sorted(rows, key=lambda row: (row[1] != order.building_id, row[0]))
    return [key for key, _ in ranked[:MOST_NAMED]]
