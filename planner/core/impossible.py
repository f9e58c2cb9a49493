"""Whether anything of a brief can be dated at all, and what keeps an order out that cannot be dated even alone.

What can be seen without solving is asked before any solving starts: one order that can be dated with nobody beside it
is enough for a plan. Where there is none, the smallest set of demands that clash is told, with what would free it.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace

from inventory.core.saying import money_words
from planner.core.clashes import Clash, Ground, Relief, smallest_clash
from planner.core.demands import Demands
from planner.core.loosening import demands_on
from planner.core.plans import Order, Phase, Unplanned
from planner.core.reasons import ReasonCode
from planner.core.schedule import BriefImpossible, BriefProblem
from planner.core.schedule.check import brief_problems
from planner.core.schedule.listing import first_fits
from planner.core.schedule.network import build_network
from planner.core.schedule.objective import prices

MOST_ASKED = 12  # orders that a clash of the whole brief is looked for among: the easiest to date
MOST_TOLD = 12  # left-out orders of a plan that are told what binds them alone
MOST_RELIEFS = 3  # ways to free orders that are told
LOOSENED = frozenset({"budget", "no window"})  # what a smaller or larger demand can cure; all else must be put right
ALONE = frozenset(  # reasons that may hold with nobody else in the plan
    {ReasonCode.PEOPLE, ReasonCode.WINDOW, ReasonCode.CALENDAR, ReasonCode.PARTS, ReasonCode.PRICE, ReasonCode.BUDGET}
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Bound:
    """What binds one order that cannot be dated alone."""

    order: str
    clash: Clash


def refuse_impossible(demands: Demands, ground: Ground) -> None:
    """Raise BriefImpossible where no plan can be made: with what can be seen at once, and what clashes.

    Parameters
    ----------
    demands : Demands
        What the plan is made from.
    ground : Ground
        The same with the campus, so that demands can be dropped and loosened.

    """
    if not demands.orders:
        return
    fatal = tuple(problem for problem in brief_problems(demands) if problem.fatal)
    loose = all(problem.code in LOOSENED for problem in fatal)
    if not loose:
        raise BriefImpossible(fatal)
    if not fatal and _any_fits(demands):
        return
    asked = _easiest(ground.orders)
    clash = _clash(ground.but(orders=asked))
    found = () if clash is None else (_problem(clash, len(asked), len(ground.orders), ground.brief.currency),)
    if fatal or found:
        raise BriefImpossible((*fatal, *found))


def unpaid_phases(phases: Iterable[Phase], currency: str) -> tuple[BriefProblem, ...]:
    """Return a warning for each phase whose budget is nothing: seen before any order is, and told where it is typed."""
    return tuple(
        BriefProblem(
            code="budget of zero",
            message=(
                f"{phase.key} has a budget of {money_words(phase.budget, currency)}: no order that costs anything is dated "
                "in it. Leave the budget blank where it has no limit."
            ),
            demands=(f"budget of phase {phase.key}",),
            fatal=False,
        )
        for phase in phases
        if phase.budget is not None and phase.budget <= 0
    )


def _any_fits(demands: Demands) -> bool:
    """Tell whether any one order can be dated with nobody beside it, the easiest tried first."""
    return any(_fits_alone(demands, order) for order in sorted(demands.orders, key=_ease))


def _fits_alone(demands: Demands, order: Order) -> bool:
    alone = replace(
        demands,
        orders=(replace(order, predecessors=()),),
        windows=tuple(each for each in demands.windows if each.order == order.key),
    )
    return first_fits(build_network(alone, prices(alone)).network, (0,))[0] is not None


def _ease(order: Order) -> tuple[int, int, object, str]:
    return order.onsite_min, order.people, order.cost, order.key


def _easiest(orders: Iterable[Order]) -> tuple[Order, ...]:
    return tuple(sorted(orders, key=_ease)[:MOST_ASKED])


def _clash(ground: Ground) -> Clash | None:
    free = ground.but(orders=tuple(replace(order, predecessors=()) for order in ground.orders))
    return smallest_clash(free, demands_on(free, every=False), every=False)


def _problem(clash: Clash, asked: int, orders: int, currency: str) -> BriefProblem:
    whose = "no order" if asked == orders else f"none of the {asked} orders that are easiest to date, of {orders},"
    return BriefProblem(
        code="clash",
        message=f"With this brief {whose} can be dated. {clash_words(clash, currency)}",
        demands=clash.demands,
        reliefs=tuple(relief_words(relief, currency) for relief in clash.reliefs),
    )


def clash_words(clash: Clash, currency: str) -> str:
    """Return the demands that clash and what would free them, in sentences."""
    if not clash.demands:
        return "Not even without any demand of the brief could it be dated."
    together = "; ".join(clash.demands)
    said = "What alone keeps it out" if len(clash.demands) == 1 else "What cannot hold together"
    freed = [relief_words(relief, currency) for relief in clash.reliefs[:MOST_RELIEFS]]
    if not freed:
        return f"{said}: {together}. No single change of these would free it."
    others = f"; else {' or '.join(freed[1:])}" if freed[1:] else ""
    return f"{said}: {together}. It takes at the least: {freed[0]}{others}; money and other orders may stand in the way then."


def relief_words(relief: Relief, currency: str) -> str:
    """Return one change with its price."""
    return relief.words if relief.money is None else f"{relief.words}, for {money_words(relief.money, currency)}"


def known_before(demands: Demands) -> tuple[str, ...]:
    """Return what keeps single orders out of any plan and is known before one is looked for, in words."""
    return tuple(problem.message for problem in brief_problems(demands) if not problem.fatal)


def bound_alone(ground: Ground, left_out: Iterable[Unplanned]) -> tuple[Bound, ...]:
    """Return what binds left-out orders alone, those worth most first and at most MOST_TOLD of them.

    Orders that could be dated with nobody beside them are bound by the others, and not told of.
    """
    codes = {each.order: each.code for each in left_out}
    orders = [order for order in ground.orders if codes.get(order.key) in ALONE]
    worth = sorted(orders, key=lambda order: (-order.benefit, order.key))[:MOST_TOLD]
    found = ((order.key, _clash(ground.but(orders=(order,)))) for order in worth)
    return tuple(Bound(order=key, clash=clash) for key, clash in found if clash is not None)


def with_bounds(left_out: tuple[Unplanned, ...], bounds: tuple[Bound, ...], currency: str) -> tuple[Unplanned, ...]:
    """Return left-out orders with what binds them alone added to their reasons."""
    told = {each.order: clash_words(each.clash, currency) for each in bounds}
    return tuple(
        replace(each, reason=f"{each.reason}. {told[each.order]}") if each.order in told else each for each in left_out
    )
