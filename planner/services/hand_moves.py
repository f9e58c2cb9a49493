"""Move an order by hand: look at what that breaks first, then keep it as a new version of the plan."""

from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta

from django.db import transaction
from django.utils import timezone

from inventory.core.snapshot import Snapshot
from inventory.store import load_snapshot
from inventory.store.targets import By
from planner.core.benefit import risk_of_campus
from planner.core.demands import Demands, demands_for
from planner.core.hand_moves import Wish, check_of, placed_at, plan_by_hand, with_move
from planner.core.pipeline import Planned, Team
from planner.core.plans import CheckLine, OrderState, Placed
from planner.core.pools import wear_of
from planner.core.reliefs import TakenUp
from planner.core.replanning import Fate, Shift, Standing, as_it_counts, shifts_between
from planner.core.schedule import places_of
from planner.core.sequence import sequenced
from planner.core.stops import with_stops
from planner.core.takeoff import take_off
from planner.core.windows import find_windows
from planner.models import Order, Plan
from planner.models.plans import BY_HAND
from planner.services.plan import load_team
from planner.store.ageing import load_log
from planner.store.briefs import load_closures
from planner.store.choices import load_afters
from planner.store.plans import load_plan, load_settings, load_standings, save_plan
from planner.store.stops import load_stops

MOVABLE = (OrderState.DRAFTED, OrderState.BOOKED)
SAME_MOVE = timedelta(minutes=1)  # two clicks on one button, or the page sent again from the browser


class MoveRefused(ValueError):  # noqa: N818 - says what is the matter
    """The order cannot be moved at all; the message says why and what to do."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Looked:
    """Where an order would be, and the rules that it would break there. `too_early`: it was put off to this night."""

    placed: Placed
    breaches: tuple[CheckLine, ...]
    too_early: date | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class _Ground:
    snapshot: Snapshot
    team: Team
    standings: tuple[Standing, ...]
    demands: Demands


def look(order: Order, crew: str, start: datetime) -> Looked:
    """Tell what moving an order to a crew and a start would break; nothing is stored."""
    _insist_movable(order)
    ground = _ground_of(order.plan, frozenset({order.key}))
    moved = placed_at(Wish(order=order.key, crew=crew, start=start), ground.demands)
    lines = check_of(ground.demands, with_move(load_plan(order.plan).placed, moved), frozenset({order.key}))
    put_off = order.not_before
    return Looked(
        placed=moved,
        breaches=tuple(line for line in lines if not line.holds),
        too_early=put_off if put_off is not None and moved.night < put_off else None,
    )


@transaction.atomic
def keep(order: Order, crew: str, start: datetime, *, by: By) -> Plan:
    """Keep a moved order as a new version of its plan, with the whole check of it; the old version stays as it is."""
    _insist_movable(order)
    again = _kept_before(order, crew, start, by)
    if again is not None:
        return again
    ground, old = _ground_of(order.plan, None), load_plan(order.plan)
    if not ground.demands.phases:
        message = f"The brief {order.plan.brief.name} has no phase any more. Give it one, then move the order."
        raise MoveRefused(message)
    moved = placed_at(Wish(order=order.key, crew=crew, start=start), ground.demands)
    demands = replace(ground.demands, last=tuple(each for each in old.placed if each not in ground.demands.fixed))
    plan = plan_by_hand(demands, old, with_move(old.placed, moved))
    planned = Planned(
        snapshot=ground.snapshot,
        team=ground.team,
        reports=(),
        orders=demands.orders,
        windows=demands.windows,
        plan=plan,
        takeoff=take_off(plan, demands.orders, ground.snapshot, ground.team.brief),
        taken=TakenUp(reports=()),
        standings=ground.standings,
        shifts=tuple(map(_by_hand, shifts_between(demands, plan, ground.standings))),
    )
    return save_plan(
        planned,
        brief=order.plan.brief,
        assessment=order.plan.assessment,
        by=by,
        made=timezone.now(),
        goes_on_from=order.plan,
        origin=BY_HAND,
    )


def _by_hand(shift: Shift) -> Shift:
    """Return what became of an order in words that are true where a planner moved it."""
    return shift if shift.fate is Fate.STAYS else replace(shift, why="moved by hand")


def _kept_before(order: Order, crew: str, start: datetime, by: By) -> Plan | None:
    """Return the plan that this person made by just this move a moment ago: a second click is no second version."""
    since = timezone.now() - SAME_MOVE
    made = Plan.objects.filter(goes_on_from=order.plan, origin=BY_HAND, by=by, made__gte=since)
    return made.filter(orders__key=order.key, orders__crew=crew, orders__start=start).order_by("pk").last()


def _insist_movable(order: Order) -> None:
    if order.state not in MOVABLE:
        message = f"Order {order.key} is {order.state} and stays where it is. Only drafted and booked orders move."
        raise MoveRefused(message)


def _ground_of(plan: Plan, asked: frozenset[str] | None) -> _Ground:
    """Return all that a plan stands on today; windows only of the orders asked for, where some are."""
    now, name = timezone.now(), plan.brief.name
    snapshot = load_snapshot(taken_on=now.date(), closures=load_closures(name))
    team, standings = replace(load_team(name), brief=load_settings(plan)), load_standings(plan)
    begun = frozenset(each.order.key for each in standings if each.begun)
    standing = with_stops(map(as_it_counts, standings), load_stops(), begun)
    orders = sequenced(standing, load_afters(), begun)
    log = load_log(snapshot, team.brief.log_starts)
    dated = tuple(order for order in orders if order.key in (asked or {o.key for o in orders} - begun))
    demands = demands_for(
        orders,
        find_windows(snapshot, dated, team.crews, team.phases, team.brief),
        team.crews,
        team.phases,
        team.brief,
        places_of(snapshot),
        parts=snapshot.catalogue.parts,
        spares=snapshot.catalogue.spares,
        now=now,
        fixed=tuple(each.placed for each in standings if each.begun and each.placed),
        wear=wear_of(snapshot, risk_of_campus(snapshot, log)),
    )
    booked = tuple(each.placed for each in standings if each.booked and each.placed)
    return _Ground(snapshot=snapshot, team=team, standings=standings, demands=replace(demands, booked=booked))
