"""What each phase of a plan does and costs."""

from decimal import Decimal

from planner.core.demands import Demands
from planner.core.plans import Phase, PhaseSummary, Placed


def summaries(placed: tuple[Placed, ...], demands: Demands) -> tuple[PhaseSummary, ...]:
    """Return what each phase does and costs, by start and key."""
    return tuple(_summary(phase, placed, demands) for phase in sorted(demands.phases, key=lambda p: (p.start, p.key)))


def _summary(phase: Phase, placed: tuple[Placed, ...], demands: Demands) -> PhaseSummary:
    mine = {each.order: each for each in placed if each.phase == phase.key}
    orders = [order for order in demands.orders if order.key in mine]
    nights = [each.night for each in mine.values()]
    return PhaseSummary(
        phase=phase.key,
        start=phase.start,
        end=phase.end,
        orders=len(mine),
        stations=sum(len(order.stations) for order in orders),
        cost=sum((order.cost for order in orders), Decimal(0)),
        budget=phase.budget,
        currency=demands.brief.currency,
        first_night=min(nights, default=None),
        last_night=max(nights, default=None),
        materials_order_by=phase.materials_ordered_on,
    )
