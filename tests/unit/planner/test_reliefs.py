"""Ways out: each kind of change by hand with its price, what nothing cures, and where a limit cuts the search."""

from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest

from inventory.core.catalogue import EndsBus, Layout
from planner.core.brief import Brief
from planner.core.findings import CONVERTIBLE, Verdict, WayOut
from planner.core.reliefs import search, ways_out, with_ways_out
from planner.core.reliefs.prices import Price
from planner.core.verdicts import assess
from planner.handover.tables import SEGMENTS
from tests.campuses import Draft, add_line, add_station, hand_campus, random_campus
from tests.reliefs import built, priced
from tests.unit.planner.lines import line, report, with_cable, with_model, with_node, with_row, with_run

METRE = Decimal("26.85")  # 1.85 for the cable and 25.00 for pulling it
MOVE = Decimal("180.00")


def ways(draft: Draft, **brief: Any) -> dict[str, WayOut]:
    snapshot, settings = draft.snapshot(), Brief(**brief)
    return ways_out(snapshot, assess(snapshot, settings), settings)


def way(draft: Draft, segment: str = "L1", **brief: Any) -> WayOut:
    return ways(draft, **brief)[segment]


def done(found: WayOut) -> list[tuple[str, str, Decimal | None]]:
    return [(change.what, change.about, change.price) for change in found.changes]


def thin(*lengths_m: float, model: str = "WS-21") -> Draft:
    """One station behind junctions, all runs of 24 AWG, 18 AWG on the shelf; WS-21 has no local supply by its method."""
    draft = line(model=model, length_m=lengths_m[-1], cable="2x2 24AWG", box_gangs=2)
    last = "L1-G"
    for number, length_m in enumerate(lengths_m[:-1], start=1):
        draft.node(f"J{number}", "JB-1", "L1")
        draft.run(f"R{number}", "L1", (last, f"J{number}"), cable="2x2 24AWG", length_m=length_m)
        last = f"J{number}"
    draft = with_run(draft, "R-B1-S101", from_node=last)
    draft.catalogue = priced(draft.catalogue)
    return draft


def test_what_converts_or_has_no_old_station_needs_no_way_out() -> None:
    snapshot = hand_campus()
    reports = assess(snapshot, Brief())
    without = {one.segment for one in reports if one.verdict in CONVERTIBLE or not one.old_stations}
    assert {one.segment for one in with_ways_out(snapshot, reports, Brief()) if one.way_out is None} == without


# 3 W at 24 V with 12 V at least: R <= 12 x 12 / 3 = 48 ohm. The loop of 24 AWG is 0.2097 ohm/m at 50 C, that of 18 AWG
# 0.0480, and two leads are 0.21 ohm. 100 + 203 m of 24 AWG: 64 ohm, too much. With the 100 m in 18 AWG 42.57 + 4.80 +
# 0.21 = 47.58 ohm, enough: (24 + sqrt(576 - 12 x 47.58)) / 2 = 13.13 V, close. 100 m cost 100 x 26.85 = 2685.00, the 203 m 5450.55. 305 m with leads need the
# rate of 125 kbit/s; at 250 kbit/s 250 m are allowed.
def test_the_cheapest_run_whose_copper_suffices_is_pulled_anew() -> None:
    found = way(thin(100.0, 203.0))
    assert done(found) == [("lower bit rate", "L1", Decimal("0.00")), ("pull anew", "R1", Decimal("2685.00"))]
    assert (found.passes, found.price, found.currency) == (True, Decimal("2685.00"), "EUR")
    assert [one.split(",")[0] for one in found.leaves_close] == ["voltage: B1-S101 gets 13.13 V"]
    assert found.methods == ("M-21",)
    assert not found.limited
    # parts: 2 ends x (7.40 + 2.10), station 210, gateway 480
    assert found.parts == Decimal("709.00")


# 60 + 220 m: with the 60 m in 18 AWG 46.14 + 2.88 + 0.21 = 49.2 ohm, just too much; with the 220 m 23.3 ohm.
def test_a_run_too_short_to_help_is_passed_over_for_the_next_dearer_set() -> None:
    found = way(thin(60.0, 220.0))
    assert done(found)[1:] == [("pull anew", "R-B1-S101", 220 * METRE)]


