"""What keeps a dated order from an earlier night: each earlier window tried by the check of the plan, with its figures."""

from collections.abc import Iterator
from datetime import date, timedelta

from inventory.core.saying import day_words
from planner.core.demands import Demands
from planner.core.hand_moves import Wish, check_of, placed_at, with_move
from planner.core.plans import CheckLine, Order, Placed, Window

MOST_TRIED = 12  # windows that are tried, spread over all of them
MOST_STARTS = 4  # starts that are tried in each

# number of the rule -> what binds, in words that a figure follows
BINDS: dict[int, str] = {
    6: "its parts cannot be there",
    7: "the stock is spoken for",
    4: "the money of the phase does not reach",
    5: "what must come before it is not done",
    8: "a spare pool would fall below its floor",
    9: "its rooms need more notice",
    1: "it would have begun by now",
    3: "its building or its rooms are dark for another order",
    2: "the crew is taken",
}
RANK = {number: rank for rank, number in enumerate(BINDS)}


def what_binds(demands: Demands, placed: tuple[Placed, ...], new: Placed, since: date) -> str | None:
    """Return in words why a placed order is not done sooner; None where its night is the first that is asked for.

    Parameters
    ----------
    demands : Demands
        What the plan was made from, with all windows of the order.
    placed : tuple of Placed
        The plan.
    new : Placed
        The order in it.
    since : date
        The first night that is asked for.

    """
    if new.night <= since:
        return None
    earlier = [window for window in _windows(demands, new.order) if since <= window.night < new.night]
    span = f"from the night of {day_words(since)} to the one before that of {day_words(new.night)}"
    if not earlier:
        order = _order(demands, new.order)
        return f"{span} its rooms are never free with a crew of {order.people} on shift for {order.onsite_min} min"
    tried = _spread(earlier)
    told = [_binding(demands, placed, window) for window in tried]
    lines = {line.number: line for line in reversed(told) if line is not None}
    numbers = [line.number for line in told if line is not None]
    words = [
        f"{numbers.count(number)} where {BINDS[number]} ({lines[number].breach})"
        for number in sorted(lines, key=RANK.__getitem__)
    ]
    free = told.count(None)
    words += [f"{free} where it could be done, but the plan as a whole is better so"] if free else []
    some = f" ({len(tried)} of {len(earlier)} tried)" if len(tried) < len(earlier) else ""
    return f"windows {span}{some}: {', '.join(words)}"


def _spread(windows: list[Window]) -> list[Window]:
    """Return at most MOST_TRIED windows, the first and the last among them."""
    if len(windows) <= MOST_TRIED:
        return windows
    return [windows[at * (len(windows) - 1) // (MOST_TRIED - 1)] for at in range(MOST_TRIED)]


def _windows(demands: Demands, order: str) -> list[Window]:
    found = next((each.windows for each in demands.windows if each.order == order), ())
    return sorted(found, key=lambda window: (window.start, window.crew, window.phase))


def _order(demands: Demands, key: str) -> Order:
    return next(order for order in demands.orders if order.key == key)


def _binding(demands: Demands, placed: tuple[Placed, ...], window: Window) -> CheckLine | None:
    """Return the rule that keeps an order out of a window, whenever it starts there; None where it could be done.

    Of several, what time of the night does not change is told first.
    """
    broken: list[CheckLine] = []
    for at in _starts(demands, placed, window):
        lines = check_of(demands, with_move(placed, at), frozenset({window.order}))
        fails = [line for line in lines if not line.holds]
        if not fails:
            return None
        broken += sorted(fails, key=lambda line: RANK[line.number])[:1]
    return min(broken, key=lambda line: RANK[line.number]) if broken else None


def _starts(demands: Demands, placed: tuple[Placed, ...], window: Window) -> Iterator[Placed]:
    """Yield the order at the start of its window, and after what is done there, travel included."""
    order = _order(demands, window.order)
    brief = demands.brief
    travel = timedelta(minutes=max(brief.travel_same_district_min, brief.travel_between_districts_min))
    busy = [each for each in placed if each.order != window.order and each.start < window.end]
    ends = [each.end + travel for each in busy if each.crew == window.crew or each.night == window.night]
    last = window.end - timedelta(minutes=order.onsite_min)
    starts = sorted({window.start, *(end for end in ends if window.start < end <= last)})
    for start in starts[:MOST_STARTS]:
        yield placed_at(Wish(order=window.order, crew=window.crew, start=start), demands)
