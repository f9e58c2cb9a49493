"""Make a plan: check the brief, list, bound, improve, prove, check the result."""

from collections.abc import Callable
from contextlib import AbstractContextManager, nullcontext
from dataclasses import replace
from datetime import date, datetime
from functools import partial

from inventory.core.catalogue import Part, Spare
from planner.core.audit import audit
from planner.core.brief import Brief
from planner.core.demands import Demands, demands_for
from planner.core.plans import (
    CheckLine,
    Crew,
    Order,
    Phase,
    Placed,
    Places,
    Plan,
    Wear,
    WindowsOfOrder,
)
from planner.core.reasons import reasons_for
from planner.core.schedule.check import BriefImpossible, brief_problems
from planner.core.schedule.core import Effort
from planner.core.schedule.hands import Hands, Processes
from planner.core.schedule.hunt import LEAST_REGROUPED, WORK_SHARE, Hunt, Tell, Teller
from planner.core.schedule.listing import first_fits
from planner.core.schedule.network import OrderNetwork, build_network, minute_of, placed_from
from planner.core.schedule.objective import objective_of, prices
from planner.core.schedule.relax import simple_bound
from planner.core.schedule.tasks import Chosen, Network, cost_of
from planner.core.summaries import summaries

WHOLE_TASKS = 15  # up to this many the whole model is tried before anything else
PROVABLE_TASKS = 70  # up to this many a proof is looked for
LEAST_S = 10.0  # time for which it is worth starting processes [s]
FIRST_TRY, BOUND_SHARE, COMPOSE_SHARE, DIVE_SHARE, PROOF_SHARE = 0.05, 0.15, 0.35, 0.2, 0.9
LONG_BOUND_SHARE = 0.25  # of a large plan, whose dive is as good as the prices of its bound


class PlanCheckFailed(RuntimeError):  # noqa: N818 - what happened, in the words of the check
    """A finished plan that breaks a rule, which is a fault of the program; `lines` are the whole check."""

    def __init__(self, lines: tuple[CheckLine, ...]) -> None:
        broken = [line for line in lines if not line.holds]
        super().__init__("; ".join(f"rule {line.number}, {line.rule}: {line.breach}" for line in broken))
        self.lines = lines


def make_plan(  # noqa: PLR0917 - the nouns that a plan is made from
    orders: tuple[Order, ...],
    windows: tuple[WindowsOfOrder, ...],
    crews: tuple[Crew, ...],
    phases: tuple[Phase, ...],
    brief: Brief,
    places: Places,
    *,
    parts: tuple[Part, ...],
    spares: tuple[Spare, ...],
    now: datetime,
    seconds: float,
    seed: int,
    workers: int,
    progress: Tell | None = None,
    fixed: tuple[Placed, ...] = (),
    last: tuple[Placed, ...] = (),
    wear: tuple[Wear, ...] = (),
) -> Plan:
    """Choose window, start and crew for each order, or leave it out and say why.

    Parameters
    ----------
    orders, windows, crews, phases, brief, places, parts, spares
        What there is to do, and what with.
    now : datetime
        Aware; nothing that is not fixed starts before it.
    seconds : float
        How long to search, about [s]; see `planner.core.schedule.core.Effort` for what makes it repeatable.
    seed, workers : int
        Seed of every choice by chance, and threads of the solver. The same values give the same plan.
    progress : callable, optional
        Called with the state of the search; returns False to stop, and the best plan so far is kept.
    fixed : tuple of Placed
        Orders that stay where they are: accepted and under way.
    last : tuple of Placed
        The last plan, against which moves are counted.
    wear : tuple of Wear
        How old models wear, which decides what failures will take from their spares.

    Raises
    ------
    BriefImpossible
        If no plan can be made; it says which demands clash.
    PlanCheckFailed
        If the finished plan breaks a rule.

    """
    demands = demands_for(
        orders,
        windows,
        crews,
        phases,
        brief,
        places,
        parts=parts,
        spares=spares,
        now=now,
        fixed=fixed,
        last=last,
        wear=wear,
    )
    return plan_for(demands, Effort(seconds=seconds, seed=seed, workers=workers), progress)


def plan_for(
    demands: Demands,
    effort: Effort,
    progress: Tell | None = None,
    begin: tuple[Placed, ...] = (),
    hands: Hands | None = None,
) -> Plan:
    """Make a plan from all that it is made from; see `make_plan`. `begin` is one to go on from, where it still fits.

    Pieces of large plans are solved by `hands`, or by as many processes as there are workers.
    """
    if not demands.orders:
        return _empty(demands, effort)
    problems = brief_problems(demands)
    fatal = tuple(problem for problem in problems if problem.fatal)
    if fatal:
        raise BriefImpossible(fatal)
    with _hands(demands, effort, hands) as able:
        made = _plan(demands, effort, Teller(tell=progress, seconds=effort.seconds), begin, able)
    return replace(made, remarks=tuple(problem.message for problem in problems))


def _hands(demands: Demands, effort: Effort, hands: Hands | None) -> AbstractContextManager[Hands | None]:
    """Return who solves pieces: those given, processes where the work is worth starting them, or nobody in particular."""
    worth_it = effort.workers > 1 and len(demands.orders) >= LEAST_REGROUPED and effort.seconds >= LEAST_S
    return Processes(effort.workers) if hands is None and worth_it else nullcontext(hands)


