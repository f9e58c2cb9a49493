"""Whether the spares of an old model last until the plan has replaced it.

A failure takes one unit from the shelf; an order that takes stations off the wall puts them on the shelf at the end of its
month, less those scrapped; a station whose spare is missing stays dark until one is freed. Spares are taken to be as old as
what they replace, so a swap leaves the risk as it was, and failures of a month come by Poisson with the mean that the ages
of what is still on the wall then give. Two ways to the same odds: closed form (Poisson), and simulated courses, which also
know that units are scrapped by chance, that the rate itself is uncertain, and what happened in the months before.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.stats import poisson

from inventory.core.snapshot import Floats, Ints
from inventory.core.weibull import Weibull

MONTHS_PER_YEAR = 12
BEARABLE_ODDS = 0.05
COURSES = 2000
NEVER = -1  # month in which a unit leaves the wall
RATE, FAILURES, SCRAP = 0, 1, 2  # what chance decides
Counts = NDArray[np.int64]


class BadPool(ValueError):  # noqa: N818 - says what is the matter
    """A spare pool that cannot be; the message names its model."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Pool:
    """The spares of one old model along a plan.

    on_hand, floor : units on the shelf, and the least that should be there. age_years : float64[n], age [a] of each unit on
    the wall when the plan begins. leaves_month : int32[n], month of the plan (0 the first) at whose end the unit is freed,
    -1 never. scrapped_share : share of freed units that are no use as spares. behind_rate : failures that the curve's rate
    stands on; None: taken as certain. bought, taken : units that come, and that orders take for use elsewhere, as (month,
    units): they are there, or gone, at the begin of the month.
    """

    model: str
    on_hand: int
    curve: Weibull
    age_years: Floats
    leaves_month: Ints
    floor: int = 0
    scrapped_share: float = 0.0
    behind_rate: float | None = None
    bought: tuple[tuple[int, int], ...] = ()
    taken: tuple[tuple[int, int], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class PoolCourse:
    """What becomes of a pool, by month of the plan (arrays of that length).

    expected_failures : mean failures in the month. installed : units on the wall at its begin. freed : usable units freed at
    its end, mean. level : mean units on the shelf at its end, below 0: stations that wait. level_low, level_high : between
    which nine courses in ten lie. short_odds : chance that more failed by the end of the month than there were spares for,
    simulated; short_odds_poisson : the same in closed form. run_out_odds : chance that this was so in this month or an
    earlier one. below_floor_odds : chance to be below the floor at the end of the month. first_month : the first whose
    run-out odds are above what is bearable; None: no such month. buy_least : units that must be bought before the plan begins
    for the odds to stay bearable. free_by_month, free_least : how many of the units that are freed later must be freed
    before that month instead; free_least None: that alone does not help.
    """

    model: str
    expected_failures: Floats
    installed: Counts
    freed: Floats
    level: Floats
    level_low: Floats
    level_high: Floats
    short_odds: Floats
    short_odds_poisson: Floats
    run_out_odds: Floats
    below_floor_odds: Floats
    first_month: int | None
    buy_least: int
    free_by_month: int | None
    free_least: int | None


def least_stock(mean: float, confidence: float = 0.95) -> int:
    """Return the least number of spares that suffices with a confidence, failures coming by Poisson with a mean.

    Examples
    --------
    >>> least_stock(30 * 0.0001 * 2160)
    11

    """
    if not (mean >= 0 and np.isfinite(mean)):
        raise BadPool(f"mean failures of {mean}: give a number from 0 on")
    if not 0 < confidence < 1:
        raise BadPool(f"confidence of {confidence}: give a share between 0 and 1")
    return int(poisson.ppf(confidence, mean))


def run_pools(
    pools: Sequence[Pool], months: int, *, courses: int = COURSES, seed: int = 1, bearable: float = BEARABLE_ODDS
) -> tuple[PoolCourse, ...]:
    """Return the course of each pool through so many months; the course of one never depends on the others.

    Parameters
    ----------
    pools : sequence
        Of Pool.
    months : int
        Months of the plan, at least 1.
    courses : int
        How many courses are simulated for each pool.
    seed : int
        Of the simulation; the same seed gives the same courses.
    bearable : float
        Odds of running out that are still borne.

    Returns
    -------
    tuple of PoolCourse
        In the order of the pools.

    Raises
    ------
    BadPool
        If a pool has counts below 0, ages that are not known, or a share outside 0 to 1; or months or courses below 1.

    """
    if months < 1 or courses < 1 or not 0 < bearable < 1:
        raise BadPool(
            f"{months} months, {courses} courses, odds of {bearable}: give at least 1, 1, and a share within 0 and 1"
        )
    for pool in pools:
        check_pool(pool)
    how = _How(months, courses, seed, bearable)
    return tuple(_run(pool, how) for pool in pools)


def check_pool(pool: Pool) -> None:
    """Raise BadPool where a pool cannot be."""
    ages = np.asarray(pool.age_years)
    troubles = (
        (pool.on_hand < 0 or pool.floor < 0, "spares on hand and floor cannot be below 0"),
        (ages.shape != pool.leaves_month.shape, "each unit needs its age and the month in which it leaves"),
        (not bool(np.isfinite(ages).all()), "the age of a unit is not known: estimate it first, or leave the unit out"),
        (bool((ages < 0).any()), "an age is below 0"),
        (bool((pool.leaves_month < NEVER).any()), "a unit leaves before the plan begins"),
        (not 0 <= pool.scrapped_share <= 1, "the share scrapped must lie between 0 and 1"),
        (pool.behind_rate is not None and not pool.behind_rate > 0, "the rate must stand on more than 0 failures"),
        (
            any(month < 0 or count < 0 for month, count in pool.bought),
            "units bought need a month and a count from 0 on",
        ),
    )
    for wrong, why in troubles:
        if wrong:
            raise BadPool(f"spares of {pool.model}: {why}")


def monthly_failures(curve: Weibull, age_years: ArrayLike, leaves_month: Ints, months: int) -> Floats:
    """Return the mean failures in each month of units that stay on the wall to the end of the month in which they leave.

    Examples
    --------
    >>> monthly_failures(Weibull(shape=1.0, scale_years=10.0), [3.0, 8.0], np.array([-1, 0]), 3).round(5)
    array([0.01667, 0.00833, 0.00833])

    """
    age, moments = np.asarray(age_years, dtype=np.float64), np.arange(months + 1) / MONTHS_PER_YEAR
    stays = np.where(leaves_month == NEVER, months, np.minimum(leaves_month + 1, months))
    found = np.zeros(months)
    order = np.argsort(-stays, kind="stable")
    age, count = age[order], np.searchsorted(-stays[order], -np.arange(months), side="left")
    before = curve.cumulative_hazard(age)
    for month in range(months):
        there = int(count[month])
        after = curve.cumulative_hazard(age[:there] + moments[month + 1])
        found[month] = (after - before[:there]).sum()
        before = after
    return found


def _leaving(pool: Pool, months: int) -> Counts:
    leaves = pool.leaves_month[(pool.leaves_month != NEVER) & (pool.leaves_month < months)]
    return np.bincount(leaves, minlength=months).astype(np.int64)


def _bought(pool: Pool, months: int) -> Counts:
    """Return units bought less units taken, by month."""
    found = np.zeros(months, dtype=np.int64)
    for sign, pairs in ((1, pool.bought), (-1, pool.taken)):
        for month, count in pairs:
            if month < months:
                found[month] += sign * count
    return found


def _rng(seed: int, model: str, purpose: int, month: int = 0) -> np.random.Generator:
    """Return the chance of one purpose and month: two sequences of the work have the same courses until they part."""
    return np.random.default_rng([seed, purpose, month, *model.encode()])


@dataclass(frozen=True, slots=True)
class _How:
    months: int
    courses: int
    seed: int
    bearable: float


@dataclass(frozen=True, slots=True)
class _Drawn:
    """Simulated courses: cumulated failures at the end of each month, and supply there was within it."""

    failed: Counts  # courses x months
    supply: Counts
    freed_after: Counts  # usable units freed at the end of each month, cumulated

    @property
    def deficit(self) -> Counts:
        return self.failed - self.supply


def _run(pool: Pool, how: _How) -> PoolCourse:
    mean = monthly_failures(pool.curve, pool.age_years, pool.leaves_month, how.months)
    leaving = _leaving(pool, how.months)
    failed = _draw_failures(pool, mean, how)
    drawn = _with_supply(pool, failed, leaving, how)
    ever = np.maximum.accumulate(drawn.deficit, axis=1)
    run_out = (ever > 0).mean(axis=0)
    above = np.flatnonzero(run_out > how.bearable)
    first = int(above[0]) if above.size else None
    level = drawn.supply - drawn.failed + np.diff(drawn.freed_after, axis=1, prepend=0)
    return PoolCourse(
        model=pool.model,
        expected_failures=mean,
        installed=pool.age_years.size - np.concatenate(([0], np.cumsum(leaving)[:-1])),
        freed=np.asarray(leaving * (1 - pool.scrapped_share), dtype=np.float64),
        level=level.mean(axis=0),
        level_low=np.quantile(level, 0.05, axis=0),
        level_high=np.quantile(level, 0.95, axis=0),
        short_odds=(drawn.deficit > 0).mean(axis=0),
        short_odds_poisson=_short_odds_poisson(pool, mean, leaving),
        run_out_odds=run_out,
        below_floor_odds=(level < pool.floor).mean(axis=0),
        first_month=first,
        buy_least=_least_covering(ever[:, -1], how.bearable),
        free_by_month=first,
        free_least=None if first is None else _free_least(pool, failed, leaving, first, how),
    )


def _draw_failures(pool: Pool, mean: Floats, how: _How) -> Counts:
    rate = np.ones(how.courses)
    if pool.behind_rate is not None:
        rate = _rng(how.seed, pool.model, RATE).gamma(pool.behind_rate, 1 / pool.behind_rate, size=how.courses)
    failed = np.zeros((how.months, how.courses), dtype=np.int64)  # by month, since that is how they are drawn
    for month in range(how.months):
        failed[month] = _rng(how.seed, pool.model, FAILURES, month).poisson(rate * mean[month])
    return np.cumsum(failed, axis=0).T


def _with_supply(pool: Pool, failed: Counts, leaving: Counts, how: _How) -> _Drawn:
    """Return the courses with what is freed: at the end of a month, so of use from the next on."""
    freed = np.zeros(failed.shape[::-1], dtype=np.int64)
    for month in np.flatnonzero(leaving).tolist():
        rng = _rng(how.seed, pool.model, SCRAP, month)
        freed[month] = rng.binomial(leaving[month], 1 - pool.scrapped_share, size=failed.shape[0])
    usable = np.cumsum(freed, axis=0).T
    before = np.concatenate((np.zeros((failed.shape[0], 1), dtype=np.int64), usable[:, :-1]), axis=1)
    return _Drawn(failed, pool.on_hand + np.cumsum(_bought(pool, leaving.size)) + before, usable)


def _short_odds_poisson(pool: Pool, mean: Floats, leaving: Counts) -> Floats:
    """Return the closed form: rate certain, and of the units freed the whole number that the share scrapped leaves."""
    usable = np.floor(np.cumsum(leaving) * (1 - pool.scrapped_share) + 1e-9)
    supply = pool.on_hand + np.cumsum(_bought(pool, leaving.size)) + np.concatenate(([0.0], usable[:-1]))
    return np.asarray(poisson.sf(supply, np.cumsum(mean)), dtype=np.float64)


def _least_covering(deficit: Counts, bearable: float) -> int:
    """Return the least number that covers the deficit in all but a bearable share of the courses."""
    worst_first = -np.sort(-deficit)
    return max(0, int(worst_first[int(np.floor(bearable * deficit.size + 1e-9))]))


def _free_least(pool: Pool, failed: Counts, leaving: Counts, month: int, how: _How) -> int | None:
    """Return how many units that leave in or after a month must leave just before it instead; None: not even all suffice."""
    low, high = 0, int(leaving[month:].sum()) if month > 0 else 0
    if not high or not _bears(pool, failed, _moved(leaving, month, high), how):
        return None
    while high - low > 1:
        middle = (low + high) // 2
        if _bears(pool, failed, _moved(leaving, month, middle), how):
            high = middle
        else:
            low = middle
    return high


def _moved(leaving: Counts, month: int, count: int) -> Counts:
    """Return the leaving with the last `count` units moved to the month before `month`."""
    moved, left = leaving.copy(), count
    for late in range(leaving.size - 1, month - 1, -1):
        taken = min(left, int(moved[late]))
        moved[late] -= taken
        left -= taken
    moved[month - 1] += count - left
    return moved


def _bears(pool: Pool, failed: Counts, leaving: Counts, how: _How) -> bool:
    deficit = _with_supply(pool, failed, leaving, how).deficit
    return bool((deficit.max(axis=1) > 0).mean() <= how.bearable)
