"""The schedule: which order is done when and by whom, with a proved bound. Only this package uses the solver.

The objective is one whole number; lower is better. Its unit is a hundredth of an average order's benefit for a day,
times the weight it stands under, all weights from the brief (defaults in brackets):

- an order left out costs its benefit for every day of the horizon (first day to end of the last phase), at the weight
  of benefit [100] and at that of sooner [10];
- an order that is done costs its benefit for every day until its night, at the weight of sooner [10];
- every night with a crew out costs 100 at the weight of nights [1], and so does each building that a crew comes to in
  a night (a journey);
- every order of the last plan that moves to another crew or night, or is left out, costs 100 at the weight of
  moves [5]; a booked one that moves at all, be it by a minute, 100 at the weight of booked moves [50].

Benefit is scaled so that the average order has 100 points, at least 1. The horizon starts with the first phase, or
today where that is later.

`make_plan` goes through these stages, each of which only makes the plan or the bound better (see `hunt`):

1. the oldest-first list, at once (`listing`);
2. up to 15 orders a short try of the whole model (`core`);
3. a bound from loads, which are what a crew can do in a night: where all of them can be counted (`table`), prices are
   tried against every one in array steps (`ascent`), elsewhere against rounded minutes (`loads`, `program`); and a list
   that the relaxation leads (`relax`, `layout`);
4. up to 70 orders the proof, from all loads that a better plan could have and what of them goes together (`proof`,
   `meeting`, `fitting`), and up to 400 a plan put together from good loads (`compose`, `puzzle`);
5. in turns, as each wins more (`turns`): groups of nights planned anew from their loads (`groups`), and some nights at a
   time solved to the minute (`search`), several at once on one board (`board`), by processes or by whoever else lends a hand (`hands`).

The work of stages is counted, not timed, so that the same input, seed and workers give the same plan for as long as
the clock does not end it first: four fifths of the time for a large plan are given out as work, and the clock stops
what is not done when the time is over, so on a busy or slow machine plans may differ. A stage that is stopped keeps
the best plan that it had.
"""

from planner.core.plans import Place, Places, Progress
from planner.core.schedule.check import BriefImpossible, BriefProblem
from planner.core.schedule.places import places_of
from planner.core.schedule.planning import PlanCheckFailed, make_plan, plan_for

__all__ = [
    "BriefImpossible",
    "BriefProblem",
    "Place",
    "Places",
    "PlanCheckFailed",
    "Progress",
    "make_plan",
    "places_of",
    "plan_for",
]
