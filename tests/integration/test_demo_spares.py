"""The demo campus shows what a sequence is worth: a pool of spares that a list by age alone lets run out, and the plan does not."""

from datetime import UTC, date, datetime
from pathlib import Path

import numpy as np
import pytest

import fixtures
from fixtures.make_campus import CALENDARS, WORKBOOK
from fixtures.upkeep import FAILING
from inventory.core.campus_risk import assess_risk
from inventory.core.risk import riskiest_rooms
from inventory.core.snapshot import Snapshot
from inventory.core.spares import BEARABLE_ODDS, PoolCourse, run_pools
from inventory.store.failures import load_failures
from inventory.store.snapshot import load_snapshot
from planner.core.pipeline import Effort, Planned, plan_from_verdicts, prepare
from planner.core.plans import Placed, Progress
from planner.core.pools import pools_along
from planner.core.verdicts import assess
from planner.services.intake import take_with_calendars
from planner.services.plan import load_team
from planner.store.briefs import load_brief, load_closures

FOLDER = Path(fixtures.__file__).parent
START, MONTHS = date(2026, 11, 16), 12
CLEARLY_BETTER = 0.9  # of what the list costs
pytestmark = pytest.mark.django_db


@pytest.fixture
def snapshot() -> Snapshot:
    calendars = {path.name: path.read_bytes() for path in (FOLDER / CALENDARS).glob("*.ics")}
    assert take_with_calendars((FOLDER / WORKBOOK).read_bytes(), WORKBOOK, calendars, by=None).stored
    return load_snapshot(START, load_closures())


def planned_from(snapshot: Snapshot) -> Planned:
    """Return a plan that is clearly better than its list: told to stop there, so that no clock decides what it is."""
    seen: list[int] = []

    def go_on(progress: Progress) -> bool:
        seen.extend([] if progress.objective is None else [progress.objective])
        return not seen or seen[-1] > CLEARLY_BETTER * seen[0]

    return plan_from_verdicts(
        snapshot,
        assess(snapshot, load_brief()),
        load_team("First plan"),
        Effort(seconds=60.0, seed=1, workers=1),
        now=datetime(2026, 11, 16, 9, tzinfo=UTC),
        log=load_failures(snapshot.nodes.key),
        tell=go_on,
    )


def course_of(snapshot: Snapshot, planned: Planned, placed: tuple[Placed, ...]) -> PoolCourse:
    found = pools_along(
        snapshot,
        assess_risk(snapshot, load_failures(snapshot.nodes.key)),
        planned.orders,
        placed,
        start=START,
        floor=planned.team.brief.spare_floor,
        scrapped_share=planned.team.brief.scrapped_pct / 100,
    )
    (pool,) = (pool for pool in found.pools if pool.model == FAILING)
    return run_pools([pool], MONTHS)[0]


def test_one_pool_runs_out_under_the_list_by_age_and_not_under_the_plan(snapshot: Snapshot) -> None:
    planned = planned_from(snapshot)
    plan, by_list = (course_of(snapshot, planned, placed) for placed in (planned.plan.placed, planned.plan.listed))
    assert plan.run_out_odds[-1] <= BEARABLE_ODDS, "the plan frees spares in time"
    assert (plan.first_month, plan.buy_least) == (None, 0)
    assert by_list.run_out_odds[-1] > 4 * BEARABLE_ODDS, "far past what is borne"
    assert by_list.first_month is not None
    assert by_list.buy_least > 0
    assert by_list.free_least, "taking some down earlier is told of as a way out"


def test_what_an_order_is_worth_goes_by_the_risks_of_its_stations(snapshot: Snapshot) -> None:
    log = load_failures(snapshot.nodes.key)
    reports, team = assess(snapshot, load_brief()), load_team("First plan")
    prepared = prepare(snapshot, reports, team, now=datetime(2026, 11, 16, 9, tzinfo=UTC), log=log)
    ranking = assess_risk(snapshot, log).ranking
    score = dict(zip((snapshot.nodes.key[at] for at in ranking.station.tolist()), ranking.score.tolist(), strict=True))
    sums = [(order.benefit, [score[station] for station in order.stations]) for order in prepared.demands.orders]
    shares = [worth / sum(scores) for worth, scores in sums if np.isfinite(scores).all()]
    assert len(shares) > 10
    assert shares == pytest.approx([shares[0]] * len(shares), rel=1e-4), "one scale for all"


def test_ten_rooms_are_at_most_risk_and_those_of_the_failing_model_are_among_them(snapshot: Snapshot) -> None:
    risk = assess_risk(snapshot, load_failures(snapshot.nodes.key))
    rooms = riskiest_rooms(risk.ranking, snapshot.nodes.room)
    assert len(rooms) == 10
    assert [one.score for one in rooms] == sorted((one.score for one in rooms), reverse=True)
    models = [model.key for model in snapshot.catalogue.models]
    failing = snapshot.nodes.room[snapshot.nodes.model == models.index(FAILING)]
    assert {one.room for one in rooms} & set(failing.tolist())
