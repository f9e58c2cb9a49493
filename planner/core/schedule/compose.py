"""Put a plan together from loads: choose one for each span of each resource, then find starts.

The choice is a whole-number program over loads that lose little against the best of their block. It keeps every limit
and all that follows from time and order as sums (see `rows`); starts are given after it, and what then does not fit is
booked where it does. With all loads that lose no more than the best plan lies above the relaxation, what the program
proves holds for every plan that is better.
"""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import csr_array, vstack

from planner.core.schedule.layout import Layout, Load
from planner.core.schedule.listing import first_fits
from planner.core.schedule.loads import MOST_ORDERED, Pair, best_load, loads_within, starts_of
from planner.core.schedule.relax import SLACK, Relaxed
from planner.core.schedule.tasks import Choice, Chosen, Network

FIRST_LOSS, WIDER, TRIES = 5e-4, 1.6, 16  # loss allowed at first, as a share of the bound; how it grows
LOOKS_PER_LOAD = 50  # partial loads looked at in a block for each load that is wanted in all
S_PER_LOAD = 0.004  # seconds that a load in the program is counted for
HALF = 0.5


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


def compose(network: Network, layout: Layout, loads: list[Load], near: float, seconds: float) -> Composed:
    """Return the best plan that can be put together from some loads.

    Parameters
    ----------
    network : Network
        Tasks with what binds them.
    layout : Layout
        The same, laid out.
    loads : list
        What each resource may do in each span.
    near : float
        How near to the best to come, in units of the objective.
    seconds : float
        When the clock stops it [s].

    """
    work = len(loads) * S_PER_LOAD
    if not loads:
        return Composed(chosen=None, bound=-np.inf, work=work)
    costs = np.array([layout.cost(load) for load in loads])
    matrix, limits = _program(layout, loads)
    options: Any = {"time_limit": max(seconds, 0.1), "mip_rel_gap": _relative(near, layout)}
    rules = LinearConstraint(matrix, -np.inf, limits)
    found: Any = milp(
        costs, constraints=rules, integrality=np.ones(len(loads), dtype=int), bounds=Bounds(0, 1), options=options
    )
    everything = float(layout.skip.sum())
    bound = -np.inf if found.mip_dual_bound is None else everything + float(found.mip_dual_bound)
    if found.x is None:
        return Composed(chosen=None, bound=bound, work=work)
    taken = [load for load, part in zip(loads, found.x, strict=True) if part > HALF]
    return Composed(chosen=_realised(network, layout, taken), bound=bound, work=work)


def _relative(near: float, layout: Layout) -> float:
    """Return a nearness as a share of what all tasks together can save, which is what the solver sees."""
    saved = np.zeros(len(layout.skip))
    np.maximum.at(saved, layout.task_of, layout.saves)
    return float(near / max(saved.sum(), 1.0))


def _fits(network: Network, layout: Layout, load: Load) -> bool:
    pairs = layout.blocks[load[0]].pairs
    return len(load[1]) <= MOST_ORDERED and starts_of(network, (pairs[item] for item in load[1])) is not None


def _program(layout: Layout, loads: list[Load]) -> tuple[Any, Any]:
    """Return the rows of the program with their limits: tasks, blocks, and what binds several."""
    entries = [(number, place) for number, load in enumerate(loads) for place in layout.places(load)]
    at, places = (np.array(each) for each in zip(*entries, strict=True))
    items = csr_array((np.ones(len(at)), (at, places)), shape=(len(loads), len(layout.task_of)))
    ones = np.ones(len(layout.task_of))
    tasks = csr_array((ones, (np.arange(len(ones)), layout.task_of)), shape=(len(ones), len(layout.skip)))
    block = np.array([load[0] for load in loads])
    blocks = csr_array((np.ones(len(loads)), (block, np.arange(len(loads)))), shape=(len(layout.blocks), len(loads)))
    rows: Any = vstack([(items @ tasks).T, blocks, (items @ layout.amounts).T]).tocsr()
    limits = np.concatenate([np.ones(len(layout.skip)), layout.twins, layout.limits])
    reach = np.asarray(rows.maximum(0).sum(axis=1)).ravel()
    return rows[reach > limits], limits[reach > limits]


def _realised(network: Network, layout: Layout, loads: Iterable[Load]) -> Chosen:
    """Give the loads to twins and the tasks starts; book again what meets others in time."""
    kept: list[Choice | None] = [None] * len(network.tasks)
    wishes: dict[Pair, float] = {}
    given: dict[int, int] = defaultdict(int)
    for block, items in loads:
        twin = layout.blocks[block].twins[given[block]]
        given[block] += 1
        mine = dict(twin[item] for item in items)
        for task, start in (starts_of(network, mine.items()) or {}).items():
            kept[task] = (mine[task], start)
            wishes[task, mine[task]] = 1.0
    return first_fits(network, _by_start(kept), tuple(kept), wishes)


def _by_start(kept: list[Choice | None]) -> tuple[int, ...]:
    order = sorted(range(len(kept)), key=lambda task: (2**60 if (choice := kept[task]) is None else choice[1], task))
    rank = {task: place for place, task in enumerate(order)}
    return tuple(rank[task] for task in range(len(kept)))
