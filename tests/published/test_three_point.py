"""Three-point times against project-planning texts and against scipy.

Source: the foundry example of quantitative-analysis texts (Render and Stair): eight activities with three times each,
its mean and variance columns, the length of 15 weeks, the variance of 3.11 and the odds of 71.6 % to be done
in 16 weeks. All of these are from memory; the formulas are those of Malcolm et al. (1959).
"""

import math

import numpy as np
import pytest
from scipy import stats

from planner.core.spread import Spread, draw, shapes

# shortest, likely, longest [weeks]; mean and variance as printed, from memory
FOUNDRY = [
    ("A", 1, 2, 3, 2, 4 / 36),
    ("B", 2, 3, 4, 3, 4 / 36),
    ("C", 1, 2, 3, 2, 4 / 36),
    ("D", 2, 4, 6, 4, 16 / 36),
    ("E", 1, 4, 7, 4, 36 / 36),
    ("F", 1, 2, 9, 3, 64 / 36),
    ("G", 3, 4, 11, 5, 64 / 36),
    ("H", 1, 2, 3, 2, 4 / 36),
]
CRITICAL = "ACEGH"
COURSES = 200_000


def _spread(shortest: float, likely: float, longest: float) -> Spread:
    return Spread(shortest_min=shortest, likely_min=likely, longest_min=longest)


@pytest.mark.parametrize("row", FOUNDRY, ids=[row[0] for row in FOUNDRY])
def test_mean_and_variance_of_each_activity_are_as_printed(row: tuple[str, float, float, float, float, float]) -> None:
    _, shortest, likely, longest, mean, variance = row
    spread = _spread(shortest, likely, longest)
    assert (spread.mean_min, spread.deviation_min**2) == (pytest.approx(mean), pytest.approx(variance))
    drawn = draw((spread,), COURSES, np.random.default_rng(7))[:, 0]
    assert drawn.mean() == pytest.approx(mean, abs=5 * math.sqrt(variance / COURSES))
    assert drawn.var() == pytest.approx(variance, rel=0.03)
    assert shortest <= drawn.min() <= drawn.max() <= longest


def test_the_shapes_give_by_scipy_the_moments_of_the_formulas() -> None:
    rng = np.random.default_rng(3)
    low, likely, high = np.sort(rng.uniform(0, 100, size=(3, 50)), axis=0)
    alpha, beta = shapes(low, likely, high)
    mean, variance = stats.beta.stats(alpha, beta, loc=low, scale=high - low, moments="mv")
    np.testing.assert_allclose(mean, (low + 4 * likely + high) / 6)
    np.testing.assert_allclose(np.sqrt(variance), (high - low) / 6)


def test_drawn_times_follow_the_beta_distribution_of_scipy() -> None:
    spread = _spread(2, 3, 10)
    (alpha,), (beta,) = shapes(np.array([2.0]), np.array([3.0]), np.array([10.0]))
    drawn = draw((spread,), 20_000, np.random.default_rng(5))[:, 0]
    assert stats.kstest(drawn, stats.beta(alpha, beta, loc=2, scale=8).cdf).pvalue > 0.01


def test_the_critical_path_of_the_foundry_is_done_in_16_weeks_with_odds_of_72_per_cent() -> None:
    rows = [row for row in FOUNDRY if row[0] in CRITICAL]
    drawn = draw(tuple(_spread(*row[1:4]) for row in rows), COURSES, np.random.default_rng(11)).sum(axis=1)
    assert drawn.mean() == pytest.approx(15, abs=0.02)
    assert drawn.std() == pytest.approx(math.sqrt(3.111), abs=0.02)
    assert (drawn <= 16).mean() == pytest.approx(0.716, abs=0.02)  # the text takes the sum to be normal


def test_a_sum_of_many_times_tends_to_the_normal_distribution() -> None:
    # Central limit theorem: 40 skewed times; mean and deviation by the formulas, quantiles by scipy.
    spread = _spread(8, 10, 24)
    drawn = draw((spread,) * 40, 40_000, np.random.default_rng(13)).sum(axis=1)
    normal = stats.norm(40 * spread.mean_min, math.sqrt(40) * spread.deviation_min)
    for share in (0.1, 0.5, 0.8, 0.95):
        assert np.quantile(drawn, share) == pytest.approx(normal.ppf(share), rel=0.005)


def test_a_time_without_range_is_what_it_is() -> None:
    assert set(draw((_spread(5, 5, 5),), 100, np.random.default_rng(1))[:, 0].tolist()) == {5.0}
