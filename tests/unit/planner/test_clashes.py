"""Why orders cannot be dated: no demand that clashes is superfluous, and the change that is told is the least that helps."""

from dataclasses import replace
from datetime import UTC, date, datetime
from decimal import Decimal
from itertools import combinations

import pytest

from inventory.core.catalogue import Catalogue, Part
from inventory.core.snapshot import Building, Closure, Room
from planner.core.brief import Brief
from planner.core.clashes import Clash, Demand, Ground, Oracle, smallest_clash
from planner.core.loosening import demands_on
from planner.core.plans import Crew, Phase
from tests.campuses import Draft
from tests.unit.planner.nights import need, order

NOW = datetime(2027, 3, 1, 12, tzinfo=UTC)
WEEK = tuple(range(7))
RED = Crew(key="Red", people=2, days=WEEK, shift_from_min=20 * 60, shift_to_min=2 * 60)  # six hours
BLUE = replace(RED, key="Blue", people=1)
PHASE = Phase(key="P1", start=date(2027, 3, 8), end=date(2027, 3, 10), materials_ordered_on=date(2027, 3, 1))
ORDER = order("a", building="B1", hours=2, rooms=(("B1", "1.01"),), cost_parts=Decimal(500), district=None)
BRIEF = Brief(labour_rate=Decimal(40), receiving_reserve_days=0, longest_outage_min=600)


def ground(**changes: object) -> Ground:
    """Return one order of two hours on three nights, which nothing keeps out."""
    facts: dict[str, object] = {
        "crews": (RED,), "phases": (PHASE,), "brief": BRIEF, "orders": (ORDER,), "now": NOW, "parts": (), "closures": (),
        "calendar": None, "admits": None,
    }  # fmt: skip
    facts |= changes
    draft = Draft(catalogue=Catalogue(parts=facts.pop("parts")))  # type: ignore[arg-type]
    admits = facts.pop("admits")
    draft.buildings.append(
        Building(key="B1", district=None, time_zone="UTC", outages_at_once=1, crews_admitted=admits)  # type: ignore[arg-type]
    )
    calendar = facts.pop("calendar")
    draft.rooms.append(("B1", Room(building=-1, key="1.01", calendar="hall.ics" if calendar else None)))
    calendars = {"hall.ics": calendar} if isinstance(calendar, bytes) else {}
    snapshot = replace(draft.snapshot(), closures=facts.pop("closures"), calendars=calendars)  # type: ignore[arg-type]
    return Ground(snapshot=snapshot, **facts)  # type: ignore[arg-type]


def every_night(start: str, end: str) -> bytes:
    """Return a calendar that is booked each day from and to."""
    return (
        f"BEGIN:VCALENDAR\r\nBEGIN:VEVENT\r\nUID:1\r\nDTSTART:20270301T{start}\r\nDTEND:20270301T{end}\r\n"
        "RRULE:FREQ=DAILY\r\nEND:VEVENT\r\nEND:VCALENDAR\r\n"
    ).encode()


BOX = Part(key="box", lead_time_days=10, price=Decimal(30), currency="EUR", on_hand=Decimal(1))
SHUT = Closure(
    building=None, room=None, start=datetime(2027, 3, 8, tzinfo=UTC), end=datetime(2027, 3, 12, tzinfo=UTC),
    kind="keep out", why="examinations",
)  # fmt: skip

