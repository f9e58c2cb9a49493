"""A brief by which nothing can be dated is refused before it is solved, with what clashes and what frees it; by hand."""

from dataclasses import replace
from datetime import date
from decimal import Decimal

import pytest

from planner.core.clashes import Ground
from planner.core.demands import Demands, demands_for
from planner.core.impossible import bound_alone, known_before, refuse_impossible, with_bounds
from planner.core.plans import Phase, Unplanned
from planner.core.reasons import ReasonCode
from planner.core.schedule import BriefImpossible, places_of
from planner.core.windows import find_windows
from tests.unit.planner.test_clashes import BLUE, BOX, ORDER, PHASE, ground, need

LATER = Phase(key="P2", start=date(2027, 3, 9), end=date(2027, 3, 12))
LONG = replace(ORDER, setup_min=0, restore_min=0, outage_min=7 * 60)  # an hour more than the shift has
PRICED = replace(ORDER, key="b", cost_parts=Decimal(900))
WAITING = replace(ORDER, predecessors=("b",)), replace(ORDER, key="b", predecessors=("a",))

# name: the brief, what is told of what clashes, and of what would free it
REFUSED: dict[str, tuple[Ground, str, str]] = {
    "no crew": (ground(crews=()), "There is no crew", "Add one"),
    "no phase": (ground(phases=()), "There is no phase", "Add one"),
    "phases overlap": (ground(phases=(PHASE, LATER)), "P1 and P2 overlap", "9 Mar 2027 to 10 Mar 2027"),
    "cycle": (ground(orders=WAITING), "Orders a, b each wait", "none can be first"),
    "budget of zero": (
        ground(orders=(ORDER, PRICED), phases=(replace(PHASE, budget=Decimal(0)),)),
        "P1 has a budget of 0.00\xa0EUR",
        "the budget of P1 higher by 500.00\xa0EUR, for 500.00\xa0EUR",
    ),
    "too long": (
        ground(orders=(LONG,)),
        "the shift of Red is 20:00 to 02:00 on its days",
        "the shift of Red 60 min longer, for 80.00\xa0EUR",
    ),
    "too few people": (
        ground(orders=(replace(ORDER, people=4),), crews=(replace(BLUE, people=3), BLUE)),
        "crew Blue has",
        "1 more person in crew Blue, for 80.00\xa0EUR",
    ),
    "opening hours": (
        ground(orders=(ORDER,), admits="Mon 20:00-21:00"),
        "B1 admits crews Mon 20:00-21:00",
        "B1 admits crews 60 min longer: Mon 20:00-22:00",
    ),
    "parts too late": (
        # one of two boxes on the shelf; another takes 30 days from 1 March, past the end of the phase on 10 March
        ground(orders=(replace(ORDER, parts=(need("box", 2),)),), parts=(replace(BOX, lead_time_days=30),)),
        "part box is there when it is delivered",
        "1 more of part box on the shelf today, for 30.00\xa0EUR",
    ),
}  # fmt: skip


def demands_of(on: Ground) -> Demands:
    """Return the demands of a ground."""
    windows = find_windows(on.snapshot, on.orders, on.crews, on.phases, on.brief)
    catalogue = on.snapshot.catalogue
    places = places_of(on.snapshot)
    return demands_for(
        on.orders, windows, on.crews, on.phases, on.brief, places,
        parts=catalogue.parts, spares=catalogue.spares, now=on.now,
    )  # fmt: skip


@pytest.mark.parametrize("name", REFUSED)
def test_what_cannot_be_planned_is_refused_with_what_clashes_and_what_frees_it(name: str) -> None:
    on, clashes, freed = REFUSED[name]
    with pytest.raises(BriefImpossible) as refused:
        refuse_impossible(demands_of(on), on)
    said = " ".join(problem.message for problem in refused.value.problems)
    assert clashes in said
    assert freed in said


def test_a_brief_by_which_one_order_can_be_dated_is_not_refused() -> None:
    on = ground(orders=(ORDER, replace(LONG, key="b")))
    refuse_impossible(demands_of(on), on)


def test_an_order_longer_than_any_window_among_others_is_named_before_anything_is_solved() -> None:
    # six hours of the shift are left to an order of seven
    on = ground(orders=(ORDER, replace(LONG, key="b")))
    known = known_before(demands_of(on))
    assert known == ("Order b takes 420 min, the longest free time found is 360 min.",)


def test_nothing_to_do_is_no_impossible_brief() -> None:
    on = ground(orders=())
    refuse_impossible(demands_of(on), on)


def left_out(key: str, code: ReasonCode) -> Unplanned:
    return Unplanned(order=key, code=code.value, reason="it is left out")


def test_a_left_out_order_is_told_what_binds_it_alone_and_a_crowded_out_one_is_not() -> None:
    on = ground(orders=(ORDER, replace(LONG, key="b")))
    both = left_out("a", ReasonCode.BUDGET), left_out("b", ReasonCode.WINDOW)
    crowded, alone = with_bounds(both, bound_alone(on, both), "EUR")
    assert crowded.reason == "it is left out"
    assert "What alone keeps it out: the shift of Red is 20:00 to 02:00 on its days." in alone.reason
    assert "the shift of Red 60 min longer, for 80.00\xa0EUR" in alone.reason


def test_an_order_that_was_put_off_beyond_its_phase_is_told_what_would_free_it() -> None:
    # the phase ends on 10 March: three days later, or put off by three days less
    on = ground(orders=(ORDER,), put_off=((ORDER.key, date(2027, 3, 13)),))
    (bound,) = bound_alone(on, (left_out(ORDER.key, ReasonCode.CALENDAR),))
    assert f"order {ORDER.key} is put off to the night of 13 Mar 2027 or later" in bound.clash.demands
    assert {relief.words for relief in bound.clash.reliefs} == {
        "P1 ends 3 days later",
        f"order {ORDER.key} put off by 3 days less",
    }
