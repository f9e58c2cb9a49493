"""Projects with precedence and renewable resources, through the core that dates orders, against another solver.

No package of the registries that is not itself a program for projects carries instances with their optima (psplib
holds a reader alone), so that small ones are drawn here and solved by HiGHS, which comes with scipy, from the binary
program of Pritsker, Watters and Wolfe (1969): Multiproject scheduling with limited resources. Management Science 16.
"""

import random
from dataclasses import dataclass

import numpy as np
import pytest
from scipy.optimize import Bounds, LinearConstraint, milp

from planner.core.schedule.core import Effort, solve_tasks
from planner.core.schedule.tasks import Capacity, Network, Option, Task, Use

ACTIVITIES, RESOURCES = 8, 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Project:
    """Durations, (before, after), and for each resource its limit and what each activity uses of it."""

    durations: tuple[int, ...]
    pairs: tuple[tuple[int, int], ...]
    limits: tuple[int, ...]
    uses: tuple[tuple[int, ...], ...]

    @property
    def horizon(self) -> int:
        return sum(self.durations)


def project_by_chance(seed: int) -> Project:
    draw = random.Random(seed)
    return Project(
        durations=tuple(draw.randint(1, 5) for _ in range(ACTIVITIES)),
        pairs=tuple((a, b) for b in range(ACTIVITIES) for a in range(b) if draw.random() < 0.2),
        limits=tuple(draw.randint(4, 6) for _ in range(RESOURCES)),
        uses=tuple(tuple(draw.randint(0, 4) for _ in range(ACTIVITIES)) for _ in range(RESOURCES)),
    )


def length_by_highs(project: Project) -> int:
    """Return the least length: one variable for each activity and start, and a last one for the end."""
    horizon, count = project.horizon, len(project.durations)
    starts = np.tile(np.arange(horizon), count)
    owner = np.repeat(np.arange(count), horizon)
    size = count * horizon + 1
    rows, low, high = [], [], []

    def bound(least: float, most: float, coefficients: np.ndarray, end: float = 0.0) -> None:
        rows.append(np.append(coefficients, end))
        low.append(least)
        high.append(most)

    for activity, duration in enumerate(project.durations):
        mine = owner == activity
        bound(1, 1, mine.astype(float))
        bound(-np.inf, 0, np.where(mine, starts + duration, 0.0), -1.0)
    for before, after in project.pairs:
        then = np.where(owner == after, starts, 0.0) - np.where(owner == before, starts, 0.0)
        bound(project.durations[before], np.inf, then)
    lasts = np.array(project.durations)[owner]
    for limit, uses in zip(project.limits, project.uses, strict=True):
        for moment in range(horizon):
            under_way = (starts <= moment) & (moment < starts + lasts)
            bound(-np.inf, limit, np.where(under_way, np.array(uses)[owner], 0.0))
    found = milp(
        c=np.append(np.zeros(size - 1), 1.0),
        constraints=LinearConstraint(np.array(rows), np.array(low), np.array(high)),
        integrality=np.ones(size, dtype=int),
        bounds=Bounds(np.zeros(size), np.append(np.ones(size - 1), horizon)),
    )
    assert found.success, found.message
    return round(found.fun)


def network_of(project: Project) -> Network:
    span = (Option(resource=None, start=0, end=project.horizon),)
    return Network(
        tasks=tuple(Task(key=str(i), duration=length, options=span) for i, length in enumerate(project.durations)),
        precedence=project.pairs,
        capacities=tuple(
            Capacity(
                name=str(number),
                limit=limit,
                uses=tuple(Use(task=i, amount=used) for i, used in enumerate(uses) if used),
            )
            for number, (limit, uses) in enumerate(zip(project.limits, project.uses, strict=True))
        ),
    )


@pytest.mark.parametrize("seed", range(12))
def test_a_project_is_as_short_as_another_solver_finds_it_and_proved_to_be(seed: int) -> None:
    project = project_by_chance(seed)
    answer = solve_tasks(network_of(project), Effort(seconds=10), makespan=True)
    assert answer.objective == answer.bound == length_by_highs(project)


def test_these_projects_are_bound_by_their_resources_and_by_their_order() -> None:
    # else they would show nothing: taken away, either makes some of them shorter
    lengths = [
        [
            solve_tasks(network, Effort(seconds=10), makespan=True).objective or 0
            for network in (
                whole,
                Network(tasks=whole.tasks, precedence=whole.precedence),
                Network(tasks=whole.tasks, capacities=whole.capacities),
            )
        ]
        for whole in (network_of(project_by_chance(seed)) for seed in range(12))
    ]
    assert sum(free < both for both, free, _ in lengths) >= 6
    assert sum(free < both for both, _, free in lengths) >= 3
