"""Ways out that were taken: what holds goes into orders with its minutes, cable and cost; what does not says why."""

from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest

from planner.core.brief import Brief
from planner.core.choices import Tick
from planner.core.findings import SegmentReport, Verdict
from planner.core.orders import make_orders
from planner.core.plans import Order, PartNeed
from planner.core.reliefs import TakenUp, take_up, ways_out
from planner.core.verdicts import assess
from tests.campuses import Draft, add_line, add_station
from tests.unit.planner.lines import line, with_model, with_node, with_run
from tests.unit.planner.test_reliefs import ring, shared_line, thin, two_lines_of_one_gateway, two_lines_that_draw

BRIEF = Brief(labour_rate=Decimal(60), setup_min=20, restore_min=15)


def ticks(draft: Draft, *segments: str, brief: Brief = BRIEF) -> tuple[Tick, ...]:
    """Return the cheapest ways out of some segments, taken in this order."""
    snapshot = draft.snapshot()
    found = ways_out(snapshot, assess(snapshot, brief), brief)
    return tuple(Tick(segment=segment, way=found[segment]) for segment in segments)


def taken(draft: Draft, *chosen: Tick, brief: Brief = BRIEF) -> TakenUp:
    snapshot = draft.snapshot()
    return take_up(snapshot, assess(snapshot, brief), chosen, brief)


def report(found: TakenUp, segment: str) -> SegmentReport:
    return next(one for one in found.reports if one.segment == segment)


def orders(draft: Draft, found: TakenUp, brief: Brief = BRIEF) -> tuple[Order, ...]:
    return make_orders(draft.snapshot(), found.reports, brief)


def why(found: TakenUp) -> dict[str, str]:
    return {one.about: one.why for one in found.refused}


# The line of test_reliefs: 100 m of run R1 pulled anew. 100 m x 2 min = 200 min beside the old cable, by 2 people; then
# 20 min in the outage to change over, beside the 55 min of method M-21. Parts 709.00, cable 100 x 1.85 = 185.00; pulling
# 100 x 25.00 = 2500.00 holds its labour. Labour: 2 people x (20 + 55 + 20 + 15 = 110 min) at 60 an hour = 220.00.
def test_a_run_pulled_anew_is_in_the_order_with_its_minutes_people_cable_and_cost() -> None:
    draft = thin(100.0, 203.0)
    found = taken(draft, *ticks(draft, "L1"))
    assert (report(found, "L1").verdict, found.refused) == (Verdict.IN_PLACE, ())
    (order,) = orders(draft, found)
    assert (order.segments, order.setup_min, order.outage_min, order.restore_min) == (("L1",), 220, 75, 15)
    assert order.people == 2
    assert [(step.what, step.minutes, step.dark) for step in order.changes] == [
        ("pull anew", 200.0, False),
        ("change over", 20.0, True),
        ("lower bit rate", 0.0, True),
    ]
    assert PartNeed(part="P-5101", quantity=Decimal("100.0")) in order.parts
    assert (order.cost_parts, order.cost_changes, order.cost_labour) == (Decimal(894), Decimal(2500), Decimal(220))
    way = found.ways[0].way
    assert way.price is not None
    assert way.parts is not None
    assert order.cost_parts + order.cost_changes == way.price + way.parts


def test_a_moved_node_takes_its_minutes_and_darkens_the_segment_it_moves_to() -> None:
    draft = shared_line()
    add_station(draft, "L9", "B1-S909", "P9")  # whoever stands on L9 is without it while P is joined to it
    draft = with_node(draft, "B1-S909", model="WS-70")  # no old station: it is for its panel only that L9 is there
    found = taken(draft, *ticks(draft, "L1"))
    (order,) = orders(draft, found)
    assert [(step.what, step.to, step.minutes, step.dark) for step in order.changes] == [("move", "L9", 30.0, True)]
    assert order.outage_min == 55 + 30
    assert order.rooms == (("B1", "101"), ("B1", "909"))
    assert order.cost_changes == Decimal(180)
    assert report(found, "L1").others == ()


def test_what_is_left_out_and_what_is_fitted_takes_time_too() -> None:
    draft = ring()
    (order,) = orders(draft, taken(draft, *ticks(draft, "L1")))
    assert [(step.what, step.minutes) for step in order.changes] == [("leave out", 20.0)]
    assert (order.segments, len(order.stations)) == (("L1",), 2)


def test_a_cable_that_no_part_is_known_for_is_named_beside_the_cost() -> None:
    draft = line(cable="bell wire", length_m=40.0)
    (order,) = orders(draft, taken(draft, *ticks(draft, "L1")))
    assert order.unpriced == ("2x2 18AWG: no part is known",)


