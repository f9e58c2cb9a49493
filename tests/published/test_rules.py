"""The rules about wires against what the open standards publish, through the built-in rows of those standards.

Sources stand beside each check; lines have no patch leads, so that every length is that of the runs.
"""

from dataclasses import replace
from typing import Any

import pytest

from inventory.core.catalogue import EndsBus
from inventory.core.standards import open_standards
from planner.core.brief import Brief
from planner.core.findings import CONVERTIBLE, Finding, Outcome
from planner.core.judgements import judge
from tests.campuses import Draft
from tests.unit.planner.lines import finding, line, with_method, with_model, without_leads

OK, FAIL = (Outcome.PASS, Outcome.CLOSE), Outcome.FAIL


def star(protocol: str, rate: float | None, arms: list[tuple[float, str]], *, trunk_m: float | None = None) -> Draft:
    """A gateway and a station on `trunk_m` of wire (or at a junction) with arms (length, model) from the junction."""
    draft = without_leads(line(length_m=(trunk_m or 0.0) / 2))
    draft.catalogue = replace(draft.catalogue, protocols=open_standards())
    draft = with_method(draft, "M-20", new_protocol=protocol, bit_rate_kbit_s=rate)
    for model in ("GW-7", "WS-70"):
        draft = with_model(draft, model, protocol=protocol)
    draft = with_model(draft, "SN-5", protocol_2=protocol)
    draft.node("J", "JB-1", "L1")
    draft.runs = [replace(run, from_node="J") if run.key == "R-B1-S101" else run for run in draft.runs]
    draft.run("R-J", "L1", ("L1-G", "J"), cable="2x2 18AWG", length_m=(trunk_m or 0.0) / 2)
    for number, (length_m, model) in enumerate(arms):
        draft.node(f"X{number:03d}", model, "L1")
        draft.run(f"R-X{number:03d}", "L1", ("J", f"X{number:03d}"), cable="2x2 18AWG", length_m=length_m)
    return draft


def judged(rule: str, *about: Any, **more: Any) -> Finding:
    return finding(star(*about, **more), rule)


CIA = "CAN (CiA 301)"


# CiA 301 lengths; stubs CiA 303-1 (values seen; those at 20 and 10 kbit/s from memory).
@pytest.mark.parametrize(
    ("rate", "trunk_m", "stub_m", "all_m"),
    [
        (1000.0, 25.0, 1.5, 7.5),
        (800.0, 50.0, 2.5, 12.5),
        (500.0, 100.0, 5.5, 27.5),
        (250.0, 250.0, 11.0, 55.0),
        (125.0, 500.0, 22.0, 110.0),
        (50.0, 1000.0, 55.0, 275.0),
        (20.0, 2500.0, 137.5, 687.5),
        (10.0, 5000.0, 275.0, 1375.0),
    ],
)
def test_can_lengths_and_stubs_by_bit_rate(rate: float, trunk_m: float, stub_m: float, all_m: float) -> None:
    assert judged("length", CIA, rate, [], trunk_m=trunk_m).outcome in OK
    assert judged("length", CIA, rate, [], trunk_m=trunk_m + 0.1).outcome is FAIL
    assert judged("stubs", CIA, rate, [(stub_m, "SN-5")], trunk_m=trunk_m).outcome in OK
    assert judged("stubs", CIA, rate, [(stub_m + 0.1, "SN-5")], trunk_m=trunk_m).outcome is FAIL
    five = [(stub_m, "SN-5")] * 5  # 5 x one stub is all stubs, in every row
    assert judged("stubs", CIA, rate, five, trunk_m=trunk_m).outcome in OK
    more = judged("stubs", CIA, rate, [*five, (0.1, "SN-5")], trunk_m=trunk_m)
    assert more.outcome is FAIL
    assert more.measured == pytest.approx(all_m + 0.1)
    assert more.limit == all_m


