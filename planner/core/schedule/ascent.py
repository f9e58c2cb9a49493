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

AIM = 0.1  # how far above the best bound a step aims at first, as a share of it
LONGER, LONGEST, SHORTER, LEAST_STEP = 1.1, 2.0, 0.66, 1e-4
PATIENCE = 6  # rounds without progress before steps get shorter
PROGRESS = 1e-5
NOTHING_OVER = 1e-9
MIX = 0.03  # weight of the newest loads in the average


class Ascent:
    """Prices that get better from round to round; `average` is how much each item was taken."""

    def __init__(self, layout: Layout, prices: Prices) -> None:
        self._layout = layout
        self._scale = _largest(layout.amounts)
        self._step, self._idle = 1.0, 0
        self.prices = prices
        self.last = layout.price(prices)
        self.value = self.last.value
        self.average = self.last.used

    def rounds(self) -> Iterator[Priced]:
        """Yield what each round found, until no step is worth it."""
        while self._step > LEAST_STEP:
            tasks, rows = self._over()
            norm = float(tasks @ tasks + rows @ rows)
            if norm < NOTHING_OVER:
                return
            step = self._step * AIM * max(abs(self.value), 1.0) / norm
            prices = Prices(
                tasks=np.maximum(self.prices.tasks + step * tasks, 0),
                rows=np.maximum(self.prices.rows + step * rows / self._scale, 0),
            )
            self.last = self._layout.price(prices)
            self._judge(prices)
            self.average = (1 - MIX) * self.average + MIX * self.last.used
            yield self.last

    def _over(self) -> tuple[Floats, Floats]:
        """Return how much too often each task is done, and how far each row is exceeded, on the average."""
        layout = self._layout
        tasks = np.bincount(layout.task_of, weights=self.average, minlength=len(layout.skip)) - 1.0
        rows = (self.average @ layout.amounts - layout.limits) / self._scale
        return (
            np.where((self.prices.tasks <= 0) & (tasks < 0), 0.0, tasks),
            np.where((self.prices.rows <= 0) & (rows < 0), 0.0, rows),
        )

    def _judge(self, prices: Prices) -> None:
        progress = self.last.value - self.value
        self._idle = 0 if progress > PROGRESS * abs(self.value) else self._idle + 1
        if progress > 0:
            self._step = min(self._step * LONGER, LONGEST)
            self.value, self.prices = self.last.value, prices
        if self._idle >= PATIENCE:
            self._step, self._idle = self._step * SHORTER, 0


def _largest(amounts: Any) -> Floats:
    """Return the largest amount of each row, at least one: a step is as long for money as for minutes."""
    if 0 in amounts.shape:
        return np.ones(amounts.shape[1])
    largest: Floats = np.asarray(abs(amounts).max(axis=0).todense()).ravel()
    return np.maximum(largest, 1.0)
