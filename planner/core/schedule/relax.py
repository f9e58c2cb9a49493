"""A bound for networks too big for the exact search: the linear relaxation of the choice of options."""

from typing import Any

import numpy as np
from scipy.optimize import linprog
from scipy.sparse import coo_array

from planner.core.schedule.rows import choice_rows
from planner.core.schedule.tasks import Network, usable

SLACK = 1e-6  # share of the objective that the solver's rounding may be worth


def simple_bound(network: Network) -> int:
    """Return the sum of each task's cheapest choice on its own: always a bound, if a weak one."""
    total = 0
    for task in network.tasks:
        costs = [task.options[number].cost for number in usable(task)]
        total += min([*costs, *([] if task.skip_cost is None else [task.skip_cost])], default=0)
    return total


def linear_bound(network: Network, seconds: float) -> int:
    """Return the linear relaxation's bound, or the simple one where it is not ready in time.

    Parameters
    ----------
    network : Network
        Tasks with what binds them.
    seconds : float
        Time limit [s].

    Returns
    -------
    int
        No choice that obeys the network costs less.

    Examples
    --------
    >>> from planner.core.schedule.tasks import Option, Task
    >>> span = (Option(resource="crew", start=0, end=8, cost=1),)
    >>> three = tuple(Task(key=key, duration=4, options=span, skip_cost=9) for key in "abc")
    >>> linear_bound(Network(tasks=three), 5.0)  # two fit
    11

    """
    columns = {pair: i for i, pair in enumerate((t, o) for t, task in enumerate(network.tasks) for o in usable(task))}
    if not columns:
        return simple_bound(network)
    constant, costs = _costs(network, columns)
    entries, limits = _entries(network, columns)
    rows, cols, values = (np.array(each) for each in zip(*entries, strict=True))
    matrix: Any = coo_array(  # the stubs know of dense matrices only
        (values.astype(float), (rows, cols)), shape=(len(limits), len(costs))
    ).tocsr()
    found = linprog(
        costs, A_ub=matrix, b_ub=limits, bounds=(0, 1), method="highs", options={"time_limit": max(seconds, 0.01)}
    )
    if found.status != 0 or found.fun is None:
        return simple_bound(network)
    value = constant + float(found.fun)
    return max(simple_bound(network), int(np.ceil(value - SLACK * max(abs(value), 1.0))))


def _costs(network: Network, columns: dict[tuple[int, int], int]) -> tuple[int, np.ndarray]:
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
