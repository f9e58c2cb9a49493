"""Raise a bound by better prices, without a linear program: what is taken too often gets dearer.

References
----------
Barahona, F. and Anbil, R. (2000): The volume algorithm: producing primal solutions with a subgradient method.
Mathematical Programming 87, 385-399 (average of what was taken, and steps along it).

"""

from collections.abc import Iterator
from typing import Any

import numpy as np

from planner.core.schedule.layout import Floats, Layout, Priced, Prices

AIM = 0.1  # of a step on the whole; see `Stride`
LONGER, LONGEST, SHORTER, LEAST_STEP = 1.1, 2.0, 0.66, 1e-4
PATIENCE = 6  # rounds without progress before steps get shorter
PROGRESS = 1e-5
NOTHING_OVER = 1e-9
MIX = 0.03  # weight of the newest loads in the average


class Stride:
    """Prices that go along what is taken too often: far while that raises the value, less far when it does not.

    `aim` is how far above the best value a step aims at first, as a share of it; `progress` the share of it from which
    on a rise counts; `scale` the largest amount of each row, so that a step is as long for money as for minutes.
    """

    def __init__(self, prices: Floats, scale: Floats, *, aim: float, progress: float) -> None:
        self._scale, self._aim, self._progress = scale, aim, progress
        self._length, self._idle = 1.0, 0
        self.best, self.value = prices, -np.inf

    @property
    def open(self) -> bool:
        """Tell whether another step is worth it."""
        return self._length > LEAST_STEP

    def judge(self, value: float, prices: Floats) -> None:
        """Take in what prices are worth."""
        rise = value - self.value
        self._idle = 0 if rise > self._progress * abs(self.value) else self._idle + 1
        if rise > 0:
            self._length = min(self._length * LONGER, LONGEST)
            self.value, self.best = value, prices
        if self._idle >= PATIENCE:
            self._length, self._idle = self._length * SHORTER, 0

    def onward(self, over: Floats) -> Floats | None:
        """Return prices a step along how much each row is exceeded; None where none is."""
        over = over / self._scale
        over = np.where((self.best <= 0) & (over < 0), 0.0, over)
        norm = float(over @ over)
        if norm < NOTHING_OVER:
            return None
        step = self._length * self._aim * max(abs(self.value), 1.0) / norm
        return np.asarray(np.maximum(self.best + step * over / self._scale, 0))


class Ascent:
    """Prices that get better from round to round; `average` is how much each item was taken."""

    def __init__(self, layout: Layout, prices: Prices) -> None:
        self._layout, self._tasks = layout, len(layout.skip)
        scale = np.concatenate([np.ones(self._tasks), largest(layout.amounts)])
        self._limits = np.concatenate([np.ones(self._tasks), layout.limits])
        self._stride = Stride(np.concatenate([prices.tasks, prices.rows]), scale, aim=AIM, progress=PROGRESS)
        self.last = layout.price(prices)
        self._stride.value = self.last.value
        self.average = self.last.used

    @property
    def value(self) -> float:
        """The best bound so far."""
        return self._stride.value

    @property
    def prices(self) -> Prices:
        """The prices that prove it."""
        return self._split(self._stride.best)

    def rounds(self) -> Iterator[Priced]:
        """Yield what each round found, until no step is worth it."""
        while self._stride.open:
            prices = self._stride.onward(self._over())
            if prices is None:
                return
            self.last = self._layout.price(self._split(prices))
            self._stride.judge(self.last.value, prices)
            self.average = (1 - MIX) * self.average + MIX * self.last.used
            yield self.last

    def _over(self) -> Floats:
        """Return how much too often each task is done, and how far each row is exceeded, on the average."""
        layout = self._layout
        tasks = np.bincount(layout.task_of, weights=self.average, minlength=self._tasks)
        return np.asarray(np.concatenate([tasks, self.average @ layout.amounts]) - self._limits)

    def _split(self, prices: Floats) -> Prices:
        return Prices(tasks=prices[: self._tasks], rows=prices[self._tasks :])


def largest(amounts: Any) -> Floats:
    """Return the largest amount of each row, at least one: a step is as long for money as for minutes."""
    if 0 in amounts.shape:
        return np.ones(amounts.shape[1])
    largest: Floats = np.asarray(abs(amounts).max(axis=0).todense()).ravel()
    return np.maximum(largest, 1.0)
