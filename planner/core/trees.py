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
NEARLY = 0.01  # of the last step: from there on each step is to the last as the last ratio squared
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

    `root_v` : float64[p], voltage at the root of each place's tree; it is written over. Numbers of owners that are not solved mean nothing.
    """
    volts = root_v  # the caller has no further use for it, and it is large
    hopeless, left = np.zeros(count, dtype=bool), np.zeros(count, dtype=bool)
    hopeless[trees.owner[(trees.load_w > 0.0) & (root_v <= 0.0)]] = True
    going = ~hopeless[trees.owner] & (root_v > 0.0)
    part, now = trees, volts
    at: Longs | None = None  # all places
    last: Floats | None = None
    for _ in range(STEPS):
        if not going.all():  # one that is settled must not depend on how long others take
            keep = np.flatnonzero(going)
            part, at = _kept(part, keep), keep if at is None else at[keep]
            now, last = now[keep], None if last is None else last[keep]
            going = np.ones(keep.size, dtype=bool)
        if not going.size:
            break
        fresh = _step(part, now, hopeless, left)
        step = now - fresh
        np.abs(step, out=step)
        open_ = np.zeros(count, dtype=bool)
        open_[part.owner[_moved(step, last)]] = True
        volts[slice(None) if at is None else at] = fresh
        now, last, going = fresh, step, (open_ & ~hopeless & ~left)[part.owner]
    left[part.owner[going]] = True
    return volts, hopeless & ~left, left


def _moved(step: Floats, last: Floats | None) -> Flags:
    """Tell which places have not settled; `last` : the step before, None for the first."""
    moved = ~(step <= CONVERGED_V)
    if last is None:
        return np.asarray(moved)
    ratio = np.divide(step, last, out=np.ones_like(step), where=last > 0.0)
    moved &= ~((ratio <= NEARLY) & (step * ratio * ratio <= CONVERGED_V))  # what the next step would be
    return np.asarray(moved)


def _step(trees: Trees, volts: Floats, hopeless: Flags, left: Flags) -> Floats:
    """Return the voltages after one step of Newton's method; mark the owners for which none can be made.

    The current into a place and all behind it is `fixed` - `slope` x the voltage before it. A pivot says how much
    of a voltage before a place is felt there: it is above zero while there is an operating point further down.
    """
    rounds = list(rounds_of(trees.parent, trees.bounds))
    fixed = trees.load_w / volts
    slope = fixed / volts
    fixed *= 2.0
    fresh = volts.copy()
    with np.errstate(all="ignore"):  # where no step can be made, the numbers are not used
        for here, above in rounds:
            pivot = 1.0 - slope[here] * trees.ohm[here]
            if not pivot.min() >= EDGE:
                _mark(trees.owner[here], pivot, hopeless, left)
            for column in (fixed, slope):
                column[here] = part = column[here] / pivot  # apart, since `at` copies all of what it would overlap
                np.add.at(column, above, part)
        for here, above in rounds[::-1]:
            before = fresh[above]
            drop = slope[here] * before
            np.subtract(fixed[here], drop, out=drop)
            drop *= trees.ohm[here]
            np.subtract(before, drop, out=fresh[here])
    hopeless[trees.owner[fresh <= 0.0]] = True
    return fresh


def _mark(owner: Longs, pivot: Floats, hopeless: Flags, left: Flags) -> None:
    """Note the owners for which no step can be made, and those for which rounding may decide that."""
    left[owner[~(np.abs(pivot) >= EDGE)]] = True
    hopeless[owner[pivot <= -EDGE]] = True


def _kept(trees: Trees, keep: Longs) -> Trees:
    """Return the trees whose places are all kept, without the others."""
    places = np.empty(trees.owner.size, dtype=np.int64)
    places[keep] = np.arange(keep.size)
    return Trees(
        owner=trees.owner[keep],
        parent=places[trees.parent[keep]],
        bounds=tuple(np.searchsorted(keep, trees.bounds).tolist()),
        ohm=trees.ohm[keep],
        load_w=trees.load_w[keep],
    )


def currents(trees: Trees, volts: Floats) -> Floats:
    """Return the current into each place from the place before it [A]: that of its own load and all behind it."""
    amps = np.divide(trees.load_w, volts, out=np.zeros_like(volts), where=(trees.load_w > 0.0) & (volts > 0.0))
    for here, above in rounds_of(trees.parent, trees.bounds):
        np.add.at(amps, above, amps[here].copy())
    return amps
