"""What to say before solving: demands that cannot hold together, and which they are."""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations, pairwise

import networkx as nx

from inventory.core.saying import day_words
from planner.core.demands import Demands
from planner.core.plans import Phase, Placed


@dataclass(frozen=True, slots=True, kw_only=True)
class BriefProblem:
    """Demands that clash. `demands` name them; `fatal` says that no plan can be made at all; `reliefs` what would free it."""

    code: str
    message: str
    demands: tuple[str, ...]
    fatal: bool = True
    reliefs: tuple[str, ...] = ()


class BriefImpossible(ValueError):  # noqa: N818 - a state of the brief, not of the program
    """A brief that cannot work; `problems` say which demands clash."""

    def __init__(self, problems: tuple[BriefProblem, ...]) -> None:
        super().__init__("\n".join(problem.message for problem in problems))
        self.problems = problems


def brief_problems(demands: Demands) -> tuple[BriefProblem, ...]:
    """Return every clash that can be seen before solving, fatal ones first."""
    found = [problem for look in LOOKS for problem in look(demands)]
    return tuple(sorted(found, key=lambda problem: (not problem.fatal, problem.code, problem.demands)))


def _crews(demands: Demands) -> Iterator[BriefProblem]:
    if not demands.crews:
        yield BriefProblem(
            code="no crew",
            message="There is no crew. Add one with its days and shift.",
            demands=("crews",),
        )


def _phases(demands: Demands) -> Iterator[BriefProblem]:
    if not demands.phases:
        yield BriefProblem(
            code="no phase", message="There is no phase to work in. Add one with start and end.", demands=("phases",)
        )
    for phase in demands.phases:
        if phase.end < phase.start:
            yield BriefProblem(
                code="phase dates",
                message=f"{phase.key} ends on {day_words(phase.end)}, before it starts on {day_words(phase.start)}.",
                demands=(f"phase {phase.key}",),
            )
    for one, two in combinations(sorted(demands.phases, key=lambda phase: phase.key), 2):
        if max(one.start, two.start) <= min(one.end, two.end) and _share_district(one, two):
            yield BriefProblem(
                code="phases overlap",
                message=(
                    f"{one.key} and {two.key} overlap from {day_words(max(one.start, two.start))} to "
                    f"{day_words(min(one.end, two.end))}, so that a night there would have two budgets."
                ),
                demands=(f"phase {one.key}", f"phase {two.key}"),
            )


def _share_district(one: Phase, two: Phase) -> bool:
    return not one.districts or not two.districts or bool(set(one.districts) & set(two.districts))


def _budget(demands: Demands) -> Iterator[BriefProblem]:
    costs = [order.cost for order in demands.orders]
    budgets = [phase.budget for phase in demands.phases]
    known = [budget for budget in budgets if budget is not None]
    if costs and known and len(known) == len(budgets) and min(costs) > max(known):
        cheapest = min(demands.orders, key=lambda order: (order.cost, order.key))
        yield BriefProblem(
            code="budget",
            message=(
                f"No phase can pay for a single order: the largest budget is {max(known)}, and the cheapest order "
                f"{cheapest.key} costs {cheapest.cost} {cheapest.currency}."
            ),
            demands=tuple(f"budget of phase {phase.key}" for phase in demands.phases),
        )


def _currencies(demands: Demands) -> Iterator[BriefProblem]:
    currencies = sorted({order.currency for order in demands.orders} | {demands.brief.currency})
    if len(currencies) > 1 and any(phase.budget is not None for phase in demands.phases):
        yield BriefProblem(
            code="currencies",
            message=(
                f"Costs are in {' and '.join(currencies)}, which are never added, so no budget can be kept. "
                "Give all prices and the brief one currency."
            ),
            demands=tuple(f"currency {currency}" for currency in currencies),
        )


def _windows(demands: Demands) -> Iterator[BriefProblem]:
    by_order = {each.order: each for each in demands.windows}
    settled = {placed.order for placed in demands.fixed}
    orders = [order for order in demands.orders if order.key not in settled]
    too_long = []
    for order in sorted(orders, key=lambda order: order.key):
        found = by_order.get(order.key)
        if found is None or not found.windows:
            too_long.append(order)
    if orders and not settled and len(too_long) == len(orders) and demands.crews and demands.phases:
        longest = max((each.longest_free_min for each in demands.windows), default=0)
        shortest = min(order.onsite_min for order in orders)
        yield BriefProblem(
            code="no window",
            message=(
                f"No order has a window: the longest free time found is {longest} min, the shortest order takes "
                f"{shortest} min. Room calendars, closures, work hours, shifts and phase dates leave nothing in common."
            ),
            demands=("calendars", "closures", "work hours", "shifts", "phase dates"),
        )
        return
    for order in too_long:
        longest = by_order[order.key].longest_free_min if order.key in by_order else 0
        yield BriefProblem(
            code="order too long",
            message=f"Order {order.key} takes {order.onsite_min} min, the longest free time found is {longest} min.",
            demands=(f"order {order.key}",),
            fatal=False,
        )


def _cycles(demands: Demands) -> Iterator[BriefProblem]:
    graph = nx.DiGraph((before, order.key) for order in demands.orders for before in order.predecessors)
    for ring in sorted(sorted(each) for each in nx.strongly_connected_components(graph)):
        if len(ring) > 1 or graph.has_edge(ring[0], ring[0]):
            yield BriefProblem(
                code="cycle",
                message=f"Orders {', '.join(ring)} each wait for another of them, so none can be first.",
                demands=tuple(f"order {key}" for key in ring),
            )


def _fixed(demands: Demands) -> Iterator[BriefProblem]:
    ahead = [placed for placed in demands.fixed if placed.end > demands.now]  # what is over was as it was
    by_crew = sorted(ahead, key=lambda placed: (placed.crew, placed.start, placed.order))
    for one, two in pairwise(by_crew):
        if one.crew == two.crew and _overlap(one, two):
            yield BriefProblem(
                code="fixed clash",
                message=f"Orders {one.order} and {two.order} are fixed, and crew {one.crew} would do both at once.",
                demands=(f"fixed order {one.order}", f"fixed order {two.order}"),
            )


def _overlap(one: Placed, two: Placed) -> bool:
    return one.start < two.end and two.start < one.end


LOOKS = (_crews, _phases, _budget, _currencies, _windows, _cycles, _fixed)
