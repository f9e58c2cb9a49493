"""How sure the dates of a stored plan are: its courses, by what it was made from and the campus as stored now."""

from dataclasses import dataclass

from inventory.store import load_snapshot
from planner.core.outlook import Outlook, look_ahead
from planner.core.plans import Crew, OrderState, Phase
from planner.core.windows import find_windows
from planner.models import Plan
from planner.store.briefs import load_closures
from planner.store.plans import load_orders, load_plan, load_settings
from planner.store.records import from_json

DONE = (OrderState.ACCEPTED.value,)


@dataclass(frozen=True, slots=True, kw_only=True)
class HowSure:
    """The outlook of a plan; `done` orders are accepted already and leave nothing to chance."""

    outlook: Outlook
    done: int


def how_sure(plan: Plan) -> HowSure:
    """Simulate what is still to be done of a plan; the seed is the plan's, so that the answer is always the same."""
    snapshot = load_snapshot(taken_on=plan.made.date(), closures=load_closures(plan.brief.name))
    done = set(plan.orders.filter(state__in=DONE).values_list("key", flat=True))
    placed = tuple(each for each in load_plan(plan).placed if each.order not in done)
    keys = {each.order for each in placed}
    orders = tuple(order for order in load_orders(plan) if order.key in keys)
    brief = load_settings(plan)
    crews = tuple(from_json(Crew, line) for line in plan.crews_used)
    phases = tuple(from_json(Phase, line) for line in plan.phases_used)
    outlook = look_ahead(
        placed,
        {order.key: order for order in orders},
        find_windows(snapshot, orders, crews, phases, brief),
        snapshot.catalogue.methods,
        phases,
        brief,
        seed=plan.seed,
    )
    return HowSure(outlook=outlook, done=len(done))