# name: what keeps the order out, the demands that clash, the cheapest change that frees it and its money
CASES: dict[str, tuple[Ground, set[str], str, Decimal | None]] = {
    "people": (
        # one person more for the two hours of the order: 80
        ground(orders=(replace(ORDER, people=3),)),
        {"crew Red has 2 people"},
        "1 more person in crew Red",
        Decimal(80),
    ),
    "two crews too small": (
        ground(orders=(replace(ORDER, people=4),), crews=(RED, BLUE)),
        {"crew Red has 2 people", "crew Blue has 1 person"},
        "2 more people in crew Red",
        Decimal(160),
    ),
    "budget": (
        ground(phases=(replace(PHASE, budget=Decimal("380.50")),)),
        {"P1 has a budget of 380.50\xa0EUR"},
        "the budget of P1 higher by 119.50\xa0EUR",
        Decimal("119.50"),
    ),
    "opening hours": (
        # open from 21:00 to 22:30 is half an hour too short for the two hours of the order
        ground(admits="Mon-Fri 21:00-22:30"),
        {"B1 admits crews Mon-Fri 21:00-22:30"},
        "B1 admits crews 30 min longer: Mon Tue Wed Thu Fri 21:00-23:00",
        None,
    ),
    "opening hours on other days": (
        # the phase is Monday to Wednesday: no longer hours of a Sunday help, a phase until the next Sunday would
        ground(admits="Sun 20:00-23:00"),
        {"B1 admits crews Sun 20:00-23:00", "P1 runs from 8 Mar 2027 to 10 Mar 2027"},
        "B1 admits crews at all hours",
        None,
    ),
    "opening hours that nobody can read": (
        ground(admits="by arrangement"),
        {"B1 admits crews by arrangement"},
        "B1 admits crews at all hours",
        None,
    ),
    "opening hours that end early in the shift": (
        # open from 19:00, shift from 20:00: the building must stay open until the order is done at 22:00
        ground(admits="Mon-Fri 19:00-21:00"),
        {"B1 admits crews Mon-Fri 19:00-21:00", "the shift of Red is 20:00 to 02:00 on its days"},
        "B1 admits crews 60 min longer: Mon Tue Wed Thu Fri 19:00-22:00",
        None,
    ),
    "work hours": (
        # 22:00 to 23:30 is half an hour too short; one person for it
        ground(brief=replace(BRIEF, work_from_min=22 * 60, work_to_min=23 * 60 + 30)),
        {"work is done from 22:00 to 23:30"},
        "the window 30 min longer: work until 00:00",
        Decimal(20),
    ),
    "shift within work hours that span midnight": (
        # nine hours fit into 19:00 to 06:30 and not into the shift of six; two people for three hours more
        ground(
            brief=replace(BRIEF, work_from_min=19 * 60, work_to_min=6 * 60 + 30),
            orders=(replace(ORDER, setup_min=0, restore_min=0, outage_min=9 * 60),),
        ),
        {"the shift of Red is 20:00 to 02:00 on its days"},
        "the shift of Red 180 min longer",
        Decimal(240),
    ),
    "shift and work hours": (
        # the shift ends at 02:00 and work begins at 01:00: a later end of the shift helps, of the work does not
        ground(brief=replace(BRIEF, work_from_min=60, work_to_min=6 * 60)),
        {"the shift of Red is 20:00 to 02:00 on its days", "work is done from 01:00 to 06:00"},
        "the shift of Red 60 min longer",
        Decimal(80),
    ),
    "outage": (
        ground(brief=replace(BRIEF, longest_outage_min=100)),
        {"no room is dark for more than 100 min"},
        "the longest outage 20 min longer",
        None,
    ),
    "closure": (
        ground(closures=(SHUT,)),
        {"examinations from 8 Mar 2027 to 12 Mar 2027 keeps work out", "P1 runs from 8 Mar 2027 to 10 Mar 2027"},
        "examinations lifted",
        None,
    ),
    "calendar": (
        # booked from 21:00 to 01:00 each night: an hour before and an hour after
        ground(calendar=every_night("210000", "235900"), crews=(replace(RED, shift_to_min=0),)),
        {"rooms are booked as their calendars say", "the shift of Red is 20:00 to 00:00 on its days"},
        "the shift of Red 120 min longer",
        Decimal(160),
    ),
    "parts": (
        # three needed, one there, the rest on 11 March, a day after the phase
        ground(parts=(BOX,), orders=(replace(ORDER, parts=(need("box", 3),)),)),
        {"part box is there when it is delivered", "P1 runs from 8 Mar 2027 to 10 Mar 2027"},
        "2 more of part box on the shelf today",
        Decimal(60),
    ),
    "district": (
        ground(phases=(replace(PHASE, districts=("Quay", "Hill")),)),
        {"P1 works in Quay, Hill alone"},
        "P1 may work in every district",
        None,
    ),
    "price": (
        ground(phases=(replace(PHASE, budget=Decimal(900)),), orders=(replace(ORDER, unpriced=("panel",)),)),
        {"no price is known for panel, and a budget needs one"},
        "a price for panel",
        None,
    ),
}


@pytest.mark.parametrize("name", CASES)
def test_what_clashes_and_the_cheapest_change(name: str) -> None:
    case, names, words, money = CASES[name]
    clash = smallest_clash(case, demands_on(case))
    assert clash is not None
    assert set(clash.demands) == names
    assert (clash.reliefs[0].words, clash.reliefs[0].money) == (words, money)


def feasible_without(case: Ground, demands: tuple[Demand, ...], dropped: set[str]) -> bool:
    for demand in demands:
        if demand.name in dropped:
            case = demand.drop(case)
    return Oracle(every=True)(case)


@pytest.mark.parametrize("name", CASES)
def test_no_demand_is_superfluous_and_all_of_them_are_needed(name: str) -> None:
    case = CASES[name][0]
    demands = demands_on(case)
    clash = smallest_clash(case, demands)
    assert clash is not None
    others = {demand.name for demand in demands} - set(clash.demands)
    assert not feasible_without(case, demands, others)
    for dropped in clash.demands:
        assert feasible_without(case, demands, others | {dropped}), dropped


