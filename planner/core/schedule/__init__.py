"""The schedule: which order is done when and by whom, with a proved bound. Only this package uses the solver.

The objective is one whole number; lower is better. Its unit is a hundredth of an average order's benefit for a day,
times the weight it stands under, all weights from the brief (defaults in brackets):

- an order left out costs its benefit for every day of the horizon (first day to end of the last phase), at the weight
  of benefit [100] and at that of sooner [10];
- an order that is done costs its benefit for every day until its night, at the weight of sooner [10];
- every night with a crew out costs 100 at the weight of nights [1], and so does each building that a crew comes to in
  a night (a journey);
- every order of the last plan that moves to another crew or night, or is left out, costs 100 at the weight of
  moves [5].

Benefit is scaled so that the average order has 100 points, at least 1. The horizon starts with the first phase, or
today where that is later.

`make_plan` takes the oldest-first list, then searches with CP-SAT: the whole model where it is small, and piece by
piece (see `search`). The bound comes from the whole model or from a linear relaxation with dual-feasible functions
(see `rows`, `relax`). Beyond 200 orders the list stands, with its bound.
"""

from planner.core.plans import Place, Places, Progress
from planner.core.schedule.check import BriefImpossible, BriefProblem
from planner.core.schedule.places import places_of
from planner.core.schedule.planning import PlanCheckFailed, make_plan

__all__ = [
    "BriefImpossible",
    "BriefProblem",
    "Place",
    "Places",
    "PlanCheckFailed",
    "Progress",
    "make_plan",
    "places_of",
]
