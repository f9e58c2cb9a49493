"""How sure a plan is, on nights small enough to follow by hand."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from scipy import stats

from inventory.core.catalogue import Method, MethodStep
from planner.core.brief import Brief
from planner.core.outlook import Outlook, look_ahead, order_spreads
from planner.core.plans import Conversion, Placed, WindowsOfOrder
from planner.core.spread import shapes
from tests.unit.planner.nights import MONDAY, PHASE, at, order, put, window

CERTAIN = Brief(shortest_pct=100, longest_pct=100, travel_same_district_min=0)
A, B = order("a"), order("b")  # each 2 hours in building North


def _look(
    placed: tuple[Placed, ...], windows: dict[str, tuple[tuple[int, float, float], ...]], **more: object
) -> Outlook:
    orders = more.pop("orders", (A, B))
    found = [
        WindowsOfOrder(order=key, windows=tuple(window(key, *each) for each in spans), longest_free_min=0)
        for key, spans in windows.items()
    ]
    facts: dict[str, object] = {"brief": CERTAIN, "methods": (), "phases": (PHASE,), **more}
    return look_ahead(
        placed,
        {each.key: each for each in orders},  # type: ignore[attr-defined]
        found,
        facts["methods"],  # type: ignore[arg-type]
        facts["phases"],  # type: ignore[arg-type]
        facts["brief"],  # type: ignore[arg-type]
        courses=400,
    )


TWO = (put(A, 0, 20), put(B, 0, 22))
ONE_NIGHT = {"a": ((0, 20, 26),), "b": ((0, 20, 26),)}


def test_where_every_time_is_certain_the_plan_comes_out_as_planned() -> None:
    found = _look(TWO, ONE_NIGHT)
    (phase,) = found.phases
    assert phase.p10 == phase.p50 == phase.p80 == phase.planned == at(0, 24)
    assert (phase.spills, found.likeliest_spill) == (0, None)
    assert [(each.overruns, each.put_off, each.not_done) for each in found.orders] == [(0, 0, 0), (0, 0, 0)]


def test_an_order_that_takes_longer_holds_up_the_next_one_of_its_crew() -> None:
    longer = replace(CERTAIN, shortest_pct=100, longest_pct=1000)
    slow = _look(TWO, {"a": ((0, 20, 34),), "b": ((0, 20, 34),)}, brief=longer)
    assert slow.phases[0].p50 is not None
    assert slow.phases[0].p50 > at(0, 24)


@pytest.mark.parametrize(("closes", "room_min"), [(24.0, 120), (24.25, 135), (24.5, 150), (60.0, 2280)])
def test_the_odds_to_overrun_are_those_of_ending_after_the_window(closes: float, room_min: int) -> None:
    brief = Brief(shortest_pct=90, longest_pct=160)
    (only,) = _look((put(A, 0, 22),), {"a": ((0, 20, closes),)}, brief=brief, orders=(A,)).orders
    alpha, beta = (float(shape[0]) for shape in shapes(*(np.array([m]) for m in (108.0, 120.0, 192.0))))
    expected = stats.beta(alpha, beta, loc=108, scale=84).sf(room_min)  # by scipy
    assert only.overruns == pytest.approx(expected, abs=4 * np.sqrt(0.25 / 400))
    assert only.room_min == room_min


def test_what_cannot_be_begun_any_more_is_put_off_to_its_next_window_that_leaves_the_crew_room() -> None:
    # a always takes longer than planned, so that b, which ends with its window, can never be begun that night.
    brief = Brief(shortest_pct=100, longest_pct=400)
    windows = {"a": ((0, 20, 40),), "b": ((0, 20, 24), (1, 20, 21), (2, 20, 26))}
    found = _look(TWO, windows, brief=brief)
    put_off = next(each for each in found.orders if each.order == "b")
    assert put_off.put_off > 0.99
    assert put_off.not_done == 0
    assert found.phases[0].p50 is not None
    assert at(2, 22) <= found.phases[0].p50 < at(2, 30)  # the window of the next night is an hour long: too short


def test_a_put_off_order_waits_until_the_crew_is_done_with_what_is_planned_there() -> None:
    brief = Brief(shortest_pct=100, longest_pct=400)
    c = order("c")
    windows = {"a": ((0, 20, 40),), "b": ((0, 20, 24), (1, 20, 34)), "c": ((1, 20, 34),)}
    found = _look((*TWO, put(c, 1, 20)), windows, brief=brief, orders=(A, B, c))
    assert found.phases[0].p10 is not None
    assert found.phases[0].p10 >= at(1, 24)  # c first, two hours from 20:00, then b


def test_an_order_with_no_later_window_is_not_done_and_spills() -> None:
    brief = Brief(shortest_pct=100, longest_pct=400)
    found = _look(TWO, {"a": ((0, 20, 40),), "b": ((0, 20, 24),)}, brief=brief)
    (phase,) = found.phases
    assert (phase.p50, phase.p80) == (None, None)
    assert phase.spills > 0.99
    assert found.likeliest_spill == phase


def test_what_is_done_after_the_phase_spills() -> None:
    brief = Brief(shortest_pct=100, longest_pct=400)
    windows = {"a": ((0, 20, 40),), "b": ((0, 20, 24), (20, 20, 30))}
    (phase,) = _look(TWO, windows, brief=brief, phases=(replace(PHASE, end=MONDAY),)).phases
    assert phase.spills > 0.99
    assert phase.p50 is not None
    assert phase.p50 > datetime(2027, 3, 20, tzinfo=UTC) + timedelta(days=1)


def test_the_same_seed_gives_the_same_outlook() -> None:
    brief = Brief()
    assert _look(TWO, ONE_NIGHT, brief=brief) == _look(TWO, ONE_NIGHT, brief=brief)


def test_the_time_of_an_order_is_its_steps_over_all_stations_and_the_rest() -> None:
    steps = (
        MethodStep(step=1, text="land", minutes=10, shortest_min=8, longest_min=30),
        MethodStep(step=2, text="look"),
    )
    method = Method(key="M", old_model="A", new_model="B", new_protocol="P", steps=steps)
    one = Conversion(
        segment="L1", protocol="P", bit_rate_kbit_s=None, buses=(), gateways=(), stations=(("S1", "M"), ("S2", "M"))
    )
    land, rest = order_spreads(replace(A, conversions=(one,)), {"M": method}, Brief())
    assert (land.shortest_min, land.likely_min, land.longest_min) == (16, 20, 60)
    assert (rest.shortest_min, rest.likely_min, rest.longest_min) == (80, 100, 150)  # 120 min less 20
    (all_of_it,) = order_spreads(
        replace(A, conversions=(one,)), {"M": replace(method, steps=(replace(steps[0], minutes=99),))}, Brief()
    )
    assert all_of_it.likely_min == A.onsite_min  # the method has changed since