@pytest.mark.parametrize("name", CASES)
def test_a_change_frees_the_order_and_one_unit_less_does_not(name: str) -> None:
    case = CASES[name][0]
    by_name = {demand.name: demand for demand in demands_on(case)}
    clash = smallest_clash(case, tuple(by_name.values()))
    assert clash is not None
    told = {relief.demand: relief.words for relief in clash.reliefs}
    for key, words in told.items():
        demand = by_name[key]
        if demand.loosen is None:
            assert Oracle(every=True)(demand.drop(case))
            continue
        units = next(n for n in range(1, demand.most + 1) if demand.say(n) == words)
        assert Oracle(every=True)(demand.loosen(case, units))
        assert not Oracle(every=True)(demand.loosen(case, units - 1))


def test_nothing_clashes_where_the_order_can_be_dated() -> None:
    assert smallest_clash(ground(), demands_on(ground())) is None


# Three orders of four hours each in one building, which bears one outage at a time, on two nights of six hours
THREE = tuple(replace(ORDER, key=key, outage_min=240, rooms=(("B1", f"room {key}"),)) for key in "abc")


def three(**changes: object) -> Ground:
    return ground(**{"orders": THREE, "phases": (replace(PHASE, end=date(2027, 3, 9)),), **changes})


def test_of_three_orders_that_do_not_fit_together_one_less_or_a_night_more_helps() -> None:
    clash = smallest_clash(three(), demands_on(three()))
    assert clash is not None
    assert {f"order {key} is to be done" for key in "abc"} <= set(clash.demands)
    assert "P1 runs from 8 Mar 2027 to 9 Mar 2027" in clash.demands
    assert {relief.words for relief in clash.reliefs} >= {"P1 ends 1 day later", "order a left out"}


def test_no_set_of_demands_smaller_than_the_one_told_clashes_within_it() -> None:
    case = three()
    demands = demands_on(case)
    clash = smallest_clash(case, demands)
    assert clash is not None
    others = {demand.name for demand in demands} - set(clash.demands)
    for kept in combinations(clash.demands, len(clash.demands) - 1):
        assert feasible_without(case, demands, others | (set(clash.demands) - set(kept)))


def test_any_order_will_do_where_nothing_at_all_can_be_dated() -> None:
    dear, big = replace(ORDER, cost_parts=Decimal(900)), replace(ORDER, key="b", people=3)
    case = ground(orders=(dear, big), phases=(replace(PHASE, budget=Decimal(400)),))
    clash = smallest_clash(case, demands_on(case, every=False), every=False)
    assert clash is not None
    # big costs 500, so 100 more would pay for it, and it needs a third person too; dear lacks 500 alone
    assert clash.demands == ("P1 has a budget of 400.00\xa0EUR",)
    assert clash.reliefs[0].words == "the budget of P1 higher by 500.00\xa0EUR"


def test_where_no_demand_of_the_table_helps_that_is_said() -> None:
    shut = replace(PHASE, start=date(2020, 3, 8), end=date(2020, 3, 9))  # long past
    case = ground(phases=(shut,))
    assert smallest_clash(case, demands_on(case)) == Clash(demands=(), reliefs=())


def test_windows_found_for_one_campus_are_never_taken_for_those_of_another_that_came_after_it() -> None:
    """A campus that is let go of may leave its place in memory to the next one; windows must not go with the place."""
    feasible = Oracle(every=True)
    case = ground(admits="Mon-Fri 21:00-22:30")
    for turn in range(50):
        opened, shut = (
            case.but(snapshot=replace(case.snapshot, buildings=(replace(building, crews_admitted=text),)))
            for building, text in ((case.snapshot.buildings[0], None), (case.snapshot.buildings[0], "Sun 00:00-01:00"))
        )
        assert (feasible(opened), feasible(shut)) == (True, False), turn


@pytest.mark.parametrize("late", ["no money", "no parts"])
def test_an_order_that_only_the_earlier_phase_can_do_can_be_done(late: str) -> None:
    """The last window of each phase is asked, not the last of all: later is no better under another budget."""
    after = Phase(key="P2", start=date(2027, 3, 15), end=date(2027, 3, 17), budget=Decimal(0))
    if late == "no parts":
        after = replace(after, budget=None, materials_ordered_on=date(2027, 3, 15))
    boxed = replace(ORDER, parts=(need("box", 1),))
    box = replace(BOX, on_hand=Decimal(0), lead_time_days=7)
    case = ground(orders=(boxed,), phases=(PHASE, after), parts=(box,))
    assert Oracle(every=False)(case)
    assert not Oracle(every=False)(case.but(phases=(after,)))
