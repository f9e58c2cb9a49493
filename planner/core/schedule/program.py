"""The linear program over loads, solved with few columns and rows that grow as they are needed (column generation)."""

from collections import defaultdict
from collections.abc import Iterator
from typing import Any

import numpy as np
from ortools.linear_solver import pywraplp

from planner.core.schedule.layout import Floats, Layout, Load, Prices

LEAST_SHARE = 1e-6
MOST_NEW_ROWS = 400
S_PER_STEP = 1.5e-7  # seconds that a step of the simplex is counted for, by row


def hour_prices(layout: Layout) -> tuple[Prices, float]:
    """Return prices from a program that knows only the room of each block, not what fits together in it, and the work.

    They are close to the right ones and quickly found.
    """
    solver = pywraplp.Solver.CreateSolver("GLOP")
    least = -solver.infinity()
    tasks = [solver.Constraint(least, 1) for _ in layout.skip]
    goal = solver.Objective()
    goal.SetMinimization()
    for number, block in enumerate(layout.blocks):
        room = solver.Constraint(least, len(block.twins))
        for item, size in enumerate(block.sizes):
            place = int(layout.edges[number]) + item
            column, part = solver.NumVar(0, -least, ""), size / max(block.room, 1)
            goal.SetCoefficient(column, block.fee * part - float(layout.saves[place]))
            tasks[layout.task_of[place]].SetCoefficient(column, 1)
            room.SetCoefficient(column, part)
    solver.Solve()
    found = np.maximum([-row.dual_value() for row in tasks], 0)
    work = solver.iterations() * (len(tasks) + len(layout.blocks)) * S_PER_STEP
    return Prices(tasks=found, rows=np.zeros(len(layout.limits))), work


def row_prices(costs: Floats, uses: Any, limits: Floats) -> tuple[float, Floats, float]:
    """Return what no choice of columns costs less than, the price of each row behind that, and the work.

    `uses` is columns x rows, `limits` are at least nought. The value is that of the prices, however they were found.
    """
    solver = pywraplp.Solver.CreateSolver("GLOP")
    least = -solver.infinity()
    rows = [solver.Constraint(least, float(limit)) for limit in limits]
    goal = solver.Objective()
    goal.SetMinimization()
    columns = uses.tocsr()
    for number, cost in enumerate(costs):
        column = solver.NumVar(0, -least, "")
        goal.SetCoefficient(column, float(cost))
        for entry in range(columns.indptr[number], columns.indptr[number + 1]):
            rows[columns.indices[entry]].SetCoefficient(column, float(columns.data[entry]))
    solver.Solve()
    prices = np.maximum([-row.dual_value() for row in rows], 0)
    # a column that is still worth more than it costs can be taken once, since some row of each allows but one
    value = float(np.minimum(costs + uses @ prices, 0).sum() - prices @ limits)
    return value, prices, solver.iterations() * len(rows) * S_PER_STEP


class Program:
    """The program as it grows: columns are loads; rows are tasks, blocks, and those limits that were once broken."""

    def __init__(self, layout: Layout) -> None:
        self._layout = layout
        self._solver = pywraplp.Solver.CreateSolver("GLOP")
        self._least = -self._solver.infinity()
        self._tasks = [self._solver.Constraint(self._least, 1) for _ in layout.skip]
        self._blocks = [self._solver.Constraint(self._least, len(block.twins)) for block in layout.blocks]
        self._rows: dict[int, Any] = {}
        self._columns: dict[Load, Any] = {}
        self._values: dict[Load, float] = {}
        self._goal = self._solver.Objective()
        self._goal.SetMinimization()

    @property
    def loads(self) -> tuple[Load, ...]:
        """All loads that have a column."""
        return tuple(self._columns)

    @property
    def shares(self) -> dict[Load, float]:
        """The loads that the last solution used, with their parts."""
        return {load: value for load, value in self._values.items() if value > LEAST_SHARE}

    def solve(self) -> tuple[float, Prices, float]:
        """Solve with the columns and rows so far; return value, prices, and the work."""
        self._solver.Solve()
        tasks = np.array([-row.dual_value() for row in self._tasks])
        rows = np.zeros(len(self._layout.limits))
        for number, row in self._rows.items():
            rows[number] = -row.dual_value()
        value = float(self._layout.skip.sum() + self._goal.Value())
        self._values = {load: column.solution_value() for load, column in self._columns.items()}
        size = len(self._tasks) + len(self._blocks) + len(self._rows)
        prices = Prices(tasks=np.maximum(tasks, 0), rows=np.maximum(rows, 0))
        return value, prices, self._solver.iterations() * size * S_PER_STEP

    def add(self, load: Load) -> bool:
        """Add a column; False if it is there."""
        if load in self._columns:
            return False
        places = self._layout.places(load)
        column = self._solver.NumVar(0, -self._least, "")
        self._goal.SetCoefficient(column, self._layout.cost(load))
        self._blocks[load[0]].SetCoefficient(column, 1)
        for task, times in zip(*np.unique(self._layout.task_of[places], return_counts=True), strict=True):
            self._tasks[task].SetCoefficient(column, float(times))
        for row, amount in self._sums(places):
            if row in self._rows:
                self._rows[row].SetCoefficient(column, amount)
        self._columns[load] = column
        return True

    def add_rows(self) -> int:
        """Add the rows that the last solution breaks most; return how many."""
        used: Floats = np.zeros(len(self._layout.task_of))
        for load, value in self.shares.items():
            used[self._layout.places(load)] += value
        over = used @ self._layout.amounts - self._layout.limits
        broken = [int(row) for row in np.argsort(-over, kind="stable")[:MOST_NEW_ROWS] if over[row] > LEAST_SHARE]
        new = [row for row in broken if row not in self._rows]
        for row in new:
            self._rows[row] = self._solver.Constraint(self._least, float(self._layout.limits[row]))
        for load, column in self._columns.items() if new else ():
            sums = dict(self._sums(self._layout.places(load)))
            for row in new:
                if row in sums:
                    self._rows[row].SetCoefficient(column, sums[row])
        return len(new)

    def _sums(self, places: list[int]) -> Iterator[tuple[int, float]]:
        amounts = self._layout.amounts
        sums: dict[int, float] = defaultdict(float)
        for place in places:
            for entry in range(amounts.indptr[place], amounts.indptr[place + 1]):
                sums[int(amounts.indices[entry])] += float(amounts.data[entry])
        yield from sorted(sums.items())
