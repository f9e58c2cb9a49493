"""How the campus ages, and whether the spares of each old model last a plan. Reads only."""

from dataclasses import dataclass
from datetime import date

from django.utils import timezone

from inventory.core.campus_risk import CampusRisk, assess_risk
from inventory.core.snapshot import Snapshot
from inventory.core.spares import MONTHS_PER_YEAR, Pool, PoolCourse, run_pools
from inventory.store import load_snapshot
from inventory.store.failures import load_failures
from planner.core.pools import PoolsFound, month_of, pools_along
from planner.models import Job, Plan, Reckoning
from planner.services.jobs import Outcome, Tell
from planner.store.ageing import keep_risks
from planner.store.plans import load_orders, load_plan, load_settings

SCRAPPED_SHARE = 0.2  # of stations taken down that are no use as spares; common practice, no measured rate
FEWEST_MONTHS, MOST_MONTHS = MONTHS_PER_YEAR, 10 * MONTHS_PER_YEAR


@dataclass(frozen=True, slots=True, kw_only=True)
class SparesAlong:
    """The pools of a plan with their courses, in the same order, and what stands behind them."""

    start: date
    months: int
    found: PoolsFound
    courses: tuple[PoolCourse, ...]

    @property
    def pairs(self) -> tuple[tuple[Pool, PoolCourse], ...]:
        """Each pool with its course."""
        return tuple(zip(self.found.pools, self.courses, strict=True))


def campus_ageing(on: date, *, estimate_unknown: bool = False) -> tuple[Snapshot, CampusRisk]:
    """Return the campus as stored now, and what its records say of its ageing on a day."""
    snapshot = load_snapshot(taken_on=on)
    return snapshot, assess_risk(snapshot, load_failures(snapshot.nodes.key), estimate_unknown=estimate_unknown)


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


def spares_along(plan: Plan, on: date, *, scrapped_share: float = SCRAPPED_SHARE) -> SparesAlong:
    """Return what becomes of the spares of each old model from a day to the end of a plan."""
    snapshot, risk = campus_ageing(on)
    placed = load_plan(plan).placed
    floor = load_settings(plan).spare_floor
    found = pools_along(snapshot, risk, load_orders(plan), placed, start=on, floor=floor, scrapped_share=scrapped_share)
    last = max((month_of(each.night, on) for each in placed), default=0)
    months = min(max(last + 1, FEWEST_MONTHS), MOST_MONTHS)
    return SparesAlong(start=on, months=months, found=found, courses=run_pools(found.pools, months, seed=plan.seed))