# 50 + 50 + 203 m: both short ones as the 100 m above, 2685.00; either alone leaves 55 ohm; the long one costs 5450.55.
def test_two_short_runs_together_are_cheaper_than_one_long_one() -> None:
    found = way(thin(50.0, 50.0, 203.0))
    assert done(found)[1:] == [("pull anew", "R1", 50 * METRE), ("pull anew", "R2", 50 * METRE)]


def test_a_cable_without_data_pairs_must_be_pulled_anew() -> None:
    draft = line(cable="bell wire", length_m=40.0)
    draft.catalogue = priced(draft.catalogue)
    assert done(way(draft)) == [("pull anew", "R-B1-S101", 40 * METRE)]


# 500 m hold at 0.5 mm2, so that 24 AWG (0.205 mm2) may be 205 m and 18 AWG (0.823 mm2) 823 m. With two leads of 1 m of
# 24 AWG: 70 + 160 m are 562 m of 0.5 mm2; with the 70 m of 18 AWG 433 + 5 m.
def test_a_run_whose_data_conductors_are_too_thin_for_its_length_is_pulled_anew() -> None:
    draft = with_row(thin(70.0, 160.0, model="WS-20"), data_conductor="0.5 mm2")
    assert report(draft).verdict is Verdict.SURVEY_FIRST
    found = way(draft)
    assert done(found) == [("pull anew", "R1", 70 * METRE)]
    assert (found.passes, found.limited) == (True, False)


def test_new_cable_that_is_thicker_for_power_and_thinner_for_data_is_said_to_limit_the_search() -> None:
    draft = with_row(thin(70.0, 160.0, model="WS-20"), data_conductor="0.5 mm2")
    draft = with_cable(draft, "2x2 18AWG", data_conductor="28 AWG")
    found = way(draft)
    assert (found.passes, found.limited) == (False, True)
    assert any(one.startswith("length: ") for one in found.still)


def test_a_price_that_is_not_known_is_said_and_never_taken_for_nothing() -> None:
    found = way(line(cable="bell wire", length_m=40.0))  # no cable has a part
    assert (found.passes, found.price, found.priced) == (True, None, Decimal("1000.00"))
    assert found.unpriced == ("run R-B1-S101, 40\u00a0m of 2x2 18AWG",)


def test_prices_in_another_currency_than_the_brief_are_not_known() -> None:
    draft = line(cable="bell wire", length_m=40.0)
    draft.catalogue = priced(draft.catalogue, currency="CHF")
    assert way(draft).price is None


def test_what_is_not_known_sorts_behind_any_known_price() -> None:
    assert Price(0, Decimal(10**9)) < Price(1, Decimal(1))


def test_a_panel_moves_to_a_segment_of_its_bus_that_has_room() -> None:
    snapshot = hand_campus()
    found = ways_out(snapshot, assess(snapshot, Brief()), Brief())["B1-L03"]
    assert done(found) == [("move", "B1-P104", MOVE)]
    # B1-L04 and B1-L05 are of the same bus and not convertible; what converts takes nobody
    assert found.changes[0].words == "B1-P104 to segment B1-L04"
    assert found.moves_again == (
        "B1-L04 has old stations itself: before it is converted B1-P104 must move again, for 180.00\xa0EUR more.",
    )


def test_a_segment_without_old_stations_takes_a_node_for_good_and_is_chosen_first() -> None:
    found = way(shared_line())
    assert [change.words for change in found.changes if change.what == "move"] == ["P to segment L9"]
    assert found.moves_again == ()


def shared_line(*, middle: bool = False) -> Draft:
    """A panel on L1, behind the station or between gateway and station; L9 of the same bus holds no old station."""
    draft = line()
    draft.node("P", "PN-1", "L1", room="101")
    ends = ("L1-G", "P") if middle else ("B1-S101", "P")
    draft.run("R-P", "L1", ends, cable="2x2 18AWG", length_m=10.0)
    if middle:
        draft = with_run(draft, "R-B1-S101", from_node="P")
    draft.bus("L9")
    draft.node("P9", "PN-1", "L9")
    draft.node("SU9", "SU-3", "L9")
    return with_model(draft, "SU-3", supply_rating_w=1000.0)


