"""Operating points of trees with constant-power loads, all trees in the same arrays, by Newton's method from above.

One step sums the loads, made straight lines at the last voltages, towards the roots, and takes the drops off away
from them: what elimination does to a matrix that is a tree. The steps fall towards the highest operating point and
never pass it; where one cannot be made, none exists. Next to the edge of what a wire can deliver, rounding decides:
such trees are left to nodal analysis, which knows how much of a step is rounding.
"""

from dataclasses import dataclass

import numpy as np

from planner.core.forest import Flags, Floats, Longs, rounds_of

STEPS = 12  # a tree that is not next to the edge takes four to six
CONVERGED_V = 1e-10
NEARLY_V = 1e-6  # a step that small, and a hundredth of the last, leaves less than CONVERGED_V
NEARLY = 0.01
EDGE = 1e-3  # a pivot that small may be rounding


@dataclass(frozen=True, slots=True, kw_only=True)
class Trees:
    """Trees by places as a forest has them: owner and parent of each place, bounds of rounds, resistance, load."""

    owner: Longs
    parent: Longs
    bounds: tuple[int, ...]
    ohm: Floats  # to the parent
    load_w: Floats


def solve_trees(trees: Trees, root_v: Floats, count: int) -> tuple[Floats, Flags, Flags]:
    """Return the voltage at each place, which of `count` owners have no operating point, and which are left undecided.

    `root_v` : float64[p], voltage at the root of each place's tree. Numbers of owners that are not solved mean nothing.
    """
    volts = root_v.copy()
    hopeless, left = np.zeros(count, dtype=bool), np.zeros(count, dtype=bool)
    hopeless[trees.owner[(trees.load_w > 0.0) & (root_v <= 0.0)]] = True
    part, at = trees, np.arange(volts.size)
    now, last, going = volts, np.full(volts.size, np.inf), ~hopeless[trees.owner]
    for _ in range(STEPS):
        if not going.all():  # one that is settled must not depend on how long others take
            part, at, now, last = _kept(part, going), at[going], now[going], last[going]
            going = np.ones(at.size, dtype=bool)
        if not at.size:
            break
        fresh, pivot = _step(part, now)
        _mark(part.owner, (fresh, pivot), hopeless, left)
        step = np.abs(now - fresh)
        open_ = np.zeros(count, dtype=bool)
        open_[part.owner[~((step <= CONVERGED_V) | ((step <= NEARLY_V) & (step <= NEARLY * last)))]] = True
        volts[at] = fresh
        now, last, going = fresh, step, (open_ & ~hopeless & ~left)[part.owner]
    left[part.owner[going]] = True
    return volts, hopeless & ~left, left


def _step(trees: Trees, volts: Floats) -> tuple[Floats, Floats]:
    """Return the voltages after one step of Newton's method, and the pivots: all above zero while there is one.

    The current into a place and all behind it is `fixed` + `slope` x the voltage before it.
    """
    rounds = list(rounds_of(trees.parent, trees.bounds))
    drawn = np.divide(trees.load_w, volts, out=np.zeros_like(volts), where=trees.load_w > 0.0)
    fixed, slope = 2.0 * drawn, -np.divide(drawn, volts, out=np.zeros_like(volts), where=trees.load_w > 0.0)
    pivot, fresh = np.ones_like(volts), volts.copy()
    with np.errstate(all="ignore"):  # where no step can be made, the numbers are not used
        for here, above in rounds:
            pivot[here] += slope[here] * trees.ohm[here]
            fixed[here] /= pivot[here]
            slope[here] /= pivot[here]
            np.add.at(fixed, above, fixed[here])
            np.add.at(slope, above, slope[here])
        for here, above in rounds[::-1]:
            before = fresh[above]
            fresh[here] = before - trees.ohm[here] * (fixed[here] + slope[here] * before)
    return fresh, pivot


def _mark(owner: Longs, found: tuple[Floats, Floats], hopeless: Flags, left: Flags) -> None:
    """Note the owners for which no step can be made, and those for which rounding may decide that."""
    fresh, pivot = found
    near = np.abs(pivot) < EDGE
    left[owner[near]] = True
    hopeless[owner[(pivot <= -EDGE) | (fresh <= 0.0)]] = True


def _kept(trees: Trees, going: Flags) -> Trees:
    """Return the trees whose places are all marked, without the others."""
    places = np.zeros(going.size + 1, dtype=np.int64)
    np.cumsum(going, out=places[1:])
    return Trees(
        owner=trees.owner[going],
        parent=places[trees.parent[going]],
        bounds=tuple(int(places[bound]) for bound in trees.bounds),
        ohm=trees.ohm[going],
        load_w=trees.load_w[going],
    )


def currents(trees: Trees, volts: Floats) -> Floats:
    """Return the current into each place from the place before it [A]: that of its own load and all behind it."""
    amps = np.divide(trees.load_w, volts, out=np.zeros_like(volts), where=(trees.load_w > 0.0) & (volts > 0.0))
    for here, above in rounds_of(trees.parent, trees.bounds):
        np.add.at(amps, above, amps[here])
    return amps
