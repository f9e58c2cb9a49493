"""What of a plan was settled before it was made: how much of its objective nobody could choose any more.

A plan that goes on from another holds what is begun, and what is booked and may not move; and no plan dates what cannot be
dated even with nobody beside it. Held against the plain list with all of that in both, the two always look alike; what
was free to be planned is what they are held against.
"""

from dataclasses import dataclass, replace

from planner.core.demands import Demands
from planner.core.plans import Plan
from planner.core.reasons import ReasonCode
from planner.core.schedule.objective import objective_of, prices

HOPELESS = frozenset(  # reasons that hold with nobody else in the plan
    {
        ReasonCode.STOPPED,
        ReasonCode.FACTS,
        ReasonCode.PEOPLE,
        ReasonCode.WINDOW,
        ReasonCode.CALENDAR,
        ReasonCode.PARTS,
        ReasonCode.PRICE,
    }
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Worth:
    """What was free to be planned, by the plan and by the plain list: `list_worse` and `gap` as shares; None: nothing to tell."""

    free: int
    gap: float | None
    list_worse: float | None


def with_settled(plan: Plan, demands: Demands) -> Plan:
    """Return a plan with how many of its orders were settled beforehand, and what they alone come to."""
    settled = {each.order: each for each in (*demands.pinned, *demands.fixed)}
    hopeless = {each.order for each in plan.unplanned if each.code in HOPELESS}
    orders = tuple(order for order in demands.orders if order.key in settled or order.key in hopeless)
    if not orders:
        return plan
    alone = objective_of(tuple(settled.values()), orders, prices(demands))
    return replace(plan, settled=len(orders), settled_objective=alone)


def worth_of(*, orders: int, settled: int, settled_objective: int, figures: tuple[int, int, int]) -> Worth:
    """Return how good the free part of a plan is.

    Parameters
    ----------
    orders, settled : int
        How many orders there are, and how many of them were settled.
    settled_objective : int
        What the settled ones come to.
    figures : tuple of int
        Objective of the plan, its bound, objective of the plain list.

    Examples
    --------
    >>> worth_of(orders=10, settled=8, settled_objective=900, figures=(1000, 990, 1050))
    Worth(free=2, gap=0.1, list_worse=0.5)
    >>> worth_of(orders=8, settled=8, settled_objective=900, figures=(900, 900, 900))
    Worth(free=0, gap=None, list_worse=None)

    """
    free, (objective, bound, listed) = orders - settled, figures
    own = objective - settled_objective
    if free <= 0 or own <= 0:
        return Worth(free=max(free, 0), gap=None, list_worse=None)
    return Worth(free=free, gap=(objective - bound) / own, list_worse=(listed - objective) / own)
