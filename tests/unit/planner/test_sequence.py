"""What a planner puts first: from segments to predecessors of orders, through grouping, replanning and rings."""

from dataclasses import replace
from itertools import permutations

import networkx as nx
import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.core.choices import After, Choices, Sharing
from planner.core.orders import group_orders
from planner.core.plans import Order, OrderState
from planner.core.replanning import booked_groups, carried_over
from planner.core.schedule import BriefImpossible, plan_for
from planner.core.schedule.core import Effort
from planner.core.sequence import APART, kept_apart, ring_in, sequenced
from planner.core.settled import with_settled, worth_of
from tests.laws.settings import LAW
from tests.unit.planner.nights import Job, order, put, window
from tests.unit.planner.test_orders import BRIEF, LINES, _draft, _report
from tests.unit.planner.test_replanning import demands_of, standing

REPORTS = tuple(_report(line) for line in LINES)
EFFORT = Effort(seconds=1, seed=1)


def after(later: str, earlier: str, name: str = "1") -> After:
    return After(name=name, earlier=tuple(earlier.split()), later=tuple(later.split()))


def orders_by_hand(
    *afters: After, sharings: tuple[Sharing, ...] = ()
) -> tuple[dict[tuple[str, ...], Order], dict[str, str]]:
    """Return the orders of L1 to L4 by segments, and why choices do not hold. Left alone, L1 and L2 share an order."""
    found = group_orders(_draft().snapshot(), REPORTS, BRIEF, (*sharings, *kept_apart(afters)))
    orders = sequenced(found.orders, afters)
    return {each.segments: each for each in orders}, {one.about: one.why for one in found.refused}


def test_an_order_comes_after_all_that_holds_the_earlier_segments() -> None:
    orders, refused = orders_by_hand(after("L3", "L1"))
    assert orders["L3", "L4"].predecessors == (orders["L1", "L2"].key,)
    assert (orders["L1", "L2"].predecessors, refused) == ((), {})


def test_what_comes_after_is_never_put_into_the_same_outage_however_much_that_saves() -> None:
    orders, refused = orders_by_hand(after("L2", "L1"))
    assert orders["L2",].predecessors == (orders["L1",].key,)
    assert refused == {}


def test_one_outage_cannot_come_after_itself_and_that_is_said() -> None:
    orders, refused = orders_by_hand(after("L4", "L3"))
    assert orders["L3", "L4"].predecessors == ()
    assert "hang on gateway G3" in refused[f"{APART}1"]


def test_segments_that_are_in_no_order_hold_nothing_up() -> None:
    orders, refused = orders_by_hand(after("L3", "L9"), after("L9", "L1", "2"))
    assert all(each.predecessors == () for each in orders.values())
    assert refused == {}


def test_what_is_begun_waits_for_nothing_any_more() -> None:
    one, two = order("a"), order("b")
    found = sequenced((one, two), (After(name="1", earlier=one.segments, later=two.segments),), frozenset({"b"}))
    assert found == (one, two)


def test_a_split_and_a_merge_by_hand_survive_planning_again() -> None:
    """The next plan groups by the same choices, whatever the orders are called in it."""
    choices = Choices(
        sharings=(
            Sharing(name="1", parts=(("L1",), ("L2",))),
            Sharing(name="2", parts=(("L2", "L3"),)),
        ),
        afters=(after("L1", "L3"),),
    )
    first, _ = orders_by_hand(*choices.afters, sharings=choices.sharings)
    assert set(first) == {("L1",), ("L2", "L3", "L4")}
    standings = tuple(standing(each, None, OrderState.DRAFTED) for each in first.values())
    fresh = group_orders(
        _draft().snapshot(),
        REPORTS,
        BRIEF,
        (*booked_groups(standings), *choices.sharings, *kept_apart(choices.afters)),
    ).orders
    again = sequenced(carried_over(standings, fresh), choices.afters)
    assert {each.segments: each.key for each in again} == {segments: each.key for segments, each in first.items()}
    assert {each.segments: each.predecessors for each in again} == {
        ("L1",): (first["L2", "L3", "L4"].key,),
        ("L2", "L3", "L4"): (),
    }


def test_a_booked_order_keeps_what_it_holds_against_a_later_split_and_that_is_said() -> None:
    booked = order("B1-O001", segments=("L1", "L2"))
    standings = (standing(booked, put(booked, 0, 20), OrderState.BOOKED),)
    split = Sharing(name="1", parts=(("L1",), ("L2",)))
    found = group_orders(_draft().snapshot(), REPORTS, BRIEF, (*booked_groups(standings), split))
    assert ("L1", "L2") in {each.segments for each in found.orders}
    assert [(one.about, "together" in one.why) for one in found.refused] == [("1", True)]


