"""Operating points of trees with constant-power loads, one tree after another, by Newton's method from above.

One step sums the loads, made straight lines at the last voltages, towards the root, and takes the drops off away
from it: what elimination does to a matrix that is a tree. The steps fall towards the highest operating point and
never pass it; where one cannot be made, none exists. Next to the edge of what a wire can deliver, rounding decides:
such trees are left to nodal analysis, which knows how much of a step is rounding.

A ring is a tree and one edge more, the chord. What an ampere in the chord does to the voltages is reckoned beside each
step; that its drop is what its resistance says then tells the current (the compensation theorem of circuit theory).
A ring that cannot be solved so is left to nodal analysis, too: it may stand where its tree alone would not.
"""

from typing import NamedTuple

import numpy as np

from planner.core.compiled import compiled
from planner.core.forest import Floats, Forest, Ints, Longs, Small

STEPS = 12  # a tree that is not next to the edge takes four to six
CONVERGED_V = 1e-10
NEARLY = 0.01  # of the last step: from there on each step is to the last as the last ratio squared
EDGE = 1e-3  # a pivot that small may be rounding
LEAST_OHM = 1e-9  # a ring that resists less tells no current
SETTLED, MOVED, HOPELESS, LEFT = range(4)  # what a step finds: done, not yet, no operating point, rounding may decide


class Branches(NamedTuple):
    """Of each vertex that hangs on another: that other, the edge between them; of each edge its resistance and ends."""

    parent: Ints
    edge: Ints
    ohm: Floats
    tail: Longs
    head: Longs


class State(NamedTuple):
    """Of each vertex: its load [W] and voltage; the current into it as `fixed` - `slope` x the voltage before it.

    last : the step before [V]. unit : what an ampere in the chord of a ring does, as current, then as voltage.
    """

    load_w: Floats
    volts: Floats
    fixed: Floats
    slope: Floats
    last: Floats
    unit: Floats


def solve_trees(
    forest: Forest,
    first: Longs,
    edges: tuple[Longs, Longs, Floats],
    load_w: Floats,
    feeds: tuple[Longs, Floats, Longs],
) -> tuple[Floats, Floats, Small]:
    """Return the voltage at each vertex, the current in each edge, and what was found of each tree.

    Parameters
    ----------
    forest : Forest
        Trees one after another.
    first : int64[t + 1]
        Where each tree begins in the order of the forest.
    edges : int64[e], int64[e], float64[e]
        Tail and head of each edge, and its loop resistance [ohm].
    load_w : float64[v]
        Power drawn at each vertex [W].
    feeds : int64[t], float64[t], int64[t]
        Root of each tree, -1 for one that is not to be solved, the voltage there, and the chord of a ring, -1 for none.

    Returns
    -------
    float64[v], float64[e], int8[t]
        [V] and [A], positive towards the head, NaN where nothing was solved; SETTLED, HOPELESS or LEFT. Numbers of
        trees that are not settled mean nothing.

    """
    count, (tail, head, ohm) = load_w.size, edges
    volts, current = np.full(count, np.nan), np.full(head.size, np.nan)
    fixed, slope, last = np.empty(count), np.empty(count), np.empty(count)
    rings = (feeds[2] >= 0).any()
    state = State(load_w, volts, fixed, slope, last, unit=np.empty(count if rings else 0))
    found = np.full(first.size - 1, SETTLED, dtype=np.int8)
    branches = Branches(forest.parent, forest.edge, ohm, tail, head)
    _solve_all(forest.order, (first, *feeds), branches, state, (current, found))
    return volts, current, found


@compiled
def _towards(order: Ints, branches: Branches, state: State) -> int:
    """Sum the currents of one tree towards its root.

    A pivot says how much of a voltage before a vertex is felt there: it is above zero while there is an operating
    point further down.
    """
    parent, edge, ohm, _, _ = branches
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
    parent, edge, ohm, _, _ = branches
    _, volts, fixed, slope, last, _ = state
    found = SETTLED
    for vertex in order[::-1]:
        before = volts[parent[vertex]]
        fresh = before - (fixed[vertex] - slope[vertex] * before) * ohm[edge[vertex]]
        step = abs(volts[vertex] - fresh)
        if fresh <= 0.0:
            found = HOPELESS
        elif found == SETTLED and not _has_settled(step, last[vertex]):
            found = MOVED
        volts[vertex], last[vertex] = fresh, step
    return found


@compiled
def _has_settled(step: float, last: float) -> bool:
    """Tell whether a step is nothing, or, by how it stands to the last one, the next would be."""
    ratio = step / last if last > 0.0 else 1.0
    return step <= CONVERGED_V or (ratio <= NEARLY and step * ratio * ratio <= CONVERGED_V)


@compiled
def _straighten(order: Ints, state: State) -> None:
    """Make straight lines of the loads at the voltages so far."""
    load_w, volts, fixed, slope, _, _ = state
    for vertex in order:
        amps = load_w[vertex] / volts[vertex]
        fixed[vertex], slope[vertex] = 2.0 * amps, amps / volts[vertex]


