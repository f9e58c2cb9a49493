"""Every rule of the check at its limit and just past it: each breach put in by hand must be seen, by its own rule."""

from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from decimal import Decimal

import pytest

from inventory.core.catalogue import Delivery, Part, Spare
from planner.core.arrivals import arrival
from planner.core.brief import Brief
from planner.core.plans import Placed
from tests.unit.planner.nights import MONDAY, NOW, PHASE, Job, broken, crew, need, order, put, window

A = order("a", setup_min=15, restore_min=10, parts=(need("box", 2),), freed=(("old", 1),))
B = order("b", building="South", parts=(need("box", 2),), predecessors=("a",))
C = order("c", people=2, cost_parts=Decimal(300))
JOB = Job(
    orders=(A, B, C),
    spans=tuple(window(key, night, crew=by) for key in "abc" for night in (0, 1) for by in ("Red", "Blue")),
    crews=(crew("Red"), crew("Blue", people=1)),
    phases=(replace(PHASE, budget=Decimal(500)),),
    parts=(Part(key="box", lead_time_days=1, on_hand=Decimal(2)),),
)
GOOD = (put(A, 0, 20), put(B, 0, 23), put(C, 1, 20))


def move(placed: Placed, minutes: int) -> Placed:
    by = timedelta(minutes=minutes)
    return replace(
        placed,
        start=placed.start + by,
        end=placed.end + by,
        dark_from=placed.dark_from + by,
        dark_to=placed.dark_to + by,
    )


def test_a_plan_that_obeys_everything_passes_all_nine_rules() -> None:
    lines = JOB.audit(GOOD)
    assert [line.number for line in lines] == list(range(1, 10))
    assert broken(lines) == []


# (what is done to the good plan, the rule that must see it)
BREACHES: tuple[tuple[str, Callable[[], tuple[Placed, ...]], int], ...] = (
    ("a minute before its window", lambda: (move(GOOD[0], -1), *GOOD[1:]), 1),
    ("a minute after its window", lambda: (*GOOD[:2], move(GOOD[2], 241)), 1),
    ("shorter than its work", lambda: (replace(GOOD[0], end=GOOD[0].end - timedelta(minutes=1)), *GOOD[1:]), 1),
    ("dark at the wrong time", lambda: (replace(GOOD[0], dark_from=GOOD[0].start), *GOOD[1:]), 1),
    ("planned twice", lambda: (*GOOD, put(C, 1, 23)), 1),
    ("an order nobody knows", lambda: (*GOOD, put(order("z"), 1, 23)), 1),
    ("a phase that is not the window's", lambda: (replace(GOOD[0], phase="P2"), *GOOD[1:]), 1),
    ("a crew with too few people", lambda: (*GOOD[:2], put(C, 1, 20, by="Blue")), 2),
    ("a crew that does not exist", lambda: (*GOOD[:2], put(C, 1, 20, by="Green")), 2),
    ("travel a minute too short", lambda: (GOOD[0], move(GOOD[1], -26), GOOD[2]), 2),
    ("two at once by one crew", lambda: (*GOOD[:2], put(C, 0, 20)), 2),
    ("two outages at once in a building", lambda: (put(A, 0, 20, by="Blue"), GOOD[1], put(C, 0, 20)), 3),
    ("the predecessor dropped", lambda: GOOD[1:], 5),
    ("the predecessor later", lambda: (put(A, 1, 23), *GOOD[1:]), 5),
)


@pytest.mark.parametrize(("breach", "rule"), [(b, r) for _, b, r in BREACHES], ids=[name for name, _, _ in BREACHES])
def test_each_breach_is_seen_by_its_rule(breach: Callable[[], tuple[Placed, ...]], rule: int) -> None:
    assert rule in broken(JOB.audit(breach()))


def test_travel_of_exactly_the_brief_is_enough() -> None:
    # a ends 22:25, 10 min to the next building of the district
    tight = (GOOD[0], move(GOOD[1], -25), GOOD[2])
    assert broken(JOB.audit(tight)) == []


def test_shift_end_counts_even_where_a_window_is_longer() -> None:
    short = JOB.but(crews=(crew("Red", shift_to_min=25 * 60 - 24 * 60 - 1), crew("Blue", people=1)))
    assert broken(short.audit(GOOD)) == [2]  # b ends 01:00, the shift at 00:59


