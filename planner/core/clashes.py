"""The smallest set of demands that clash, and the cheapest single change that would free them.

Orders are asked to be dated: all of them, or any of them. Where they cannot be, demands are dropped one by one, and a
demand without which they still cannot be dated stays dropped (a deletion filter). What is left clashes, and any one of
it less does not. Then each of those is loosened as little as frees the orders with all else in force.

References
----------
Chinneck, J. W. and Dravnieks, E. W. (1991): Locating minimal infeasible constraint sets in linear programs. ORSA
Journal on Computing 3, 157-168 (the deletion filter).

"""

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from decimal import Decimal

from inventory.core.snapshot import Snapshot
from planner.core.brief import Brief
from planner.core.demands import demands_for
from planner.core.plans import Crew, Order, Phase, WindowsOfOrder
from planner.core.schedule import places_of
from planner.core.schedule.core import Effort, solve_tasks
from planner.core.schedule.listing import first_fits
from planner.core.schedule.network import build_network
from planner.core.schedule.objective import Span
from planner.core.schedule.tasks import Network, usable
from planner.core.windows import find_windows

PROOF_S = 5.0  # how long one question may take, in seconds of Effort


@dataclass(frozen=True, slots=True, kw_only=True)
class Ground:
    """What orders are to be dated on. `without`: names of rows of the schedule that are not to bind.

    `put_off`: orders with the first night on which each may be done.
    """

    snapshot: Snapshot
    crews: tuple[Crew, ...]
    phases: tuple[Phase, ...]
    brief: Brief
    orders: tuple[Order, ...]
    now: datetime
    without: frozenset[str] = frozenset()
    put_off: tuple[tuple[str, date], ...] = ()

    def but(self, **changes: object) -> "Ground":
        """Return the ground with changes."""
        return replace(self, **changes)  # type: ignore[arg-type]


@dataclass(frozen=True, slots=True, kw_only=True)
class Demand:
    """One demand by its name: how to drop it, and how to loosen it by so many units (None: only as a whole).

    `most` units are tried; `say` names the change by units; `money` is what it costs, None where that is not money.
    """

    name: str
    drop: Callable[[Ground], Ground]
    loosen: Callable[[Ground, int], Ground] | None = None
    most: int = 1
    say: Callable[[int], str]
    money: Callable[[int], Decimal | None] = field(default=lambda _: None)


@dataclass(frozen=True, slots=True, kw_only=True)
class Relief:
    """One change that frees the orders: of which demand, in words, and what it costs."""

    demand: str
    words: str
    money: Decimal | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Clash:
    """Demands that clash, none of them superfluous, and the single changes that free them, the cheapest first.

    `demands` is empty where not even without all of them the orders can be dated.
    """

    demands: tuple[str, ...]
    reliefs: tuple[Relief, ...]


class Oracle:
    """Tells whether orders can be dated; windows that have been found once are kept."""

    def __init__(self, *, every: bool) -> None:
        self._every = every
        self._windows: dict[object, tuple[WindowsOfOrder, ...]] = {}
        self._held: list[object] = []

    def __call__(self, ground: Ground) -> bool:
        """Tell whether all orders can be dated together, or any of them."""
        if not ground.crews or not ground.phases:
            return False
        if self._every:
            return self._together(ground, ground.orders)
        return self._any(ground)

    def _any(self, ground: Ground) -> bool:
        """Tell whether any order can be dated with nobody beside it, one after the other."""
        alone = tuple(replace(order, predecessors=()) for order in ground.orders)
        found = {each.order: each for each in self._found(ground, alone)}
        return any(self._alone(ground, order, found[order.key]) for order in alone)

    def _alone(self, ground: Ground, order: Order, found: WindowsOfOrder) -> bool:
        network = _network(ground, (order,), (_telling(order, found),))
        return first_fits(network, (0,))[0] is not None

    def _together(self, ground: Ground, orders: tuple[Order, ...]) -> bool:
        network = _network(ground, orders, self._found(ground, orders))
        if any(not usable(task) for task in network.tasks):
            return False
        if len(network.tasks) == 1:
            return first_fits(network, (0,))[0] is not None
        musts = replace(network, tasks=tuple(replace(task, skip_cost=None) for task in network.tasks))
        return solve_tasks(musts, Effort(seconds=PROOF_S)).objective is not None

    def _found(self, ground: Ground, orders: tuple[Order, ...]) -> tuple[WindowsOfOrder, ...]:
        nights = dict(ground.put_off)
        return tuple(_from_night(each, nights.get(each.order)) for each in self._whenever(ground, orders))

    def _whenever(self, ground: Ground, orders: tuple[Order, ...]) -> tuple[WindowsOfOrder, ...]:
        dates = tuple((phase.key, phase.start, phase.end, phase.districts) for phase in ground.phases)
        campus = ground.snapshot
        asked = campus.buildings, campus.rooms, campus.closures, campus.calendars
        key = tuple(map(id, asked)), ground.crews, dates, ground.brief, tuple(map(_what_windows_ask, orders))
        if key not in self._windows:
            found = find_windows(ground.snapshot, orders, ground.crews, ground.phases, ground.brief)
            self._windows[key] = found
            self._held.append(asked)  # so that no other ones get their addresses
        return self._windows[key]


