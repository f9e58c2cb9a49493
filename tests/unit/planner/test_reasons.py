"""Each reason why an order is left out, with the figures a planner needs to change it."""

from dataclasses import replace
from decimal import Decimal

import pytest

from inventory.core.catalogue import Part
from planner.core.plans import Unplanned, WindowsOfOrder
from planner.core.schedule import make_plan
from tests.unit.planner.nights import NOW, PHASE, Job, need, order, window

A, B = order("a", benefit=5.0), order("b")
JOB = Job(orders=(A, B), spans=(window("a"), window("b")))
BOX = (Part(key="box", lead_time_days=30, on_hand=Decimal("0.0000")),)


def why_b(job: Job) -> Unplanned:
    (left,) = job.plan().unplanned
    assert left.order == "b"
    return left


@pytest.mark.parametrize(
    ("job", "code", "words"),
    [
        (JOB.but(orders=(A, replace(B, unknown=("minutes of method m",)))), "facts missing", "minutes of method m"),
        (JOB.but(orders=(A, replace(B, people=3))), "too few people", "needs 3 people, the largest crew has 2"),
        (
            JOB.but(orders=(A, order("b", hours=7)), spans=(window("a"),)),
            "no window long enough",
            "needs 420 min on site, the longest window found is 360 min",
        ),
        (JOB.but(spans=(window("a"),), longest_free_min=0), "no window", "no time was found"),
        (JOB.but(orders=(A, replace(B, predecessors=("gone",)))), "predecessor unplanned", "comes after gone"),
        (
            # ordered 1 March, 30 days of lead: 31 March, a Wednesday; three working days more: Monday 5 April
            JOB.but(orders=(A, replace(B, parts=(replace(need("box"), quantity=Decimal("2.0000")),))), parts=BOX),
            "parts too late",
            "2 of part box needed, 0 on hand by then, usable from 5 Apr 2027 if bought for P1; the last window is the night of 8 Mar 2027",
        ),
        (
            JOB.but(orders=(A, replace(B, parts=(need("box"),))), parts=(Part(key="box"),)),
            "parts too late",
            "lead time not known",
        ),
        (
            JOB.but(orders=(A, replace(B, unpriced=("box",))), phases=(replace(PHASE, budget=Decimal(900)),)),
            "price not known",
            "no price is known for box",
        ),
        (
            JOB.but(phases=(replace(PHASE, budget=Decimal(150)),)),
            "budget spent",
            "it costs 100 EUR; P1 has 50 of 150 EUR left",
        ),
        (
            JOB.but(spans=(window("a", end=22), window("b", end=22))),
            "crowded out",
            "its 1 window is taken by a",
        ),
    ],
)
def test_reason_and_figures(job: Job, code: str, words: str) -> None:
    left = why_b(job)
    assert left.code == code
    assert words in left.reason


def test_a_calendar_that_cannot_be_read_is_passed_on_in_its_own_words() -> None:
    windows = (
        JOB.windows[0],
        WindowsOfOrder(order="b", windows=(), longest_free_min=0, problems=("hall.ics line 7: no end",)),
    )
    plan = make_plan(
        JOB.orders,
        windows,
        JOB.crews,
        JOB.phases,
        JOB.brief,
        JOB.places,
        parts=(),
        spares=(),
        now=NOW,
        seconds=1,
        seed=1,
        workers=1,
    )
    assert [(left.code, left.reason) for left in plan.unplanned] == [("no window", "hall.ics line 7: no end")]


def test_blockers_are_named_up_to_five() -> None:
    rich = tuple(order(f"r{i}", hours=1, benefit=5.0) for i in range(6))
    job = Job(orders=(*rich, replace(B, outage_min=60)), spans=tuple(window(each.key) for each in (*rich, B)))
    assert why_b(job).reason == "its 1 window is taken by r0, r1, r2, r3, r4 and 1 more"
