"""make_plan on small jobs: each rule at work, the objective by hand, stopping, keeping what is fixed."""

from dataclasses import replace
from datetime import timedelta
from decimal import Decimal

import pytest

from inventory.core.catalogue import Delivery, Part, Spare
from planner.core.brief import Brief
from planner.core.plans import Progress
from planner.core.schedule import PlanCheckFailed, planning
from planner.core.schedule.places import shift_span
from tests.unit.planner.nights import MONDAY, PHASE, Job, broken, crew, need, order, put, window

A, B, C = (order(key) for key in "abc")


def test_objective_of_one_order_by_hand() -> None:
    # the only order has 100 points; it waits 3 days at weight 10, and one night with one journey at weight 1
    plan = Job(orders=(A,), spans=(window("a", 3),)).plan()
    assert plan.objective == 100 * 3 * 10 + 2 * 100 == plan.bound
    assert (plan.gap, plan.method) == (0.0, "exact")
    # left out: 14 days of horizon at weights 100 and 10
    assert Job(orders=(A,), spans=(window("a", 3, end=21), window("a"))).plan().placed
    assert Job(orders=(A, B), spans=(window("a"), window("b", end=21))).plan().objective == 200 + 100 * 14 * 110


def test_of_two_that_exclude_each_other_the_one_of_more_benefit_is_done() -> None:
    rich = replace(B, benefit=3.0)
    plan = Job(orders=(A, rich), spans=(window("a", end=22), window("b", end=22))).plan()
    assert [each.order for each in plan.placed] == ["b"]
    assert [(each.order, each.code) for each in plan.unplanned] == [("a", "crowded out")]
    assert "b" in plan.unplanned[0].reason


def test_the_list_takes_the_oldest_and_the_search_is_never_worse() -> None:
    young = replace(B, benefit=3.0, oldest=None)
    plan = Job(orders=(A, young), spans=(window("a", end=22), window("b", end=22))).plan()
    assert [each.order for each in plan.placed] == ["b"]
    assert plan.objective < plan.list_objective


def test_same_seed_same_plan_and_order_of_input_does_not_matter() -> None:
    orders = tuple(
        order(key, building=b, hours=h)
        for key, b, h in zip("abcdef", ("North", "South", "Far") * 2, (2, 3, 2, 4, 1, 3), strict=True)
    )
    spans = tuple(window(each.key, night) for each in orders for night in (0, 1))
    job = Job(orders=orders, spans=spans)
    assert job.plan() == job.plan() == job.but(orders=orders[::-1], spans=spans[::-1]).plan()


def test_same_plan_with_two_workers_twice() -> None:
    job = Job(orders=(A, B, C), spans=tuple(window(key, night) for key in "abc" for night in (0, 1)))
    assert job.plan(workers=2) == job.plan(workers=2)


def test_people_shift_and_district_keep_windows_out() -> None:
    spans = (window("a"),)
    assert not Job(orders=(replace(A, people=3),), spans=spans).plan().placed
    assert not Job(orders=(A,), spans=spans, crews=(crew(days=(1,)),)).plan().placed
    assert not Job(orders=(A,), spans=spans, phases=(replace(PHASE, districts=("west",)),)).plan().placed


def test_start_keeps_to_the_shift_where_the_window_is_wider() -> None:
    plan = Job(orders=(A,), spans=(window("a", start=18),)).plan()
    assert plan.placed[0].start.hour == 20


def test_parts_that_come_late_move_the_order_to_the_night_they_are_there() -> None:
    # ordered 1 March, 7 days of lead: Monday 8; 3 working days of reserve: Thursday 11
    a = replace(A, parts=(need("box"),))
    job = Job(orders=(a,), spans=tuple(window("a", n) for n in range(6)), parts=(Part(key="box", lead_time_days=7),))
    assert job.plan().placed[0].night == MONDAY + timedelta(days=3)
    shelf = job.but(parts=(Part(key="box", lead_time_days=7, on_hand=Decimal(1)),))
    assert shelf.plan().placed[0].night == MONDAY


def _due(night: int, quantity: int) -> Delivery:
    return Delivery(part="box", due=MONDAY + timedelta(days=night), quantity=Decimal(quantity))