def test_a_room_is_not_dark_twice_in_a_night_but_may_be_in_two() -> None:
    twin = replace(C, rooms=A.rooms)
    job = JOB.but(orders=(A, B, twin))
    assert broken(job.audit(GOOD)) == []
    late = (put(A, 0, 20, by="Blue"), put(B, 0, 23, by="Blue"), put(twin, 0, 23.5))
    assert broken(job.audit(late)) == [3]


def test_as_many_outages_as_the_building_bears_are_allowed_and_one_more_is_not() -> None:
    three = tuple(order(key, building="Far") for key in "xyz")
    crews = tuple(crew(f"K{i}") for i in range(3))
    spans = tuple(window(key, crew=f"K{i}") for i, key in enumerate("xyz"))
    job = Job(orders=three, spans=spans, crews=crews)
    placed = tuple(put(each, 0, 20, by=f"K{i}") for i, each in enumerate(three))
    assert broken(job.audit(placed[:2])) == []
    assert broken(job.audit(placed)) == [3]


def test_a_building_of_unknown_outages_bears_one() -> None:
    two = (order("x", building="Shed"), order("y", building="Shed"))
    job = Job(orders=two, spans=(window("x"), window("y", crew="Blue")), crews=(crew(), crew("Blue")))
    assert broken(job.audit((put(two[0], 0, 20), put(two[1], 0, 21, by="Blue")))) == [3]


def test_budget_at_its_limit_holds_and_a_cent_less_does_not() -> None:
    assert broken(JOB.but(phases=(replace(PHASE, budget=Decimal("500.00")),)).audit(GOOD)) == []
    assert broken(JOB.but(phases=(replace(PHASE, budget=Decimal("499.99")),)).audit(GOOD)) == [4]


def test_an_order_without_a_price_keeps_no_budget_but_needs_none_either() -> None:
    open_price = replace(C, unpriced=("box",))
    assert broken(JOB.but(orders=(A, B, open_price)).audit(GOOD)) == [4]
    assert broken(JOB.but(orders=(A, B, open_price), phases=(PHASE,)).audit(GOOD)) == []


def test_phase_dates_and_districts_hold() -> None:
    assert broken(JOB.but(phases=(replace(PHASE, end=MONDAY),)).audit(GOOD)) == [4]
    assert broken(JOB.but(phases=(replace(PHASE, districts=("east",)),)).audit(GOOD)) == []
    assert broken(JOB.but(phases=(replace(PHASE, districts=("west",)),)).audit(GOOD)) == [4]


def test_parts_are_used_on_the_day_they_can_be_there_and_not_before() -> None:
    # ordered Monday 1 March, 4 calendar days of lead: Friday 5; one working day of reserve: Monday 8
    brief = Brief(receiving_reserve_days=1)
    none_left = (Part(key="box", lead_time_days=4, on_hand=Decimal(0)),)
    assert broken(JOB.but(brief=brief, parts=none_left).audit(GOOD)) == []
    # one day more and the reserve ends on Tuesday 9
    late = (Part(key="box", lead_time_days=7, on_hand=Decimal(0)),)
    assert broken(JOB.but(brief=brief, parts=late).audit(GOOD)) == [6, 7]


@pytest.mark.parametrize("ordered_days_ago", [0, 1, 60])
def test_what_a_phase_should_have_ordered_weeks_ago_is_ordered_today_at_the_earliest(ordered_days_ago: int) -> None:
    """The check and the planner say so independently: lead of 7 days from NOW is the night of Monday 8, not earlier."""
    phase = replace(PHASE, materials_ordered_on=NOW.date() - timedelta(days=ordered_days_ago))
    brief = Brief(receiving_reserve_days=0)
    in_time = (Part(key="box", lead_time_days=7, on_hand=Decimal(0)),)
    too_late = (Part(key="box", lead_time_days=8, on_hand=Decimal(0)),)
    for parts, rules, usable in ((in_time, [], MONDAY), (too_late, [6, 7], MONDAY + timedelta(days=1))):
        assert broken(JOB.but(brief=brief, parts=parts, phases=(phase,)).audit(GOOD)) == rules
        assert arrival(parts[0], phase, 0, NOW.date()) == usable


def test_what_was_ordered_before_counts_by_its_delivery_although_the_order_date_is_past() -> None:
    phase = replace(PHASE, materials_ordered_on=NOW.date() - timedelta(days=60))
    due = Delivery(part="box", due=MONDAY, quantity=Decimal(4))
    ordered = (Part(key="box", lead_time_days=90, on_hand=Decimal(0), deliveries=(due,)),)
    brief = Brief(receiving_reserve_days=0)
    assert broken(JOB.but(brief=brief, parts=ordered, phases=(phase,)).audit(GOOD)) == []


