"""Scenarios: what the briefs that stand beside each other say, and what cannot work in them, before anything is solved."""

from dataclasses import dataclass

from django.utils import timezone

from planner.core.brief import BriefError
from planner.core.demands import demands_for
from planner.core.impossible import unpaid_phases
from planner.core.plans import Places
from planner.core.schedule import BriefProblem
from planner.core.schedule.check import brief_problems
from planner.models import Brief, Closure
from planner.models.briefs import FIRST_BRIEF
from planner.store.briefs import load_brief, load_crews, load_phases


@dataclass(frozen=True, slots=True, kw_only=True)
class Scenario:
    """One brief as it stands, with how much of its own it has."""

    brief: Brief
    crews: int
    phases: int
    plans: int

    @property
    def is_workbooks(self) -> bool:
        """Whether it is the one that the workbook fills."""
        return self.brief.name == FIRST_BRIEF


def scenarios() -> tuple[Scenario, ...]:
    """Return all briefs by name, the workbook's first."""
    rows = Brief.objects.select_related("copied_from").prefetch_related("crews", "phases", "plans")
    some = [
        Scenario(brief=row, crews=len(row.crews.all()), phases=len(row.phases.all()), plans=len(row.plans.all()))
        for row in rows
    ]
    return tuple(sorted(some, key=lambda each: (not each.is_workbooks, each.brief.name)))


def problems_of(name: str) -> tuple[BriefProblem, ...]:
    """Return what cannot work in a brief, of all that can be seen without looking at any order."""
    try:
        brief = load_brief(name)
    except BriefError as error:
        return (BriefProblem(code="setting", message=str(error), demands=(f"setting {error.setting}",)),)
    crews, phases = load_crews(name), load_phases(name)
    places, now = Places(), timezone.now()
    seen = brief_problems(demands_for((), (), crews, phases, brief, places, parts=(), spares=(), now=now))
    return (*seen, *unpaid_phases(phases, brief.currency))


def closures_for(name: str) -> tuple[tuple[Closure, bool], ...]:
    """Return the closures of the campus and of a brief, each with whether it holds for the brief."""
    lifted = set(Closure.objects.filter(lifted_in__name=name).values_list("pk", flat=True))
    rows = Closure.objects.filter(brief__name__in=(FIRST_BRIEF, name)).select_related("building", "room", "brief")
    return tuple((row, row.pk not in lifted) for row in rows)
