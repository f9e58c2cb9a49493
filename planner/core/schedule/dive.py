"""Dive: put a plan together from the prices of the relaxation, some loads at a time, each booked to the minute.

What prices choose again and again is taken for good; then prices are mended for what is left, and so on. Hardly
anything is lost while much is still open, so that the last nights, where it would be, are left to a puzzle.

References
----------
Sadykov, R., Vanderbeck, F., Pessoa, A., Tahiri, I. and Uchoa, E. (2019): Primal heuristics for branch and price: the
assets of diving methods. INFORMS Journal on Computing 31(2), 251-267.

"""

from collections import defaultdict
from collections.abc import Callable
from dataclasses import dataclass
from itertools import islice, permutations
from typing import Any

import numpy as np
from scipy.sparse import csr_array, hstack

from planner.core.schedule.ascent import Stride, largest
from planner.core.schedule.compose import booked
from planner.core.schedule.fitting import fit
from planner.core.schedule.layout import Layout, Prices
from planner.core.schedule.listing import Ledger
from planner.core.schedule.loads import Pair
from planner.core.schedule.puzzle import COARSE, Puzzle, Solved
from planner.core.schedule.table import Floats, Ints, Table
from planner.core.schedule.tasks import Chosen, Network

KEPT_PER_TASK = 60  # loads looked at, for each task
ROUNDS = 30  # looks at all loads between two times of taking some
NEWEST = 0.06  # weight of the last look in how often a load is chosen
SURE, UNSURE = 0.95, 0.02  # how often it is for one that is taken in any case, and for one that is not
TAKEN_SHARE = 0.03  # of the open nights, how many are taken at a time
AIM, PROGRESS = 0.02, 1e-6  # of a step in what is left; see `ascent.Stride`
S_PER_LOOK, S_PER_USE = 2e-3, 1.2e-8  # seconds that a look at all loads is counted for, and a number in their table
ORDERS = 24  # orders of the tasks of one load that are tried
Going = Callable[[float], bool]  # work so far [s]; False means stop


