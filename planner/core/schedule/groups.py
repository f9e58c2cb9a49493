"""Groups of nights that are planned anew together: which loads to do in them, with all other nights as they are.

A group holds nights that could exchange tasks. Its loads are chosen by a puzzle; starts are given after it, and what
then does not fit is booked where it does. Loads that turned out not to go together are kept apart from then on.
"""

import random
from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from functools import partial
from time import monotonic

import numpy as np
from scipy.sparse import csr_array, hstack

from planner.core.schedule.board import Board
from planner.core.schedule.core import Effort
from planner.core.schedule.hands import Hands
from planner.core.schedule.layout import Layout, Prices
from planner.core.schedule.loads import Pair, starts_of
from planner.core.schedule.puzzle import COARSE, SIDE_BY_SIDE, Puzzle, Solved, solve_puzzle
from planner.core.schedule.relax import Relaxed
from planner.core.schedule.table import Floats, Ints, Table, rows_between
from planner.core.schedule.tasks import Choice, Network

NARROWEST, FIRST_NIGHTS, WIDEST = 15.0, 80.0, 120.0  # nights in a group
WIDER, NARROWER = 1.1, 0.8  # how their number changes with what is solved, or is not
MOST_COLUMNS = 3000
PIECE_S = 8.0  # work in one puzzle, in seconds of Effort
PIECE_WORK = 0.1  # seconds of work counted for making one
FRESH_ROUNDS = 3  # first rounds whose puzzles do not begin with the plan as it is, which would hold them up
FAINT = 0.02  # weight of a night that the relaxation would not choose for a task
START_AT_WAITING = 0.6


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """A puzzle of some nights: the loads of its columns as rows of the table, and the tasks it may move."""

    puzzle: Puzzle
    rows: Ints
    free: tuple[int, ...]


def regrouping(board: Board, relaxed: Relaxed, effort: Effort) -> "Regrouping | None":
    """Return the way to improve a plan by groups of nights; None where there is no table of loads."""
    layout, prices = relaxed.layout, relaxed.prices
    if layout is None or layout.table is None or prices is None:
        return None
    return Regrouping(board, Groups(board.network, layout, layout.table, prices, relaxed.shares), effort)


class Regrouping:
    """Some groups of nights at a time, which share no night."""

    def __init__(self, board: Board, groups: "Groups", effort: Effort) -> None:
        self._board, self._groups, self._effort, self._began_s = board, groups, effort, monotonic()
        self._draw = random.Random(effort.seed)  # noqa: S311 - not a secret, and the seed is an argument

    def step(self, hands: Hands) -> float:
        """Solve as many puzzles as there are workers, and take over what is better."""
        solve = partial(solve_puzzle, effort=self._effort.piece(PIECE_S, self._began_s))
        made = self._groups.make(self._board, self._draw, self._effort.workers)
        work = PIECE_WORK
        for group, solved in zip(made, hands.map(solve, [group.puzzle for group in made]), strict=True):
            self._groups.settle(self._board, group, solved)
            work += PIECE_WORK + SIDE_BY_SIDE * solved.work / self._effort.workers
        return work