def test_nothing_taken_leaves_the_reports_alone() -> None:
    snapshot = thin(100.0, 203.0).snapshot()
    reports = assess(snapshot, BRIEF)
    assert take_up(snapshot, reports, (), BRIEF).reports is reports


# 10 m more of thin cable in the wall: 213 m x 0.2097 + 100 x 0.0480 + 0.21 = 49.7 ohm, more than the 48 that suffice
def test_a_way_out_that_does_not_pass_any_more_falls_with_the_rule_that_fails() -> None:
    chosen = ticks(thin(100.0, 203.0), "L1")
    found = taken(thin(100.0, 213.0), *chosen)
    assert why(found)["L1"].startswith("voltage: ")
    assert report(found, "L1").changes == ()
    assert orders(thin(100.0, 213.0), found) == ()


def test_a_way_out_goes_on_at_todays_lengths_and_prices() -> None:
    chosen = ticks(thin(100.0, 203.0), "L1")
    draft = thin(90.0, 203.0)
    (way,) = taken(draft, *chosen).ways
    assert (way.way.price, chosen[0].way.price) == (90 * Decimal("26.85"), 100 * Decimal("26.85"))


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"cable": "2x2 18AWG", "length_m": 20.0}, "It converts as it is now"),
        ({"bus": "L2"}, "How it is wired does not follow from the records any more"),
        ({"from_node": None}, "The records leave open what is wired to it"),
        ({"length_m": None}, "length: "),
    ],
)
def test_what_has_changed_in_the_inventory_is_said(changed: dict[str, Any], said: str) -> None:
    def draft(**run: Any) -> Draft:
        made = line(cable="bell wire", length_m=40.0)
        made.bus("L2")
        return with_run(made, "R-B1-S101", **run) if run else made

    found = taken(draft(**changed), *ticks(draft(), "L1"))
    assert said in why(found)["L1"]


def test_a_segment_that_is_gone_and_one_without_old_stations_are_said() -> None:
    (tick,) = ticks(thin(100.0, 203.0), "L1")
    gone = taken(thin(100.0, 203.0), replace(tick, segment="L0"))
    assert why(gone) == {"L0": "There is no segment L0 any more."}
    cleared = with_model(thin(100.0, 203.0), "WS-21", kind="panel")
    assert why(taken(cleared, tick)) == {"L1": "No old station stands on it any more."}


def test_a_method_that_the_brief_forbids_by_now_is_said() -> None:
    draft = thin(100.0, 203.0)
    found = taken(draft, *ticks(draft, "L1"), brief=replace(BRIEF, forbidden_methods=("M-21",)))
    assert why(found) == {"L1": "It does not convert by M-21 any more."}


def test_a_way_out_that_does_not_pass_is_never_taken_up() -> None:
    draft = line(model="WS-21", zones_used=12)
    assert why(taken(draft, *ticks(draft, "L1"))) == {"L1": "This way out does not make every rule pass."}


def test_lines_of_one_gateway_are_taken_up_together_or_not_at_all() -> None:
    draft = two_lines_of_one_gateway()
    first, second = ticks(draft, "L1", "L2")
    both = taken(draft, first, second)
    assert [order.segments for order in orders(draft, both)] == [("L1", "L2")]
    alone = taken(draft, first)
    assert why(alone) == {
        "L1": "Segment L2 hangs on the same gateway and must take its own way out in the same outage."
    }


def two_shared_lines(nodes_on_l9: int) -> Draft:
    """L1 and L5, each with its own gateway and a panel that must move; L9 holds some nodes of the 32 it takes."""
    draft = shared_line()
    add_station(draft, "L5", "B1-S505", add_line(draft, "L5"))
    draft.node("P5", "PN-1", "L5", room="505")
    draft.run("R-P5", "L5", ("B1-S505", "P5"), cable="2x2 18AWG", length_m=10.0)
    for number in range(nodes_on_l9 - 1):
        draft.node(f"Q{number}", "PN-1", "L9")
    return draft


def test_two_ways_out_never_count_on_the_same_room_and_the_later_one_falls() -> None:
    draft = two_shared_lines(31)
    first, second = ticks(draft, "L1", "L5")
    assert {step.to for tick in (first, second) for step in tick.way.changes} == {"L9"}
    assert why(taken(draft, first, second)) == {"L5": "There is no room for P5 on segment L9 any more."}
    assert why(taken(draft, second, first)) == {"L1": "There is no room for P on segment L9 any more."}
    assert taken(two_shared_lines(30), first, second).refused == ()


