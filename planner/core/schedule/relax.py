"""A bound for networks too big for the exact search: the linear relaxation of the choice of options."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linprog
from scipy.sparse import coo_array

from planner.core.schedule.rows import choice_rows
from planner.core.schedule.tasks import Network, usable

LEAST_SHARE = 1e-6
SLACK = 1e-6  # share of the objective that the solver's rounding may be worth


def simple_bound(network: Network) -> int:
    """Return the sum of each task's cheapest choice on its own: always a bound, if a weak one."""
    total = 0
    for task in network.tasks:
        costs = [task.options[number].cost for number in usable(task)]
        total += min([*costs, *([] if task.skip_cost is None else [task.skip_cost])], default=0)
    return total


@dataclass(frozen=True, slots=True, kw_only=True)
class Relaxed:
    """What the relaxation says: no choice that obeys the network costs less than `bound`.

    `shares` are the parts of each (task, option) it would choose, those of nothing left out; empty if it was not
    ready in time, and the bound is then the simple one.
    """

    bound: int
    shares: Mapping[tuple[int, int], float]


def relax(network: Network, seconds: float) -> Relaxed:
    """Return the linear relaxation of a network.

    Parameters
    ----------
    network : Network
        Tasks with what binds them.
    seconds : float
        Time limit [s].

    Returns
    -------
    Relaxed
        Bound and shares.

    Examples
    --------
    >>> from planner.core.schedule.tasks import Option, Task
    >>> span = (Option(resource="crew", start=0, end=8, cost=1),)
    >>> three = tuple(Task(key=key, duration=4, options=span, skip_cost=9) for key in "abc")
    >>> relax(Network(tasks=three), 5.0).bound  # two fit
    11

    """
    columns = {pair: i for i, pair in enumerate((t, o) for t, task in enumerate(network.tasks) for o in usable(task))}
    simple = simple_bound(network)
    if not columns:
        return Relaxed(bound=simple, shares={})
    constant, costs = _costs(network, columns)
    found = _solve(costs, *_entries(network, columns), seconds)
    if found.status != 0 or found.fun is None:
        return Relaxed(bound=simple, shares={})
    value = constant + float(found.fun)
    bound = int(np.ceil(value - SLACK * max(abs(value), 1.0)))
    shares = {pair: float(found.x[column]) for pair, column in columns.items() if found.x[column] > LEAST_SHARE}
    return Relaxed(bound=max(simple, bound), shares=shares)


def _solve(costs: NDArray[np.float64], entries: list[tuple[int, int, int]], limits: list[int], seconds: float) -> Any:
    rows, cols, values = (np.array(each) for each in zip(*entries, strict=True))
    matrix: Any = coo_array(  # the stubs know of dense matrices only
        (values.astype(float), (rows, cols)), shape=(len(limits), len(costs))
    ).tocsr()
    options: Any = {"time_limit": max(seconds, 0.01)}
    return linprog(costs, A_ub=matrix, b_ub=limits, bounds=(0, 1), method="highs-ipm", options=options)


def _costs(network: Network, columns: dict[tuple[int, int], int]) -> tuple[int, NDArray[np.float64]]:
    """Return the cost of leaving everything out, and what each column (choices, then charges) adds to it."""
    constant = sum(task.skip_cost or 0 for task in network.tasks)
    costs = np.zeros(len(columns) + len(network.charges))
    for (t, o), column in columns.items():
        task = network.tasks[t]
        costs[column] = task.options[o].cost - (task.skip_cost or 0)
    costs[len(columns) :] = [charge.cost for charge in network.charges]
    return constant, costs


def _entries(network: Network, columns: dict[tuple[int, int], int]) -> tuple[list[tuple[int, int, int]], list[int]]:
    """Return the rows as (row, column, amount), with their limits."""
    entries: list[tuple[int, int, int]] = []
    limits: list[int] = []

    def add(terms: list[tuple[int, int]], limit: int) -> None:
        entries.extend((len(limits), column, amount) for column, amount in terms)
        limits.append(limit)

    for t, task in enumerate(network.tasks):
        mine = [columns[t, o] for o in usable(task)]
        if mine:
            add([(column, 1) for column in mine], 1)
            if task.skip_cost is None:
                add([(column, -1) for column in mine], -1)
    for row in choice_rows(network):
        add([(columns[t, o], amount) for t, o, amount in row.terms if (t, o) in columns], row.limit)
    for number, charge in enumerate(network.charges):
        for pair in charge.terms:
            if pair in columns:
                add([(columns[pair], 1), (len(columns) + number, -1)], 0)
    return entries, limits