def _plan(  # noqa: PLR0917 - what to plan, how hard, whom to tell, from where, and by whom
    demands: Demands, effort: Effort, tell: Teller, begin: tuple[Placed, ...], hands: Hands | None
) -> Plan:
    price = prices(demands)
    built = build_network(demands, price)
    listed = first_fits(built.network, _ranks(built))
    tell.draw = partial(placed_from, built)
    tell("listing", cost_of(built.network, listed), 0.02)
    kept = (first_fits(built.network, _ranks(built), _choices_of(old, built)) for old in (demands.last, begin))
    hunt = Hunt(
        network=built.network,
        effort=replace(effort, seconds=effort.seconds * (WORK_SHARE if len(built.orders) > PROVABLE_TASKS else 1.0)),
        tell=tell,
        best=_cheapest(built.network, listed, *kept),
        hands=hands,
    )
    chosen, method = _searched(hunt, listed)
    tell("checking", cost_of(built.network, chosen), 0.98)
    placed = placed_from(built, chosen)
    lines = _checked(placed, demands)
    objective = objective_of(placed, built.orders, price)
    by_list = placed_from(built, listed)
    bound = min(tell.at_least(simple_bound(built.network)), objective)
    return Plan(
        placed=placed,
        unplanned=reasons_for(demands, placed),
        objective=objective,
        bound=bound,
        gap=(objective - bound) / objective if objective else 0.0,
        list_objective=objective_of(by_list, built.orders, price),
        method=method,
        check=lines,
        phases=summaries(placed, demands),
        seed=effort.seed,
        seconds=effort.seconds,
        listed=by_list,
    )


def _searched(hunt: Hunt, listed: Chosen) -> tuple[Chosen, str]:
    """Return the best choices found and the name of the method that found them."""
    network = hunt.network
    hunt.tell.has(hunt.best)
    for stage in _stages(hunt, len(network.tasks)):
        if hunt.going():
            stage()
    proved = cost_of(network, hunt.best) <= hunt.tell.at_least(simple_bound(network))
    return hunt.best, "exact" if proved else "list" if hunt.best == listed else "search"


def _stages(hunt: Hunt, tasks: int) -> tuple[Callable[[], None], ...]:
    """Return what to do one after the other, for a number of tasks: the fewer, the more is done for a proof."""
    relaxed, composed = partial(hunt.relaxed, BOUND_SHARE), partial(hunt.composed, COMPOSE_SHARE)
    improved, whole = partial(hunt.improved, 1.0), partial(hunt.whole, FIRST_TRY)
    proved = partial(hunt.proved, PROOF_SHARE)
    if tasks <= WHOLE_TASKS:
        return whole, relaxed, proved, composed, improved
    if tasks <= PROVABLE_TASKS:
        return relaxed, proved, whole, composed, partial(hunt.improved, 1 - PROOF_SHARE), proved
    return partial(hunt.relaxed, LONG_BOUND_SHARE), partial(hunt.dived, DIVE_SHARE), improved


def _ranks(built: OrderNetwork) -> tuple[int, ...]:
    """Return the place of each task in the list: oldest first, those of unknown age last, then by key."""
    order = sorted(range(len(built.orders)), key=lambda i: (built.orders[i].oldest or date.max, built.orders[i].key))
    rank = {index: place for place, index in enumerate(order)}
    return tuple(rank.get(index, -1) for index in range(len(built.network.tasks)))


def _cheapest(network: Network, *some: Chosen) -> Chosen:
    return min(some, key=lambda chosen: cost_of(network, chosen))


def _choices_of(placed: tuple[Placed, ...], built: OrderNetwork) -> Chosen:
    """Return for each task the choice that a plan made for it; None where it is offered no more."""
    old = {each.order: each for each in placed}
    return tuple(
        next(
            (
                (number, minute_of(there.start))
                for number, way in enumerate(ways)
                if (there := old.get(way.order)) and (way.crew, way.night) == (there.crew, there.night)
            ),
            None,
        )
        for ways in built.ways
    )


def _checked(placed: tuple[Placed, ...], demands: Demands) -> tuple[CheckLine, ...]:
    lines = audit(
        placed,
        demands.orders,
        demands.windows,
        demands.crews,
        demands.phases,
        demands.brief,
        demands.places,
        demands.parts,
        demands.spares,
        demands.now,
        demands.fixed,
        demands.booked,
        demands.forced,
        wear=demands.wear,
    )
    if not all(line.holds for line in lines):
        raise PlanCheckFailed(lines)
    return lines


def _empty(demands: Demands, effort: Effort) -> Plan:
    """Return the plan of no orders, which keeps what is fixed."""
    placed = tuple(sorted(demands.fixed, key=lambda each: (each.start, each.order)))
    return Plan(
        placed=placed,
        unplanned=(),
        objective=0,
        bound=0,
        gap=0.0,
        list_objective=0,
        method="list",
        check=_checked(placed, demands),
        phases=summaries(placed, demands),
        seed=effort.seed,
        seconds=effort.seconds,
    )
