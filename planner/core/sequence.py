"""What must come before what by a planner's choice: from segments, which outlive orders, to predecessors of orders.

An order that comes after another is never the same outage, so their segments are kept apart when orders are grouped.
"""

from collections.abc import Iterable, Mapping
from dataclasses import replace
from itertools import product

from planner.core.choices import After, Sharing
from planner.core.plans import Order

APART = "sequence "  # begins the names of what keeps the two ends of a sequence in orders of their own


def kept_apart(afters: Iterable[After]) -> tuple[Sharing, ...]:
    """Return that no segment of the later work shares an order with one of the earlier."""
    return tuple(
        Sharing(name=f"{APART}{each.name}", parts=((one,), (two,)))
        for each in afters
        for one, two in product(each.earlier, each.later)
        if one != two
    )


def sequenced(
    orders: tuple[Order, ...], afters: Iterable[After], begun: frozenset[str] = frozenset()
) -> tuple[Order, ...]:
    """Return the orders with their predecessors; those begun stay as they are.

    What is in no order any more, such as a segment that is left out or done under an earlier plan, holds nothing up. Two
    ends that share an order after all hold each other up in no way: that they do is told where orders are grouped.

    Examples
    --------
    >>> sequenced((), (After(name="1", earlier=("L1",), later=("L2",)),))
    ()

    """
    of_segment = {segment: order.key for order in orders for segment in order.segments}
    before: dict[str, set[str]] = {}
    for each in afters:
        earlier = {of_segment[segment] for segment in each.earlier if segment in of_segment}
        for key in {of_segment[segment] for segment in each.later if segment in of_segment} - begun:
            before.setdefault(key, set()).update(earlier - {key})
    return tuple(
        replace(order, predecessors=tuple(sorted({*order.predecessors, *before[order.key]})))
        if before.get(order.key)
        else order
        for order in orders
    )


def ring_in(orders: Iterable[Order]) -> tuple[str, ...]:
    """Return a ring of orders of which each comes after the next and the last after the first; empty where there is none.

    It begins with the order whose name comes first.
    """
    before = {order.key: order.predecessors for order in orders}
    seen: set[str] = set()
    for key in sorted(before):
        if key not in seen and (ring := _ring_from(key, before, seen)):
            first = ring.index(min(ring))
            return (*ring[first:], *ring[:first])
    return ()


def _ring_from(start: str, before: Mapping[str, tuple[str, ...]], seen: set[str]) -> tuple[str, ...]:
    """Walk from an order to what comes before it, depth first; `seen` are orders that are on no ring."""
    path = [start]
    waiting = [iter(before.get(start, ()))]
    while path:
        following = next((key for key in waiting[-1] if key not in seen), None)
        if following is None:
            seen.add(path.pop())
            waiting.pop()
        elif following in path:
            return tuple(path[path.index(following) :])
        else:
            path.append(following)
            waiting.append(iter(before.get(following, ())))
    return ()