@pytest.mark.parametrize(
    ("deliveries", "night"),
    [
        ((_due(0, 1),), 3),  # Monday; three working days of reserve: Thursday
        ((_due(1, 1),), 4),
        ((_due(0, 1), _due(-8, 1)), 3),  # what was due a week ago may never come
        ((_due(-8, 1),), None),
        ((), None),
    ],
)
def test_no_order_starts_before_what_is_due_for_it_is_received(
    deliveries: tuple[Delivery, ...], night: int | None
) -> None:
    a = replace(A, parts=(need("box"),))
    never = (Part(key="box", lead_time_days=300, deliveries=deliveries),)
    plan = Job(orders=(a,), spans=tuple(window("a", n) for n in range(6)), parts=never).plan()
    assert [each.night for each in plan.placed] == ([] if night is None else [MONDAY + timedelta(days=night)])


def test_a_delivery_serves_only_the_orders_after_it_and_only_once() -> None:
    three = tuple(replace(each, parts=(need("box"),)) for each in (A, B, C))
    spans = tuple(window(each.key, n) for each in three for n in (0, 4))
    box = (Part(key="box", lead_time_days=300, on_hand=Decimal(1), deliveries=(_due(0, 1),)),)
    placed = Job(orders=three, spans=spans, parts=box).plan().placed
    assert sorted(each.night for each in placed) == [MONDAY, MONDAY + timedelta(days=4)]


def test_one_part_on_the_shelf_serves_one_early_order() -> None:
    two = tuple(replace(each, parts=(need("box"),)) for each in (A, B))
    spans = tuple(window(key, night) for key in "ab" for night in (0, 4))
    job = Job(orders=two, spans=spans, parts=(Part(key="box", lead_time_days=7, on_hand=Decimal(1)),))
    assert sorted((each.night - MONDAY).days for each in job.plan().placed) == [0, 4]


def test_budget_pays_for_as_many_as_it_can_to_the_cent() -> None:
    spans = tuple(window(key, night) for key in "ab" for night in (0, 1))
    job = Job(orders=(A, B), spans=spans, phases=(replace(PHASE, budget=Decimal("200.00")),))
    assert len(job.plan().placed) == 2
    short = job.but(phases=(replace(PHASE, budget=Decimal("199.99")),)).plan()
    assert [each.code for each in short.unplanned] == ["budget spent"]
    assert short.phases[0].cost == Decimal(100)


def test_spares_that_an_order_takes_wait_for_those_that_another_frees() -> None:
    giver, taker = replace(A, freed=(("old", 1),)), replace(B, freed=(("old", -1),))
    spans = tuple(window(key, night, crew=by) for key in "ab" for night in (0, 1) for by in ("Red", "Blue"))
    job = Job(orders=(giver, taker), spans=spans, crews=(crew(), crew("Blue")), spares=(Spare(model="old", on_hand=1),))
    plan = job.but(brief=Brief(spare_floor=1, scrapped_pct=0)).plan()
    assert [each.order for each in plan.placed] == ["a", "b"]


def test_fixed_orders_stay_even_outside_their_windows_and_hold_crew_money_and_room() -> None:
    fixed = put(A, 0, 20)
    job = Job(
        orders=(A, B),
        spans=(window("b", end=23), window("b", 1)),
        fixed=(fixed,),
        phases=(replace(PHASE, budget=Decimal(200)),),
    )
    plan = job.plan()
    assert plan.placed[0] == fixed
    assert plan.placed[1].night == MONDAY + timedelta(days=1)  # 20:00 to 23:00 has no room for two of 2 h
    assert job.but(phases=(replace(PHASE, budget=Decimal(150)),)).plan().placed == (fixed,)


def test_a_fixed_order_of_an_earlier_list_still_keeps_its_crew_busy() -> None:
    job = Job(orders=(B,), spans=(window("b", end=23), window("b", 1)), fixed=(put(A, 0, 20),))
    assert {each.order: each.night for each in job.plan().placed}["b"] == MONDAY + timedelta(days=1)


def test_moves_against_the_last_plan_cost_and_are_avoided() -> None:
    spans = tuple(window(key, night) for key in "ab" for night in (0, 1))
    job = Job(orders=(A, B), spans=spans, brief=Brief(weight_sooner=0))
    last = (put(A, 1, 20), put(B, 1, 23))
    kept = job.but(last=last).plan()
    assert [each.night for each in kept.placed] == [MONDAY + timedelta(days=1)] * 2
    assert (
        job.but(last=(put(A, 5, 20),), brief=Brief(weight_moves=5)).plan().objective
        == job.but(brief=Brief(weight_moves=5)).plan().objective + 500
    )


