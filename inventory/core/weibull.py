"""Weibull lives: fitted by maximum likelihood under right censoring and late entry, with intervals.

A unit that came under watch at age a says only how it went on from there, so each spell adds the hazard between its begin
and its end: log L = sum over failures of log h(exit) - sum over spells of (H(exit) - H(entry)), with H(t) = (t/scale)^shape.
For a given shape the best scale is a closed form, so the search is along one line; a few Newton steps in log shape and
log scale end it, and their curvature (observed information) gives the intervals. With spells that go on after a repair the
same likelihood is that of the power-law process (as bad as old).
"""

from dataclasses import dataclass
from math import exp, gamma, log, sqrt

import numpy as np
from numpy.typing import ArrayLike
from scipy.optimize import minimize_scalar
from scipy.stats import norm

from inventory.core.snapshot import Floats
from inventory.core.survival import BadLives, checked_lives

SHAPES = np.geomspace(0.05, 40.0, 40)  # the shapes that are searched; a best one at either end is no shape at all
POLISH = 4  # Newton steps
Interval = tuple[float, float]


class NoFailures(BadLives):
    """Nothing failed, so the data set no upper limit to life."""


class NoShape(BadLives):
    """The data do not settle a shape: it runs to nought or infinity."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Weibull:
    """A life distribution: shape, and the age [a] that a share 1/e outlives."""

    shape: float
    scale_years: float

    def cumulative_hazard(self, age_years: ArrayLike) -> Floats:
        """Return H(age)."""
        return np.asarray((np.asarray(age_years, dtype=np.float64) / self.scale_years) ** self.shape)

    def survival(self, age_years: ArrayLike) -> Floats:
        """Return the share that outlives an age."""
        return np.asarray(np.exp(-self.cumulative_hazard(age_years)))

    def expected_failures(self, age_years: ArrayLike, years: ArrayLike) -> Floats:
        """Return the mean number of failures within so many years [a] from an age on, a repair leaving the unit as it was."""
        age = np.asarray(age_years, dtype=np.float64)
        later = age + np.asarray(years, dtype=np.float64)
        return self.cumulative_hazard(later) - self.cumulative_hazard(age)

    def chance_within(self, age_years: ArrayLike, years: ArrayLike) -> Floats:
        """Return the chance to fail within so many years [a] of a unit that has reached an age.

        Examples
        --------
        >>> Weibull(shape=1.0, scale_years=10.0).chance_within([0.0, 20.0], 1.0).round(4)
        array([0.0952, 0.0952])

        """
        return np.asarray(-np.expm1(-self.expected_failures(age_years, years)))

    def mean_years(self) -> float:
        """Return the mean life [a]."""
        return self.scale_years * gamma(1 + 1 / self.shape)

    def sd_years(self) -> float:
        """Return the standard deviation of life [a]."""
        return self.scale_years * sqrt(gamma(1 + 2 / self.shape) - gamma(1 + 1 / self.shape) ** 2)


@dataclass(frozen=True, slots=True, kw_only=True)
class WeibullFit:
    """A fitted distribution, how sure it is, and on what it stands.

    var_log_shape, var_log_scale, cov_log : variances and covariance of log shape and log scale. log_likelihood : of ages in
    years. spells, failures : what the fit stands on.
    """

    curve: Weibull
    var_log_shape: float
    var_log_scale: float
    cov_log: float
    log_likelihood: float
    spells: int
    failures: int

    def shape_interval(self, confidence: float = 0.95) -> Interval:
        """Return the interval of the shape, symmetric on a log scale."""
        return _interval(self.curve.shape, self.var_log_shape, confidence)

    def scale_interval_years(self, confidence: float = 0.95) -> Interval:
        """Return the interval of the scale [a], symmetric on a log scale."""
        return _interval(self.curve.scale_years, self.var_log_scale, confidence)

    def survival_band(self, age_years: ArrayLike, confidence: float = 0.95) -> tuple[Floats, Floats]:
        """Return the lower and upper share that outlives each age, symmetric in log(-log S)."""
        age = np.asarray(age_years, dtype=np.float64)
        apart = np.log(age / self.curve.scale_years, out=np.full(age.shape, -np.inf), where=age > 0)
        steep = self.curve.shape * np.where(np.isfinite(apart), apart, 0.0)
        pull = -self.curve.shape
        spread = steep**2 * self.var_log_shape + 2 * steep * pull * self.cov_log + pull**2 * self.var_log_scale
        width = norm.ppf((1 + confidence) / 2) * np.sqrt(np.maximum(spread, 0.0))
        hazard = self.curve.cumulative_hazard(age)
        return np.exp(-hazard * np.exp(width)), np.exp(-hazard * np.exp(-width))


def _interval(value: float, variance: float, confidence: float) -> Interval:
    width = float(norm.ppf((1 + confidence) / 2)) * sqrt(variance)
    return value * exp(-width), value * exp(width)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Data:
    """Spells with ages as shares of the greatest, in logs; begins at nought left out, since they add nothing."""

    log_begin: Floats
    log_end: Floats
    log_failed: Floats
    unit_years: float

    @property
    def failures(self) -> int:
        return int(self.log_failed.size)


def fit_weibull(entry: ArrayLike, exit_: ArrayLike, failed: ArrayLike, *, of: str = "lives") -> WeibullFit:
    """Fit a Weibull distribution by maximum likelihood.

    Parameters
    ----------
    entry, exit_ : array_like, shape (m,)
        Age [a] at which each spell comes under watch (late entry, left truncation) and ends.
    failed : array_like of bool, shape (m,)
        Whether it ended in a failure; else it was last seen alive (right censoring).
    of : str
        What the lives are of, for messages.

    Returns
    -------
    WeibullFit

    Raises
    ------
    NoFailures
        If nothing failed.
    NoShape
        If the likelihood has no best shape between 0.05 and 40, as with one unit, or all failures at one age.
    BadLives
        If a spell ends before it begins, or there is none.

    References
    ----------
    NIST/SEMATECH e-Handbook of Statistical Methods, 8.4.1.3; Lawless, Statistical Models and Methods for Lifetime Data, 2.4.

    Examples
    --------
    >>> hours = [54, 187, 216, 240, 244, 335, 361, 373, 375, 386] + [500] * 10
    >>> fit = fit_weibull([0] * 20, hours, [True] * 10 + [False] * 10)
    >>> round(fit.curve.shape, 4), round(fit.curve.scale_years, 2)
    (1.7208, 606.53)

    """
    data = _data(*checked_lives(entry, exit_, failed, of))
    if not data.failures:
        raise NoFailures(
            f"{of}: none of {data.log_end.size} has failed, so no length of life can be told from them alone"
        )
    shape = _best_shape(data, of)
    log_shape, log_scale = log(shape), log(_total(data, shape) / data.failures) / shape
    for _ in range(POLISH):
        log_shape, log_scale = _newton(data, log_shape, log_scale)
    return _fit(data, log_shape, log_scale, of)


def _data(begin: Floats, end: Floats, failed: np.ndarray[tuple[int, ...], np.dtype[np.bool_]]) -> _Data:
    unit = float(end.max())
    return _Data(
        log_begin=np.log(begin[begin > 0]) - log(unit),
        log_end=np.log(end) - log(unit),
        log_failed=np.log(end[failed]) - log(unit),
        unit_years=unit,
    )


def _total(data: _Data, shape: float) -> float:
    """Return the sum of end^shape - begin^shape."""
    return float(np.exp(shape * data.log_end).sum() - np.exp(shape * data.log_begin).sum())


def _profile(data: _Data, shape: float) -> float:
    """Return the log-likelihood of a shape with its best scale, but for a constant."""
    total, count = _total(data, shape), data.failures
    if total <= 0:
        return -np.inf
    return count * log(shape) + (shape - 1) * float(data.log_failed.sum()) - count * log(total)


def _best_shape(data: _Data, of: str) -> float:
    found = np.array([_profile(data, shape) for shape in SHAPES])
    best = int(np.argmax(found))
    if best in {0, SHAPES.size - 1}:
        raise NoShape(
            f"{of}: {data.failures} failure(s) among {data.log_end.size} do not settle how the risk changes with age"
        )
    span = (log(SHAPES[best - 1]), log(SHAPES[best + 1]))
    result = minimize_scalar(
        lambda at: -_profile(data, exp(at)), bounds=span, method="bounded", options={"xatol": 1e-8}
    )
    return exp(float(result.x))


def _curvature(data: _Data, log_shape: float, log_scale: float) -> tuple[Floats, Floats]:
    """Return slope and curvature of the log-likelihood in log shape and log scale."""
    shape, count = exp(log_shape), data.failures
    z_end, z_begin = shape * (data.log_end - log_scale), shape * (data.log_begin - log_scale)
    end, begin = np.exp(z_end), np.exp(z_begin)
    hazard = end.sum() - begin.sum()
    first = (end * z_end).sum() - (begin * z_begin).sum()
    second = (end * z_end**2).sum() - (begin * z_begin**2).sum()
    z_failed = float((shape * (data.log_failed - log_scale)).sum())
    slope = np.array([count + z_failed - first, shape * (hazard - count)])
    cross = shape * (hazard + first - count)
    return slope, np.array([[z_failed - first - second, cross], [cross, -(shape**2) * hazard]])


def _newton(data: _Data, log_shape: float, log_scale: float) -> tuple[float, float]:
    slope, curve = _curvature(data, log_shape, log_scale)
    if not np.linalg.det(curve) > 0:
        return log_shape, log_scale
    step = np.linalg.solve(curve, slope)
    return log_shape - float(step[0]), log_scale - float(step[1])


def _fit(data: _Data, log_shape: float, log_scale: float, of: str) -> WeibullFit:
    _, curve = _curvature(data, log_shape, log_scale)
    if not (np.linalg.det(curve) > 0 and curve[1, 1] < 0):
        raise NoShape(f"{of}: the failures on record do not settle how the risk changes with age")
    spread = np.linalg.inv(-curve)
    shape, count = exp(log_shape), data.failures
    hazard = _total(data, shape) * exp(-shape * log_scale)
    dense = count * (log_shape - log_scale - log(data.unit_years))
    return WeibullFit(
        curve=Weibull(shape=shape, scale_years=exp(log_scale) * data.unit_years),
        var_log_shape=float(spread[0, 0]),
        var_log_scale=float(spread[1, 1]),
        cov_log=float(spread[0, 1]),
        log_likelihood=dense + (shape - 1) * float((data.log_failed - log_scale).sum()) - hazard,
        spells=int(data.log_end.size),
        failures=count,
    )