@pytest.mark.parametrize("names", list(permutations("abc")))
def test_a_ring_is_found_whatever_the_orders_are_called_and_named_before_anything_is_solved(
    names: tuple[str, ...],
) -> None:
    keys = dict(zip("xyz", names, strict=True))
    orders = tuple(
        order(keys[key], predecessors=(keys[before],)) for key, before in (("x", "y"), ("y", "z"), ("z", "x"))
    )
    ring = ring_in(orders)
    assert set(ring) == set("abc")
    before = {each.key: each.predecessors for each in orders}
    assert all(two in before[one] for one, two in zip(ring, (*ring[1:], ring[0]), strict=True))
    job = Job(orders=orders, spans=tuple(window(key) for key in "abc"))
    with pytest.raises(BriefImpossible, match="Orders a, b, c each wait for another of them, so none can be first"):
        plan_for(demands_of(job), EFFORT)


@LAW
@given(st.lists(st.tuples(st.integers(0, 7), st.integers(0, 7)), max_size=20))
def test_law_there_is_a_ring_exactly_where_a_reference_library_finds_a_cycle(pairs: list[tuple[int, int]]) -> None:
    """networkx.is_directed_acyclic_graph is the reference."""
    before: dict[int, set[str]] = {}
    for later, earlier in pairs:
        before.setdefault(later, set()).add(str(earlier))
    orders = tuple(order(str(key), predecessors=tuple(sorted(before.get(key, ())))) for key in range(8))
    graph = nx.DiGraph((each.key, other) for each in orders for other in each.predecessors)
    ring = ring_in(orders)
    assert bool(ring) == (not nx.is_directed_acyclic_graph(graph))
    assert all(graph.has_edge(one, two) for one, two in zip(ring, (*ring[1:], *ring[:1]), strict=True))


def test_the_plan_does_the_earlier_first_although_the_later_is_worth_more() -> None:
    one, two = order("a", hours=4), order("b", hours=4, benefit=50.0)  # a night holds one of them
    spans = tuple(window(key, night) for key in "ab" for night in (0, 1))
    free = plan_for(demands_of(Job(orders=(one, two), spans=spans)), EFFORT)
    assert free.placed[0].order == "b"
    tied = sequenced((one, two), (After(name="1", earlier=one.segments, later=two.segments),))
    plan = plan_for(demands_of(Job(orders=tied, spans=spans)), EFFORT)
    assert [each.order for each in plan.placed] == ["a", "b"]


# Two crews of one building each, windows on two nights: one order is settled, the other free
SETTLED = order("a", benefit=9.0)
FREE = (order("b", building="South"), order("c", building="South", benefit=3.0))


def test_only_what_was_free_to_be_planned_is_held_against_the_plain_list() -> None:
    """Figures by hand: the settled order alone comes to the same in plan, bound and list, and is taken out of each."""
    spans = tuple(window(each.key, night) for each in FREE for night in (0, 1))
    home = put(SETTLED, 0, 20)
    demands = replace(demands_of(Job(orders=(SETTLED, *FREE), spans=spans)), fixed=(home,))
    plan = with_settled(plan_for(demands, EFFORT), demands)
    alone = with_settled(plan_for(replace(demands, orders=(SETTLED,), windows=()), EFFORT), demands)
    assert plan.settled == 1
    # weights: sooner 10 a day and point (night 0 waits 0 days), a night and a journey 100 each: nothing else is paid
    assert plan.settled_objective == 200
    assert alone.settled_objective == 200
    worth = worth_of(
        orders=3,
        settled=plan.settled,
        settled_objective=plan.settled_objective,
        figures=(plan.objective, plan.bound, plan.list_objective),
    )
    assert worth.free == 2
    assert worth.list_worse == pytest.approx((plan.list_objective - plan.objective) / (plan.objective - 200))


def test_where_all_is_settled_there_is_nothing_to_compare() -> None:
    home = put(SETTLED, 0, 20)
    demands = replace(demands_of(Job(orders=(SETTLED,), spans=())), fixed=(home,))
    plan = with_settled(plan_for(demands, EFFORT), demands)
    figures = (plan.objective, plan.bound, plan.list_objective)
    assert plan.settled_objective == plan.objective
    assert worth_of(orders=1, settled=1, settled_objective=plan.settled_objective, figures=figures).list_worse is None


def test_what_cannot_be_dated_at_all_was_not_free_either() -> None:
    """An order without a window costs the same in every plan: left in, it would hide how much better one is."""
    never = order("z", benefit=40.0)
    spans = tuple(window(each.key, night) for each in FREE for night in (0, 1))
    demands = demands_of(Job(orders=(*FREE, never), spans=spans, longest_free_min=0))
    plan = with_settled(plan_for(demands, EFFORT), demands)
    assert [each.code for each in plan.unplanned] == ["no window"]
    # mean benefit of the three is 44/3, which is 100 points: 40 are 273; 14 days of the phase at the weights 100 and 10
    assert (plan.settled, plan.settled_objective) == (1, 273 * 14 * 110)