def test_a_node_is_not_moved_to_a_segment_that_takes_its_own_way_out() -> None:
    draft = two_shared_lines(1)
    first, second = ticks(draft, "L1", "L5")
    first = replace(
        first, way=replace(first.way, changes=(replace(first.way.changes[0], to="L5"),))
    )  # as if L9 had not been there when it was taken
    said = why(taken(draft, second, first))
    assert said == {"L1": "Segment L5, to which P would move, is converted itself."}
    assert why(taken(draft, first, second)) == {
        "L5": "The way out of segment L1 moves nodes here, and this one changes what is spoken here."
    }


def test_a_gateway_that_is_changed_otherwise_for_another_segment_is_said() -> None:
    # L2 converts as it is, by a method that sets the gateway over; L1's way out is by M-20, which replaces it.
    draft = two_lines_of_one_gateway()
    chosen = ticks(draft, "L1", "L2")
    snapshot = draft.snapshot()
    reports = tuple(
        replace(one, verdict=Verdict.IN_PLACE, new_protocol="OTHERPAIR", methods=(("B1-S201", "M-20"),))
        if one.segment == "L2"
        else one
        for one in assess(snapshot, BRIEF)
    )
    found = take_up(snapshot, reports, chosen, BRIEF)
    assert why(found)["L1"] == "Its gateway is replaced by GW-7 for segment L2."
    assert why(found)["L2"] == "It converts as it is now, so that no change is needed."


def test_a_node_that_is_gone_from_the_segment_is_said() -> None:
    draft = shared_line()
    chosen = ticks(draft, "L1")
    other = with_node(draft, "P", buses=("L9",))
    other.node("X", "PN-1", "L1", room="101")
    other.run("R-X", "L1", ("B1-S101", "X"), cable="2x2 18AWG", length_m=1.0)
    other.runs = [run for run in other.runs if run.key != "R-P"]
    assert why(taken(other, *chosen)) == {"L1": "P is not on it any more."}


def test_a_run_of_another_name_is_not_the_one_that_was_to_be_pulled() -> None:
    draft = line(cable="bell wire", length_m=40.0)
    chosen = ticks(draft, "L1")
    draft.runs = [replace(run, key="R-other") if run.key == "R-B1-S101" else run for run in draft.runs]
    assert why(taken(draft, *chosen)) == {"L1": "R-B1-S101 is not on it any more."}


def two_targets_of_one_gateway() -> Draft:
    """L1 and L5 each have a panel of 10 W that must move; L8 and L9, full but for one node each, hang on one gateway."""
    draft = two_shared_lines(31)
    draft.nodes = [row for row in draft.nodes if row.key != "SU9"]
    add_line(draft, "L9b")
    draft.bus("L8")
    draft = with_node(draft, "L9b-G", buses=("L8", "L9", "B1-N0"))
    draft.node("P8", "SN-5", "L8")
    return with_model(draft, "PN-1", draw_w=1.0)


# The gateway feeds 60 W less 20 % reserve: 48 W. L9 draws 31 x 1 W and L8 what is set: with 16 W one more watt fits, not two.
@pytest.mark.parametrize(("watts", "refused"), [(15.0, 0), (16.0, 1)])
def test_two_ways_out_never_count_on_the_same_watts_of_one_gateway(watts: float, refused: int) -> None:
    draft = with_model(two_targets_of_one_gateway(), "SN-5", draw_w=watts)
    first, second = ticks(draft, "L1", "L5")
    assert first.way.passes
    assert second.way.passes
    second = replace(second, way=replace(second.way, changes=(replace(second.way.changes[0], to="L8"),)))
    found = taken(draft, first, second)
    assert len(found.refused) == refused
    if refused:
        assert why(found) == {"L5": "There is no room for P5 on segment L8 any more."}


# The gateway feeds 60 W less 20 % reserve: 48 W. Each line by itself is well within that; together 24.1 W twice are not.
def test_ways_out_that_pass_alone_and_are_too_much_for_their_gateway_together_fall() -> None:
    chosen = ticks(two_lines_that_draw(23.5), "L1", "L2")
    assert taken(two_lines_that_draw(23.5), *chosen).refused == ()
    found = taken(two_lines_that_draw(24.1), *chosen)
    assert found.ways == ()
    assert why(found)["L2"].startswith("On gateway L1-G the ways out of L1 and L2 ask for up to 48.2")
    assert why(found)["L2"].endswith("W together, it can feed 48 W with 20 % reserve.")
    assert report(found, "L1").verdict not in {Verdict.IN_PLACE, Verdict.TOGETHER}