def test_breaches_tell_days_and_times_by_the_clock_in_the_building() -> None:
    # 19:59 UTC on Monday 8 March 2027 is 04:59 on Tuesday in Tokyo, which has no summer time (IANA Asia/Tokyo: UTC+9)
    there = tuple(
        replace(place, time_zone="Asia/Tokyo" if place.building == "North" else None) for place in JOB.places.places
    )
    job = JOB.but(places=replace(JOB.places, places=there))
    lines = job.audit((move(GOOD[0], -1), *GOOD[1:]))
    assert lines[0].breach == (
        "order a with crew Red, 9 Mar 2027, 04:59 JST to 9 Mar 2027, 07:24 JST, "
        "is in no window of the night of 8 Mar 2027 in P1"
    )
    # b is in the South, of which no zone is known: then the campus's, here UTC
    assert "9 Mar 2027, 03:59 UTC" in (job.audit((GOOD[0], move(GOOD[1], 299), GOOD[2]))[0].breach or "")


@pytest.mark.parametrize(("days_before", "broken_rules"), [(7, []), (3, [7]), (14, [7])])
def test_what_is_due_counts_from_the_day_it_is_received_and_overdue_never(
    days_before: int, broken_rules: list[int]
) -> None:
    # Two orders of two, two on hand; three working days to receive. What was due before NOW may never come.
    due = Delivery(part="box", due=MONDAY - timedelta(days=days_before), quantity=Decimal(2))
    late = (Part(key="box", lead_time_days=30, on_hand=Decimal(2), deliveries=(due,)),)
    assert broken(JOB.but(parts=late).audit(GOOD)) == broken_rules


def test_stock_serves_one_order_and_not_the_next() -> None:
    late = (Part(key="box", lead_time_days=30, on_hand=Decimal(3)),)
    assert broken(JOB.but(parts=late).audit(GOOD)) == [7]  # two orders of two, three on hand
    enough = (Part(key="box", lead_time_days=30, on_hand=Decimal(4)),)
    assert broken(JOB.but(parts=enough).audit(GOOD)) == []


def test_a_part_of_unknown_lead_time_must_lie_on_the_shelf() -> None:
    assert broken(JOB.but(parts=(Part(key="box", on_hand=Decimal(4)),)).audit(GOOD)) == []
    assert broken(JOB.but(parts=()).audit(GOOD)) == [6, 7]


def test_amounts_are_said_without_the_decimals_they_are_stored_with() -> None:
    lines = JOB.but(parts=(Part(key="box", on_hand=Decimal("1.0000")),)).audit(GOOD)
    assert [line.number for line in lines if "1 are there" in (line.breach or "")] == [6, 7]


def test_the_rule_of_the_spares_claims_nothing_of_a_pool_that_is_below_its_floor_by_failures() -> None:
    job = JOB.but(spares=(Spare(model="old", on_hand=0),), brief=Brief(spare_floor=1, scrapped_pct=0))
    (line,) = (line for line in job.audit(GOOD) if line.number == 8)
    assert (line.holds, line.rule) == (True, "no order takes a spare pool below its floor; failures alone may")


def test_spares_may_be_taken_once_earlier_work_has_freed_them() -> None:
    taker = replace(C, freed=(("old", -2),))
    job = JOB.but(
        orders=(A, B, taker), spares=(Spare(model="old", on_hand=2),), brief=Brief(spare_floor=1, scrapped_pct=0)
    )
    assert broken(job.audit(GOOD)) == []  # 2, then 3 after a, then 1
    first = (put(A, 0, 23, by="Blue"), put(taker, 0, 20))
    assert broken(job.audit(first)) == [8]


def test_a_fixed_order_stays_and_what_only_fixed_orders_break_is_not_counted() -> None:
    fixed = put(A, 0, 19)  # before the shift and outside any window
    job = JOB.but(fixed=(fixed,))
    assert broken(job.audit((fixed, *GOOD[1:]))) == []
    assert broken(job.audit(GOOD)) == [9]


def test_nothing_new_starts_in_the_past() -> None:
    early = replace(put(C, -8, 20), night=MONDAY - timedelta(days=8))
    job = JOB.but(orders=(C,), spans=(window("c", -8),), phases=(replace(PHASE, start=early.night),))
    assert early.start < NOW
    assert broken(job.audit((early,))) == [1]