@dataclass(slots=True, kw_only=True)
class Rest:
    """What is open still: loads (as rows of the table) with their uses, and what is left of limits and nights."""

    rows: Ints
    uses: Any
    costs: Floats
    block: Ints
    limits: Floats
    nights: Floats
    prices: Floats

    def only(self, keep: Any) -> None:
        """Keep some loads."""
        self.rows, self.uses, self.costs, self.block = (
            self.rows[keep],
            self.uses[keep],
            self.costs[keep],
            self.block[keep],
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Depth:
    """A puzzle of what was left at some depth: its columns as rows of the table, what was taken, and in which spans."""

    puzzle: Puzzle
    rows: Ints
    loads: tuple[tuple[Pair, ...], ...]
    given: dict[int, int]


class Dive:
    """One plan in the making: go `down_to` some depth, solve its puzzle, give the answer to `finish`.

    The table holds a load at least.
    """

    def __init__(self, network: Network, layout: Layout, table: Table, prices: Prices) -> None:
        self._network, self._layout, self._table = network, layout, table
        self._ledger = Ledger(network)
        self._ledger.book_musts()
        self._given: dict[int, int] = defaultdict(int)
        self._loads: list[tuple[Pair, ...]] = []
        losses = layout.losses(prices, table)
        rows = np.sort(np.argsort(losses, kind="stable")[: KEPT_PER_TASK * len(network.tasks)])
        self._rest = Rest(
            rows=rows,
            uses=table.uses[rows],
            costs=table.costs[rows],
            block=table.block[rows],
            limits=np.concatenate([np.ones(len(layout.skip)), layout.limits]),
            nights=layout.twins.copy(),
            prices=np.concatenate([prices.tasks, prices.rows]),
        )
        self._lowest = np.asarray(table.uses.min(axis=0).todense()).ravel()
        self._scale = largest(table.uses)
        self.work = 0.0

    def down_to(self, most: int, going: Going = lambda _: True) -> "Depth":
        """Take loads until at most so many are left to choose from, or none fits any more; return what is left then.

        `going` is told the work so far now and then, and ends it by saying no.
        """
        while len(self._rest.rows) > most and going(self.work) and self._take(self._chosen_often()):
            self._forget_what_fits_no_more()
        return self._depth()

    def _depth(self) -> "Depth":
        rest = self._rest
        blocks, place = np.unique(rest.block, return_inverse=True)
        ones = np.ones(len(rest.rows)), (np.arange(len(rest.rows)), place)
        uses = hstack([rest.uses, csr_array(ones, shape=(len(rest.rows), len(blocks)))]).tocsc()
        gains = np.zeros(len(blocks))
        np.maximum.at(gains, place, self._worth())
        kept = np.flatnonzero(np.diff(uses.indptr))
        puzzle = Puzzle(
            costs=rest.costs,
            uses=uses[:, kept].tocsr(),
            limits=np.concatenate([rest.limits, rest.nights[blocks]])[kept],
            prices=np.concatenate([rest.prices, gains])[kept],
            fine=COARSE,
        )
        return Depth(puzzle=puzzle, rows=rest.rows, loads=tuple(self._loads), given=dict(self._given))

    def finish(self, depth: "Depth", solved: Solved) -> Chosen:
        """Return the plan with the loads of an answer, all starts given anew; what does not fit is booked where it does."""
        given = defaultdict(int, depth.given)
        more = [self._give(int(row), given) for row in depth.rows[list(solved.taken or ())]]
        loads = [*depth.loads, *more]
        return booked(self._network, loads, fit(self._network, tuple(loads)).starts)

    def _worth(self) -> Floats:
        """Return what each load that is left earns at the prices."""
        return np.asarray(-(self._rest.costs + self._rest.uses @ self._rest.prices))

    def _chosen_often(self) -> Floats:
        """Mend the prices for what is left, and return how often each load is the best of its block meanwhile."""
        rest, ascent = self._rest, _Steps(self._rest, self._scale)
        for _ in range(ROUNDS):
            self.work += S_PER_LOOK + S_PER_USE * rest.uses.nnz
            if not ascent.step():
                break
        rest.prices = ascent.best
        return ascent.often

    def _take(self, often: Floats) -> int:
        """Take the loads that are chosen most often, as far as they fit; return how many."""
        rest, worth = self._rest, self._worth()
        wanted = max(int(TAKEN_SHARE * rest.nights[np.unique(rest.block)].sum()), 3)
        taken, misfits = 0, np.zeros(len(rest.rows), dtype=bool)
        for load in np.lexsort((-worth, -often)):
            if (taken >= wanted and often[load] < SURE) or (taken and often[load] < UNSURE):
                break
            taken += self._take_one(int(load), misfits)
        rest.only(~misfits)
        return taken

    def _take_one(self, load: int, misfits: Any) -> bool:
        rest = self._rest
        span = slice(rest.uses.indptr[load], rest.uses.indptr[load + 1])
        rows, amounts = rest.uses.indices[span], rest.uses.data[span]
        block = rest.block[load]
        if rest.nights[block] <= 0 or (amounts > rest.limits[rows]).any():
            return False
        pairs = self._give(int(rest.rows[load]), self._given)
        if not self._book(pairs):
            self._given[int(block)] -= 1
            misfits[load] = True
            return False
        self._loads.append(pairs)
        rest.limits[rows] -= amounts
        rest.nights[block] -= 1
        return True

    def _forget_what_fits_no_more(self) -> None:
        """Leave out loads that some limit has no room for; where amounts count below nought, room may come yet."""
        rest = self._rest
        uses = rest.uses.tocoo()
        over = (uses.data > rest.limits[uses.col]) & (self._lowest[uses.col] >= 0)
        keep = rest.nights[rest.block] > 0
        keep[uses.row[over]] = False
        rest.only(keep)

    def _give(self, row: int, given: dict[int, int]) -> tuple[Pair, ...]:
        """Return the (task, option) of a load in the next of the like spans of its block."""
        block, items = self._layout.load_at(row, self._table)
        pairs = self._layout.blocks[block].twins[given[block]]
        given[block] += 1
        return tuple(pairs[item] for item in items)

    def _book(self, load: tuple[Pair, ...]) -> bool:
        """Book all tasks of a load in some order, or none."""
        chosen = self._ledger.chosen
        new = tuple(pair for pair in load if (choice := chosen[pair[0]]) is None or choice[0] != pair[1])
        return not new or any(self._book_in(order) for order in islice(permutations(new), ORDERS))

    def _book_in(self, order: tuple[Pair, ...]) -> bool:
        for place, (task, option) in enumerate(order):
            choice = None if self._ledger.chosen[task] is not None else self._ledger.fit_in(task, option)
            if choice is None:
                for done, _ in order[:place]:
                    self._ledger.unbook(done)
                return False
            self._ledger.book(task, choice)
        return True


class _Steps:
    """Steps along which what is taken too often gets dearer, and how often each load is chosen on the way."""

    def __init__(self, rest: Rest, scale: Floats) -> None:
        self._rest = rest
        self._stride = Stride(rest.prices, scale, aim=AIM, progress=PROGRESS)
        self._first = np.concatenate([[0], np.flatnonzero(np.diff(rest.block)) + 1])
        self._lengths = np.diff([*self._first, len(rest.block)])
        self._now = rest.prices
        self._used: Floats | None = None
        self.often: Floats = np.zeros(len(rest.rows))

    @property
    def best(self) -> Floats:
        """The best prices so far."""
        return self._stride.best

    def step(self) -> bool:
        """Look at all loads at the prices as they are, and change them; False where no step is worth it."""
        rest = self._rest
        worth = -(rest.costs + rest.uses @ self._now)
        best = self._best(worth)
        nights = rest.nights[rest.block[best]]
        self._stride.judge(float(-self._now @ rest.limits - worth[best] @ nights), self._now)
        used = rest.uses[best].T @ nights
        chosen = np.zeros(len(rest.rows))
        chosen[best] = 1
        self.often = chosen if self._used is None else (1 - NEWEST) * self.often + NEWEST * chosen
        self._used = used if self._used is None else (1 - NEWEST) * self._used + NEWEST * used
        now = self._stride.onward(self._used - rest.limits)
        self._now = self._now if now is None else now
        return now is not None

    def _best(self, worth: Floats) -> Ints:
        """Return the best load of each block in which one earns anything."""
        most = np.repeat(np.maximum.reduceat(worth, self._first), self._lengths)
        best = np.flatnonzero((worth == most) & (worth > 0))
        return best[np.unique(self._rest.block[best], return_index=True)[1]]
