"""Campuses that must never be called in place or together: each once went through, or is a corner of its own.

Every case starts from a line that is in place, and changes what its name says.
"""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from inventory.core.catalogue import Cable, EndsBus, Layout, Method, Model, NodeKind, ProtocolRow
from planner.core.brief import Brief
from planner.core.findings import CONVERTIBLE, Outcome
from planner.core.verdicts import assess
from tests.campuses import Draft, add_line, add_station
from tests.unit.planner.lines import (
    finding,
    line,
    report,
    with_cable,
    with_catalogue,
    with_method,
    with_model,
    with_node,
    with_row,
    with_run,
)

FAIL, UNKNOWN = Outcome.FAIL, Outcome.UNKNOWN


def test_the_line_that_all_others_start_from_is_in_place() -> None:
    assert report(line()).verdict == "in place"


def with_bus(draft: Draft, key: str, **facts: Any) -> Draft:
    draft.buses = [(home, replace(bus, **facts) if bus.key == key else bus) for home, bus in draft.buses]
    return draft


def supplied(**gateway: Any) -> Draft:
    """A supply beside the gateway on the same pair, and what the gateway's model says about feeding."""
    draft = line()
    draft.node("SU", "SU-3", "L1", ends_bus=EndsBus.SWITCH)
    draft.run("R-SU", "L1", ("L1-G", "SU"), cable="2x2 18AWG", length_m=2.0)
    return with_model(draft, "GW-7", ends_bus=EndsBus.SWITCH, **gateway)


def twice() -> Draft:
    """A bus without a forbidden layout, and the one run written down twice: half the resistance if believed."""
    draft = with_row(line(), layout=Layout.ANY)
    draft.run("R-AGAIN", "L1", ("L1-G", "B1-S101"), cable="2x2 18AWG", length_m=40.0)
    return draft


def onto_itself() -> Draft:
    draft = with_row(line(), layout=Layout.ANY)
    draft.run("R-SELF", "L1", ("B1-S101", "B1-S101"), cable="2x2 18AWG", length_m=3.0)
    return draft


def annexed() -> Draft:
    draft = line()
    draft.building("B2")
    return with_node(draft, "B1-S101", building="B2", room=None)


def dead_end() -> Draft:
    """A junction box that one run reaches: something must hang behind it."""
    draft = line()
    draft.node("J", "JB-1", "L1")
    draft.run("R-J", "L1", ("B1-S101", "J"), cable="2x2 18AWG", length_m=1.0)
    return draft


def two_buses() -> Draft:
    draft = line()
    draft.bus("L2")
    return with_node(draft, "B1-S101", buses=("L1", "L2"))


def unfed(*, was: bool | None) -> Draft:
    """A new bus without power where the old one fed the station; the method lists no local supply."""
    draft = with_row(with_row(line(), power_on_bus=False), 9.6, "PAIRBUS", power_on_bus=was)
    method = next(one for one in draft.catalogue.methods if one.key == "M-20")
    return with_method(draft, "M-20", parts=tuple(part for part in method.parts if part.when == "always"))


def silent_row() -> Draft:
    return with_catalogue(line(), protocols=(ProtocolRow(protocol="OPENPAIR", bit_rate_kbit_s=125.0),))


