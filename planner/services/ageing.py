"""How the campus ages, and whether the spares of each old model last a plan. Reads only."""

from dataclasses import dataclass
from datetime import date
from itertools import zip_longest

from django.utils import timezone

from inventory.core.campus_risk import CampusRisk, assess_risk
from inventory.core.snapshot import Snapshot
from inventory.core.spares import MONTHS_PER_YEAR, Pool, PoolCourse, run_pools
from inventory.store import load_snapshot
from inventory.store.failures import load_failures
from planner.core.brief import Brief
from planner.core.pools import PoolsFound, month_of, pools_along
from planner.models import Job, Plan, Reckoning
from planner.services.jobs import Outcome, Tell
from planner.store.ageing import keep_risks
from planner.store.briefs import load_brief
from planner.store.plans import load_orders, load_plan, load_settings

PERCENT = 100
FEWEST_MONTHS, MOST_MONTHS = MONTHS_PER_YEAR, 10 * MONTHS_PER_YEAR


@dataclass(frozen=True, slots=True, kw_only=True)
class SparesAlong:
    """The pools of a plan with their courses, in the same order, and what stands behind them.

    list_courses : of the same pools, had the work been done by the plain list, oldest first; empty where none is kept.
    """

    start: date
    months: int
    scrapped_share: float
    found: PoolsFound
    courses: tuple[PoolCourse, ...]
    list_courses: tuple[PoolCourse, ...]

    @property
    def rows(self) -> tuple[tuple[Pool, PoolCourse, PoolCourse | None], ...]:
        """Each pool with its course along the plan, and along the list."""
        return tuple(zip_longest(self.found.pools, self.courses, self.list_courses))


def campus_ageing(
    on: date, *, estimate_unknown: bool = False, brief: Brief | None = None
) -> tuple[Snapshot, CampusRisk]:
    """Return the campus as stored now, and what its records say of its ageing on a day.

    The brief (None: the first one) says since when the log of failures is complete.
    """
    snapshot = load_snapshot(taken_on=on)
    log = load_failures(snapshot.nodes.key, (brief or load_brief()).log_starts)
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


def spares_along(plan: Plan, on: date) -> SparesAlong:
    """Return what becomes of the spares of each old model from a day to the end of a plan, and of its plain list."""
    settings, orders, record = load_settings(plan), load_orders(plan), load_plan(plan)
    snapshot, risk = campus_ageing(on, brief=settings)
    found, by_list = (
        pools_along(
            snapshot,
            risk,
            orders,
            placed,
            start=on,
            floor=settings.spare_floor,
            scrapped_share=settings.scrapped_pct / PERCENT,
        )
        for placed in (record.placed, record.listed)
    )
    last = max((month_of(each.night, on) for each in (*record.placed, *record.listed)), default=0)
    months = min(max(last + 1, FEWEST_MONTHS), MOST_MONTHS)
    return SparesAlong(
        start=on,
        months=months,
        scrapped_share=settings.scrapped_pct / PERCENT,
        found=found,
        courses=run_pools(found.pools, months, seed=plan.seed),
        list_courses=run_pools(by_list.pools, months, seed=plan.seed) if record.listed else (),
    )
