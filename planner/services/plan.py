"""Make a plan of a brief, and keep it."""

import os
from dataclasses import dataclass, replace

from django.contrib.auth.models import User
from django.utils import timezone

from inventory.store import load_snapshot
from planner.core.clashes import Ground
from planner.core.impossible import bound_alone, known_before, refuse_impossible, with_bounds
from planner.core.pipeline import Effort, Planned, Prepared, Team, plan_prepared, prepare
from planner.core.plans import Progress
from planner.core.schedule.hands import Hands
from planner.models import Brief, Job, Plan
from planner.models.briefs import FIRST_BRIEF
from planner.models.plans import AFRESH, AGAIN
from planner.services.ageing import reckon_risks
from planner.services.assess import assess_campus, silent
from planner.services.jobs import Outcome, Tell
from planner.services.pieces import OtherWorkers, places_to_work
from planner.services.plan_so_far import PlanSoFar
from planner.store.ageing import load_log
from planner.store.briefs import load_brief, load_closures, load_crews, load_phases
from planner.store.choices import keep_not_grouped, load_choices
from planner.store.plans import load_standings, save_plan

DEFAULT_SECONDS = 30.0


class NoSuchBrief(ValueError):  # noqa: N818 - says what it is
    """No brief has this name; the message lists those that there are."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Kept:
    """A stored plan with all it was made from."""

    plan: Plan
    planned: Planned


def brief_named(name: str) -> Brief:
    """Return the brief of this name; the first one is there from the start."""
    if name == FIRST_BRIEF:
        return Brief.objects.get_or_create(name=FIRST_BRIEF)[0]
    brief = Brief.objects.filter(name=name).first()
    if brief is None:
        names = ", ".join(Brief.objects.values_list("name", flat=True)) or "none"
        message = f"There is no brief named {name!r}. Briefs: {names}."
        raise NoSuchBrief(message)
    return brief


def load_team(brief_name: str) -> Team:
    """Return the brief of this name with its crews and phases as stored."""
    return Team(brief=load_brief(brief_name), crews=load_crews(brief_name), phases=load_phases(brief_name))


def plan_campus(
    brief_name: str = FIRST_BRIEF,
    *,
    seconds: float = DEFAULT_SECONDS,
    seed: int = 1,
    by: User | None = None,
    tell: Tell = silent,
    goes_on_from: Plan | None = None,
    so_far: PlanSoFar | None = None,
    job: Job | None = None,
) -> Kept:
    """Assess the campus as it stands now, plan it by the named brief, and keep verdicts and plan.

    A plan that goes on from another keeps what is begun, and what is booked where it can. `so_far` keeps better plans
    as they come, and gives what an earlier try had. `job` is the work that this is, so that other workers can help.
    """
    brief = brief_named(brief_name)
    now = timezone.now()
    assessed = assess_campus(by=str(by) if by else None, tell=tell)
    reckon_risks()
    snapshot = load_snapshot(taken_on=now.date(), closures=load_closures(brief_name))
    team = load_team(brief_name)
    prepared = prepare(
        snapshot,
        assessed.reports,
        team,
        now=now,
        choices=load_choices(),
        standings=load_standings(goes_on_from) if goes_on_from else (),
        log=load_log(snapshot, team.brief.log_starts),
    )
    places = places_to_work() if job else 0
    hands = OtherWorkers(job) if job and places > 1 else None
    effort = Effort(seconds=seconds, seed=seed, workers=places if hands else os.cpu_count() or 1)
    planned = plan_afresh_or_again(prepared, effort, tell, so_far, hands)
    plan = save_plan(
        planned,
        brief=brief,
        assessment=assessed.assessment,
        by=by,
        made=now,
        goes_on_from=goes_on_from,
        origin=AGAIN if goes_on_from else AFRESH,
    )
    keep_not_grouped(planned.not_grouped, at=now)
    return Kept(plan=plan, planned=planned)


def plan_afresh_or_again(
    prepared: Prepared,
    effort: Effort,
    tell: Tell = silent,
    so_far: PlanSoFar | None = None,
    hands: Hands | None = None,
) -> Planned:
    """Plan what is prepared, unless that is impossible, and tell what binds left-out orders alone.

    Raises
    ------
    BriefImpossible
        Before anything is solved, with the smallest set of demands that clash and what would free it.

    """
    ground = _ground(prepared)
    if not prepared.standings:
        tell(DOING["asking"], 0.0)
        refuse_impossible(prepared.demands, ground)
    kept, known = so_far or PlanSoFar(), known_before(prepared.demands)

    def take(progress: Progress) -> bool:
        kept.take(progress)
        return tell(_in_words(progress, known), progress.done)

    planned = plan_prepared(prepared, effort, take, kept.begin, hands)
    bounds = bound_alone(ground, planned.plan.unplanned)
    left_out = with_bounds(planned.plan.unplanned, bounds, prepared.team.brief.currency)
    return replace(planned, plan=replace(planned.plan, unplanned=left_out))


def _ground(prepared: Prepared) -> Ground:
    demands, team = prepared.demands, prepared.team
    return Ground(
        snapshot=prepared.snapshot,
        crews=team.crews,
        phases=team.phases,
        brief=team.brief,
        orders=demands.orders,
        now=demands.now,
        put_off=tuple((each.order.key, each.not_before) for each in prepared.standings if each.not_before),
    )


DOING = {
    "asking": "Asking whether anything can be dated at all",
    "listing": "Making the plain list, oldest first",
    "bounding": "Finding out how good a plan can be at most",
    "composing": "Putting nights together",
    "improving": "Still improving: planning some nights anew",
    "proving": "Looking for proof that no plan is better",
    "checking": "Checking the plan against every rule",
}


def _in_words(progress: Progress, known: tuple[str, ...]) -> str:
    """Say how far the search is, and what was known of single orders before it began."""
    said = [DOING.get(progress.doing, progress.doing)]
    if progress.objective is not None and progress.bound is not None and progress.objective > 0:
        away = (progress.objective - progress.bound) / progress.objective
        said.append(f"The best plan so far is at most {away:.1%} from the best possible")
    if known:
        more = f", and {len(known) - 1} more orders fit in nowhere" if len(known) > 1 else ""
        said.append(f"Known beforehand: {known[0].rstrip('.')}{more}")
    return ". ".join(said)


def do(job: Job, tell: Tell) -> Outcome:
    """Plan in the background."""
    demand = job.demand
    kept = plan_campus(
        demand.get("brief", FIRST_BRIEF),
        seconds=float(demand.get("seconds", DEFAULT_SECONDS)),
        seed=int(demand.get("seed", 1)),
        by=job.by,
        tell=tell,
        goes_on_from=Plan.objects.filter(pk=demand.get("goes_on_from")).first(),
        so_far=PlanSoFar(job),
        job=job,
    )
    return Outcome(result={"plan": kept.plan.pk, "placed": len(kept.planned.plan.placed), "gap": kept.plan.gap})