def test_can_at_100_kbit_has_no_published_stub_so_that_a_branch_is_asked_about() -> None:
    # CiA 301: 650 m at 100 kbit/s
    assert judged("length", CIA, 100.0, [], trunk_m=650.0).outcome in OK
    assert judged("layout", CIA, 100.0, [(1.0, "SN-5")], trunk_m=100.0).outcome is Outcome.UNKNOWN


# NMRA S-9.7.1.1 and its technical note: L <= 300 - 6 N - 2 S, with N nodes and S metres of stubs.
@pytest.mark.parametrize(
    ("stubs_m", "nodes", "budget_m"),
    [
        ([], 2, 288.0),  # 300 - 12
        ([10.0], 3, 262.0),  # 300 - 18 - 20
        ([10.0, 2.5], 4, 251.0),  # 300 - 24 - 25
    ],
)
def test_can_over_rj45_takes_off_6_m_a_node_and_2_m_a_metre_of_stub(
    stubs_m: list[float], nodes: int, budget_m: float
) -> None:
    arms = [(stub, "SN-5") for stub in stubs_m]
    found = judged("length", "CAN over RJ45 (NMRA S-9.7.1.1)", 125.0, arms, trunk_m=budget_m)
    assert found.outcome in OK
    assert found.limit == pytest.approx(budget_m)
    assert len(arms) + 2 == nodes
    longer = judged("length", "CAN over RJ45 (NMRA S-9.7.1.1)", 125.0, arms, trunk_m=budget_m + 0.1)
    assert longer.outcome is FAIL


# ANSI/CTA-709.3, free topology: node to node and total both hold. Category 5: 250 m and 450 m.
TP = "TP/FT-10 free topology, category 5 cable"


@pytest.mark.parametrize(
    ("arms_m", "outcome", "measured"),
    [
        ([112.5, 112.5, 112.5, 112.5], OK, 450.0),  # pair 225 m, all wire 450 m
        ([112.5, 112.5, 112.5, 112.6], (FAIL,), 450.1),  # pair 225.1 m holds, all wire does not
        ([125.0, 125.0, 50.0], OK, 250.0),  # pair 250 m, all wire 300 m
        ([125.0, 125.1, 50.0], (FAIL,), 250.1),  # all wire 300.1 m holds, the pair does not
    ],
)
def test_free_topology_bounds_the_farthest_pair_and_all_wire_at_once(
    arms_m: list[float], outcome: tuple[Outcome, ...], measured: float
) -> None:
    found = judged("length", TP, 78.125, [(arm, "SN-5") for arm in arms_m])
    assert found.outcome in outcome
    assert found.measured == pytest.approx(measured)


@pytest.mark.parametrize(
    ("cable", "pair_m", "total_m"), [("16 AWG", 500.0, 500.0), ("22 AWG", 400.0, 500.0), ("0.8 mm", 320.0, 500.0)]
)
def test_free_topology_by_cable(cable: str, pair_m: float, total_m: float) -> None:
    # ANSI/CTA-709.3: node to node by cable, total 500 m
    name = f"TP/FT-10 free topology, {cable}"
    assert judged("length", name, 78.125, [(pair_m / 2, "SN-5")] * 2).outcome in OK
    assert judged("length", name, 78.125, [(pair_m / 2 + 0.1, "SN-5")] * 2).outcome is FAIL
    assert judged("length", name, 78.125, [(total_m / 5, "SN-5")] * 5).outcome in OK
    assert judged("length", name, 78.125, [(total_m / 5 + 0.1, "SN-5")] * 5).outcome is FAIL


