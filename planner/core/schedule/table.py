"""Every load there is, as arrays: what a resource can do in a span, exactly, for as long as that can be counted.

A night of a crew has room for few tasks, so that all loads that keep every window, journey and order within the night
are few enough to be looked at side by side. Prices are then tried against all of them in one array step, and plans are
put together from them alone. Where there are too many, there is no table (see `layout`).
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_array, hstack

from planner.core.schedule.loads import Block
from planner.core.schedule.tasks import Network

MOST_LOADS = 3_000_000
MOST_STEPS = 4_000_000  # (sequence, next task) looked at at a time in one block
Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """Loads by block. `items` is loads x items, `uses` is loads x (tasks, then rows), `costs` as in `Layout.cost`.

    `first` are the first loads of the blocks that have any, and `owner` those blocks.
    """

    block: Ints
    first: Ints
    owner: Ints
    items: Any
    uses: Any
    costs: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class Ground:
    """What stands under a table: the blocks, the first item of each, what items save, and their amounts.

    `tasks` is items x tasks (one where it is the item's), `rows` items x rows, with the limit of each row.
    """

    blocks: tuple[Block, ...]
    edges: Ints
    saves: Floats
    tasks: Any
    rows: Any
    limits: Floats


def make_table(ground: Ground, counted: list[list[Ints]]) -> Table:
    """Return the table of loads (for each block arrays of items, by number of items) that rows have room for."""
    blocks, edges = ground.blocks, ground.edges
    block = np.concatenate([np.full(len(some), number) for number, mine in enumerate(counted) for some in mine])
    sizes = np.concatenate([np.full(len(some), some.shape[1]) for mine in counted for some in mine])
    places = np.concatenate([(some + edges[number]).ravel() for number, mine in enumerate(counted) for some in mine])
    fees = np.concatenate([_fees(blocks[number], some) for number, mine in enumerate(counted) for some in mine])
    ends = np.concatenate([[0], np.cumsum(sizes)])
    items = csr_array((np.ones(len(places)), places, ends), shape=(len(block), len(ground.saves)))
    possible = _possible(items @ ground.rows, ground)
    items, block, fees = items[possible], block[possible], fees[possible]
    first = np.concatenate([[0], np.flatnonzero(np.diff(block)) + 1]) if len(block) else np.zeros(0, dtype=int)
    return Table(
        block=block,
        first=first,
        owner=block[first],
        items=items,
        uses=hstack([items @ ground.tasks, items @ ground.rows]).tocsr(),
        costs=fees - items @ ground.saves,
    )


def _possible(used: Any, ground: Ground) -> Ints:
    """Return the loads that by themselves keep all rows in which nothing counts below zero."""
    if not len(ground.limits):
        return np.arange(used.shape[0])
    lowest = np.asarray(ground.rows.min(axis=0).todense()).ravel()
    over = used.tocoo()
    bad = over.row[(lowest[over.col] >= 0) & (over.data > ground.limits[over.col])]
    keep = np.ones(used.shape[0], dtype=bool)
    keep[bad] = False
    return np.flatnonzero(keep)


def _fees(block: Block, loads: Ints) -> Floats:
    """Return what is paid once for the block, and for each place that a load has items of."""
    groups = [group for cluster in block.clusters for group in cluster]
    group_of = np.zeros(len(block.pairs), dtype=int)
    for number, group in enumerate(groups):
        group_of[list(group.items)] = number
    fee_of = np.array([group.fee for group in groups], dtype=float)
    at = np.sort(group_of[loads], axis=1)
    new = np.ones(at.shape, dtype=bool)
    new[:, 1:] = at[:, 1:] != at[:, :-1]
    return np.asarray(block.fee + (fee_of[at] * new).sum(axis=1), dtype=float)


def count_loads(network: Network, blocks: Iterable[Block], most: int = MOST_LOADS) -> list[list[Ints]] | None:
    """Return all loads of each block, by number of items; None if there are more than `most`."""
    later: dict[int, set[int]] = defaultdict(set)
    for before, after in network.precedence:
        later[before].add(after)
    found: list[list[Ints]] = []
    for block in blocks:
        mine = _loads_of(network, block, later, most)
        if mine is None:
            return None
        most -= sum(len(some) for some in mine)
        found.append(mine)
    return found


def _loads_of(network: Network, block: Block, later: dict[int, set[int]], most: int) -> list[Ints] | None:
    night = _Night(network, block, later)
    found = []
    for loads in night.grow():
        most -= len(loads)
        if most < 0 or night.overflow:
            return None
        found.append(loads)
    return None if night.overflow else found


class _Night:
    """The items of a block, and the sequences of them that keep windows, journeys and order."""

    def __init__(self, network: Network, block: Block, later: dict[int, set[int]]) -> None:
        tasks = [network.tasks[task] for task, _ in block.pairs]
        options = [network.tasks[task].options[option] for task, option in block.pairs]
        self.duration = np.array([task.duration for task in tasks])
        self.start = np.array([option.start for option in options])
        self.end = np.array([option.end for option in options])
        places = sorted({task.place for task in tasks})
        at = np.array([places.index(task.place) for task in tasks])
        gaps = np.array([[network.gaps.get((one, two), 0) for two in places] for one in places])
        self.gap = gaps[np.ix_(at, at)]
        self.barred = _barred([task for task, _ in block.pairs], later)
        self.overflow = False

    def grow(self) -> Iterator[Ints]:
        """Yield all loads of one item, of two, and so on."""
        count = len(self.start)
        loads, last, ready = np.arange(count)[:, None], np.arange(count), self.start + self.duration
        while len(loads):
            yield loads[np.concatenate([[True], (loads[1:] != loads[:-1]).any(axis=1)])]
            if len(loads) * count > MOST_STEPS:
                self.overflow = True
                return
            loads, last, ready = self._longer(loads, last, ready)

    def _longer(self, loads: Ints, last: Ints, ready: Ints) -> tuple[Ints, Ints, Ints]:
        """Return sequences of one item more: for each set and last item the one that is ready first, by set."""
        starts = np.maximum(self.start[None, :], ready[:, None] + self.gap[last])
        fits = starts + self.duration[None, :] <= self.end[None, :]
        for column in loads.T:
            fits &= ~self.barred[column]
        row, new = np.nonzero(fits)
        ends = starts[row, new] + self.duration[new]
        grown = np.sort(np.hstack([loads[row], new[:, None]]), axis=1)
        order = np.lexsort((ends, new, *grown.T[::-1]))
        grown, new, ends = grown[order], new[order], ends[order]
        first = np.ones(len(grown), dtype=bool)
        first[1:] = (grown[1:] != grown[:-1]).any(axis=1) | (new[1:] != new[:-1])
        return grown[first], new[first], ends[first]


def _barred(tasks: list[int], later: dict[int, set[int]]) -> NDArray[np.bool_]:
    """Return for each item which others cannot follow it: those of its own task, and what must come before it."""
    barred = np.array([[one == two for two in tasks] for one in tasks])
    for number, task in enumerate(tasks):
        for other, after in enumerate(tasks):
            if after in later.get(task, ()):
                barred[other, number] = True
    return barred


def rows_between(table: Table, blocks: int) -> Ints:
    """Return where the loads of each block begin, and where the last ends."""
    return np.searchsorted(table.block, np.arange(blocks + 1))