def _from_night(found: WindowsOfOrder, night: date | None) -> WindowsOfOrder:
    if night is None:
        return found
    return replace(found, windows=tuple(window for window in found.windows if window.night >= night))


def _telling(order: Order, found: WindowsOfOrder) -> WindowsOfOrder:
    """Return the windows that tell whether an order can be dated alone: of each crew and phase the last.

    What may keep it out of one is the same in all of them, or wanes with time, as parts do that come later; only spares
    are fewer later on, so where it takes some, all windows are asked.
    """
    if any(count < 0 for _, count in order.freed):
        return found
    last = {(each.crew, each.phase): each for each in sorted(found.windows, key=lambda window: window.end)}
    return replace(found, windows=tuple(last.values()))


def _what_windows_ask(order: Order) -> tuple[object, ...]:
    """Return all of an order that its windows depend on: neither its parts nor its price."""
    times = order.setup_min, order.outage_min, order.restore_min
    return order.key, order.building, order.district, order.rooms, order.people, times, order.unknown, order.stopped


@dataclass(frozen=True, slots=True, kw_only=True)
class _Free:
    """Prices that make nothing better than anything else."""

    outing: int = 0

    def left_out(self, order: str) -> int:
        """Return the cost of leaving an order out."""
        del order
        return 1

    def placed(self, order: str, crew: str, night: date, span: Span) -> int:
        """Return the cost of doing an order."""
        del order, crew, night, span
        return 0


def _network(ground: Ground, orders: tuple[Order, ...], windows: tuple[WindowsOfOrder, ...]) -> Network:
    keys = {order.key for order in orders}
    alone = tuple(replace(o, predecessors=tuple(key for key in o.predecessors if key in keys)) for o in orders)
    demands = demands_for(
        alone,
        windows,
        ground.crews,
        ground.phases,
        ground.brief,
        places_of(ground.snapshot),
        parts=ground.snapshot.catalogue.parts,
        spares=ground.snapshot.catalogue.spares,
        now=ground.now,
    )
    network = build_network(demands, _Free()).network
    return replace(
        network,
        limits=tuple(row for row in network.limits if not _off(row.name, ground)),
        capacities=tuple(row for row in network.capacities if not _off(row.name, ground)),
        pools=tuple(row for row in network.pools if not _off(row.name, ground)),
    )


def _off(name: str, ground: Ground) -> bool:
    return name in ground.without or name.split(" ", 1)[0] in ground.without


def smallest_clash(ground: Ground, demands: tuple[Demand, ...], *, every: bool = True) -> Clash | None:
    """Return why orders cannot be dated; None where they can.

    Parameters
    ----------
    ground : Ground
        What is to be dated, and on what.
    demands : tuple of Demand
        What may be dropped; of sets that clash, the one is found that has more of those that stand later.
    every : bool
        Whether all orders must be dated together; else any one of them will do.

    """
    feasible = Oracle(every=every)
    if feasible(ground):
        return None
    kept = list(demands)
    if not feasible(_without(ground, demands)):
        return Clash(demands=(), reliefs=())
    for demand in demands:
        dropped = [each for each in demands if each not in kept or each is demand]
        if not feasible(_without(ground, tuple(dropped))):
            kept.remove(demand)
    reliefs = [relief for demand in kept if (relief := _relief(ground, demand, feasible)) is not None]
    cheapest = sorted(reliefs, key=lambda each: (each.money is None, each.money or Decimal(0)))
    return Clash(demands=tuple(each.name for each in kept), reliefs=tuple(cheapest))


def _without(ground: Ground, demands: tuple[Demand, ...]) -> Ground:
    for demand in demands:
        ground = demand.drop(ground)
    return ground


def _relief(ground: Ground, demand: Demand, feasible: Oracle) -> Relief | None:
    """Return the least change of one demand that frees the orders with all else in force; None where none does."""
    units = _least(ground, demand, feasible)
    if units is None:
        return None
    return Relief(demand=demand.name, words=demand.say(units), money=demand.money(units))


def _least(ground: Ground, demand: Demand, feasible: Oracle) -> int | None:
    """Return the least number of units that frees the orders; more never harm."""
    loosen = demand.loosen
    if loosen is None:
        return 1 if feasible(demand.drop(ground)) else None
    if demand.most < 1 or not feasible(loosen(ground, demand.most)):
        return None
    low, high = 0, demand.most
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if feasible(loosen(ground, middle)) else (middle, high)
    return high