def test_free_topology_takes_a_loop_and_counts_the_longest_way_through_it() -> None:
    # two runs of 100 and 140 m between gateway and junction: the longer way counts
    draft = star(TP, 78.125, [(20.0, "SN-5")], trunk_m=200.0)
    draft.run("R-second", "L1", ("L1-G", "J"), cable="2x2 18AWG", length_m=140.0)
    assert finding(draft, "layout").outcome is Outcome.PASS
    # gateway - 140 - junction - 100 - station; all wire 100 + 140 + 100 + 20 = 360 m
    assert finding(draft, "length").measured == pytest.approx(240.0)


def test_dali_counts_the_farthest_pair_not_the_sum() -> None:
    # DALI guidance to IEC 62386-101: a star of three or more 100 m arms measures 200 m, 300 m are allowed
    found = judged("length", "DALI (IEC 62386)", 1.2, [(100.0, "SN-5")] * 3)
    assert (found.measured, found.limit, found.outcome) == (200.0, 300.0, Outcome.PASS)
    assert judged("length", "DALI (IEC 62386)", 1.2, [(150.0, "SN-5")] * 3).outcome in OK
    assert judged("length", "DALI (IEC 62386)", 1.2, [(150.1, "SN-5"), (150.0, "SN-5")]).outcome is FAIL


# IEC 62386-101 guidance: 300 m hold at 1.5 mm2; 0.5, 0.75 and 1.0 mm2 reach 111, 163 and 221 m by 2 V at 250 mA.
@pytest.mark.parametrize(
    ("conductor", "outcome"),
    [
        ("1.5 mm2", Outcome.PASS),
        ("2.5 mm2", Outcome.PASS),
        ("1.0 mm2", Outcome.UNKNOWN),
        ("0.5 mm2", Outcome.UNKNOWN),
        (None, Outcome.UNKNOWN),
    ],
)
def test_dali_asks_how_long_a_line_of_thinner_wire_may_be(conductor: str | None, outcome: Outcome) -> None:
    draft = star("DALI (IEC 62386)", 1.2, [], trunk_m=20.0)
    cables = tuple(replace(cable, power_conductor=conductor, category=None) for cable in draft.catalogue.cables)
    draft.catalogue = replace(draft.catalogue, cables=cables)
    assert finding(draft, "cable").outcome is outcome


def test_dali_takes_a_row_of_the_campus_that_is_short_enough_for_its_wire() -> None:
    # 200 m a mm2: 100 m hold from 0.5 mm2 on
    draft = star("DALI (IEC 62386)", 1.2, [], trunk_m=20.0)
    cables = tuple(replace(cable, power_conductor="0.5 mm2") for cable in draft.catalogue.cables)
    for longest_m, outcome in ((100.0, Outcome.PASS), (101.0, Outcome.UNKNOWN)):
        rows = tuple(
            replace(row, farthest_pair_m=longest_m) if row.protocol == "DALI (IEC 62386)" else row
            for row in open_standards()
        )
        draft.catalogue = replace(draft.catalogue, cables=cables, protocols=rows)
        assert finding(draft, "cable").outcome is outcome


def test_dali_allows_any_tree_but_no_ring() -> None:
    # IEC 62386-101 guidance: star, line and mixtures; a ring is excluded (from memory)
    draft = star("DALI (IEC 62386)", 1.2, [(10.0, "SN-5")] * 4, trunk_m=20.0)
    assert finding(draft, "layout").outcome is Outcome.PASS
    draft.run("R-ring", "L1", ("X000", "X001"), cable="2x2 18AWG", length_m=10.0)
    assert finding(draft, "layout").outcome is FAIL


