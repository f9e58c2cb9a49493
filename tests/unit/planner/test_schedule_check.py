"""A brief that cannot work says which demands clash, before any search."""

from dataclasses import replace
from datetime import timedelta
from decimal import Decimal

import pytest

from planner.core.brief import Brief
from planner.core.demands import Demands
from planner.core.schedule import BriefImpossible
from planner.core.schedule.check import brief_problems
from tests.unit.planner.nights import NOW, PHASE, PLACES, Job, order, put, window

A, B = order("a"), order("b", hours=9)
JOB = Job(orders=(A,), spans=(window("a"),))
AFTER_A, AFTER_B = replace(A, predecessors=("b",)), replace(order("b"), predecessors=("a",))
LATER = replace(PHASE, key="P2", start=PHASE.end, end=PHASE.end + timedelta(days=9))


@pytest.mark.parametrize(
    ("job", "code", "words"),
    [
        (JOB.but(crews=()), "no crew", "There is no crew"),
        (JOB.but(phases=()), "no phase", "no phase to work in"),
        (
            JOB.but(phases=(replace(PHASE, start=PHASE.end + timedelta(days=1)),)),
            "phase dates",
            "before it starts on 22 Mar 2027",
        ),
        (JOB.but(phases=(PHASE, LATER)), "phases overlap", "P1 and P2 overlap from 21 Mar 2027 to 21 Mar 2027"),
        (JOB.but(phases=(replace(PHASE, budget=Decimal("99.99")),)), "budget", "cheapest order a costs 100 EUR"),
        (JOB.but(spans=(), longest_free_min=90), "no window", "90 min, the shortest order takes 120 min"),
        (JOB.but(orders=(AFTER_A, AFTER_B), spans=(window("a"), window("b"))), "cycle", "Orders a, b each wait"),
        (
            JOB.but(phases=(replace(PHASE, budget=Decimal(900)),), brief=Brief(currency="USD")),
            "currencies",
            "EUR and USD, which are never added",
        ),
        (JOB.but(fixed=(put(A, 0, 20), put(order("z"), 0, 21))), "fixed clash", "a and z are fixed, and crew Red"),
    ],
)
def test_demands_that_clash_are_named_and_nothing_is_planned(job: Job, code: str, words: str) -> None:
    with pytest.raises(BriefImpossible, match=words) as caught:
        job.plan()
    assert code in [problem.code for problem in caught.value.problems]
    assert all(problem.demands for problem in caught.value.problems)


@pytest.mark.parametrize(
    "job",
    [
        JOB.but(phases=(PHASE, replace(LATER, start=PHASE.end + timedelta(days=1)))),  # the day after
        JOB.but(phases=(replace(PHASE, districts=("east",)), replace(LATER, districts=("west",)))),
        JOB.but(phases=(replace(PHASE, budget=Decimal("100.00")),)),
        JOB.but(brief=Brief(currency="USD")),  # no budget that would add them
        JOB.but(fixed=(put(A, 0, 20), put(order("z"), 0, 22))),  # one ends as the other starts
    ],
)
def test_what_just_fits_together_is_planned(job: Job) -> None:
    assert job.plan().placed


def test_an_order_longer_than_any_window_is_told_but_does_not_stop_the_others() -> None:
    job = JOB.but(orders=(A, B))
    demands = Demands(
        orders=job.orders,
        windows=job.windows,
        crews=job.crews,
        phases=job.phases,
        brief=job.brief,
        places=PLACES,
        parts=(),
        spares=(),
        now=NOW,
        arrivals={},
    )
    problems = brief_problems(demands)
    assert [(problem.code, problem.fatal, problem.demands) for problem in problems] == [
        ("order too long", False, ("order b",))
    ]
    assert "540 min, the longest free time found is 360 min" in problems[0].message
    assert [each.order for each in job.plan().placed] == ["a"]