def test_a_node_in_the_middle_leaves_its_runs_joined_through() -> None:
    found = way(shared_line(middle=True))
    assert (found.passes, done(found)) == (True, [("move", "P", MOVE)])


# PAIRBUS takes 32 nodes: with 31 on L9 one more fits, with 32 none.
@pytest.mark.parametrize(("nodes", "passes"), [(31, True), (32, False)])
def test_a_segment_takes_nodes_to_the_limit_of_its_bus(nodes: int, *, passes: bool) -> None:
    draft = shared_line()
    for number in range(nodes - 1):
        draft.node(f"Q{number}", "PN-1", "L9")
    assert way(draft).passes is passes


# L9 is fed with 60 W less 20 % reserve: 48 W. P9 draws 30 W, so that 18 W are left.
@pytest.mark.parametrize(("watts", "passes"), [(18.0, True), (18.1, False), (None, False)])
def test_a_segment_takes_nodes_to_what_its_source_can_feed(watts: float | None, *, passes: bool) -> None:
    draft = shared_line()
    add_line(draft, "L9b")
    draft = with_node(draft, "L9b-G", buses=("L9", "B1-N0"))
    draft.nodes = [
        replace(node, model="SN-5") if node.key == "P9" else node for node in draft.nodes if node.key != "SU9"
    ]
    draft = with_model(with_model(draft, "SN-5", draw_w=30.0), "PN-1", draw_w=watts)
    assert way(draft).passes is passes


# What a bus can still feed follows from its one source and that one's rating: where either is not on record, look first.
@pytest.mark.parametrize("lacking", ["source", "rating", "one source"])
def test_a_segment_of_which_nobody_knows_what_feeds_it_takes_only_what_draws_nothing(lacking: str) -> None:
    def draft() -> Draft:
        made = shared_line()
        if lacking == "source":
            made.nodes = [node for node in made.nodes if node.key != "SU9"]
        elif lacking == "rating":
            made = with_model(made, "SU-3", supply_rating_w=None)
        else:
            made.node("SU10", "SU-3", "L9")
        return made

    assert way(shared_line()).passes
    assert not way(draft()).passes
    assert way(with_model(draft(), "PN-1", draw_w=0.0)).passes


def test_a_bus_whose_limit_nobody_recorded_has_no_room() -> None:
    assert not way(with_row(shared_line(), 9.6, "PAIRBUS", most_nodes=None)).passes


def test_a_node_moves_only_within_its_building() -> None:
    draft = shared_line()
    draft.building("B2")
    draft.buses = [("B2" if bus.key == "L9" else building, bus) for building, bus in draft.buses]
    assert not way(draft).passes


# A ring of gateway, station, station: any one run left out opens it, for nothing; the first by name that passes.
def ring() -> Draft:
    draft = line()
    add_station(draft, "L1", "B1-S102", "B1-S101", length_m=10.0)
    draft.run("R-back", "L1", ("B1-S102", "L1-G"), cable="2x2 18AWG", length_m=30.0)
    return draft


def test_a_ring_is_opened_at_one_run() -> None:
    found = way(ring())
    # at R-B1-S102 the gateway, whose end resistor cannot be taken out, would stand in the middle of the trunk
    assert done(found) == [("leave out", "R-B1-S101", Decimal("0.00"))]


def ring_with_a_junction() -> Draft:
    """A ring whose way back to the gateway leads over a junction that serves nobody else."""
    draft = line()
    add_station(draft, "L1", "B1-S102", "B1-S101", length_m=10.0)
    draft.node("J", "JB-1", "L1")
    draft.run("R-out", "L1", ("B1-S102", "J"), cable="2x2 18AWG", length_m=5.0)
    draft.run("R-back", "L1", ("J", "L1-G"), cable="2x2 18AWG", length_m=25.0)
    return without_end_at_gateway(draft)


