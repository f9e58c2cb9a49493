"""Puzzles: which loads to take so that every sum keeps its limit, at the least cost, by CP-SAT.

The costs are written with prices of the sums: a load at what it loses at these prices, and what a sum leaves unused
at its price. With good prices nearly all of that is above nothing, so that the solver begins with the bound of the
relaxation and sees at once what hardly matters; with the plain costs it finds neither plan nor bound. Any prices give
the same answer.

A puzzle is plain arrays, so that it can be handed to another process.
"""

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from ortools.sat.python import cp_model

from planner.core.schedule.core import Effort
from planner.core.schedule.table import Floats

WORK_PER_SECOND = 0.5  # units of the solver's own count that a second is worth here, where there are no minutes
SIDE_BY_SIDE = 1.6  # what work counts for where several are solved at a time, which then wait for memory
FINE, COARSE = 10_000, 100  # parts of a unit of cost that are told apart: many for a proof, few for a good answer soon
LEAST_PRICE = 1e-6
Terms = tuple[list[cp_model.IntVar], list[int]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Puzzle:
    """Columns with their costs, and what they use (columns x rows) of limited rows.

    `prices` are any prices of the rows, none below zero. `apart` are pairs of columns that do not go together, and
    `taken` is an answer to begin with. Answers that cost more than `most` are not looked for. `fine` is into how many
    parts a unit of cost is divided: with few, a good answer is found far sooner, and its bound is a little weaker.
    """

    costs: Floats
    uses: Any
    limits: Floats
    prices: Floats
    apart: tuple[tuple[int, int], ...] = ()
    taken: tuple[int, ...] | None = None
    most: float = np.inf
    fine: int = FINE


@dataclass(frozen=True, slots=True, kw_only=True)
class Solved:
    """The columns to take (None: no answer found), what no answer costs less than, and the work [s].

    `proved` tells that there is no better answer, or none at all.
    """

    taken: tuple[int, ...] | None
    bound: float
    work: float
    proved: bool = False


def solve_puzzle(puzzle: Puzzle, effort: Effort, *, thorough: bool = False) -> Solved:
    """Return the best answer found, and a bound. `thorough` works at the bound more than at answers.

    Examples
    --------
    >>> from scipy.sparse import csr_array
    >>> two = csr_array(np.array([[1.0], [1.0]]))
    >>> puzzle = Puzzle(costs=np.array([-3.0, -5.0]), uses=two, limits=np.array([1.0]), prices=np.array([4.0]))
    >>> solve_puzzle(puzzle, Effort(seconds=5.0)).taken, solve_puzzle(puzzle, Effort(seconds=5.0)).bound
    ((1,), -5.0)

    """
    model = cp_model.CpModel()
    picks = [model.new_bool_var("") for _ in puzzle.costs]
    reduced = puzzle.costs + puzzle.uses @ puzzle.prices
    terms: Terms = (list(picks), [int(np.floor(puzzle.fine * cost + LEAST_PRICE)) for cost in reduced])
    paid = float(puzzle.prices @ puzzle.limits)
    columns = puzzle.uses.tocsc()
    taken = np.zeros(len(picks))
    taken[list(puzzle.taken or ())] = 1
    used = taken @ puzzle.uses
    for row in range(len(puzzle.limits)):
        part = slice(columns.indptr[row], columns.indptr[row + 1])
        mine = [picks[column] for column in columns.indices[part]]
        slack = _row(model, mine, [int(amount) for amount in columns.data[part]], puzzle, row, terms)
        if slack is not None and puzzle.taken is not None:
            model.add_hint(slack, int(puzzle.limits[row] - used[row]))
    for one, two in puzzle.apart:
        model.add_at_most_one([picks[one], picks[two]])
    for pick, is_taken in zip(picks, taken, strict=True) if puzzle.taken is not None else ():
        model.add_hint(pick, bool(is_taken))
    goal = cp_model.LinearExpr.weighted_sum(*terms)
    model.minimize(goal)
    if puzzle.most < np.inf:
        model.add(goal <= int(np.floor(puzzle.fine * (puzzle.most + paid) + 1)))
    found = _run(model, picks, effort, thorough=thorough)
    return replace(found, bound=found.bound / puzzle.fine - paid)


def _row(  # noqa: PLR0917 - one row with all that it touches
    model: cp_model.CpModel, picks: list[cp_model.IntVar], amounts: list[int], puzzle: Puzzle, row: int, terms: Terms
) -> cp_model.IntVar | None:
    """Add a row; where it has a price, return what it leaves unused, which is then paid for."""
    limit, price = int(puzzle.limits[row]), puzzle.fine * float(puzzle.prices[row])
    single = limit == 1 and all(amount == 1 for amount in amounts)
    least = sum(amount for amount in amounts if amount < 0)
    if price <= LEAST_PRICE:
        if single and len(picks) > 1:
            model.add_at_most_one(picks)
        elif sum(amount for amount in amounts if amount > 0) > limit:
            model.add(cp_model.LinearExpr.weighted_sum(picks, amounts) <= limit)
        return None
    slack = model.new_bool_var("") if single else model.new_int_var(0, limit - least, "")
    if single:
        model.add_exactly_one([*picks, slack])
    else:
        model.add(cp_model.LinearExpr.weighted_sum(picks, amounts) + slack == limit)
    _charge(model, slack, limit - least, price, terms)
    return slack


def _charge(model: cp_model.CpModel, slack: cp_model.IntVar, most: int, price: float, terms: Terms) -> None:
    """Pay for what is unused, in whole units of cost; where one is worth less than that, by the bundle."""
    if price >= 1:
        terms[0].append(slack)
        terms[1].append(int(np.floor(price)))
        return
    bundle = int(np.ceil(1 / price))
    bundles = model.new_int_var(0, most // bundle, "")
    model.add(bundle * bundles <= slack)
    model.add(bundle * bundles >= slack - bundle + 1)
    terms[0].append(bundles)
    terms[1].append(int(np.floor(bundle * price)))


def _run(model: cp_model.CpModel, picks: list[cp_model.IntVar], effort: Effort, *, thorough: bool) -> Solved:
    """Solve the model; the bound is in parts of a unit of cost."""
    solver = cp_model.CpSolver()
    if thorough:
        solver.parameters.linearization_level = 2
        solver.parameters.add_lp_constraints_lazily = False
    solver.parameters.random_seed = effort.seed
    solver.parameters.num_workers = effort.workers
    solver.parameters.interleave_search = effort.workers > 1
    solver.parameters.max_deterministic_time = effort.seconds * effort.workers * WORK_PER_SECOND
    solver.parameters.max_time_in_seconds = 4 * effort.seconds if effort.wall_s is None else max(effort.wall_s, 0.1)
    status = solver.status_name(solver.solve(model))
    work = float(solver.response_proto.deterministic_time) / WORK_PER_SECOND / effort.workers
    if status not in ("OPTIMAL", "FEASIBLE"):
        # stopped before it had an answer, the solver reports a bound of nought, whatever the costs are
        impossible = status == "INFEASIBLE"
        return Solved(taken=None, bound=np.inf if impossible else -np.inf, work=work, proved=impossible)
    bound = solver.best_objective_bound
    taken = tuple(number for number, pick in enumerate(picks) if solver.boolean_value(pick))
    return Solved(taken=taken, bound=bound, work=work, proved=status == "OPTIMAL")