def test_progress_can_stop_the_search_and_the_list_is_still_a_plan() -> None:
    seen: list[Progress] = []

    def stop(state: Progress) -> bool:
        seen.append(state)
        return False

    spans = tuple(window(key, night) for key in "abc" for night in (0, 1))
    plan = Job(orders=(A, B, C), spans=spans).plan(progress=stop)
    assert len(seen) == 1
    assert seen[0].doing == "listing"
    assert all(line.holds for line in plan.check)
    assert plan.bound <= plan.objective <= plan.list_objective


def test_progress_tells_objective_bound_and_share() -> None:
    seen: list[Progress] = []
    spans = tuple(window(key, night) for key in "abc" for night in (0, 1))

    def go_on(state: Progress) -> bool:
        seen.append(state)
        return True

    Job(orders=(A, B, C), spans=spans).plan(progress=go_on)
    assert seen[-1].doing == "checking"
    assert [state.done for state in seen] == sorted(state.done for state in seen)
    assert seen[-1].bound is not None
    assert seen[-1].objective is not None


def test_no_orders_is_an_empty_plan_that_keeps_what_is_fixed() -> None:
    plan = Job(orders=(), spans=(), fixed=(put(A, 0, 20),)).plan()
    assert (plan.objective, plan.bound, plan.gap) == (0, 0, 0.0)
    assert [each.order for each in plan.placed] == ["a"]


def test_many_orders_are_searched_too_and_beat_the_list() -> None:
    # two nights of six hours hold twelve of one hour, and the list takes them by age, whatever they are worth
    many = tuple(order(f"o{i:03}", hours=1, benefit=1.0 + i % 7) for i in range(201))
    spans = tuple(window(each.key, night) for each in many for night in (0, 1))
    plan = Job(orders=many, spans=spans).plan(seconds=6)
    assert len(plan.placed) == 12
    assert 0 < plan.bound <= plan.objective < plan.list_objective
    assert plan.gap < 0.001
    assert {1.0 + int(each.order[1:]) % 7 for each in plan.placed} == {7.0}


def test_a_plan_that_breaks_a_rule_is_not_shown_as_a_plan(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(planning, "placed_from", lambda *_: (put(A, 0, 12),))
    with pytest.raises(PlanCheckFailed, match=r"rule 1, .*order a") as caught:
        Job(orders=(A,), spans=(window("a"),)).plan()
    assert 1 in broken(caught.value.lines)


def test_phases_are_summed() -> None:
    later = replace(PHASE, key="P2", start=PHASE.end + timedelta(days=1), end=PHASE.end + timedelta(days=9))
    plan = Job(orders=(A, B), spans=(window("a"), window("b", 15, phase="P2")), phases=(later, PHASE)).plan()
    assert [(each.phase, each.orders, each.stations, each.cost) for each in plan.phases] == [
        ("P1", 1, 1, Decimal(100)),
        ("P2", 1, 1, Decimal(100)),
    ]
    assert plan.phases[1].first_night == MONDAY + timedelta(days=15) == plan.phases[1].last_night


def test_shift_over_a_change_of_the_clock_has_seven_or_nine_hours() -> None:
    # New York, 22:00 to 06:00; changes of 2027: 14 March and 7 November (IANA data)
    night_crew = crew(shift_from_min=22 * 60, shift_to_min=6 * 60)
    for night, hours in ((MONDAY + timedelta(days=5), 7), (MONDAY.replace(month=11, day=6), 9)):
        span = shift_span(night_crew, night, "America/New_York")
        assert span is not None
        assert span[1] - span[0] == timedelta(hours=hours)


def test_a_phase_that_does_not_say_when_it_orders_orders_today() -> None:
    # today Monday 1 March, 7 days of lead and 3 working days: Thursday 11, as if ordered on 1 March
    a = replace(A, parts=(need("box"),))
    spans = tuple(window("a", n) for n in range(6))
    open_phase = replace(PHASE, materials_ordered_on=None)
    job = Job(orders=(a,), spans=spans, phases=(open_phase,), parts=(Part(key="box", lead_time_days=7),))
    assert job.plan().placed[0].night == MONDAY + timedelta(days=3)