class Groups:
    """Where each task could be, how much the relaxation would have it there, and what does not go together."""

    def __init__(  # noqa: PLR0917 - what a group is made from
        self, network: Network, layout: Layout, table: Table, prices: Prices, shares: Mapping[Pair, float]
    ) -> None:
        self._network, self._layout, self._table = network, layout, table
        self._edges = rows_between(table, len(layout.blocks))
        self._counts = np.diff(table.items.indptr)
        self._at: dict[Pair, tuple[int, int, int]] = {}  # block, item, twin
        self._weight: dict[int, dict[int, float]] = defaultdict(dict)
        for number, block in enumerate(layout.blocks):
            for twin, pairs in enumerate(block.twins):
                for item, pair in enumerate(pairs):
                    self._at[pair] = (number, item, twin)
                    self._weight[pair[0]][number] = FAINT + shares.get(pair, 0.0)
        self._prices = prices
        self._losses = layout.losses(prices, table)
        self._apart: set[tuple[int, int]] = set()
        self.nights = FIRST_NIGHTS
        self._rounds = 0

    def make(self, board: Board, draw: random.Random, count: int) -> list[Group]:
        """Return some groups of nights that share none: each with the loads to choose from."""
        made, busy = list[Group](), set[int]()
        self._rounds += 1
        for _ in range(count):
            blocks = self._pick(board, draw, busy)
            if blocks:
                made.append(self._group(board, blocks))
                busy |= set(blocks)
        return made

    def _group(self, board: Board, blocks: list[int]) -> Group:
        inside = set(blocks)
        tasks = {task for block in blocks for task, _ in self._layout.blocks[block].pairs}
        free = sorted(
            task for task in tasks if (choice := board.at(task)) is None or self._at[task, choice[0]][0] in inside
        )
        now = self._now(board, blocks)
        rows = self._rows(blocks, free, now)
        return Group(
            puzzle=self._puzzle(board, blocks, free, rows, now, hinted=self._rounds > FRESH_ROUNDS),
            rows=rows,
            free=tuple(free),
        )

    def settle(self, board: Board, group: Group, solved: Solved) -> None:
        """Take an answer over where the plan gets no worse; remember what did not fit."""
        wider = solved.work < PIECE_S
        self.nights = min(max(self.nights * (WIDER if wider else NARROWER), NARROWEST), WIDEST)
        if solved.taken is None or solved.taken == group.puzzle.taken:
            return
        wanted = self._starts(group.rows[list(solved.taken)])
        new: dict[int, Choice | None] = {task: wanted.get(task, (0, None))[1] for task in group.free}
        misfits = board.settle(new)
        for task in misfits:
            self._keep_apart(task, wanted)

    def _pick(self, board: Board, draw: random.Random, busy: set[int]) -> list[int]:
        """Return blocks that could exchange most tasks, begun where a task waits or anywhere."""
        there, out = self._where(board)
        waiting = sorted({task for tasks in out.values() for task in tasks})
        begin = draw.choice(waiting) if waiting and draw.random() < START_AT_WAITING else None
        able = sorted((set(there) if begin is None else set(self._weight[begin])) - busy)
        picked: list[int] = []
        score: dict[int, float] = dict.fromkeys([draw.choice(able)] if able else [], 1.0)
        nights, seen = 0.0, set[int]()
        while score and nights < self.nights:
            block = max(score, key=lambda each: (score[each], -each))
            picked.append(block)
            nights += self._layout.twins[block]
            score.pop(block)
            new = [task for task in (*there[block], *out[block]) if task not in seen]
            seen.update(new)
            for other, weight in (each for task in new for each in self._weight[task].items()):
                if other not in picked and other not in busy:
                    score[other] = score.get(other, 0.0) + weight * (0.5 + draw.random())
        return sorted(picked)

    def _where(self, board: Board) -> tuple[dict[int, list[int]], dict[int, list[int]]]:
        """Return by block which tasks are done there, and which wait that could be."""
        there: dict[int, list[int]] = defaultdict(list)
        out: dict[int, list[int]] = defaultdict(list)
        for task, choice in enumerate(board.chosen):
            if choice is None:
                for block in self._weight.get(task, ()):
                    out[block].append(task)
            elif (task, choice[0]) in self._at:
                there[self._at[task, choice[0]][0]].append(task)
        return there, out

    def _now(self, board: Board, blocks: list[int]) -> list[int]:
        """Return the loads that are done now in some blocks, as rows of the table."""
        items: dict[tuple[int, int], list[int]] = defaultdict(list)
        inside = set(blocks)
        for task, choice in enumerate(board.chosen):
            if choice is not None and (spot := self._at.get((task, choice[0]))) and spot[0] in inside:
                items[spot[0], spot[2]].append(int(self._layout.edges[spot[0]]) + spot[1])
        found: list[int] = []
        for (block, _), mine in sorted(items.items()):
            mask = np.zeros(len(self._layout.task_of))
            mask[mine] = 1
            span = slice(self._edges[block], self._edges[block + 1])
            same = np.flatnonzero((self._table.items[span] @ mask == len(mine)) & (self._counts[span] == len(mine)))
            found.extend(int(self._edges[block] + row) for row in same[:1])
        return found

    def _rows(self, blocks: list[int], free: list[int], now: list[int]) -> Ints:
        """Return the loads of free tasks that lose least, and those that are done now."""
        rows = np.concatenate([np.arange(self._edges[block], self._edges[block + 1]) for block in blocks])
        mask = np.zeros(len(self._layout.task_of))
        mask[np.isin(self._layout.task_of, free)] = 1
        rows = rows[self._table.items[rows] @ mask == self._counts[rows]]
        best = rows[np.argsort(self._losses[rows], kind="stable")[:MOST_COLUMNS]]
        return np.unique(np.concatenate([best, np.array(now, dtype=int)]))

    def _puzzle(  # noqa: PLR0917 - the plan, the group and its prices
        self,
        board: Board,
        blocks: list[int],
        free: list[int],
        rows: Ints,
        now: list[int],
        *,
        hinted: bool,
    ) -> Puzzle:
        layout, table = self._layout, self._table
        place = np.searchsorted(blocks, table.block[rows])
        ones = np.ones(len(rows)), (np.arange(len(rows)), place)
        uses = hstack([table.uses[rows], csr_array(ones, shape=(len(rows), len(blocks)))]).tocsc()
        limits = np.concatenate([np.ones(len(layout.skip)), self._left(board, set(free)), layout.twins[blocks]])
        price = np.concatenate([self._prices.tasks, self._prices.rows])
        gains = np.zeros(len(blocks))
        np.maximum.at(gains, place, -(table.costs[rows] + table.uses[rows] @ price))
        kept = np.flatnonzero(np.diff(uses.indptr))
        column = {int(row): number for number, row in enumerate(rows)}
        return Puzzle(
            costs=table.costs[rows],
            uses=uses[:, kept].tocsr(),
            limits=limits[kept],
            prices=np.concatenate([price, gains])[kept],
            apart=tuple((column[a], column[b]) for a, b in sorted(self._apart) if a in column and b in column),
            taken=tuple(sorted(column[row] for row in now)) if hinted else None,
            fine=COARSE,
        )

    def _left(self, board: Board, free: set[int]) -> Floats:
        """Return what the tasks that stay leave of each row."""
        held = np.zeros(len(self._layout.task_of))
        for task, choice in enumerate(board.chosen):
            if choice is not None and task not in free and (spot := self._at.get((task, choice[0]))):
                held[int(self._layout.edges[spot[0]]) + spot[1]] += 1
        return np.asarray(self._layout.limits - held @ self._layout.amounts)

    def _starts(self, rows: Ints) -> dict[int, tuple[int, Choice]]:
        """Return for each task of some loads its load, and its option with a start."""
        given: dict[int, int] = defaultdict(int)
        found: dict[int, tuple[int, Choice]] = {}
        for row in rows:
            block, items = self._layout.load_at(int(row), self._table)
            pairs = dict(self._layout.blocks[block].twins[given[block]][item] for item in items)
            given[block] += 1
            for task, start in (starts_of(self._network, pairs.items()) or {}).items():
                found[task] = (int(row), (pairs[task], start))
        return found

    def _keep_apart(self, task: int, wanted: dict[int, tuple[int, Choice]]) -> None:
        """Keep the load of a task that did not fit from those it may have met: same night, other resource."""
        row, (number, _) = wanted[task]
        option = self._network.tasks[task].options[number]
        near = {one if two == task else two for one, two in self._network.precedence if task in {one, two}}
        for capacity in self._network.capacities:
            tasks = {use.task for use in capacity.uses}
            near |= tasks if task in tasks else set()
        for other in near & wanted.keys():
            there, (_, begin) = wanted[other]
            if there != row and begin < option.end and option.start < begin + self._network.tasks[other].duration:
                self._apart.add((min(row, there), max(row, there)))
