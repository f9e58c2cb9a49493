"""An order that was backed out: no plan dates it before somebody says what was done, and the reason is named."""

from dataclasses import replace
from datetime import date

from planner.core.choices import Stop
from planner.core.demands import demands_for
from planner.core.plans import Plan
from planner.core.reasons import ReasonCode
from planner.core.schedule import plan_for
from planner.core.schedule.core import Effort
from planner.core.stops import stopped_groups, with_stops
from tests.unit.planner.nights import NOW, PLACES, Job, order, window

A, B = (order(key) for key in "ab")
WET = Stop(name="7", order="a", segments=A.segments, on=date(2027, 3, 1), why="a joint is wet")
WORDS = "order a was backed out on 1 Mar 2027 (a joint is wet), and nobody has said yet what was done about that"


def planned(job: Job) -> Plan:
    demands = demands_for(
        job.orders, job.windows, job.crews, job.phases, job.brief, PLACES, parts=(), spares=(), now=NOW
    )
    return plan_for(demands, Effort(seconds=2, seed=1))


def test_a_stopped_order_is_left_out_with_its_reason_though_its_windows_are_free() -> None:
    spans = tuple(window(key, night) for key in "ab" for night in range(2))
    free = planned(Job(orders=(A, B), spans=spans))
    assert {one.order for one in free.placed} == {"a", "b"}
    plan = planned(Job(orders=with_stops((A, B), (WET,)), spans=spans))
    assert {one.order for one in plan.placed} == {"b"}
    (left,) = plan.unplanned
    assert (left.order, left.code, left.reason) == ("a", ReasonCode.STOPPED, WORDS)


def test_what_is_said_to_be_mended_stops_no_more_and_what_is_begun_is_never_stopped() -> None:
    stopped = replace(A, stopped=(WORDS,))
    assert with_stops((stopped, B), ()) == (A, B)
    assert with_stops((A, B), (WET,)) == (stopped, B)
    assert with_stops((A, B), (WET,), frozenset({"a"})) == (A, B)


def test_a_stopped_order_stays_an_order_of_its_own() -> None:
    (held,) = stopped_groups((WET,))
    assert (held.parts, held.alone) == ((A.segments,), True)
