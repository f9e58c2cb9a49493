"""Operating points of trees with constant-power loads, one tree after another, by Newton's method from above.

One step sums the loads, made straight lines at the last voltages, towards the root, and takes the drops off away
from it: what elimination does to a matrix that is a tree. The steps fall towards the highest operating point and
never pass it; where one cannot be made, none exists. Next to the edge of what a wire can deliver, rounding decides:
such trees are left to nodal analysis, which knows how much of a step is rounding.
"""

from typing import NamedTuple

import numpy as np

from planner.core.compiled import compiled
from planner.core.forest import Floats, Forest, Ints, Longs, Small

STEPS = 12  # a tree that is not next to the edge takes four to six
CONVERGED_V = 1e-10
NEARLY = 0.01  # of the last step: from there on each step is to the last as the last ratio squared
EDGE = 1e-3  # a pivot that small may be rounding
SETTLED, MOVED, HOPELESS, LEFT = range(4)  # what a step finds: done, not yet, no operating point, rounding may decide


class Branches(NamedTuple):
    """Of each vertex that hangs on another: that other, the edge between them; of each edge its resistance and head."""

    parent: Ints
    edge: Ints
    ohm: Floats
    head: Longs


class State(NamedTuple):
    """Of each vertex: its load [W] and voltage; the current into it as `fixed` - `slope` x the voltage before it; the last step [V]."""

    load_w: Floats
    volts: Floats
    fixed: Floats
    slope: Floats
    last: Floats


def solve_trees(
    forest: Forest, first: Longs, edges: tuple[Longs, Floats], load_w: Floats, feeds: tuple[Longs, Floats]
) -> tuple[Floats, Floats, Small]:
    """Return the voltage at each vertex, the current in each edge, and what was found of each tree.

    Parameters
    ----------
    forest : Forest
        Trees one after another.
    first : int64[t + 1]
        Where each tree begins in the order of the forest.
    edges : int64[e], float64[e]
        Head of each edge, and its loop resistance [ohm].
    load_w : float64[v]
        Power drawn at each vertex [W].
    feeds : int64[t], float64[t]
        Root of each tree, -1 for one that is not to be solved, and the voltage there.

    Returns
    -------
    float64[v], float64[e], int8[t]
        [V] and [A], positive towards the head, NaN where nothing was solved; SETTLED, HOPELESS or LEFT. Numbers of
        trees that are not settled mean nothing.

    """
    count, (head, ohm) = load_w.size, edges
    volts, current = np.full(count, np.nan), np.full(head.size, np.nan)
    state = State(load_w, volts, *(np.empty(count) for _ in range(3)))
    found = np.full(first.size - 1, SETTLED, dtype=np.int8)
    _solve_all(forest.order, first, Branches(forest.parent, forest.edge, ohm, head), feeds, (state, current, found))
    return volts, current, found


@compiled
def _towards(order: Ints, branches: Branches, state: State) -> int:
    """Sum the currents of one tree towards its root.

    A pivot says how much of a voltage before a vertex is felt there: it is above zero while there is an operating
    point further down.
    """
    parent, edge, ohm, _ = branches
    fixed, slope = state.fixed, state.slope
    found = MOVED
    for vertex in order:
        before = parent[vertex]
        pivot = 1.0 - slope[vertex] * ohm[edge[vertex]]
        if not abs(pivot) >= EDGE:
            found = LEFT
        elif pivot <= -EDGE and found == MOVED:
            found = HOPELESS
        fixed[vertex] /= pivot
        slope[vertex] /= pivot
        fixed[before] += fixed[vertex]
        slope[before] += slope[vertex]
    return found


@compiled
def _away(order: Ints, branches: Branches, state: State) -> int:
    """Take the drops off away from the root."""
    parent, edge, ohm, _ = branches
    _, volts, fixed, slope, last = state
    found = SETTLED
    for vertex in order[::-1]:
        before = volts[parent[vertex]]
        fresh = before - (fixed[vertex] - slope[vertex] * before) * ohm[edge[vertex]]
        step = abs(volts[vertex] - fresh)
        ratio = step / last[vertex] if last[vertex] > 0.0 else 1.0
        settled = step <= CONVERGED_V or (
            ratio <= NEARLY and step * ratio * ratio <= CONVERGED_V
        )  # what the next would be
        if fresh <= 0.0:
            found = HOPELESS
        elif not settled and found == SETTLED:
            found = MOVED
        volts[vertex], last[vertex] = fresh, step
    return found


@compiled
def _solve_one(order: Ints, branches: Branches, state: State) -> int:
    """Solve one tree whose vertices stand at the voltage of its root, with no step before."""
    load_w, volts, fixed, slope, _ = state
    for _ in range(STEPS):
        for vertex in order:
            amps = load_w[vertex] / volts[vertex]
            fixed[vertex], slope[vertex] = 2.0 * amps, amps / volts[vertex]
        found = _towards(order, branches, state)
        if found == MOVED:
            found = _away(order, branches, state)
        if found != MOVED:
            return found
    return LEFT


@compiled
def _sum_currents(order: Ints, branches: Branches, state: State, current: Floats) -> None:
    """Write the current in each edge of one tree: that of the load at its end and of all behind it."""
    parent, edge, _, head = branches
    load_w, volts, amps, _, _ = state  # what is summed takes the place of a column that is done with
    for vertex in order:
        amps[vertex] = load_w[vertex] / volts[vertex] if load_w[vertex] > 0.0 else 0.0
    for vertex in order:
        amps[parent[vertex]] += amps[vertex]
        current[edge[vertex]] = amps[vertex] if head[edge[vertex]] == vertex else -amps[vertex]


@compiled
def _solve_all(
    order: Ints, first: Longs, branches: Branches, feeds: tuple[Longs, Floats], found: tuple[State, Floats, Small]
) -> None:
    """Write voltages, currents and what was found of all trees."""
    root, root_v = feeds
    state, current, codes = found
    for tree in range(root.size):
        if root[tree] < 0:
            continue
        part = order[first[tree] : first[tree + 1]]
        state.volts[root[tree]] = root_v[tree]
        drawn = state.load_w[root[tree]] > 0.0
        for vertex in part:
            state.volts[vertex], state.last[vertex] = root_v[tree], 0.0
            drawn |= state.load_w[vertex] > 0.0
        if root_v[tree] > 0.0:
            codes[tree] = _solve_one(part, branches, state)
        elif drawn:
            codes[tree] = HOPELESS
        _sum_currents(part, branches, state, current)