@compiled
def _solve_tree(order: Ints, branches: Branches, state: State) -> int:
    """Solve one tree whose vertices stand at the voltage of its root, with no step before."""
    for _ in range(STEPS):
        _straighten(order, state)
        found = _towards(order, branches, state)
        if found == MOVED:
            found = _away(order, branches, state)
        if found != MOVED:
            return found
    return LEFT


@compiled
def _respond(order: Ints, branches: Branches, state: State, root: int, chord: int) -> None:
    """Write what an ampere in the chord does to the voltages, after the loads are summed towards the root."""
    parent, edge, ohm, tail, head = branches
    slope, unit = state.slope, state.unit
    for vertex in order:
        unit[vertex] = 0.0
    unit[tail[chord]] += 1.0
    unit[head[chord]] -= 1.0
    for vertex in order:
        unit[vertex] *= 1.0 + slope[vertex] * ohm[edge[vertex]]  # what the loads' sum was divided by
        unit[parent[vertex]] += unit[vertex]
    unit[root] = 0.0
    for vertex in order[::-1]:
        before = unit[parent[vertex]]
        unit[vertex] = before - (unit[vertex] - slope[vertex] * before) * ohm[edge[vertex]]


@compiled
def _close(order: Ints, branches: Branches, state: State, root: int, chord: int) -> float:
    """Return the current in the chord at which its drop is what its resistance says, NaN where nothing tells it.

    The voltages without it stand in `fixed` then.
    """
    parent, edge, ohm, tail, head = branches
    fixed, slope, unit = state.fixed, state.slope, state.unit
    fixed[root] = state.volts[root]
    for vertex in order[::-1]:
        before = fixed[parent[vertex]]
        fixed[vertex] = before - (fixed[vertex] - slope[vertex] * before) * ohm[edge[vertex]]
    one, other = tail[chord], head[chord]
    felt_ohm = ohm[chord] - (unit[one] - unit[other])
    return (fixed[one] - fixed[other]) / felt_ohm if felt_ohm > LEAST_OHM else np.nan


@compiled
def _solve_ring(order: Ints, branches: Branches, state: State, root: int, chord: int) -> tuple[int, float]:
    """Solve one tree with a chord; return what was found, SETTLED or LEFT, and the current in the chord [A]."""
    _, volts, fixed, _, last, unit = state
    through = np.nan
    for _ in range(STEPS):
        _straighten(order, state)
        if _towards(order, branches, state) != MOVED:
            return LEFT, through
        _respond(order, branches, state, root, chord)
        through = _close(order, branches, state, root, chord)
        found = SETTLED
        for vertex in order:
            fresh = fixed[vertex] + through * unit[vertex]
            step = abs(volts[vertex] - fresh)
            if not fresh > 0.0:
                return LEFT, through
            if not _has_settled(step, last[vertex]):
                found = MOVED
            volts[vertex], last[vertex] = fresh, step
        if found == SETTLED:
            return SETTLED, through
    return LEFT, through


@compiled
def _sum_currents(order: Ints, branches: Branches, state: State, current: Floats, chord: int) -> None:
    """Write the current in each edge of one tree: that of the load at its end and of all behind it."""
    parent, edge, _, tail, head = branches
    load_w, volts, amps, _, _, _ = state  # what is summed takes the place of a column that is done with
    for vertex in order:
        amps[vertex] = load_w[vertex] / volts[vertex] if load_w[vertex] > 0.0 else 0.0
    if chord >= 0:
        amps[tail[chord]] += current[chord]
        amps[head[chord]] -= current[chord]
    for vertex in order:
        amps[parent[vertex]] += amps[vertex]
        current[edge[vertex]] = amps[vertex] if head[edge[vertex]] == vertex else -amps[vertex]


@compiled
def _solve_all(
    order: Ints,
    trees: tuple[Longs, Longs, Floats, Longs],
    branches: Branches,
    state: State,
    found: tuple[Floats, Small],
) -> None:
    """Write voltages, currents and what was found of all trees."""
    first, roots, root_v, chords = trees
    current, codes = found
    for tree in range(roots.size):
        root, chord = roots[tree], chords[tree]
        if root < 0:
            continue
        part = order[first[tree] : first[tree + 1]]
        state.volts[root] = root_v[tree]
        drawn = state.load_w[root] > 0.0
        for vertex in part:
            state.volts[vertex], state.last[vertex] = root_v[tree], 0.0
            drawn |= state.load_w[vertex] > 0.0
        if not root_v[tree] > 0.0:
            codes[tree] = HOPELESS if drawn else SETTLED
        elif chord < 0:
            codes[tree] = _solve_tree(part, branches, state)
        else:
            codes[tree], current[chord] = _solve_ring(part, branches, state, root, chord)
        if chord >= 0 and not root_v[tree] > 0.0:
            current[chord] = 0.0
        _sum_currents(part, branches, state, current, chord)