def without_end_at_gateway(draft: Draft) -> Draft:
    """Let the gateway's end resistor be one that can be switched, so that any run may be the one left out."""
    return with_model(draft, "GW-7", ends_bus=EndsBus.SWITCH)


def test_a_dead_end_that_a_change_leaves_is_left_out_with_it() -> None:
    found = way(ring_with_a_junction())
    out = {change.about for change in found.changes if change.what == "leave out"}
    assert found.passes
    assert out in ({"R-B1-S101"}, {"R-B1-S102"}, {"R-out", "R-back"}), "never the junction on a stub"


def branched() -> Draft:
    """J branches to two stations; the bus allows stubs of 5 m."""
    draft = with_row(line(length_m=30.0), longest_stub_m=5.0)
    draft.node("J", "JB-1", "L1")
    draft.run("R-J", "L1", ("L1-G", "J"), cable="2x2 18AWG", length_m=40.0)
    draft = with_run(draft, "R-B1-S101", from_node="J")
    add_station(draft, "L1", "B1-S102", "J", length_m=50.0)
    draft.catalogue = priced(draft.catalogue)
    return draft


def behind_a_junction() -> Draft:
    """A panel that must move hangs on the line over a junction of its own."""
    draft = shared_line()
    draft.node("J", "JB-1", "L1")
    draft.run("R-J", "L1", ("B1-S101", "J"), cable="2x2 18AWG", length_m=5.0)
    return with_run(draft, "R-P", from_node="J")


def test_the_run_to_a_junction_that_served_a_moved_node_alone_is_left_out() -> None:
    found = way(behind_a_junction())
    assert [(change.what, change.about) for change in found.changes] == [("move", "P"), ("leave out", "R-J")]


@pytest.mark.parametrize(
    "draft", [shared_line(), shared_line(middle=True), behind_a_junction(), ring(), ring_with_a_junction(), branched()]
)
def test_what_is_on_record_once_a_way_out_is_done_converts_as_it_was_judged(draft: Draft) -> None:
    snapshot = draft.snapshot()
    before = {one.segment: one for one in assess(snapshot, Brief())}
    found = ways_out(snapshot, tuple(before.values()), Brief())["L1"]
    assert found.passes
    after = {one.segment: one for one in assess(built(snapshot, before["L1"], found), Brief())}
    assert after["L1"].verdict in CONVERTIBLE
    assert [one.voltage_v for one in after["L1"].voltages] == pytest.approx([one.voltage_v for one in found.voltages])


# J branches to two stations; the bus allows no stub. Line: G-J-S101 40 + 30, back and on to S102: 30 + 50 = 80 m more.
def test_a_tree_becomes_one_line_with_the_deepest_branch_last() -> None:
    found = way(branched())
    assert done(found) == [("new line", "L1", 150 * METRE)]
    assert "150\u00a0m of 2x2 18AWG" in found.changes[0].words
    assert found.changes[0].line == (("L1-G", "B1-S101", 70.0), ("B1-S101", "B1-S102", 80.0))


def test_what_no_change_cures_is_said_with_the_price_of_pulling_everything() -> None:
    draft = line(model="WS-21", zones_used=12)
    draft.catalogue = priced(draft.catalogue)
    found = way(draft)
    assert (found.passes, found.price) == (False, 40 * METRE)
    assert found.still == ("functions: B1-S101 uses 12 zones, WS-70 has 8.",)


def test_pulling_everything_is_priced_where_no_method_is_allowed() -> None:
    draft = line()
    draft.catalogue = priced(draft.catalogue)
    found = way(draft, forbidden_methods=("M-20", "M-21"))
    assert (found.passes, found.price) == (False, 40 * METRE)
    assert found.still[0].startswith("gateway: No methods")


def test_questions_come_first_and_pulling_anew_makes_a_cable_known() -> None:
    draft = line(cable=None)
    draft.catalogue = priced(draft.catalogue)
    found = way(draft)
    assert (found.questions_first, found.passes, done(found)) == (
        True, True, [("pull anew", "R-B1-S101", 40 * METRE)]
    )  # fmt: skip