# KNX TP1 (ISO/IEC 14543-3-6, from memory): 700 m between devices, and 350 m from a device to the supply.
@pytest.mark.parametrize(
    ("trunk_m", "outcome"),
    [(350.0, Outcome.PASS), (350.1, Outcome.UNKNOWN), (700.0, Outcome.UNKNOWN), (700.1, Outcome.FAIL)],
)
def test_knx_asks_how_far_the_supply_is_on_a_line_that_may_be_out_of_its_reach(
    trunk_m: float, outcome: Outcome
) -> None:
    draft = star("KNX TP1", 9.6, [], trunk_m=trunk_m)
    for model in ("GW-7", "WS-70"):
        draft = with_model(draft, model, ends_bus=EndsBus.NO)  # nothing but the length is left to decide
    assert finding(draft, "length").outcome is outcome
    judgements = judge(draft.snapshot(), Brief())  # the columns say the same
    label = judgements.key.index("L1")
    found = judgements.report(label)
    assert judgements.verdict_of(label) == (found.verdict, found.decided_by)
    assert (found.verdict in CONVERTIBLE) == (outcome is Outcome.PASS)


# DeviceNet (IEC 62026-3): one drop 6 m; all drops 156, 78, 39 m at 125, 250, 500 kbit/s.
@pytest.mark.parametrize(
    ("rate", "all_m", "trunk_m"), [(125.0, 156.0, 500.0), (250.0, 78.0, 250.0), (500.0, 39.0, 100.0)]
)
def test_devicenet_bounds_each_drop_and_their_sum(rate: float, all_m: float, trunk_m: float) -> None:
    name = "DeviceNet, thick trunk"
    whole, rest = divmod(all_m, 6.0)
    drops = [(6.0, "SN-5")] * int(whole) + ([(rest, "SN-5")] if rest else [])
    assert judged("stubs", name, rate, drops, trunk_m=trunk_m).outcome in OK
    more = judged("stubs", name, rate, [*drops, (0.1, "SN-5")], trunk_m=trunk_m)
    assert more.outcome is FAIL
    assert more.measured == pytest.approx(all_m + 0.1)
    assert more.limit == all_m
    assert judged("stubs", name, rate, [(6.1, "SN-5")], trunk_m=trunk_m).outcome is FAIL


def test_devicenet_drop_is_measured_to_its_farthest_device() -> None:
    # A drop that branches: 3 m from the tap, then 3 m and 2 m. The drop is 6 m, cumulative 8 m (ODVA, common practice).
    draft = star("DeviceNet, thick trunk", 125.0, [(3.0, "JB-1")], trunk_m=200.0)
    for name, length_m in (("Y1", 3.0), ("Y2", 2.0)):
        draft.node(name, "SN-5", "L1")
        draft.run(f"R-{name}", "L1", ("X000", name), cable="2x2 18AWG", length_m=length_m)
    assert finding(draft, "stubs").measured == 6.0
    draft.runs = [replace(run, length_m=3.1) if run.key == "R-Y1" else run for run in draft.runs]
    assert finding(draft, "stubs").outcome is FAIL


def test_kinds_of_end_by_standard() -> None:
    # TP/FT-10 free topology: one terminator; CAN: both ends (ISO 11898-2 7.1); DALI: none
    for name, rate, ends in ((TP, 78.125, 1.0), (CIA, 125.0, 2.0), ("DALI (IEC 62386)", 1.2, 0.0)):
        draft = star(name, rate, [], trunk_m=20.0)
        assert finding(draft, "ends").limit == ends


# TIA-485-A: 32 unit loads; receivers of an eighth of a unit load make that 256 of them (values seen).
@pytest.mark.parametrize(("share", "most"), [(1.0, 32), (0.25, 128), (0.125, 256)])
def test_rs_485_counts_unit_loads_and_not_heads(share: float, most: int) -> None:
    # gateway, station and sensors all of the same share
    for count, outcomes in ((most, OK), (most + 1, (FAIL,))):
        draft = star("RS-485 (TIA-485-A)", 9.6, [(0.0, "SN-5")] * (count - 2))
        for model in ("GW-7", "WS-70", "SN-5", "JB-1"):
            draft = with_model(draft, model, unit_loads=0.0 if model == "JB-1" else share)
        found = finding(draft, "nodes")
        assert found.outcome in outcomes, (count, found.why)
        assert found.measured == pytest.approx(count * share)
