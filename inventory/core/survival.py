"""The share of units that outlive an age, from lives with right censoring and late entry (Kaplan and Meier)."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.stats import norm

from inventory.core.lives import Flags
from inventory.core.snapshot import Floats, Ints


class BadLives(ValueError):  # noqa: N818 - says what is the matter
    """Lives that cannot be: an age that is negative, not finite, or an end before its begin."""


class NoLives(BadLives):
    """There is no unit under watch."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SurvivalCurve:
    """A step curve, k rows, one for each age at which units failed.

    age_years : ages [a]. at_risk, failures : units under watch just before, and failed at, the age. survival, se, low, high :
    share that outlives the age, its standard error (Greenwood) and confidence band. from_years : the age from which the
    curve counts: all shares are of those that reach it. emptied_at_years : the first age at which all that were under watch
    failed while older ones came under watch later; from there on the curve is an artefact. None: no such age.
    """

    age_years: Floats
    at_risk: Ints
    failures: Ints
    survival: Floats
    se: Floats
    low: Floats
    high: Floats
    from_years: float
    emptied_at_years: float | None

    def median_years(self) -> float | None:
        """Return the age that half of the units do not outlive, None if the curve does not come down so far."""
        below = np.flatnonzero(self.survival <= 1 / 2)
        return float(self.age_years[below[0]]) if below.size else None


def checked_lives(entry: ArrayLike, exit_: ArrayLike, failed: ArrayLike, of: str) -> tuple[Floats, Floats, Flags]:
    """Return the three columns as arrays, BadLives where a row cannot be."""
    begin, end = np.asarray(entry, dtype=np.float64), np.asarray(exit_, dtype=np.float64)
    event = np.asarray(failed, dtype=np.bool_)
    if not begin.shape == end.shape == event.shape or begin.ndim != 1:
        raise BadLives(f"{of}: entry, exit and failed must be columns of one length")
    if end.size == 0:
        raise NoLives(f"{of}: no unit is under watch, so nothing can be said about its life")
    wrong = ~(np.isfinite(begin) & np.isfinite(end) & (begin >= 0) & (end > begin))
    if wrong.any():
        row = int(np.argmax(wrong))
        raise BadLives(
            f"{of}: row {row} is under watch from age {begin[row]} to {end[row]}; the end must lie after the begin"
        )
    return begin, end, event


def survival_curve(
    entry: ArrayLike, exit_: ArrayLike, failed: ArrayLike, *, confidence: float = 0.95, of: str = "lives"
) -> SurvivalCurve:
    """Return the Kaplan-Meier curve with Greenwood's standard error and a log-log confidence band.

    Parameters
    ----------
    entry, exit_ : array_like, shape (m,)
        Age [a] at which each spell comes under watch and ends.
    failed : array_like of bool, shape (m,)
        Whether it ended in a failure; else it was last seen alive (right censoring).
    confidence : float
        Of the band at each age.
    of : str
        What the lives are of, for messages.

    Returns
    -------
    SurvivalCurve
        No rows if nothing failed.

    Raises
    ------
    NoLives, BadLives
        If there is no spell, or one that ends before it begins.

    References
    ----------
    Kaplan & Meier 1958; at risk under late entry: entry < age <= exit (Klein & Moeschberger, Survival Analysis, 4.6).
    A unit that is last seen at the age at which another fails counts as at risk.

    Examples
    --------
    >>> curve = survival_curve([0, 0, 0, 0], [1, 2, 2, 3], [True, True, False, False])
    >>> curve.age_years, curve.at_risk, curve.survival
    (array([1., 2.]), array([4, 3], dtype=int32), array([0.75, 0.5 ]))

    """
    begin, end, event = checked_lives(entry, exit_, failed, of)
    age, failures = np.unique(end[event], return_counts=True)
    at_risk = _at_risk(begin, end, age)
    survival = np.asarray(np.cumprod(1.0 - failures / at_risk), dtype=np.float64)
    spread = _greenwood(at_risk, failures.astype(np.float64))
    low, high = _band(survival, spread, confidence)
    emptied = age[(at_risk == failures) & (age < end.max())]
    return SurvivalCurve(
        age_years=age,
        at_risk=at_risk.astype(np.int32),
        failures=failures.astype(np.int32),
        survival=survival,
        se=np.asarray(survival * np.sqrt(np.where(survival > 0, spread, 0.0)), dtype=np.float64),
        low=low,
        high=high,
        from_years=float(begin.min()),
        emptied_at_years=float(emptied[0]) if emptied.size else None,
    )


def well_watched_from(entry: Floats, exit_: Floats, share: float = 0.1) -> float:
    """Return the least age [a] from which a share of the greatest number ever under watch at one age is under watch.

    Below it the curve rests on few units, and one that starts there may be off by what those few did or did not do.

    Examples
    --------
    >>> well_watched_from(np.array([0.0, 5.0, 6.0, 7.0]), np.array([9.0, 9.0, 9.0, 9.0]), 0.5)
    5.0

    """
    begins = np.unique(entry)
    under_watch = np.searchsorted(np.sort(entry), begins, side="right")
    under_watch = under_watch - np.searchsorted(np.sort(exit_), begins, side="right")
    return float(begins[int(np.argmax(under_watch >= share * under_watch.max()))])


def _at_risk(begin: Floats, end: Floats, age: Floats) -> Floats:
    came = np.searchsorted(np.sort(begin), age, side="left")
    went = np.searchsorted(np.sort(end), age, side="left")
    return (came - went).astype(np.float64)


def _greenwood(at_risk: Floats, failures: Floats) -> Floats:
    left = at_risk - failures
    terms = np.divide(failures, at_risk * left, out=np.full(at_risk.size, np.inf), where=left > 0)
    return np.cumsum(terms)


def _band(survival: Floats, spread: Floats, confidence: float) -> tuple[Floats, Floats]:
    """Return the band symmetric in log(-log S); it stays within 0 and 1. NaN where the curve is at 0."""
    inside = (survival > 0) & (survival < 1)
    log_survival = np.log(survival, out=np.full(survival.size, np.nan), where=inside)
    width = norm.ppf((1 + confidence) / 2) * np.sqrt(np.where(inside, spread, np.nan)) / np.abs(log_survival)
    return np.exp(log_survival * np.exp(width)), np.exp(log_survival * np.exp(-width))