CAMPUSES: dict[str, tuple[Callable[[], Draft], str, str | None]] = {
    # what is odd: (campus, verdict, a question it must ask)
    "no gateway": (lambda: _without(line(), "L1-G"), "survey first", "Gateway of L1?"),
    "two gateways": (lambda: _beside("GW-2"), "other method", None),
    "old gateway of unknown protocols": (
        lambda: with_model(line(), "GW-2", protocol=None, protocol_2=None),
        "survey first",
        "Protocol of model GW-2?",
    ),
    "old gateway whose second protocol alone is known": (
        lambda: with_model(line(), "GW-2", protocol=None),
        "survey first",
        "Protocol of model GW-2?",
    ),
    "gateway set over that may speak anything": (
        lambda: with_method(
            with_model(line(), "GW-2", protocol=None, protocol_2=None, ends_bus=EndsBus.SWITCH),
            "M-20",
            new_gateway_model=None,
        ),
        "survey first",
        "Protocol of model GW-2?",
    ),
    "gateway set over that does not speak the new bus": (
        lambda: with_method(line(), "M-20", new_gateway_model=None),
        "other method",
        None,
    ),
    "new gateway that says nothing about feeding, alone": (
        lambda: with_model(line(), "GW-7", supply_v=None, supply_rating_w=None),
        "survey first",
        "What feeds L1?",
    ),
    "new gateway that says nothing about feeding, beside a supply": (
        lambda: supplied(supply_v=None, supply_rating_w=None, draw_w=3.0, lowest_supply_v=18.0),
        "survey first",
        "Supply (0 V for none) of model GW-7?",
    ),
    "supply on the pair that the gateway feeds": (supplied, "other method", None),
    "supply of 0 V": (
        lambda: with_model(supplied(supply_v=0.0, supply_rating_w=None), "SU-3", supply_v=0.0),
        "new cable",
        None,
    ),
    "run recorded twice": (
        twice,
        "survey first",
        "Is run R-B1-S101 (Bus L1) a second cable beside another, or the same one recorded twice?",
    ),
    "run from a node to itself": (onto_itself, "survey first", "Bus and both ends of run R-SELF?"),
    "run without a bus at the gateway": (
        lambda: with_run(line(), "L1-N", bus=None),
        "survey first",
        "Bus and both ends of run L1-N?",
    ),
    "run at a gateway that does not name its bus": (
        lambda: with_node(line(), "L1-G", buses=("L1",)),
        "survey first",
        "Does run L1-N (Bus B1-N0) really end at gateway L1-G, which does not name that bus?",
    ),
    "run of which no end is known": (
        lambda: _loose(line()),
        "survey first",
        "Bus and both ends of run R-LOOSE?",
    ),
    "station in another building than its bus": (
        annexed,
        "survey first",
        "Is B1-S101, which stands in another building, really on Bus L1?",
    ),
    "junction with nothing behind it": (
        dead_end,
        "survey first",
        "What is wired behind junction J (Bus L1), which only one run reaches?",
    ),
    "station on two buses": (two_buses, "survey first", "Which of the buses that B1-S101 names is it really on?"),
    "bus of unknown protocol": (
        lambda: with_bus(line(), "L1", protocol=None),
        "survey first",
        "Protocol of Bus L1?",
    ),
    "new station that does not speak the new bus": (
        lambda: with_model(line(), "WS-70", protocol="PAIRBUS"),
        "other method",
        None,
    ),
    "new station that says no protocol": (
        lambda: with_model(line(), "WS-70", protocol=None),
        "survey first",
        "Protocol of model WS-70?",
    ),
    "new station that is not in the catalogue": (
        lambda: with_method(line(), "M-20", new_model="WS-99"),
        "survey first",
        "Model WS-99 in the catalogue?",
    ),
    "draw not known": (lambda: with_model(line(), "WS-70", draw_w=None), "survey first", "Draw of model WS-70?"),
    "draw below nothing": (lambda: with_model(line(), "WS-70", draw_w=-3.0), "survey first", "Draw of model WS-70?"),
    "lowest supply not known": (
        lambda: with_model(line(), "WS-70", lowest_supply_v=None),
        "survey first",
        "Lowest supply of model WS-70?",
    ),
    "unit loads not known": (
        lambda: with_model(line(), "WS-70", unit_loads=None),
        "survey first",
        "Unit loads of model WS-70?",
    ),
    "cable not known": (
        lambda: with_run(line(), "R-B1-S101", cable=None),
        "survey first",
        "Cable of run R-B1-S101 (Bus L1)?",
    ),
    "length below nothing": (
        lambda: with_run(line(), "R-B1-S101", length_m=-40.0),
        "survey first",
        "Length of run R-B1-S101 (Bus L1)?",
    ),
    "length without end": (
        lambda: with_run(line(), "R-B1-S101", length_m=float("inf")),
        "survey first",
        "Length of run R-B1-S101 (Bus L1)?",
    ),
    "category lead whose power pairs nobody counted": (
        lambda: with_cable(line(), "Cat 6 patch", power_pairs=None),
        "survey first",
        "Power pairs of cable Cat 6 patch?",
    ),
    "category lead of which only the category is known": (
        lambda: _bare_category(line()),
        "survey first",
        "Data pairs of cable Cat 6 patch?",
    ),
    "category lead whose impedance nobody stated": (
        lambda: with_cable(line(), "Cat 6 patch", impedance_ohm=None),
        "survey first",
        "Impedance of cable Cat 6 patch?",
    ),
    "category lead whose conductor nobody stated": (
        lambda: with_cable(line(), "Cat 6 patch", power_conductor=None),
        "survey first",
        "Power conductor of cable Cat 6 patch?",
    ),
    "category lead whose conductor cannot be read": (
        lambda: with_cable(line(), "Cat 6 patch", power_conductor="thin"),
        "survey first",
        "Conductor and class of cable Cat 6 patch?",
    ),
    "cable whose conductor class cannot be read": (
        lambda: with_cable(line(), "2x2 18AWG", conductor_class="woven"),
        "survey first",
        "Conductor and class of cable 2x2 18AWG?",
    ),
    "patch cable not known": (
        lambda: with_method(line(), "M-20", patch_cable=None),
        "survey first",
        "Patch cable of M-20?",
    ),
    "patch cable that is not in the catalogue": (
        lambda: with_method(line(), "M-20", patch_cable="no such"),
        "survey first",
        "Patch cable of M-20?",
    ),
    "patch lead below nothing": (
        lambda: with_method(line(), "M-20", patch_lead_m=-1.0),
        "survey first",
        "Patch lead of method M-20?",
    ),
    "bit rate above every row": (
        lambda: with_method(line(), "M-20", bit_rate_kbit_s=1000.0),
        "survey first",
        "Limits of protocol OPENPAIR at the bit rate of M-20?",
    ),
    "new protocol without any row": (
        lambda: with_catalogue(line(), protocols=()),
        "survey first",
        "Limits of protocol OPENPAIR at the bit rate of M-20?",
    ),
    "row that says nothing": (silent_row, "survey first", "Longest bus of protocol OPENPAIR?"),
    "row without a layout, where the wiring closes a loop": (
        lambda: with_row(_looped(line()), layout=None),
        "survey first",
        "Layout of protocol OPENPAIR?",
    ),
    "row without a length": (
        lambda: with_row(line(), longest_bus_m=None),
        "survey first",
        "Longest bus of protocol OPENPAIR?",
    ),
    "row without end resistors": (
        lambda: with_row(line(), ends=None),
        "survey first",
        "End resistors of protocol OPENPAIR?",
    ),
    "row without a count of nodes": (
        lambda: with_row(line(), most_nodes=None, most_unit_loads=None),
        "survey first",
        "Most nodes of protocol OPENPAIR?",
    ),
    "new bus without power, the old one fed the station": (lambda: unfed(was=True), "other method", None),
    "new bus without power, nobody says what fed the station": (
        lambda: unfed(was=None),
        "survey first",
        "Power on bus of protocol PAIRBUS?",
    ),
    "gateway with the same bus twice": (
        lambda: with_node(_without_runs(line(), "L1-N"), "L1-G", buses=("L1", "L1")),
        "survey first",
        "Other buses of gateway L1-G?",
    ),
}


