"""How the campus ages, and whether the spares of each old model last a plan. Reads only."""

from dataclasses import dataclass, replace
from datetime import date
from itertools import zip_longest

import numpy as np
from django.utils import timezone

from inventory.core.campus_risk import CampusRisk, assess_risk
from inventory.core.former import as_it_stood
from inventory.core.snapshot import Snapshot
from inventory.core.spares import MONTHS_PER_YEAR, Pool, PoolCourse, run_pools
from inventory.store import load_snapshot
from planner.core.brief import Brief
from planner.core.plans import Order, Placed
from planner.core.plans import Plan as PlanRecord
from planner.core.pools import Forward, PoolsFound, bring_forward, month_of, pools_along
from planner.models import Job, Plan, Reckoning
from planner.services.jobs import Outcome, Tell
from planner.store.ageing import keep_risks, load_log, spares_at
from planner.store.briefs import load_brief
from planner.store.plans import keys_over, keys_under_way, load_orders, load_plan, load_settings

PERCENT = 100
FEWEST_MONTHS, MOST_MONTHS = MONTHS_PER_YEAR, 10 * MONTHS_PER_YEAR


@dataclass(frozen=True, slots=True, kw_only=True)
class SparesAlong:
    """The pools of a plan with their courses, in the same order, and what stands behind them.

    start : the day from which on they are told. list_courses : of the same pools, had the work been done by the plain list,
    oldest first; empty where none is kept. overdue : orders whose night has passed and that nobody has accepted: what they
    would free is not counted. forward : of each pool, which orders brought forward would make it last; None: none would.
    same_as_list : whether plan and list free each pool in the same months.
    """

    start: date
    months: int
    scrapped_share: float
    found: PoolsFound
    courses: tuple[PoolCourse, ...]
    list_courses: tuple[PoolCourse, ...]
    overdue: tuple[str, ...]
    forward: tuple[Forward | None, ...]
    same_as_list: bool

    @property
    def rows(self) -> tuple[tuple[Pool, PoolCourse, PoolCourse | None, Forward | None], ...]:
        """Each pool with its course along the plan, and along the list, and the orders that would help."""
        return tuple(zip_longest(self.found.pools, self.courses, self.list_courses, self.forward))


def campus_ageing(
    on: date, *, estimate_unknown: bool = False, brief: Brief | None = None
) -> tuple[Snapshot, CampusRisk]:
    """Return the campus as stored now, and what its records say of its ageing on a day.

    The brief (None: the first one) says since when the log of failures is complete.
    """
    snapshot = load_snapshot(taken_on=on)
    log = load_log(snapshot, (brief or load_brief()).log_starts)
    return snapshot, assess_risk(snapshot, log, estimate_unknown=estimate_unknown)


def reckon_risks() -> Reckoning:
    """Reckon the risk of every station as of today and keep it for the lists."""
    now = timezone.now()
    on = timezone.localdate(now)
    snapshot, risk = campus_ageing(on)
    return keep_risks(snapshot, risk.ranking, at=now, on=on)


def do(_job: Job, tell: Tell) -> Outcome:
    """Reckon risks in the background."""
    tell("Reckoning what fails next", 0.2)
    reckoned = reckon_risks()
    return Outcome(result={"stations": reckoned.stations, "told": reckoned.told})


def spares_along(plan: Plan, on: date, *, as_made: bool = False) -> SparesAlong:
    """Return what becomes of the spares of each old model from a day to the end of a plan, and of its plain list.

    as_made : from the day on which the plan was made, by the records of that day, in place of `on`.
    """
    settings, record = load_settings(plan), load_plan(plan)
    start = timezone.localdate(plan.made) if as_made else on
    snapshot, risk = _as_it_was(plan, start, settings) if as_made else campus_ageing(on, brief=settings)
    work = _work_of(plan, record, start, as_made=as_made)
    scrapped = settings.scrapped_pct / PERCENT
    found, by_list = (
        pools_along(
            snapshot, risk, work.orders, placed, start=start, floor=settings.spare_floor, scrapped_share=scrapped
        )
        for placed in (work.placed, work.listed)
    )
    last = max((month_of(each.night, start) for each in (*work.placed, *work.listed)), default=0)
    months = min(max(last + 1, FEWEST_MONTHS), MOST_MONTHS)
    courses = run_pools(found.pools, months, seed=plan.seed)
    return SparesAlong(
        start=start,
        months=months,
        scrapped_share=scrapped,
        found=found,
        courses=courses,
        list_courses=run_pools(by_list.pools, months, seed=plan.seed) if record.listed else (),
        overdue=work.overdue,
        forward=tuple(
            bring_forward(pool, movers, course, months=months, seed=plan.seed)
            for pool, movers, course in zip(found.pools, found.movers, courses, strict=True)
        ),
        same_as_list=all(
            np.array_equal(one.leaves_month, other.leaves_month)
            for one, other in zip(found.pools, by_list.pools, strict=True)
        ),
    )


def _as_it_was(plan: Plan, on: date, settings: Brief) -> tuple[Snapshot, CampusRisk]:
    """Return the campus on the day on which a plan was made, and what its records said of its ageing."""
    now = load_snapshot(taken_on=on)
    snapshot, log = as_it_stood(now, load_log(now, settings.log_starts), on)
    snapshot = replace(snapshot, catalogue=replace(snapshot.catalogue, spares=spares_at(plan.made)))
    return snapshot, assess_risk(snapshot, log)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Work:
    """What a plan still has before it from a day on, by the plan and by its list, and what should have been done by then."""

    orders: tuple[Order, ...]
    placed: tuple[Placed, ...]
    listed: tuple[Placed, ...]
    overdue: tuple[str, ...]


def _work_of(plan: Plan, record: PlanRecord, start: date, *, as_made: bool) -> _Work:
    """Return the work before a plan: what is accepted is in the records already, what is backed out frees nothing.

    An order whose night has passed and that nobody accepted is overdue and frees nothing until it is done or put off.
    """
    before = frozenset(each.order for each in record.placed if each.night < start)
    gone = before if as_made else keys_over(plan)
    on_site = frozenset() if as_made else keys_under_way(plan)
    placed = tuple(each for each in record.placed if each.order not in gone and _ahead(each, start, on_site))
    mine = {each.order for each in placed}
    return _Work(
        orders=tuple(order for order in load_orders(plan) if order.key not in gone),
        placed=placed,
        listed=tuple(
            each for each in record.listed if each.order not in gone and (each.order in mine or each.night >= start)
        ),
        overdue=tuple(sorted(before - gone - mine)),
    )


def _ahead(each: Placed, start: date, on_site: frozenset[str]) -> bool:
    return each.night >= start or each.order in on_site
