"""Failures that come again: the mean count by age, and places that have more of them than chance explains."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.stats import norm, poisson

from inventory.core.snapshot import Floats, Ints
from inventory.core.survival import BadLives, checked_lives


@dataclass(frozen=True, slots=True, kw_only=True)
class MeanCount:
    """Mean failures a unit has had by an age, k rows: age [a], count, its standard error, and confidence band."""

    age_years: Floats
    count: Floats
    se: Floats
    low: Floats
    high: Floats


def mean_cumulative_count(
    entry: ArrayLike,
    exit_: ArrayLike,
    failed: ArrayLike,
    unit: ArrayLike,
    *,
    at_years: ArrayLike | None = None,
    confidence: float = 0.95,
    of: str = "lives",
) -> MeanCount:
    """Return the mean cumulative count of failures of units that go on after a repair (Nelson).

    Parameters
    ----------
    entry, exit_ : array_like, shape (m,)
        Age [a] at the begin and end of each spell under watch.
    failed : array_like of bool, shape (m,)
        Whether the spell ended in a failure.
    unit : array_like of int, shape (m,)
        Which unit the spell is of, 0, 1, 2, ...; a unit has as many spells as failures, and one more.
    at_years : array_like, optional
        Ages [a] at which to tell the count; as a rule those at which units failed. The work is their number times m.
    confidence : float
        Of the band, which is symmetric in the log of the count.
    of : str
        What the lives are of, for messages.

    Returns
    -------
    MeanCount

    Raises
    ------
    NoLives, BadLives
        If there is no spell, one ends before it begins, or a unit is below 0.

    References
    ----------
    Nelson, Recurrent Events Data Analysis for Product Repairs, 2003. Variance: Lawless and Nadeau 1995, which does not take
    the failures of one unit for independent.

    Examples
    --------
    >>> seen = mean_cumulative_count([0, 2, 0], [2, 5, 5], [True, False, False], [0, 0, 1])
    >>> seen.age_years, seen.count
    (array([2.]), array([0.5]))

    """
    begin, end, event = checked_lives(entry, exit_, failed, of)
    units = np.asarray(unit, dtype=np.int64)
    if units.shape != begin.shape or units.min() < 0:
        raise BadLives(f"{of}: each spell must name its unit, counted from 0")
    age, failures = np.unique(end[event], return_counts=True)
    at_risk = np.searchsorted(np.sort(begin), age, side="left") - np.searchsorted(np.sort(end), age, side="left")
    at = age if at_years is None else np.asarray(at_years, dtype=np.float64)
    count = _so_far(age, failures / at_risk, at)
    spells = _Spells(begin, end, event, units)
    se = np.sqrt(_robust_variance(spells, age, failures.astype(np.float64), at_risk.astype(np.float64), at))
    width = norm.ppf((1 + confidence) / 2) * np.divide(se, count, out=np.zeros_like(count), where=count > 0)
    return MeanCount(age_years=at, count=count, se=se, low=count * np.exp(-width), high=count * np.exp(width))


@dataclass(frozen=True, slots=True)
class _Spells:
    begin: Floats
    end: Floats
    event: np.ndarray[tuple[int, ...], np.dtype[np.bool_]]
    unit: np.ndarray[tuple[int, ...], np.dtype[np.int64]]


def _so_far(age: Floats, steps: Floats, at: Floats) -> Floats:
    """Return the sum of the steps at ages up to each of `at`."""
    sums = np.concatenate(([0.0], np.cumsum(steps)))
    return np.asarray(sums[np.searchsorted(age, at, side="right")])


def _robust_variance(spells: _Spells, age: Floats, failures: Floats, at_risk: Floats, at: Floats) -> Floats:
    """Return the sum over units of the square of what each adds to the count beyond its share."""
    shares = failures / at_risk**2
    before = _so_far(age, shares, spells.begin)
    own_row = np.minimum(np.searchsorted(age, spells.end), max(age.size - 1, 0))
    own = np.where(spells.event, 1.0 / at_risk[own_row], 0.0) if age.size else np.zeros(spells.end.size)
    after = _so_far(age, shares, spells.end)
    found = np.empty(at.size)
    for row, moment in enumerate(at):
        limit = _so_far(age, shares, np.array([moment]))[0]
        extra = np.where(spells.end <= moment, own, 0.0) - (np.minimum(after, limit) - np.minimum(before, limit))
        found[row] = np.square(np.bincount(spells.unit, weights=extra)).sum()
    return found


@dataclass(frozen=True, slots=True, kw_only=True)
class TroubleSpot:
    """A place with its failures, those expected of the equipment in it, and the odds of so many by chance.

    chance : of so many or more in this place alone. chance_of_any : corrected for how many places were looked at.
    """

    place: int
    failures: int
    expected: float
    chance: float
    chance_of_any: float
    stands_out: bool


def trouble_spots(failures: Ints, expected: Floats, *, level: float = 0.05) -> tuple[TroubleSpot, ...]:
    """Return the places that had failures, those that stand out first.

    Parameters
    ----------
    failures, expected : shape (p,)
        Failures seen in each place, and the mean number that lives like those of its equipment give; NaN not known: such a
        place is not judged.
    level : float
        A place stands out if its corrected chance is at most this.

    Returns
    -------
    tuple of TroubleSpot
        By corrected chance, then chance, then place.

    Raises
    ------
    BadLives
        If a count is below 0, or there are failures where none could be expected.

    References
    ----------
    Exact upper tail of the Poisson distribution; Holm 1979 for many places: the chance that any ordinary place is named is
    at most `level`.

    Examples
    --------
    >>> [(spot.place, spot.stands_out) for spot in trouble_spots(np.array([1, 9, 0]), np.array([1.0, 1.0, 1.0]))]
    [(1, True), (0, False)]

    """
    known = np.isfinite(expected)
    if (failures < 0).any() or (expected[known] < 0).any():
        raise BadLives("counts of failures cannot be below 0")
    if ((failures > 0) & (expected == 0)).any():
        raise BadLives("failures are on record in a place with nothing under watch")
    place = np.flatnonzero(known)
    chance = np.asarray(poisson.sf(failures[place] - 1, expected[place]), dtype=np.float64)
    corrected = _holm(chance)
    rows = np.lexsort((place, chance, corrected))
    return tuple(
        TroubleSpot(
            place=int(place[row]),
            failures=int(failures[place[row]]),
            expected=float(expected[place[row]]),
            chance=float(chance[row]),
            chance_of_any=float(corrected[row]),
            stands_out=bool(corrected[row] <= level),
        )
        for row in rows
        if failures[place[row]] > 0
    )


def _holm(chance: Floats) -> Floats:
    order = np.argsort(chance, kind="stable")
    steps = chance[order] * np.arange(chance.size, 0, -1)
    corrected = np.empty_like(chance)
    corrected[order] = np.minimum(np.maximum.accumulate(steps), 1.0)
    return corrected


def sum_by_place(place: Ints, node: Ints, amount: Floats, places: int) -> Floats:
    """Return the sum over spells of an amount, by the place of their node; a node in no known place (-1) is left out.

    Examples
    --------
    >>> sum_by_place(np.array([0, 1, -1]), np.array([0, 0, 1, 2]), np.array([1.0, 2.0, 4.0, 8.0]), 2)
    array([3., 4.])

    """
    where = place[node]
    known = where >= 0
    return np.bincount(where[known], weights=amount[known], minlength=places).astype(np.float64)