def test_where_it_is_open_who_is_on_the_wire_no_change_is_offered_as_a_cure() -> None:
    snapshot = hand_campus()
    found = ways_out(snapshot, assess(snapshot, Brief()), Brief())["B2-L01"]
    assert (found.questions_first, found.passes, found.tried) == (True, False, 0)


def test_a_node_nearby_that_may_be_on_the_wire_is_never_overlooked() -> None:
    snapshot = hand_campus()
    found = ways_out(snapshot, assess(snapshot, Brief()), Brief())["B3-L01"]
    assert not found.passes
    assert [one.startswith("alone: B3-S199 nearby") for one in found.still] == [True]


# 10 W need R <= 12 x 12 / 10 = 14.4 ohm; 440 m of 18 AWG are 21 ohm: all of it anew is not enough.
def test_where_even_all_new_copper_is_too_thin_nothing_passes() -> None:
    found = way(with_model(thin(200.0, 240.0), "WS-70", draw_w=10.0))
    assert (found.passes, found.price) == (False, 440 * METRE)
    assert [one.split(":")[0] for one in found.still] == ["voltage", "supply", "current"]


def test_the_hand_over_says_the_way_out_and_its_price() -> None:
    snapshot = thin(100.0, 203.0).snapshot()
    reports = with_ways_out(snapshot, assess(snapshot, Brief()), Brief())
    columns = {column.heading: column for column in SEGMENTS}
    said = {heading: [column.get(one) for one in reports] for heading, column in columns.items() if column.get}
    assert said["Price of the way out"] == [None, Decimal("2685.00")]
    assert said["Way out"] == [None, "lower bit rate: to 125\u00a0kbit/s; pull anew: run R1, 100\u00a0m of 2x2 18AWG"]


def two_lines_of_one_gateway() -> Draft:
    """L1 and L2 hang on one gateway that is replaced; each has a panel that must move; L9 takes both."""
    draft = shared_line()
    add_line(draft, "L2", gateway="L1-G")
    draft = with_node(draft, "L1-G", buses=("L1", "B1-N0", "L2"))
    add_station(draft, "L2", "B1-S201", "L1-G")
    draft.node("P2", "PN-1", "L2", room="201")
    draft.run("R-P2", "L2", ("B1-S201", "P2"), cable="2x2 18AWG", length_m=10.0)
    return draft


def test_two_lines_of_one_gateway_take_their_ways_out_together() -> None:
    found = ways(two_lines_of_one_gateway())
    assert [(found[key].passes, found[key].along, done(found[key])) for key in ("L1", "L2")] == [
        (True, ("L2",), [("move", "P", MOVE)]),
        (True, ("L1",), [("move", "P2", MOVE)]),
    ]
    assert ways_only(two_lines_of_one_gateway(), "L2") == found["L2"]


def two_lines_that_draw(watts: float) -> Draft:
    """Two lines of one gateway, whose ways out go together, on copper that loses nothing; no larger supply is to be had."""
    draft = two_lines_of_one_gateway()
    for cable in ("2x2 18AWG", "Cat 6 patch"):
        draft = with_cable(draft, cable, power_conductor="16 mm2", conductor_class="class 5", power_pairs=3)
    without = tuple(
        replace(method, parts=tuple(part for part in method.parts if part.when == "always"))
        for method in draft.catalogue.methods
    )
    draft.catalogue = replace(draft.catalogue, methods=without)
    return with_model(draft, "WS-70", draw_w=watts)


# The gateway feeds 48 W: twice 24.1 W on copper that loses nothing is too much for it, whatever moves.
@pytest.mark.parametrize(("watts", "passes"), [(23.5, True), (24.1, False)])
def test_lines_that_are_together_too_much_for_their_gateway_have_no_way_out_together(
    watts: float, *, passes: bool
) -> None:
    found = ways(two_lines_that_draw(watts))
    assert [found[key].passes for key in ("L1", "L2")] == [passes, passes]


