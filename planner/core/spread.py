"""How long a step may take: shortest, most likely and longest minutes, and the distribution they stand for.

The distribution is the beta of project planning: mean (shortest + 4 likely + longest) / 6, standard deviation a sixth of
the range, within shortest and longest (D. G. Malcolm, J. H. Roseboom, C. E. Clark and W. Fazar, "Application of a
technique for research and development program evaluation", Operations Research 7, 1959). Its two shape parameters
follow from these two moments.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from inventory.core.catalogue import MethodStep
from planner.core.brief import Brief

Floats = NDArray[np.float64]
LIKELY_WEIGHT, WEIGHTS, RANGE_IN_DEVIATIONS = 4, 6, 6


@dataclass(frozen=True, slots=True, kw_only=True)
class Spread:
    """Shortest, most likely and longest minutes of one piece of work."""

    shortest_min: float
    likely_min: float
    longest_min: float

    @property
    def mean_min(self) -> float:
        """Mean of the distribution."""
        return (self.shortest_min + LIKELY_WEIGHT * self.likely_min + self.longest_min) / WEIGHTS

    @property
    def deviation_min(self) -> float:
        """Standard deviation of the distribution."""
        return (self.longest_min - self.shortest_min) / RANGE_IN_DEVIATIONS

    def __mul__(self, times: float) -> "Spread":
        return Spread(
            shortest_min=self.shortest_min * times,
            likely_min=self.likely_min * times,
            longest_min=self.longest_min * times,
        )


def step_spread(step: MethodStep, brief: Brief) -> Spread:
    """Return how long a step may take at one station; what it does not give itself is a share of its minutes.

    Examples
    --------
    >>> step_spread(MethodStep(step=1, text="land", minutes=10, longest_min=30), Brief())
    Spread(shortest_min=8.0, likely_min=10, longest_min=30)

    """
    likely = step.minutes or 0.0
    shortest = likely * brief.shortest_pct / 100 if step.shortest_min is None else step.shortest_min
    longest = likely * brief.longest_pct / 100 if step.longest_min is None else step.longest_min
    return Spread(shortest_min=min(shortest, likely), likely_min=likely, longest_min=max(longest, likely))


def shapes(shortest: Floats, likely: Floats, longest: Floats) -> tuple[Floats, Floats]:
    """Return the two shape parameters of the beta distribution of each spread; 1 and 1 where it has no range."""
    width = longest - shortest
    wide = width > 0
    safe = np.where(wide, width, 1.0)
    mean = ((shortest + LIKELY_WEIGHT * likely + longest) / WEIGHTS - shortest) / safe
    mean = np.where(wide, mean, 0.5)
    total = mean * (1 - mean) * RANGE_IN_DEVIATIONS**2 - 1
    return np.where(wide, mean * total, 1.0), np.where(wide, (1 - mean) * total, 1.0)


def draw(spreads: tuple[Spread, ...], courses: int, rng: np.random.Generator) -> Floats:
    """Return drawn minutes, shape (courses, spreads); each spread is drawn independently of the others."""
    table = np.array([(s.shortest_min, s.likely_min, s.longest_min) for s in spreads]).reshape(-1, 3)
    shortest, likely, longest = table.T
    alpha, beta = shapes(shortest, likely, longest)
    drawn: Floats = shortest + (longest - shortest) * rng.beta(alpha, beta, size=(courses, len(spreads)))
    return drawn
