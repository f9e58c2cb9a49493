"""Keeping: which booked orders can stay where they are when a plan is made again, and which cannot.

Those that the brief does not let move stay wherever possible: of all ways to fit the booked orders together, the one
that leaves out fewest, then moves fewest of those that should stay, then those with the fewest rooms to tell. Up to
SMALL orders all of them are looked at together, and so the answer is proved; beyond, what fits at home is held there.
"""

from dataclasses import dataclass, replace
from datetime import date

from planner.core.demands import Demands
from planner.core.plans import Order, Placed, WindowsOfOrder
from planner.core.schedule.core import Effort, solve_tasks
from planner.core.schedule.listing import first_fits
from planner.core.schedule.network import OrderNetwork, build_network, minute_of, placed_from
from planner.core.schedule.objective import Span
from planner.core.schedule.tasks import Choice, Chosen

SMALL = 120
KEEPING_S = 20.0  # how long to look, in seconds of Effort


@dataclass(frozen=True, slots=True, kw_only=True)
class Kept:
    """What a plan must hold: `pinned` are to be done just so, `forced` cannot stay. `proved`: no fewer could move."""

    pinned: tuple[Placed, ...]
    forced: frozenset[str]
    proved: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Upheaval:
    """What leaving out and moving cost, such that more of the first weighs over any of the second, and so on."""

    homes: dict[str, tuple[str, Span]]
    moving: dict[str, int]
    leaving: int
    outing: int = 0

    def left_out(self, order: str) -> int:
        """Return the cost of leaving an order out; nothing for one that was not booked."""
        return self.leaving if order in self.homes else 0

    def placed(self, order: str, crew: str, night: date, span: Span) -> int:
        """Return the cost of doing an order there: nothing at home, by whatever night that counts as."""
        del night
        return 0 if self.homes.get(order) == (crew, span) else self.moving.get(order, 0)


def may_move(placed: Placed, demands: Demands) -> bool:
    """Tell whether the brief lets a booked order move: it says so, and there is time to tell the rooms."""
    brief = demands.brief
    return brief.booked_may_move and (placed.night - demands.now.date()).days >= brief.notice_days


def keep(demands: Demands, seed: int = 0) -> Kept:
    """Find what of the booked orders can stay; see the module's docstring.

    Parameters
    ----------
    demands : Demands
        With `booked`, and for each of them a window just as long as it is where it can stay.
    seed : int
        Of the solver's choices.

    Returns
    -------
    Kept
        What stays and may not move is pinned, and so is what must come before it.

    """
    booked = {placed.order for placed in demands.booked}
    concerned = _concerned(demands, booked)
    if len(concerned.orders) > SMALL:
        concerned = _narrowed(concerned)
    built = build_network(concerned, _upheaval(concerned))
    homes = _homes(built, concerned)
    listed = _listed(built, homes)
    at_home = {
        order.key for order, choice, home in zip(built.orders, listed, homes, strict=False) if choice and choice == home
    }
    if booked <= at_home:
        return _kept(demands, placed_from(built, listed), proved=True)
    answer = solve_tasks(built.network, Effort(seconds=KEEPING_S, seed=seed), hint=listed)
    chosen = listed if answer.objective is None else answer.chosen
    return _kept(demands, placed_from(built, chosen), proved=answer.proved and len(built.orders) <= SMALL)


def _concerned(demands: Demands, booked: set[str]) -> Demands:
    """Return the demands of booked and fixed orders, and of what must come before them."""
    orders = {order.key: order for order in demands.orders}
    wanted, more = set[str](), booked | {placed.order for placed in demands.fixed}
    while more:
        wanted |= more
        more = {before for key in more if key in orders for before in orders[key].predecessors} - wanted
    return replace(
        demands,
        orders=tuple(order for order in demands.orders if order.key in wanted),
        windows=tuple(each for each in demands.windows if each.order in wanted),
        pinned=(),
    )


def _narrowed(demands: Demands) -> Demands:
    """Return the demands with only the home of each booked order that fits there beside the others."""
    built = build_network(demands, _upheaval(demands))
    homes = _homes(built, demands)
    listed = _listed(built, homes)
    held = {
        order.key: home for order, home, now in zip(built.orders, homes, listed, strict=False) if home and home == now
    }
    old = {placed.order: placed for placed in demands.booked}
    return replace(
        demands,
        windows=tuple(_only_home(each, old[each.order]) if each.order in held else each for each in demands.windows),
    )


def _only_home(found: WindowsOfOrder, home: Placed) -> WindowsOfOrder:
    return replace(
        found, windows=tuple(w for w in found.windows if (w.crew, w.start, w.end) == (home.crew, home.start, home.end))
    )


def _upheaval(demands: Demands) -> Upheaval:
    rooms = {order.key: len(order.rooms) for order in demands.orders}
    told = {
        placed.order: 0 if may_move(placed, demands) else rooms.get(placed.order, 0) + 1 for placed in demands.booked
    }
    step = sum(told.values()) + len(told) + 1  # more than all that weighs less
    return Upheaval(
        homes={placed.order: (placed.crew, (placed.start, placed.end)) for placed in demands.booked},
        moving={key: step + rooms_told if rooms_told else 1 for key, rooms_told in told.items()},
        leaving=2 * step * (len(told) + 1),
    )


def _homes(built: OrderNetwork, demands: Demands) -> Chosen:
    """Return for each task the choice that leaves it where it is booked; None where there is none."""
    booked = {placed.order: placed for placed in demands.booked}
    return tuple(
        _home(built, index, booked[ways[0].order]) if ways and ways[0].order in booked else None
        for index, ways in enumerate(built.ways)
    )


def _home(built: OrderNetwork, index: int, placed: Placed) -> Choice | None:
    start, end = minute_of(placed.start), minute_of(placed.end, up=True)
    for number, option in enumerate(built.network.tasks[index].options):
        if (option.resource, option.start, option.end) == (placed.crew, start, end):
            return number, start
    return None


def _listed(built: OrderNetwork, homes: Chosen) -> Chosen:
    """Return a list that keeps what fits at home; those with the most rooms to tell are asked first."""
    rooms = [len(order.rooms) for order in built.orders]
    rooms += [0] * (len(built.network.tasks) - len(rooms))
    most_first = sorted(range(len(rooms)), key=lambda index: (-rooms[index], index))
    rank = {index: place for place, index in enumerate(most_first)}
    return first_fits(built.network, tuple(rank[index] for index in range(len(rooms))), homes)


def _kept(demands: Demands, placed: tuple[Placed, ...], *, proved: bool) -> Kept:
    there = {each.order: each for each in placed}
    staying = [each for each in demands.booked if not may_move(each, demands)]
    pinned = {each.order: each for each in staying if there.get(each.order) == each}
    return Kept(
        pinned=tuple(sorted(_with_earlier(pinned, there, demands), key=lambda each: each.order)),
        forced=frozenset(each.order for each in staying) - pinned.keys(),
        proved=proved,
    )


def _with_earlier(pinned: dict[str, Placed], there: dict[str, Placed], demands: Demands) -> list[Placed]:
    """Return what is pinned, and where those are done that must come before it and are not fixed."""
    orders: dict[str, Order] = {order.key: order for order in demands.orders}
    fixed = {placed.order for placed in demands.fixed}
    found, more = dict(pinned), list(pinned)
    while more:
        for before in orders[more.pop()].predecessors:
            if before not in found and before not in fixed and before in there:
                found[before] = there[before]
                more.append(before)
    return list(found.values())
