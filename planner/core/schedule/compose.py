"""Put a plan together from loads: choose one for each span of each resource, then find starts.

The choice is a whole-number program over loads that lose little against the best of their block. It keeps every limit
and all that follows from time and order as sums (see `rows`); starts are given after it, and what then does not fit is
booked where it does. With all loads that lose no more than the best plan lies above the relaxation, what the program
proves holds for every plan that is better.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

import numpy as np
from scipy.sparse import csr_array, hstack

from planner.core.schedule.core import Effort
from planner.core.schedule.layout import Layout, Load, Prices
from planner.core.schedule.listing import first_fits
from planner.core.schedule.loads import MOST_ORDERED, Pair, best_load, loads_within, starts_of
from planner.core.schedule.puzzle import Puzzle, solve_puzzle
from planner.core.schedule.relax import SLACK, Relaxed
from planner.core.schedule.tasks import Choice, Chosen, Network

FIRST_LOSS, WIDER, TRIES = 5e-4, 1.6, 16  # loss allowed at first, as a share of the bound; how it grows
LOOKS_PER_LOAD = 50  # partial loads looked at in a block for each load that is wanted in all


@dataclass(frozen=True, slots=True, kw_only=True)
class Composed:
    """The plan (None where none was found in time), what no choice of these loads costs less than, and the work [s]."""

    chosen: Chosen | None
    bound: float
    work: float


def loads_losing(network: Network, layout: Layout, relaxed: Relaxed, loss: float, most: int) -> list[Load] | None:
    """Return every load that loses at most `loss` against the best of its block; None if there are more than `most`."""
    found: list[Load] = []
    if relaxed.prices is None:
        return found
    worth = layout.worth(relaxed.prices)
    rounding = SLACK * max(abs(relaxed.value), 1.0)
    if layout.table is not None:
        near = np.flatnonzero(layout.losses(relaxed.prices, layout.table) <= loss + rounding)
        return [layout.load_at(int(row), layout.table) for row in near] if len(near) <= most else None
    for number, block in enumerate(layout.blocks):
        mine = layout.worth_in(number, worth)
        gain, _ = best_load(block, mine)
        some = loads_within(block, mine, gain - loss - rounding, most * LOOKS_PER_LOAD)
        if some is None or any(len(items) > MOST_ORDERED for items in some):
            return None
        found.extend((number, items) for items in some if _fits(network, layout, (number, items)))
        if len(found) > most:
            return None
    return found


def good_loads(network: Network, layout: Layout, relaxed: Relaxed, most: int) -> list[Load]:
    """Return the loads that lose least, as many as come near `most`, and those the relaxation used."""
    loss, found = (
        FIRST_LOSS * max(abs(relaxed.value), 1.0),
        [load for load in relaxed.loads if _fits(network, layout, load)],
    )
    for _ in range(TRIES):
        more = loads_losing(network, layout, relaxed, loss, most)
        if more is None:
            break
        found, loss = more, loss * WIDER
    return sorted({*found, *(load for load in relaxed.loads if _fits(network, layout, load))})


def compose(network: Network, layout: Layout, relaxed: Relaxed, loads: list[Load], effort: Effort) -> Composed:
    """Return the best plan that can be put together from some loads.

    Parameters
    ----------
    network : Network
        Tasks with what binds them.
    layout : Layout
        The same, laid out.
    relaxed : Relaxed
        Its relaxation, whose prices lead the solver.
    loads : list
        What each resource may do in each span.
    effort : Effort
        Limit of the work.

    """
    if not loads or relaxed.prices is None:
        return Composed(chosen=None, bound=-np.inf, work=0.0)
    solved = solve_puzzle(puzzle_of(layout, loads, relaxed.prices), effort)
    bound, work = float(layout.skip.sum()) + solved.bound, solved.work
    if solved.taken is None:
        return Composed(chosen=None, bound=bound, work=work)
    taken = [loads[column] for column in solved.taken]
    return Composed(chosen=booked(network, spread(layout, taken)), bound=bound, work=work)


def _fits(network: Network, layout: Layout, load: Load) -> bool:
    pairs = layout.blocks[load[0]].pairs
    return len(load[1]) <= MOST_ORDERED and starts_of(network, (pairs[item] for item in load[1])) is not None


def puzzle_of(layout: Layout, loads: list[Load], prices: Prices) -> Puzzle:
    """Return the puzzle of the loads: tasks, what binds several, and blocks."""
    entries = [(number, place) for number, load in enumerate(loads) for place in layout.places(load)]
    at, places = (np.array(each) for each in zip(*entries, strict=True))
    items = csr_array((np.ones(len(at)), (at, places)), shape=(len(loads), len(layout.task_of)))
    block = np.array([load[0] for load in loads])
    nights = csr_array((np.ones(len(loads)), (np.arange(len(loads)), block)), shape=(len(loads), len(layout.blocks)))
    costs = np.array([layout.cost(load) for load in loads])
    uses = hstack([items @ layout.tasks, items @ layout.amounts])
    price = np.concatenate([prices.tasks, prices.rows])
    gains = np.zeros(len(layout.blocks))
    np.maximum.at(gains, block, -(costs + uses @ price))
    return Puzzle(
        costs=costs,
        uses=hstack([uses, nights]).tocsr(),
        limits=np.concatenate([np.ones(len(layout.skip)), layout.limits, layout.twins]),
        prices=np.concatenate([price, gains]),
    )


def spread(layout: Layout, loads: Iterable[Load]) -> Iterator[tuple[Pair, ...]]:
    """Yield the (task, option) of each load in the span that it is given, of those that are alike."""
    given: dict[int, int] = defaultdict(int)
    for block, items in loads:
        twin = layout.blocks[block].twins[given[block]]
        given[block] += 1
        yield tuple(twin[item] for item in items)


def booked(network: Network, loads: Iterable[tuple[Pair, ...]], starts: Mapping[int, int] | None = None) -> Chosen:
    """Return the plan of loads, with given starts or those of each load alone; what then meets others is moved."""
    kept: list[Choice | None] = [None] * len(network.tasks)
    wishes: dict[Pair, float] = {}
    given = starts or {}
    for load in loads:
        mine = given if load[0][0] in given else starts_of(network, load) or {}
        for task, option in load:
            if task in mine:
                kept[task] = (option, mine[task])
                wishes[task, option] = 1.0
    return first_fits(network, _by_start(kept), tuple(kept), wishes)


def _by_start(kept: list[Choice | None]) -> tuple[int, ...]:
    order = sorted(range(len(kept)), key=lambda task: (2**60 if (choice := kept[task]) is None else choice[1], task))
    rank = {task: place for place, task in enumerate(order)}
    return tuple(rank[task] for task in range(len(kept)))
