"""Layout: the loads, limits and prices of a network as arrays, for what looks at all blocks many times."""

from collections import defaultdict
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_array

from planner.core.schedule.loads import Block, Pair, best_load, load_blocks
from planner.core.schedule.rows import meeting_rows
from planner.core.schedule.table import Ground, Table, count_loads, make_table
from planner.core.schedule.tasks import Limit, Network

MUST = 10  # a task that must be done is left out at this multiple of all other prices together
S_PER_CELL = 4e-8  # seconds that a cell of a table is counted for
S_PER_USE = 5e-9  # seconds that a number in a table of loads is counted for
Floats = NDArray[np.float64]
Load = tuple[int, tuple[int, ...]]  # number of the block, items in it


@dataclass(frozen=True, slots=True, kw_only=True)
class Prices:
    """What doing a task, and a unit of each row, costs beyond their own price. None is below zero."""

    tasks: Floats
    rows: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class Priced:
    """What given prices prove: no plan costs less than `value`.

    `used` is how often each item is done in the best loads at these prices, one a block; `loads` are these where there
    is no table of them.
    """

    value: float
    used: Floats
    loads: tuple[Load, ...] = ()


class Layout:
    """A network seen as items in blocks. Item i of block b stands at `edges[b]` + i.

    `table` holds all loads where they can be counted. Elsewhere the best load of a block is found by a rounded table
    of minutes, which may count one that breaks a window, so that the bound is a little weaker.
    """

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
        ones = np.ones(len(pairs)), (np.arange(len(pairs)), self.task_of)
        self.tasks: Any = csr_array(ones, shape=(len(pairs), len(self.skip)))
        counted = count_loads(network, self.blocks) if pairs else None
        self.table = None if counted is None else make_table(self.ground, counted)

    @property
    def ground(self) -> Ground:
        """What a table of loads stands on."""
        return Ground(
            blocks=self.blocks,
            edges=self.edges,
            saves=self.saves,
            tasks=self.tasks,
            rows=self.amounts,
            limits=self.limits,
        )

    @property
    def look_s(self) -> float:
        """Seconds of an idle machine that one look at all blocks is counted for."""
        return self.cells * S_PER_CELL if self.table is None else 2e-4 + self.table.uses.nnz * S_PER_USE

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
        return self._price_by_minutes(prices) if self.table is None else self._price_by_table(prices, self.table)

    def _price_by_table(self, prices: Prices, table: Table) -> Priced:
        worth = -(table.costs + table.uses @ np.concatenate([prices.tasks, prices.rows]))
        most = np.maximum.reduceat(worth, table.first)
        best = np.flatnonzero(worth == np.repeat(most, np.diff([*table.first, len(worth)])))
        best = best[np.unique(table.block[best], return_index=True)[1]]
        best = best[worth[best] > 0]
        twins = self.twins[table.block[best]]
        return Priced(value=self._value(prices, float(worth[best] @ twins)), used=table.items[best].T @ twins)

    def losses(self, prices: Prices, table: Table) -> Floats:
        """Return how much each load of the table loses against the best of its block, which may be none."""
        worth = -(table.costs + table.uses @ np.concatenate([prices.tasks, prices.rows]))
        most = np.maximum(np.maximum.reduceat(worth, table.first), 0)
        return np.asarray(np.repeat(most, np.diff([*table.first, len(worth)])) - worth)

    def load_at(self, row: int, table: Table) -> Load:
        """Return a load of the table by its items."""
        block = int(table.block[row])
        places = table.items.indices[table.items.indptr[row] : table.items.indptr[row + 1]]
        return block, tuple(sorted(int(place - self.edges[block]) for place in places))

    def _value(self, prices: Prices, earned: float) -> float:
        """Return what no plan costs less than, where the best loads earn so much at given prices."""
        return float(self.skip.sum() - prices.tasks.sum() - prices.rows @ self.limits - earned)

    def _price_by_minutes(self, prices: Prices) -> Priced:
        worth = self.worth(prices)
        total, loads = 0.0, []
        for number, block in enumerate(self.blocks):
            gain, items = best_load(block, self.worth_in(number, worth))
            if items:
                total += gain * len(block.twins)
                loads.append((number, items))
        return Priced(value=self._value(prices, total), used=self.used(tuple(loads)), loads=tuple(loads))

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
