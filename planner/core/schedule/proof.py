"""Proof: the best plan of a small network, from all loads that a better plan than one at hand could have.

Loads that lose little against the relaxation are taken first, by a guess of how far above it the best plan lies: a
choice of these that costs no more than the guess is the best of all, since any other load alone would lose more.
Where no plan is so good, the guess was a bound, and the next one is wider. Loads that do not go together to the
minute are told apart by rows of their own (see `fitting`), until the choice can be done.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from math import floor
from time import monotonic

import numpy as np
from scipy.sparse import csr_array, hstack

from planner.core.schedule.compose import booked, loads_losing, puzzle_of, spread
from planner.core.schedule.core import Effort
from planner.core.schedule.fitting import Some, fit
from planner.core.schedule.layout import Layout, Load, Prices
from planner.core.schedule.meeting import clash_rows
from planner.core.schedule.program import row_prices
from planner.core.schedule.puzzle import Puzzle, solve_puzzle
from planner.core.schedule.relax import SLACK, Relaxed, rounded_up
from planner.core.schedule.table import Ints
from planner.core.schedule.tasks import Chosen, Network, cost_of

FIRST_GUESS, WIDER = 0.0075, 1.6  # how far the best plan is above the relaxation, as a share of it; the next guess
MOST_IN_PROOF, MOST_AT_ONCE = 8000, 1600  # loads; so few are all looked at without a further guess
Clash = tuple[tuple[int, ...], ...]  # where tasks stand in the layout, by load


@dataclass
class Proof:
    """The best plan so far with what is proved of it, and the work it took [s]."""

    network: Network
    layout: Layout
    relaxed: Relaxed
    prices: Prices
    best: Chosen
    bound: int
    work: float = 0.0

    def __post_init__(self) -> None:
        self._began = monotonic()
        self._clashes: dict[Clash, None] = {}
        self._place = {
            pair: int(self.layout.edges[number]) + item
            for number, block in enumerate(self.layout.blocks)
            for twin in block.twins
            for item, pair in enumerate(twin)
        }

    @property
    def cost(self) -> int:
        """What the best plan so far costs."""
        return cost_of(self.network, self.best)

    def guesses(self, effort: Effort) -> Iterator[None]:
        """Try one guess after the other, for as long as there is work and no proof."""
        guess, self._began = FIRST_GUESS, monotonic()
        while self.work < effort.seconds and self.bound < self.cost:
            better = self.cost - 1  # a plan that costs as much is no better
            limit = min(floor(self.relaxed.value + guess * abs(self.relaxed.value)), better)
            if self.work and self._loads(better, MOST_AT_ONCE) is not None:
                limit = better
            on = limit < self.bound or self._settled(limit, effort)
            yield
            if not on:
                return
            guess *= WIDER

    def _loads(self, limit: int, most: int) -> list[Load] | None:
        """Return all loads that a plan could have which costs no more than a limit; None if there are too many."""
        return loads_losing(self.network, self.layout, self.relaxed, limit - self.relaxed.value, most)

    def _settled(self, limit: int, effort: Effort) -> bool:
        """Look at all plans that cost no more than a limit; False where that is too much."""
        loads = self._loads(limit, MOST_IN_PROOF)
        if loads is None:
            return False
        if not loads:
            return self._nothing_left(limit)
        puzzle, rows_work = _with_clashes(self.network, self.layout, loads, self.prices)
        value, prices, work = row_prices(puzzle.costs, puzzle.uses, puzzle.limits)
        self.work += rows_work + work
        lowest = float(self.layout.skip.sum()) + value
        self._at_least(min(lowest, limit + 1))
        near = np.flatnonzero(lowest + puzzle.costs + puzzle.uses @ prices <= limit + SLACK * max(abs(limit), 1.0))
        if lowest > limit or not len(near):
            return self._nothing_left(limit)
        loads, puzzle = [loads[number] for number in near], _of_columns(replace(puzzle, prices=prices), near)
        if limit == self.cost - 1:  # else an answer that costs more is a better plan still
            puzzle = replace(puzzle, most=limit - float(self.layout.skip.sum()))
        while self.work < effort.seconds:
            # a worker by itself proves sooner than two that share the work
            wall_s = None if effort.wall_s is None else effort.wall_s - (monotonic() - self._began)
            left = replace(effort, seconds=effort.seconds - self.work, workers=1, wall_s=wall_s)
            known = _with_rows(puzzle, _clash_rows(self.layout, loads, self._clashes))
            solved = solve_puzzle(known, left, thorough=True)
            self.work += solved.work
            self._at_least(min(float(self.layout.skip.sum()) + solved.bound, limit + 1))
            if solved.taken is None or not self._clashing([loads[column] for column in solved.taken]):
                return solved.proved
        return False

    def _nothing_left(self, limit: int) -> bool:
        """Take in that no plan costs so little, unless it is to leave everything out."""
        self._at_least(min(float(self.layout.skip.sum()), limit + 1))
        return True

    def _at_least(self, value: float) -> None:
        if value > self.bound:
            self.bound = max(self.bound, min(rounded_up(self.network, value), self.cost))

    def _clashing(self, loads: list[Load]) -> bool:
        """Take a choice of loads over as a plan, as far as it goes; tell whether new clashes came out."""
        nights = tuple(spread(self.layout, loads))
        fitted = fit(self.network, nights)
        chosen = booked(self.network, nights, fitted.starts)
        if cost_of(self.network, chosen) < self.cost:
            self.best = chosen
        new = [clash for found in fitted.clashes if (clash := self._placed(found)) not in self._clashes]
        self._clashes.update(dict.fromkeys(new))
        return bool(new)

    def _placed(self, clash: tuple[Some, ...]) -> Clash:
        """Return a clash by where its tasks stand in the layout: what cannot be done in a span, cannot in one like it."""
        return tuple(tuple(sorted(self._place[pair] for pair in some)) for some in clash)


def prove(network: Network, relaxed: Relaxed, best: Chosen, bound: int) -> Proof | None:
    """Return a proof to be made; None where there are no loads to make it from."""
    layout, prices = relaxed.layout, relaxed.prices
    if layout is None or prices is None:
        return None
    return Proof(network=network, layout=layout, relaxed=relaxed, prices=prices, best=best, bound=bound)


def _clash_rows(layout: Layout, loads: list[Load], clashes: Iterable[Clash]) -> list[tuple[list[int], int]]:
    """Return for each clash the loads that hold a part of it, of which one less than its parts can be done."""
    places = [set(layout.places(load)) for load in loads]
    return [
        ([number for number, mine in enumerate(places) if any(mine.issuperset(some) for some in clash)], len(clash) - 1)
        for clash in clashes
    ]


def _with_rows(puzzle: Puzzle, rows: list[tuple[list[int], int]]) -> Puzzle:
    """Return the puzzle with a row for each set of columns and how many of them may be taken, at no price."""
    at = np.array([column for held, _ in rows for column in held], dtype=int)
    row = np.array([number for number, (held, _) in enumerate(rows) for _ in held], dtype=int)
    more = csr_array((np.ones(len(at)), (at, row)), shape=(len(puzzle.costs), len(rows)))
    uses = hstack([puzzle.uses, more]).tocsr()
    limits = np.concatenate([puzzle.limits, [float(limit) for _, limit in rows]])
    prices = np.concatenate([puzzle.prices, np.zeros(len(rows))])
    return replace(puzzle, uses=uses, limits=limits, prices=prices)


def _with_clashes(network: Network, layout: Layout, loads: list[Load], prices: Prices) -> tuple[Puzzle, float]:
    """Return the puzzle of some loads, with rows for those that do not go together, and the work of finding these."""
    rows, work = clash_rows(network, layout, loads)
    return _with_rows(puzzle_of(layout, loads, prices), [(row, 1) for row in rows]), work


def _of_columns(puzzle: Puzzle, columns: Ints) -> Puzzle:
    """Return the puzzle of some of its columns, with the rows that these use."""
    uses = puzzle.uses.tocsr()[columns].tocsc()
    used = np.flatnonzero(np.diff(uses.indptr))
    return replace(
        puzzle,
        costs=puzzle.costs[columns],
        uses=uses[:, used].tocsr(),
        limits=puzzle.limits[used],
        prices=puzzle.prices[used],
    )