def _without(draft: Draft, node: str) -> Draft:
    draft.nodes = [row for row in draft.nodes if row.key != node]
    draft.runs = [row for row in draft.runs if node not in (row.from_node, row.to_node)]
    return draft


def _looped(draft: Draft) -> Draft:
    draft.node("X", "SN-5", "L1")
    for number, origin in enumerate(("B1-S101", "L1-G")):
        draft.run(f"R-X{number}", "L1", (origin, "X"), cable="2x2 18AWG", length_m=5.0)
    return draft


def _without_runs(draft: Draft, run: str) -> Draft:
    draft.runs = [row for row in draft.runs if row.key != run]
    return draft


def _loose(draft: Draft) -> Draft:
    draft.run("R-LOOSE", "L1", (None, None), cable="2x2 18AWG", length_m=9.0)
    return draft


def _beside(model: str) -> Draft:
    draft = line()
    draft.node("X", model, "L1")
    draft.run("R-X", "L1", ("B1-S101", "X"), cable="2x2 18AWG", length_m=5.0)
    return draft


def _bare_category(draft: Draft) -> Draft:
    bare = Cable(key="Cat 6 patch", category="6")
    cables = tuple(bare if one.key == bare.key else one for one in draft.catalogue.cables)
    return with_catalogue(draft, cables=cables)


@pytest.mark.parametrize("odd", CAMPUSES)
def test_it_is_neither_in_place_nor_together_and_says_why(odd: str) -> None:
    campus, verdict, question = CAMPUSES[odd]
    found = report(campus())
    assert found.verdict == verdict
    assert found.why
    assert question is None or question in found.questions


def test_a_bus_without_power_is_cured_by_a_local_supply_where_the_method_lists_one() -> None:
    draft = with_row(line(), power_on_bus=False)
    found = report(draft)
    assert (found.verdict, found.extras) == ("in place", ("local supply",))
    assert finding(draft, "one source").cured_by == "local supply"


def test_a_gateway_that_says_it_feeds_nothing_leaves_the_supply_alone() -> None:
    draft = supplied(supply_v=0.0, supply_rating_w=None, draw_w=3.0, lowest_supply_v=18.0)
    assert report(draft).verdict == "in place"


def test_a_row_that_is_silent_about_power_is_judged_as_if_the_pair_carried_it() -> None:
    # the second pair in the wall is the power pair; the standard's rows of CAN say nothing about it
    silent = {rule: finding(with_row(line(), power_on_bus=None), rule).outcome for rule in ("one source", "voltage")}
    stated = {rule: finding(line(), rule).outcome for rule in ("one source", "voltage")}
    assert silent == stated


