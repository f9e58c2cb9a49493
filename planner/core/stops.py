"""What stopped an order that was backed out: no plan dates it again before somebody has said what was done about that."""

from collections.abc import Iterable
from dataclasses import replace

from inventory.core.saying import day_words
from planner.core.choices import Sharing, Stop
from planner.core.plans import Order


def stopped_groups(stops: Iterable[Stop]) -> tuple[Sharing, ...]:
    """Return that the segments of an order that was backed out stay one order, and that nothing joins them."""
    return tuple(Sharing(name=f"backed-out order {each.order}", parts=(each.segments,), alone=True) for each in stops)


def with_stops(
    orders: Iterable[Order], stops: Iterable[Stop], begun: frozenset[str] = frozenset()
) -> tuple[Order, ...]:
    """Return the orders, each with what stops it as of today; those begun stay as they are.

    Examples
    --------
    >>> with_stops((), ())
    ()

    """
    stopping = {segment: each for each in stops for segment in each.segments}
    return tuple(order if order.key in begun else _with_stop(order, stopping) for order in orders)


def _with_stop(order: Order, stopping: dict[str, Stop]) -> Order:
    found = {stopping[segment].name: stopping[segment] for segment in order.segments if segment in stopping}
    return replace(order, stopped=tuple(stop_words(each) for each in found.values()))


def stop_words(stop: Stop) -> str:
    """Return in words what stops an order.

    Examples
    --------
    >>> from datetime import date
    >>> stop_words(Stop(name="7", order="B1-O002", segments=("L1",), on=date(2027, 3, 2), why="a joint is wet"))
    'order B1-O002 was backed out on 2 Mar 2027 (a joint is wet), and nobody has said yet what was done about that'

    """
    why = f" ({stop.why})" if stop.why else ""
    return (
        f"order {stop.order} was backed out on {day_words(stop.on)}{why}, "
        "and nobody has said yet what was done about that"
    )
