"""Layout: the loads, limits and prices of a network as arrays, for what looks at all blocks many times."""

from collections import defaultdict
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_array

from planner.core.schedule.loads import Block, Pair, best_load, load_blocks
from planner.core.schedule.rows import meeting_rows
from planner.core.schedule.tasks import Limit, Network

MUST = 10  # a task that must be done is left out at this multiple of all other prices together
S_PER_CELL = 4e-8  # seconds that a cell of a table is counted for
Floats = NDArray[np.float64]
Load = tuple[int, tuple[int, ...]]  # number of the block, items in it


@dataclass(frozen=True, slots=True, kw_only=True)
class Prices:
    """What doing a task, and a unit of each row, costs beyond their own price. None is below zero."""

    tasks: Floats
    rows: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class Priced:
    """What given prices prove: no plan costs less than `value`. `loads` are the best at these prices, one a block."""

    value: float
    loads: tuple[Load, ...]


class Layout:
    """A network seen as items in blocks. Item i of block b stands at `edges[b]` + i."""

    def __init__(self, network: Network) -> None:
        self.rows: tuple[Limit, ...] = meeting_rows(network)
        amounts = _amounts(self.rows)
        self.blocks: tuple[Block, ...] = load_blocks(network, amounts)
        self.edges = np.cumsum([0, *(len(block.pairs) for block in self.blocks)])
        self.twins = np.array([len(block.twins) for block in self.blocks], dtype=float)
        self.limits: Floats = np.array([row.limit for row in self.rows], dtype=float)
        self.skip = _skips(network)
        pairs = [pair for block in self.blocks for pair in block.pairs]
        self.task_of = np.array([task for task, _ in pairs], dtype=int)
        costs = np.array([network.tasks[task].options[option].cost for task, option in pairs], dtype=float)
        self.saves: Floats = self.skip[self.task_of] - costs
        self.amounts: Any = _matrix(pairs, amounts, len(self.rows))
        self.cells = sum(block.room * len(block.pairs) for block in self.blocks)

    @property
    def look_s(self) -> float:
        """Seconds of an idle machine that one look at all blocks is counted for."""
        return self.cells * S_PER_CELL

    def places(self, load: Load) -> list[int]:
        """Return where the items of a load stand."""
        return [int(self.edges[load[0]]) + item for item in load[1]]

    def worth(self, prices: Prices) -> Floats:
        """Return what each item earns at given prices."""
        return np.asarray(self.saves - prices.tasks[self.task_of] - self.amounts @ prices.rows)

    def worth_in(self, block: int, worth: Floats) -> Floats:
        """Return the part of the items of one block."""
        return worth[self.edges[block] : self.edges[block + 1]]

    def price(self, prices: Prices) -> Priced:
        """Find the best load of each block, which proves a bound (Lagrangian duality)."""
        worth = self.worth(prices)
        total, loads = 0.0, []
        for number, block in enumerate(self.blocks):
            gain, items = best_load(block, self.worth_in(number, worth))
            if items:
                total += gain * len(block.twins)
                loads.append((number, items))
        value = self.skip.sum() - prices.tasks.sum() - prices.rows @ self.limits - total
        return Priced(value=float(value), loads=tuple(loads))

    def used(self, loads: tuple[Load, ...]) -> Floats:
        """Return how often each item is done if these loads are, in all twins."""
        used = np.zeros(len(self.task_of))
        for load in loads:
            used[self.places(load)] += self.twins[load[0]]
        return used

    def cost(self, load: Load) -> float:
        """Return what a load costs, with its fees and less what leaving its tasks out would."""
        return fees_of(self.blocks[load[0]], load[1]) - float(self.saves[self.places(load)].sum())


def fees_of(block: Block, items: tuple[int, ...]) -> int:
    """Return what is paid once for the block, and once for each place that a load has items of."""
    some = set(items)
    return block.fee + sum(
        group.fee for cluster in block.clusters for group in cluster if not some.isdisjoint(group.items)
    )


def _amounts(rows: tuple[Limit, ...]) -> dict[Pair, tuple[tuple[int, int], ...]]:
    found: dict[Pair, list[tuple[int, int]]] = defaultdict(list)
    for number, row in enumerate(rows):
        for task, option, amount in row.terms:
            found[task, option].append((number, amount))
    return {pair: tuple(mine) for pair, mine in found.items()}


def _skips(network: Network) -> Floats:
    skips = [task.skip_cost for task in network.tasks]
    costs = [abs(option.cost) for task in network.tasks for option in task.options]
    must = MUST * (1 + max([skip or 0 for skip in skips] + costs, default=0) + sum(c.cost for c in network.charges))
    return np.array([must if skip is None else skip for skip in skips], dtype=float)


def _matrix(pairs: list[Pair], amounts: dict[Pair, tuple[tuple[int, int], ...]], rows: int) -> Any:
    entries = [(at, row, amount) for at, pair in enumerate(pairs) for row, amount in amounts.get(pair, ())]
    at, row, amount = zip(*entries, strict=True) if entries else ((), (), ())
    values = np.array(amount, dtype=float), (np.array(at, dtype=int), np.array(row, dtype=int))
    return csr_array(values, shape=(len(pairs), rows))