def ways_only(draft: Draft, segment: str) -> WayOut:
    snapshot = draft.snapshot()
    return ways_out(snapshot, assess(snapshot, Brief()), Brief(), only=(segment,))[segment]


def test_a_way_out_falls_with_the_line_that_must_go_along() -> None:
    draft = with_node(two_lines_of_one_gateway(), "B1-S201", model="WS-21", zones_used=12)
    found = ways(draft)
    assert not found["L1"].passes
    assert "gateway: " in found["L1"].still[0]


def test_a_limit_that_cuts_the_search_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(search, "MOST_SETS", 1)
    monkeypatch.setattr(search, "AT_ONCE", 1)
    found = way(thin(50.0, 50.0, 203.0))
    assert (found.passes, found.limited) == (True, True)
    assert found.price == 303 * METRE  # everything: the answer that is known before the search


def test_a_segment_too_large_to_search_says_so_and_is_priced() -> None:
    draft = line()
    draft.catalogue = priced(draft.catalogue)
    for number in range(200):
        draft.node(f"Q{number:03d}", "PN-1", "L1")
        draft.run(f"RQ{number:03d}", "L1", ("B1-S101", f"Q{number:03d}"), cable="2x2 18AWG", length_m=1.0)
    found = way(draft)
    assert (found.passes, found.limited, found.price) == (False, True, 240 * METRE)
    assert found.still[0].startswith("size: more than 200 nodes")


def unmeasured(longest_m: float | None) -> Draft:
    """Leave the length of one run blank, on a bus that may be so long."""
    draft = with_run(thin(50.0, 60.0), "R1", length_m=None)
    return with_row(draft, rate=9.6, protocol="PAIRBUS", total_wire_m=longest_m)


@pytest.mark.parametrize(("allowed_m", "most_m"), [(100.0, 100), (40.0, 60)])
def test_a_length_that_nobody_recorded_is_priced_at_most_as_long_as_the_bus_may_be(
    allowed_m: float, most_m: int
) -> None:
    found = way(unmeasured(allowed_m))
    assert (found.price, found.priced) == (None, 60 * METRE)
    assert found.at_most == most_m * METRE  # no less than what is known already
    assert found.at_most_if == f"its wire is no longer than the {allowed_m:.0f}\u00a0m that PAIRBUS allows"


def test_what_costs_nobody_knows_what_has_no_price_at_most() -> None:
    draft = unmeasured(100.0)
    draft.catalogue = replace(draft.catalogue, parts=())
    assert way(draft).at_most is None


def test_a_bus_whose_length_nobody_limits_has_no_price_at_most() -> None:
    found = way(unmeasured(None))
    assert (found.price, found.at_most, found.at_most_if) == (None, None, "")
    assert found.a_metre == METRE


def test_where_a_price_is_missing_too_nobody_knows_what_a_metre_costs() -> None:
    draft = unmeasured(None)
    draft.catalogue = replace(draft.catalogue, parts=())
    assert way(draft).a_metre is None


@pytest.mark.parametrize("length_m", [None, -5.0, float("inf"), 1e300])
def test_lengths_that_cannot_be_have_no_price_and_break_nothing(length_m: float | None) -> None:
    draft = with_run(thin(50.0, 60.0), "R1", length_m=length_m)
    draft.run("R9", "L1", ("J1", "L1-G"), cable="bell wire", length_m=length_m)
    found = way(draft)
    assert not found.passes
    assert found.price is None
    assert found.unpriced


def test_the_same_campus_gives_the_same_ways_out() -> None:
    snapshot = random_campus(5, 400)
    snapshot = replace(snapshot, catalogue=priced(snapshot.catalogue))
    reports = assess(snapshot, Brief())
    found = ways_out(snapshot, reports, Brief())
    assert found == ways_out(snapshot, reports, Brief())
    assert found


def test_a_layout_that_needs_no_line_needs_no_new_one() -> None:
    draft = with_row(ring(), layout=Layout.ANY, ends=0)
    assert "L1" not in ways(draft) or ways(draft)["L1"].changes
