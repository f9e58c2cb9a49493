"""A bound for any network, and where its tasks tend to go: the linear relaxation of the choice of loads.

First come prices from hours alone (`program.hour_prices`), then steps that make dearer what is taken too often
(`ascent`), then, where the network is small enough, the linear program itself (`program`). Any prices prove a bound,
whether they are the best or not.

References
----------
Luebbecke, M. E. and Desrosiers, J. (2005): Selected topics in column generation. Operations Research 53, 1007-1023
(the bound from any prices, section 2; smoothed prices, section 6).

"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import reduce
from math import gcd

import numpy as np

from planner.core.schedule.ascent import Ascent
from planner.core.schedule.layout import Floats, Layout, Load, Prices
from planner.core.schedule.loads import Pair
from planner.core.schedule.program import LEAST_SHARE, Program, hour_prices
from planner.core.schedule.tasks import Network, usable

SLACK = 1e-7  # share of the objective that rounding in the solver may be worth
SMOOTH = 0.5  # weight of the best prices so far
ENOUGH = 1e-5  # share of the objective within which the linear program is solved
ASCENT_SHARE = 0.4  # of the work, where the linear program comes after it
MOST_TASKS = 500  # with more, the linear program is not solved
POOL_ROUNDS = 60  # last rounds whose loads are kept
Tell = Callable[[int], bool]  # bound so far; False means stop


@dataclass(frozen=True, slots=True, kw_only=True)
class Relaxed:
    """What the relaxation says: no choice that obeys the network costs less than `bound`.

    `shares` are the parts of each (task, option) it would choose, those of nothing left out; empty if nothing can be
    done. `loads` are the better ones of those it has looked at. `work` is in seconds of an idle machine.
    """

    bound: int
    value: float
    shares: Mapping[Pair, float]
    layout: Layout | None = None
    prices: Prices | None = None
    loads: tuple[Load, ...] = ()
    work: float = 0.0


def simple_bound(network: Network) -> int:
    """Return the sum of each task's cheapest choice on its own: always a bound, if a weak one."""
    total = 0
    for task in network.tasks:
        costs = [task.options[number].cost for number in usable(task)]
        total += min([*costs, *([] if task.skip_cost is None else [task.skip_cost])], default=0)
    return total


def relax(network: Network, seconds: float, tell: Tell | None = None) -> Relaxed:
    """Return the linear relaxation of a network.

    Parameters
    ----------
    network : Network
        Tasks with what binds them.
    seconds : float
        Limit of the work [s of an idle machine]; the bound is as good as it is by then.
    tell : callable, optional
        Called with each better bound; returns False to stop.

    Returns
    -------
    Relaxed
        Bound, shares and loads.

    Examples
    --------
    >>> from planner.core.schedule.tasks import Option, Task
    >>> span = (Option(resource="crew", start=0, end=8, cost=1),)
    >>> three = tuple(Task(key=key, duration=4, options=span, skip_cost=9) for key in "abc")
    >>> relax(Network(tasks=three), 5.0).bound  # two fit
    11

    """
    simple = simple_bound(network)
    if not any(usable(task) for task in network.tasks):
        return Relaxed(bound=simple, value=float(simple), shares={})
    climb = _Climb(network, seconds, tell)
    solve = len(network.tasks) <= MOST_TASKS and climb.layout.table is None
    climb.ascend(seconds * (ASCENT_SHARE if solve else 1.0))
    if solve:
        climb.solve(seconds)
    return Relaxed(
        bound=max(simple, rounded_up(network, climb.value)),
        value=climb.value,
        shares=climb.shares(),
        layout=climb.layout,
        prices=climb.prices,
        loads=tuple(sorted(climb.loads)),
        work=climb.work,
    )


def rounded_up(network: Network, value: float) -> int:
    """Return the least objective that is no less than a bound: every objective is a multiple of what divides all costs.

    Examples
    --------
    >>> from planner.core.schedule.tasks import Option, Task
    >>> one = Task(key="a", duration=1, options=(Option(resource=None, start=0, end=1, cost=20),), skip_cost=50)
    >>> rounded_up(Network(tasks=(one,)), 20.5), rounded_up(Network(tasks=(one,)), 20.000001)
    (30, 20)

    """
    costs = [option.cost for task in network.tasks for option in task.options]
    costs += [task.skip_cost or 0 for task in network.tasks] + [charge.cost for charge in network.charges]
    step = max(reduce(gcd, costs, 0), 1)
    return int(np.ceil((value - SLACK * max(abs(value), 1.0)) / step)) * step


class _Climb:
    """The best bound so far with its prices, what it took, and the loads seen on the way."""

    def __init__(self, network: Network, seconds: float, tell: Tell | None) -> None:
        self._network, self._seconds, self._tell = network, seconds, tell
        self.layout = Layout(network)
        self.prices, self.work = hour_prices(self.layout)
        self.value = -np.inf
        self.loads: dict[Load, None] = {}
        self._used: Floats = np.zeros(len(self.layout.task_of))
        self._stopped = False

    def ascend(self, seconds: float) -> None:
        """Make prices better step by step."""
        ascent = Ascent(self.layout, self.prices)
        recent = [ascent.last.loads]
        self._better(ascent.value, ascent.prices)
        for found in ascent.rounds():
            self.work += self.layout.look_s
            recent = [*recent[-POOL_ROUNDS:], found.loads]
            self._better(ascent.value, ascent.prices)
            if self.work > seconds or self._stopped:
                break
        self._used = ascent.average
        self.loads.update(dict.fromkeys(load for loads in recent for load in loads))

    def solve(self, seconds: float) -> None:
        """Solve the linear program, from the loads seen so far."""
        program = Program(self.layout)
        for load in self.loads:
            program.add(load)
        while self.work < seconds and not self._stopped and self._round(program):
            pass
        self._used = np.zeros(len(self.layout.task_of))
        for load, part in program.shares.items():
            self._used[self.layout.places(load)] += part
        self.loads.update(dict.fromkeys(program.loads))

    def shares(self) -> dict[Pair, float]:
        """Return the part of each (task, option); twins share evenly."""
        found = {}
        for number, block in enumerate(self.layout.blocks):
            for item, part in enumerate(self.layout.worth_in(number, self._used)):
                if part > LEAST_SHARE:
                    found.update({twin[item]: float(part) / len(block.twins) for twin in block.twins})
        return found

    def _round(self, program: Program) -> bool:
        """Solve, price, add columns and rows; False when nothing is left to add."""
        value, prices, work = program.solve()
        self.work += work
        new_rows = program.add_rows()
        if value - self.value <= ENOUGH * abs(value):
            return new_rows > 0
        mixed = Prices(
            tasks=SMOOTH * self.prices.tasks + (1 - SMOOTH) * prices.tasks,
            rows=SMOOTH * self.prices.rows + (1 - SMOOTH) * prices.rows,
        )
        return self._price(program, mixed) or self._price(program, prices) or new_rows > 0

    def _price(self, program: Program, prices: Prices) -> bool:
        found = self.layout.price(prices)
        self.work += self.layout.look_s
        self._better(found.value, prices)
        return sum(program.add(load) for load in found.loads) > 0

    def _better(self, value: float, prices: Prices) -> None:
        if value > self.value:
            self.value, self.prices = value, prices
            if self._tell is not None:
                self._stopped = not self._tell(rounded_up(self._network, value))