GATEWAYS = tuple(
    Model(
        key=f"GW-{new}",
        kind=NodeKind.GATEWAY,
        protocol=f"NEW-{new}",
        protocol_2=f"OLD-{keeps}",
        supply_v=24.0,
        supply_rating_w=60.0,
        unit_loads=1.0,
        ends_bus=EndsBus.SWITCH,
    )
    for new, keeps in (("A", "B"), ("B", "A"))
)


def two_ways() -> Draft:
    """Two lines of one gateway: each can convert by a new gateway that keeps the other line, and not the other's way."""
    draft = line()
    rows = tuple(
        replace(row, protocol=protocol)
        for row in draft.catalogue.protocols
        for old, names in (("OPENPAIR", ("NEW-A", "NEW-B")), ("PAIRBUS", ("OLD-A", "OLD-B")))
        if row.protocol == old
        for protocol in names
    )
    models = {model.key: model for model in draft.catalogue.models}
    ways = ("A", "B")
    old = [replace(models["WS-20"], key=f"OS-{way}", protocol=f"OLD-{way}") for way in ways]
    new = [replace(models["WS-70"], key=f"NS-{way}", protocol=f"NEW-{way}") for way in ways]
    gateway = replace(models["GW-2"], protocol="OLD-A", protocol_2="OLD-B")
    method = next(one for one in draft.catalogue.methods if one.key == "M-20")
    methods: tuple[Method, ...] = tuple(
        replace(
            method,
            key=f"M-{way}",
            old_model=f"OS-{way}",
            new_model=f"NS-{way}",
            new_protocol=f"NEW-{way}",
            new_gateway_model=f"GW-{way}",
        )
        for way in ways
    )
    fresh = Draft(catalogue=replace(draft.catalogue, protocols=rows, models=(gateway, *GATEWAYS, *old, *new)))
    fresh.catalogue = replace(fresh.catalogue, methods=methods)
    fresh.building("B1")
    fresh.node("G", "GW-2", "L-A", "L-B")
    for way in ways:
        fresh.bus(f"L-{way}", protocol=f"OLD-{way}")
        add_station(fresh, f"L-{way}", f"B1-S10{way}", "G", model=f"OS-{way}")
    return fresh


def test_one_gateway_is_not_promised_to_two_lines_in_two_ways() -> None:
    found = {one.segment: one for one in assess(two_ways().snapshot(), Brief())}
    assert sorted(str(one.verdict) for one in found.values()) == ["in place", "other method"]
    loser = next(one for one in found.values() if one.verdict not in CONVERTIBLE)
    assert loser.decided_by == "gateway"
    assert loser.why == "G is replaced by GW-A for its other segments, and this one needs it replaced by GW-B."


def like_for_like(**panel: Any) -> Draft:
    """A new station of the old protocol, beside a panel: nobody is disturbed, and what feeds the pair must be known."""
    draft = _beside("PN-1")
    draft = with_method(draft, "M-20", new_protocol="PAIRBUS", new_gateway_model=None, bit_rate_kbit_s=None)
    draft = with_model(with_model(draft, "WS-70", protocol="PAIRBUS", unit_loads=1.0), "PN-1", **panel)
    return with_model(draft, "WS-70", ends_bus=EndsBus.NO)


def test_a_panel_that_may_feed_the_pair_is_asked_about_where_the_bus_stays_what_it_is() -> None:
    assert report(like_for_like(supply_v=0.0)).verdict == "in place"
    assert report(like_for_like(supply_v=24.0)).verdict not in CONVERTIBLE
    assert "Supply (0 V for none) of model PN-1?" in report(like_for_like(supply_v=None)).questions


def crossing(**run: Any) -> Draft:
    """Two lines that each would convert, and a run between their stations."""
    draft = line()
    add_station(draft, "L2", "B1-S102", add_line(draft, "L2"))
    draft.run("R-X", "L1", ("B1-S101", "B1-S102"), cable="2x2 18AWG", length_m=5.0)
    return with_run(draft, "R-X", **run)


@pytest.mark.parametrize("blank", ["to_node", "from_node", "bus"])
def test_a_run_that_may_end_anywhere_holds_up_every_line_that_it_may_end_on(blank: str) -> None:
    for draft in (crossing(), crossing(**{blank: None})):
        found = {report(draft, segment).verdict for segment in _segments(draft) if segment.startswith("L")}
        assert found == {"survey first"}


def _segments(draft: Draft) -> list[str]:
    return [one.segment for one in assess(draft.snapshot(), Brief())]
