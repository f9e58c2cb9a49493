"""What a plan costs, as one whole number: see the package docstring for its meaning."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Protocol

from planner.core.demands import Demands
from planner.core.plans import Order, Placed

POINTS = 100  # points of benefit of an average order
Span = tuple[datetime, datetime]


class Pricing(Protocol):
    """What doing an order, leaving it out, and going out at all cost."""

    @property
    def outing(self) -> int:
        """The cost of a night out, and of each journey in it."""

    def left_out(self, order: str) -> int:
        """Return the cost of leaving an order out."""

    def placed(self, order: str, crew: str, night: date, span: Span) -> int:
        """Return the cost of doing an order by a crew in a night, somewhere in a span of time."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Prices:
    """What things cost in the objective. `points` is the benefit of each order, 100 for an average one.

    `last` is where orders were that nobody was told of, by crew and night; `booked` where those are that are agreed,
    to the minute.
    """

    points: Mapping[str, int]
    origin: date
    horizon_days: int
    benefit: int
    sooner: int
    outing: int
    move: int
    last: Mapping[str, tuple[str, date]]
    booked: Mapping[str, tuple[str, Span]]
    booked_move: int

    def left_out(self, order: str) -> int:
        """Return the cost of leaving an order out: its benefit for the whole horizon, and having waited that long."""
        moved = self.booked_move if order in self.booked else self.move if order in self.last else 0
        return self.points[order] * self.horizon_days * (self.benefit + self.sooner) + moved

    def placed(self, order: str, crew: str, night: date, span: Span) -> int:
        """Return the cost of doing an order by a crew in a night: the days waited, and the move if it is one."""
        waited = min(max((night - self.origin).days, 0), self.horizon_days)
        return self.points[order] * waited * self.sooner + self._moved(order, crew, night, span)

    def _moved(self, order: str, crew: str, night: date, span: Span) -> int:
        if order in self.booked:
            return self.booked_move if self.booked[order] != (crew, span) else 0
        return self.move if self.last.get(order, (crew, night)) != (crew, night) else 0


def prices(demands: Demands) -> Prices:
    """Return what things cost under a brief. Days count from the start of the first phase, or today if that is later."""
    brief = demands.brief
    origin = max(demands.now.date(), min(phase.start for phase in demands.phases))
    return Prices(
        points=_points(demands.orders),
        origin=origin,
        horizon_days=max((max(phase.end for phase in demands.phases) - origin).days + 1, 1),
        benefit=brief.weight_benefit,
        sooner=brief.weight_sooner,
        outing=brief.weight_nights * POINTS,
        move=brief.weight_moves * POINTS,
        last={placed.order: (placed.crew, placed.night) for placed in demands.last},
        booked={placed.order: (placed.crew, (placed.start, placed.end)) for placed in demands.booked},
        booked_move=brief.weight_booked * POINTS,
    )


def objective_of(placed: Iterable[Placed], orders: Iterable[Order], price: Prices) -> int:
    """Return the objective of any set of placed orders (those of `orders`; others have no benefit to count)."""
    done = {each.order: each for each in placed}
    total = 0
    nights, visits = set(), set()
    for order in orders:
        each = done.get(order.key)
        if each is None:
            total += price.left_out(order.key)
            continue
        total += price.placed(order.key, each.crew, each.night, (each.start, each.end))
        nights.add((each.crew, each.night))
        visits.add((each.crew, each.night, order.building))
    return total + price.outing * (len(nights) + len(visits))


def _points(orders: Iterable[Order]) -> dict[str, int]:
    benefit = {order.key: max(order.benefit, 0.0) for order in orders}
    mean = sum(benefit.values()) / len(benefit) if benefit else 0.0
    if mean == 0:
        return dict.fromkeys(benefit, POINTS)
    return {key: max(round(POINTS * value / mean), 1) for key, value in benefit.items()}
