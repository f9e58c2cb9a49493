"""Lot sizes over a known row of needs: what it costs to order so and so often, and which way costs least.

Every rule takes the needs by period and returns what to order in each, so that nothing is ever short. Cost is that of
the orders and of holding what is left at the end of each period.
"""

import math
from collections.abc import Sequence
from statistics import NormalDist

Lots = tuple[float, ...]


def lots_cost(needs: Sequence[float], lots: Sequence[float], order_cost: float, holding_cost: float) -> float:
    """Return the cost of some lots; ValueError where they leave a period short.

    Examples
    --------
    >>> lots_cost([10, 20], [30, 0], 100, 1), lots_cost([10, 20], [10, 20], 100, 1)
    (120.0, 200.0)

    """
    stock, cost = 0.0, 0.0
    for need, lot in zip(needs, lots, strict=True):
        stock += lot - need
        if stock < -1e-9:  # noqa: PLR2004 - rounding
            raise ValueError("the lots leave a period short")
        cost += (order_cost if lot > 0 else 0) + holding_cost * stock
    return cost


def fixed_lots(needs: Sequence[float], lot: float) -> Lots:
    """Return orders of whole multiples of one lot, each as late as can be."""
    found, stock = [], 0.0
    for need in needs:
        order = 0.0
        while stock + order < need:
            order += lot
        stock += order - need
        found.append(order)
    return tuple(found)


def silver_meal(needs: Sequence[float], order_cost: float, holding_cost: float) -> Lots:
    """Return lots by least cost a period: each covers one more period as long as that lowers the mean cost a period.

    References
    ----------
    E. A. Silver and H. C. Meal, "A heuristic for selecting lot size quantities for the case of a deterministic
    time-varying demand rate and discrete opportunities for replenishment", Production and Inventory Management 14
    (1973).

    """
    lots, at = [0.0] * len(needs), 0
    while at < len(needs):
        reach = _silver_meal_reach(needs[at:], order_cost, holding_cost)
        lots[at] = sum(needs[at : at + reach])
        at += reach
    return tuple(lots)


def _silver_meal_reach(needs: Sequence[float], order_cost: float, holding_cost: float) -> int:
    cost, mean = order_cost, order_cost
    for later in range(1, len(needs)):
        cost += holding_cost * later * needs[later]
        if cost / (later + 1) > mean:
            return later
        mean = cost / (later + 1)
    return len(needs)


def cheapest_lots(needs: Sequence[float], order_cost: float, holding_cost: float) -> Lots:
    """Return lots of least cost, by dynamic programming over the last order.

    References
    ----------
    H. M. Wagner and T. M. Whitin, "Dynamic version of the economic lot size model", Management Science 5 (1958).

    """
    best: list[tuple[float, int]] = [(0.0, 0)]
    for end in range(1, len(needs) + 1):
        options = []
        for start in range(end - 1, -1, -1):  # the last order covers start to end
            held = sum(holding_cost * (later - start) * needs[later] for later in range(start, end))
            options.append((best[start][0] + order_cost + held, start))
        best.append(min(options))
    lots, end = [0.0] * len(needs), len(needs)
    while end:
        start = best[end][1]
        lots[start] = sum(needs[start:end])
        end = start
    return tuple(lots)


def reorder_point(mean: float, deviation: float, risk: float, periods: float = 1.0) -> float:
    """Return the stock at which to order again, so that it runs out before the delivery with no more than some risk.

    Parameters
    ----------
    mean, deviation : float
        Demand of one period and its standard deviation; demands of periods are independent and normal.
    risk : float
        Risk of running out, between 0 and 1.
    periods : float
        Lead time.

    Raises
    ------
    ValueError
        If the risk is not between 0 and 1, or another figure lies below zero.

    Examples
    --------
    >>> round(reorder_point(50, 5, 0.03), 2)
    59.4

    """
    if not 0 < risk < 1 or min(mean, deviation, periods) < 0:
        raise ValueError("the risk lies between 0 and 1, and demand, deviation and lead time not below zero")
    return mean * periods + float(NormalDist().inv_cdf(1 - risk)) * deviation * math.sqrt(periods)
