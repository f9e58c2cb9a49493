"""Planning again: what is begun and booked stays, as little moves as can be, and what moves says why and by when."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from decimal import Decimal
from itertools import product

import pytest

from inventory.core.catalogue import Part
from planner.core.brief import Brief
from planner.core.choices import Sharing
from planner.core.demands import Demands, demands_for
from planner.core.plans import Order, OrderState, Placed, Plan
from planner.core.replanning import (
    Fate,
    Shift,
    Standing,
    begun_segments,
    booked_groups,
    carried_over,
    going_on,
    shifts_between,
    short_notice,
    with_delays,
)
from planner.core.schedule import plan_for
from planner.core.schedule.core import Effort
from planner.core.schedule.objective import POINTS, objective_of, prices
from planner.core.sooner import what_binds
from tests.unit.planner.nights import MONDAY, NOW, PHASE, PLACES, Job, broken, crew, need, order, put, window

EFFORT = Effort(seconds=2, seed=1)
B, D, A, W = OrderState.BOOKED, OrderState.DRAFTED, OrderState.ACCEPTED, OrderState.UNDER_WAY


def demands_of(job: Job) -> Demands:
    return demands_for(
        job.orders,
        job.windows,
        job.crews,
        job.phases,
        job.brief,
        job.places,
        parts=job.parts,
        spares=job.spares,
        now=NOW,
    )


def standing(each: Order, placed: Placed | None, state: OrderState = B, **facts: object) -> Standing:
    return Standing(order=each, placed=placed, state=state, **facts)  # type: ignore[arg-type]


def planned_again(job: Job, *standings: Standing) -> tuple[Plan, dict[str, Shift], Demands]:
    demands = going_on(demands_of(job), standings)
    plan = plan_for(demands, EFFORT)
    return plan, {each.order: each for each in shifts_between(demands, plan, standings)}, demands


# Three orders of two hours each in windows of six hours, one crew, one building: three fit into a night, not more
ORDERS = tuple(order(key) for key in "abc")
NIGHTS = (0, 1, 2)
JOB = Job(orders=ORDERS, spans=tuple(window(key, night) for key in "abc" for night in NIGHTS))
PUT = {key: put(each, 0, 20 + 2 * n) for n, (key, each) in enumerate(zip("abc", ORDERS, strict=True))}
BOOKED = tuple(standing(each, PUT[each.key]) for each in ORDERS)


def test_nothing_moves_where_nothing_has_happened_even_if_another_order_would_be_sooner() -> None:
    late = {key: put(each, 2, 20 + 2 * n) for n, (key, each) in enumerate(zip("abc", ORDERS, strict=True))}
    plan, shifts, _ = planned_again(JOB, *(standing(each, late[each.key]) for each in ORDERS))
    assert {each.order: each for each in plan.placed} == late
    assert {each.fate for each in shifts.values()} == {Fate.STAYS}


def test_a_delayed_order_moves_alone() -> None:
    put_off = replace(BOOKED[1], not_before=MONDAY + timedelta(days=1))
    plan, shifts, _ = planned_again(JOB, BOOKED[0], put_off, BOOKED[2])
    assert [key for key, each in shifts.items() if each.fate is Fate.MOVES] == ["b"]
    assert shifts["b"].new is not None
    assert shifts["b"].new.night == MONDAY + timedelta(days=1)
    assert shifts["b"].why == "it was put off to the night of 9 Mar 2027 or later"
    assert all(line.holds for line in plan.check)


# What keeps b, put off to Tuesday, from Tuesday: what is done to the job, and what is told with its figures.
# Tuesday is 9 March; what is ordered on 1 March with 4 days of lead time is received three working days after 5 March.
OTHER = order("x", "South", hours=6)
BONDS: dict[str, tuple[Job, tuple[Standing, ...], str]] = {
    "the crew": (
        JOB.but(orders=(*ORDERS, OTHER), spans=(*JOB.spans, window("x", 1))),
        (standing(OTHER, put(OTHER, 1, 20)),),
        "1 where the crew is taken (crew Red is at order b until 9 Mar 2027, 22:00 UTC and needs 10 min to order x, which starts at 9 Mar 2027, 20:00 UTC)",
    ),
    "no window": (
        JOB.but(spans=tuple(span for span in JOB.spans if (span.order, span.night) != ("b", MONDAY + timedelta(days=1)))),
        (),
        "its rooms are never free with a crew of 1 on shift for 120 min",
    ),
    "its parts": (
        JOB.but(
            orders=(ORDERS[0], replace(ORDERS[1], parts=(need("box"),)), ORDERS[2]),
            parts=(Part(key="box", lead_time_days=4),),
        ),
        (),
        "1 where its parts cannot be there (order b needs 1 of box in the night of 9 Mar 2027; 0 are there, bought from 10 Mar 2027)",
    ),
    "the budget": (
        JOB.but(
            phases=(replace(PHASE, end=MONDAY + timedelta(days=1), budget=Decimal(250)), replace(PHASE, key="P2", start=MONDAY + timedelta(days=2))),
            spans=tuple(window(key, night, phase="P2" if night == 2 else "P1") for key in "abc" for night in NIGHTS),
        ),
        (),
        "1 where the money of the phase does not reach (P1 costs 300, its budget is 250)",
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", BONDS)
def test_an_order_that_was_put_off_says_what_keeps_it_from_its_first_night_now(name: str) -> None:
    job, others, told = BONDS[name]
    put_off = replace(BOOKED[1], not_before=MONDAY + timedelta(days=1))
    _, shifts, _ = planned_again(job, BOOKED[0], put_off, BOOKED[2], *others)
    moved = shifts["b"]
    assert moved.new is not None
    assert moved.new.night == MONDAY + timedelta(days=2)
    assert (moved.why or "").startswith("it was put off to the night of 9 Mar 2027 or later; ")
    assert told in (moved.why or "")


def test_an_order_that_was_put_off_beyond_its_last_window_says_which_that_was() -> None:
    put_off = replace(BOOKED[1], not_before=MONDAY + timedelta(days=5))
    plan, shifts, _ = planned_again(JOB, BOOKED[0], put_off, BOOKED[2])
    (left_out,) = with_delays(plan, (put_off,)).unplanned
    words = (
        "it was put off to the night of 13 Mar 2027 or later; the last night on which its rooms are free and a crew is on "
        "shift is that of 10 Mar 2027"
    )
    assert left_out.reason == shifts["b"].why == words


def test_an_order_that_could_be_done_sooner_says_that_the_plan_is_better_so() -> None:
    late = put(ORDERS[1], 2, 20)
    assert what_binds(demands_of(JOB), (late,), late, MONDAY) == (
        "windows from the night of 8 Mar 2027 to the one before that of 10 Mar 2027: "
        "2 where it could be done, but the plan as a whole is better so"
    )
    tuesday = what_binds(demands_of(JOB), (late,), late, MONDAY + timedelta(days=1))
    assert (tuesday or "").endswith(": 1 where it could be done, but the plan as a whole is better so")
    assert what_binds(demands_of(JOB), (late,), late, late.night) is None


def test_of_very_many_windows_some_are_tried_from_the_first_to_the_last() -> None:
    # thirty nights to choose from; the last of them, before the one that it has, is another order's
    after = put(ORDERS[1], 30, 20)
    other = put(OTHER, 29, 20)
    job = JOB.but(
        orders=(*ORDERS, OTHER),
        spans=(*(window("b", night) for night in range(31)), window("x", 29)),
        phases=(replace(PHASE, end=MONDAY + timedelta(days=40)),),
    )
    told = what_binds(demands_of(job), (other, after), after, MONDAY) or ""
    assert "(12 of 30 tried): 1 where the crew is taken" in told
    assert told.endswith("11 where it could be done, but the plan as a whole is better so")


def starts(job: Job, each: Order, home: Placed) -> Iterator[Placed | None]:
    """Yield every place of an order on whole hours, and none."""
    yield home
    yield None
    for span in job.spans:
        if span.order == each.key:
            hours = int((span.end - span.start).total_seconds() // 3600)
            for hour in range(hours - each.onsite_min // 60 + 1):
                first = span.start + timedelta(hours=hour)
                last = first + timedelta(minutes=each.onsite_min)
                yield Placed(
                    order=each.key,
                    crew=span.crew,
                    phase="P1",
                    night=span.night,
                    start=first,
                    end=last,
                    dark_from=first,
                    dark_to=last,
                )


def least_by_trying_all(job: Job, homes: dict[str, Placed]) -> tuple[int, int]:
    """Return the fewest left out, and then the fewest moved, of all plans on whole hours that break nothing."""
    least = (len(homes) + 1, 0)
    for places in product(*(starts(job, each, homes[each.key]) for each in job.orders)):
        placed = tuple(each for each in places if each is not None)
        upheaval = len(homes) - len(placed), sum(home not in placed for home in homes.values())
        if upheaval < least and not broken(job.audit(placed)):
            least = upheaval
    return least


@pytest.mark.parametrize(
    "delay",
    [
        # (order, the only nights it has now, hours of its work now): what has happened to it
        ("a", (1,), 2),
        ("a", (0,), 4),  # it takes longer, and in its night there is no room for all any more
        ("b", (0,), 3),
        ("c", (2,), 6),
        ("b", (), 2),
    ],
)
def test_as_little_moves_as_can_be_against_trying_all_plans(delay: tuple[str, tuple[int, ...], int]) -> None:
    key, nights, hours = delay
    orders = tuple(order(k, hours=hours) if k == key else each for k, each in zip("abc", ORDERS, strict=True))
    spans = tuple(window(k, night) for k in "abc" for night in (nights if k == key else NIGHTS))
    # nights 1 and 2 are full of their own: one order each that takes four of six hours
    others = tuple(order(f"x{night}", hours=4) for night in (1, 2))
    job = JOB.but(
        orders=(*orders, *others), spans=(*spans, *(window(f"x{n}", n) for n in (1, 2))), brief=Brief(notice_days=7)
    )
    homes = {**PUT, **{each.key: put(each, n, 20) for n, each in zip((1, 2), others, strict=True)}}
    old = {**{each.key: each for each in ORDERS}, **{each.key: each for each in others}}
    _, shifts, demands = planned_again(job, *(standing(old[each.key], homes[each.key]) for each in job.orders))
    moved = [each for each in shifts.values() if each.fate in {Fate.MOVES, Fate.LEAVES}]
    left_out = [each for each in moved if each.fate is Fate.LEAVES]
    assert (len(left_out), len(moved)) == least_by_trying_all(job, homes)
    assert all(each.why for each in moved)
    assert {each.order for each in moved} == demands.forced


@pytest.mark.parametrize("night", [1, 2, 3])
@pytest.mark.parametrize("key", ["a", "b", "c"])
def test_one_order_put_off_upsets_as_little_as_can_be_against_trying_all_plans(key: str, night: int) -> None:
    # nights 1 and 2 have two hours left beside an order of their own; there is no night 3
    others = tuple(order(f"x{n}", hours=4) for n in (1, 2))
    job = JOB.but(orders=(*ORDERS, *others), spans=(*JOB.spans, *(window(f"x{n}", n) for n in (1, 2))))
    homes = {**PUT, **{each.key: put(each, n, 20) for n, each in zip((1, 2), others, strict=True)}}
    first = MONDAY + timedelta(days=night)
    standings = [standing(each, homes[each.key], not_before=first if each.key == key else None) for each in job.orders]
    _, shifts, _ = planned_again(job, *standings)
    moved = [each for each in shifts.values() if each.fate in {Fate.MOVES, Fate.LEAVES}]
    left_out = [each for each in moved if each.fate is Fate.LEAVES]
    later = job.but(spans=tuple(span for span in job.spans if span.order != key or span.night >= first))
    assert (len(left_out), len(moved)) == least_by_trying_all(later, homes)
    assert [each.order for each in moved] == [key]


def test_where_one_of_two_must_move_it_is_the_one_with_fewer_rooms_to_tell() -> None:
    # the crew is one now: both were booked for the same hours with two crews
    big = order("a", rooms=(("North", "1"), ("North", "2")))
    small = order("b", building="South")
    job = Job(orders=(big, small), spans=tuple(window(key, night) for key in "ab" for night in (0, 1)))
    _, shifts, demands = planned_again(
        job, standing(big, put(big, 0, 20)), standing(small, put(small, 0, 20, by="Blue"))
    )
    assert demands.forced == {"b"}
    assert shifts["a"].fate is Fate.STAYS
    assert (shifts["b"].why or "").startswith("its rooms, its building or its crew are not free then any more")


def test_an_order_that_needs_the_place_of_another_says_so() -> None:
    # both are booked at the same hour (travel between them has grown): none breaks a window
    one, two = order("a"), order("b", building="South", rooms=(("South", "1"),))
    job = Job(orders=(one, two), spans=tuple(window(key, night) for key in "ab" for night in (0, 1)))
    _, shifts, _ = planned_again(job, standing(one, put(one, 0, 20)), standing(two, put(two, 0, 22)))
    moved = [each for each in shifts.values() if each.fate is Fate.MOVES]
    assert len(moved) == 1
    assert "needs 10 min to order b" in (moved[0].why or "")


def test_booked_orders_move_for_a_better_plan_only_where_the_brief_allows_and_the_price_is_worth_it() -> None:
    late = put(ORDERS[0], 9, 20)
    job = JOB.but(orders=ORDERS[:1], spans=(window("a", 8), window("a", 9)))
    # a day sooner is worth 100 x 10; a booked move costs 100 x its weight
    cheap = Brief(booked_may_move=True, weight_booked=9)
    dear = Brief(booked_may_move=True, weight_booked=11)
    stays = {
        brief: planned_again(job.but(brief=brief), standing(ORDERS[0], late))[1]["a"]
        for brief in (cheap, dear, Brief())
    }
    assert [each.fate for each in stays.values()] == [Fate.MOVES, Fate.STAYS, Fate.STAYS]
    assert stays[cheap].why == "the plan is better so, the price of the move included"


def test_moves_are_listed_with_their_notice_and_the_day_to_tell_the_rooms() -> None:
    # today is 1 March; from the night of 17 March to that of 16 March: 15 days from today, told by 9 March
    job = JOB.but(
        orders=ORDERS[:1], spans=(window("a", 8), window("a", 9)), brief=Brief(booked_may_move=True, weight_booked=1)
    )
    _, shifts, _ = planned_again(job, standing(ORDERS[0], put(ORDERS[0], 9, 20)))
    assert (shifts["a"].notice_days, shifts["a"].tell_by) == (15, MONDAY + timedelta(days=1))
    assert short_notice(shifts.values(), NOW.date()) == ()
    assert short_notice(shifts.values(), MONDAY + timedelta(days=2)) == (shifts["a"],)


@pytest.mark.parametrize(("state", "weighs"), [(B, 50), (OrderState.DRAFTED, 5)])
def test_a_move_is_listed_with_the_price_that_the_plan_pays_for_it(state: OrderState, weighs: int) -> None:
    # put off from the night of 16 March: the plan pays for the move whatever it is worth
    job = JOB.but(
        orders=ORDERS[:1], spans=(window("a", 8), window("a", 9)), brief=Brief(weight_moves=5, weight_booked=50)
    )
    last = standing(ORDERS[0], put(ORDERS[0], 8, 20), state, not_before=MONDAY + timedelta(days=9))
    plan, shifts, demands = planned_again(job, last)
    free = objective_of(plan.placed, demands.orders, replace(prices(demands), move=0, booked_move=0))
    assert shifts["a"].fate is Fate.MOVES
    assert shifts["a"].price == weighs
    assert plan.objective - free == weighs * POINTS
    assert planned_again(job, standing(ORDERS[0], put(ORDERS[0], 8, 20), state))[1]["a"].price is None


def test_no_booked_order_moves_to_a_night_nearer_than_its_notice_nor_from_one() -> None:
    brief = Brief(booked_may_move=True, weight_booked=0, notice_days=9)  # 1 March and 9 days: 10 March
    job = JOB.but(orders=ORDERS[:1], spans=tuple(window("a", night) for night in (0, 1, 2, 3)), brief=brief)
    _, shifts, _ = planned_again(job, standing(ORDERS[0], put(ORDERS[0], 3, 20)))
    assert shifts["a"].new is not None
    assert shifts["a"].new.night == MONDAY + timedelta(days=2)
    near = planned_again(job, standing(ORDERS[0], put(ORDERS[0], 1, 20)))[1]["a"]  # 9 March is too near to be given up
    assert near.fate is Fate.STAYS


def test_what_is_under_way_or_accepted_stays_and_its_money_is_spent() -> None:
    done, going, new = ORDERS
    phases = (replace(PHASE, budget=Decimal(250)),)  # each costs 100
    standings = (standing(done, put(done, -10, 20), A), standing(going, put(going, 0, 20), W))
    job = JOB.but(orders=ORDERS, phases=phases)
    plan, shifts, _ = planned_again(job, *standings)
    assert {each.order: each for each in plan.placed} == {"a": standings[0].placed, "b": standings[1].placed}
    assert [each.code for each in plan.unplanned] == ["budget spent"]
    assert shifts == {}
    assert new.key not in {each.order for each in plan.placed}


def test_late_parts_move_a_booked_order_to_the_night_they_are_there() -> None:
    # ordered 1 March, 9 days of lead: 10 March, and three working days: 15 March, the eighth night
    boxed = replace(ORDERS[0], parts=(need("box"),))
    spans = tuple(window("a", night) for night in range(9))
    job = JOB.but(orders=(boxed,), spans=spans, parts=(Part(key="box", lead_time_days=9),))
    _, shifts, _ = planned_again(job, standing(boxed, put(boxed, 0, 20)))
    assert shifts["a"].new is not None
    assert shifts["a"].new.night == MONDAY + timedelta(days=7)
    assert (shifts["a"].why or "").startswith("its parts cannot be there by then")


def test_an_order_that_was_backed_out_says_so_where_it_is_planned_again() -> None:
    done, *_ = ORDERS
    _, shifts, _ = planned_again(JOB, standing(done, put(done, -10, 20), OrderState.BACKED_OUT))
    assert (shifts["a"].fate, shifts["a"].why) == (Fate.MOVES, "it was backed out")


def test_an_order_whose_verdict_has_changed_leaves_and_says_so() -> None:
    plan, shifts, _ = planned_again(JOB.but(orders=ORDERS[:2], spans=JOB.spans[:6]), *BOOKED)
    assert shifts["c"].fate is Fate.LEAVES
    assert shifts["c"].why == "its segments are not to be converted any more"
    assert {each.order for each in plan.placed} == {"a", "b"}


def test_what_must_come_before_a_booked_order_is_moved_before_it() -> None:
    # a was booked before b and cannot stay; b stays, so a must be done before it, whatever else is sooner
    first, second = ORDERS[0], replace(ORDERS[1], predecessors=("a",))
    job = JOB.but(orders=(first, second), spans=(window("a", 1), window("a", 3), *(window("b", n) for n in NIGHTS)))
    plan, shifts, _ = planned_again(job, standing(first, put(first, 0, 20)), standing(second, put(second, 1, 24)))
    assert shifts["b"].fate is Fate.STAYS
    assert {each.order: each.night for each in plan.placed}["a"] == MONDAY + timedelta(days=1)
    assert all(line.holds for line in plan.check)


def test_a_kept_order_is_not_dropped_for_a_richer_one() -> None:
    rich = order("z", benefit=99.0)
    job = JOB.but(orders=(ORDERS[0], rich), spans=(window("a", end=22), window("z", end=22)))
    plan, shifts, _ = planned_again(job, standing(ORDERS[0], PUT["a"]))
    assert [each.order for each in plan.placed] == ["a"]
    assert [each.order for each in plan.unplanned] == ["z"]
    assert shifts["a"].fate is Fate.STAYS


def test_many_booked_orders_keep_their_places_but_those_that_cannot() -> None:
    many = tuple(order(f"o{n:03}", hours=2, rooms=(("North", f"{n}"),)) for n in range(150))
    spans = tuple(window(each.key, night) for n, each in enumerate(many) for night in {n // 3, 60})
    phases = (replace(PHASE, end=MONDAY + timedelta(days=70)),)
    homes = [put(each, n // 3, 20 + 2 * (n % 3)) for n, each in enumerate(many)]
    job = Job(
        orders=many,
        spans=tuple(s for s in spans if s.order != "o007" or s.night > MONDAY + timedelta(days=50)),
        phases=phases,
    )
    standings = [standing(each, home) for each, home in zip(many, homes, strict=True)]
    _, shifts, demands = planned_again(job, *standings)
    assert demands.forced == {"o007"}
    assert [key for key, each in shifts.items() if each.fate is not Fate.STAYS] == ["o007"]


def test_an_order_keeps_its_name_as_long_as_it_has_the_same_segments() -> None:
    old = (standing(order("B1-O001", segments=("s1",)), None, D), standing(order("B1-O002", segments=("s2",)), None, D))
    # s0 is new and comes first, so that the fresh names have moved by one
    fresh = (
        order("B1-O001", segments=("s0",)),
        order("B1-O002", segments=("s1",)),
        order("B1-O003", segments=("s2",), predecessors=("B1-O001",)),
    )
    named = {each.key: each for each in carried_over(old, fresh)}
    assert {key: each.segments for key, each in named.items()} == {
        "B1-O001": ("s1",),
        "B1-O002": ("s2",),
        "B1-O003": ("s0",),
    }
    assert named["B1-O002"].predecessors == ("B1-O003",)


def test_begun_orders_are_taken_as_they_were_and_accepted_ones_need_nothing_any_more() -> None:
    done = standing(
        order("B1-O001", segments=("s1",), parts=(need("box"),), freed=(("old", 1),)), put(order("B1-O001"), 0, 20), A
    )
    going = standing(order("B1-O002", segments=("s2",), parts=(need("box"),)), put(order("B1-O002"), 0, 22), W)
    assert begun_segments((done, going)) == {"s1", "s2"}
    one, two = carried_over((done, going), ())
    assert (one.parts, one.freed, one.cost) == ((), (), done.order.cost)
    assert two == going.order


def test_booked_orders_stand_alone_when_orders_are_made_anew() -> None:
    assert booked_groups((BOOKED[0], standing(ORDERS[1], None, D))) == (
        Sharing(name="booked order a", parts=(("bus a",),), alone=True),
    )


def test_two_crews_each_keep_their_own() -> None:
    job = JOB.but(
        crews=(crew(), crew("Blue")), spans=(*JOB.spans, *(window(k, n, crew="Blue") for k in "abc" for n in NIGHTS))
    )
    homes = (standing(ORDERS[0], put(ORDERS[0], 1, 20, by="Blue")), standing(ORDERS[1], put(ORDERS[1], 1, 22)))
    plan, _, _ = planned_again(job.but(places=PLACES), *homes)
    assert {each.order: each.crew for each in plan.placed if each.order in "ab"} == {"a": "Blue", "b": "Red"}
