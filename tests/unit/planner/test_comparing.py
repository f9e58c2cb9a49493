"""What was measured against what the records predict: what a reading says, and what would explain it.

Resistances by hand: TIA-568 gives 9.38 ohm in 100 m of one conductor of category cable at 20 C, so that out and back
on one pair take 0.1876 ohm a metre; at 50 C times 1 + 0.00393 x 30 = 1.1179: 0.209718 ohm a metre.
"""

from dataclasses import replace
from datetime import date
from typing import Any

import pytest

from inventory.core.catalogue import Cable
from inventory.core.readings import Quantity, Reading
from planner.core.circuits import Circuit, Stretch, between_ohm, explained_by, times_for_voltage, voltage_at
from planner.core.comparing import Compared, compare

PAIR = Cable(key="A", category="6", power_pairs=1)
GAUGE_18 = Cable(key="B", power_conductor="18 AWG", conductor_class="stranded", power_pairs=1)
DAY = date(2027, 3, 2)


def run(key: str, near: str, far: str, length_m: float | None = 100.0, cable: Cable | None = PAIR) -> Stretch:
    return Stretch(key=key, ends=(near, far), length_m=length_m, cable=cable, bus="L1")


LINE = (run("R1", "G", "S1"), run("R2", "S1", "S2", 50.0))


def circuit(*stretches: Stretch, **facts: Any) -> Circuit:
    known = {"source": "G", "source_v": 24.0, "ends": 2, "end_ohm": 120.0, "loads": (("S1", 3.0), ("S2", 2.0))} | facts
    return Circuit(stretches=stretches or LINE, **known)


def reading(quantity: Quantity, value: float, node: str = "S2", far: str | None = None) -> Reading:
    return Reading(quantity=quantity, node=node, far=far, value=value, on=DAY)


def loop(value: float, far: str = "S2") -> Reading:
    return reading(Quantity.LOOP, value, "G", far)


def compared(one: Reading, wired: Circuit | None = None, *more: Reading) -> Compared:
    wired = wired or circuit()
    volts = {node: voltage_at(wired, node) for node in ("S1", "S2")}
    return compare(wired, volts, (one, *more), "L1")[0]


# 28.14 ohm on record; good from 0.75 times that to 1.1 times and 0.5 ohm of contacts (common practice)
@pytest.mark.parametrize(("value", "good"), [(21.2, True), (21.0, False), (31.4, True), (31.5, False)])
def test_a_loop_is_good_within_its_tolerance_and_no_further(value: float, good: bool) -> None:  # noqa: FBT001
    found = compared(loop(value))
    assert (found.doubts == ()) is good
    assert (found.said == "As the records predict.") is good


def test_a_loop_too_high_names_the_length_that_explains_it() -> None:
    # 56.28 ohm is twice 28.14: 300 m instead of 150 m
    found = compared(loop(56.28))
    assert found.said.startswith(
        "The loop resistance from G to S2 was read as 56.28 ohm on 2 Mar 2027; the records give 28.14 ohm (21.1"
    )
    assert "300 m of wire on the way instead of 150 m" in found.said
    assert "a bad joint" in found.said
    assert found.doubts == (
        "Length of run R1 (Bus L1)",
        "Cable of run R1 (Bus L1)",
        "Length of run R2 (Bus L1)",
        "Cable of run R2 (Bus L1)",
    )


def test_a_loop_too_low_names_the_shorter_length_and_the_bridge() -> None:
    found = compared(loop(14.07))
    assert "75 m of wire on the way instead of 150 m" in found.said
    assert "a bridge on the way" in found.said


def test_only_the_runs_on_the_way_are_doubted() -> None:
    assert {fact.split()[3] for fact in compared(loop(50.0, "S1")).doubts} == {"R1"}


def test_a_thinner_conductor_that_explains_a_loop_is_named() -> None:
    # NEC ch. 9 Table 8, stranded, ohm in 1000 ft at 75 C: 18 AWG 7.95. 22 AWG is 4 gauges thinner: resistance grows
    # 10-fold in 10 gauges and a bit, 92^(8/39) = 2.53-fold (ASTM B258).
    wired = circuit(run("R1", "G", "S1", 40.0, GAUGE_18))
    ohm = between_ohm(wired.way("G", "S1"), "G", "S1")
    assert ohm == pytest.approx(2 * 40 * 7.95 / 304.8 / (1 + 0.00393 * 55), rel=2e-3)
    found = compared(loop(2.53 * ohm, "S1"), wired)
    assert "conductors of 22 AWG instead of 18 AWG" in found.said


@pytest.mark.parametrize("times", [1.03, 1.1, 40.0])
def test_no_conductor_is_named_where_none_is_near(times: float) -> None:
    assert explained_by((run("R1", "G", "S1", 40.0, GAUGE_18),), times).conductor is None


def test_no_conductor_is_named_where_cables_differ() -> None:
    assert explained_by((run("R1", "G", "S1", 40.0, GAUGE_18), run("R2", "S1", "S2")), 2.5).conductor is None


def test_a_thicker_conductor_is_never_named_for_a_loop_too_high_nor_a_thinner_one_for_one_too_low() -> None:
    metric = Cable(key="C", power_conductor="0.75 mm2", conductor_class="class 5", power_pairs=1)
    # IEC 60228 class 5: 26.0 ohm/km for 0.75 mm2, 13.3 for 1.5, 39.0 for 0.5
    assert explained_by((run("R", "G", "S", 10.0, metric),), 13.3 / 26.0).conductor == "1.5 mm2"
    assert explained_by((run("R", "G", "S", 10.0, metric),), 39.0 / 26.0).conductor == "0.5 mm2"


def test_a_loop_over_runs_of_unknown_length_says_the_length_it_stands_for() -> None:
    # 18.76 ohm at 0.1876 ohm a metre
    found = compared(loop(18.76), circuit(run("R1", "G", "S1", None), run("R2", "S1", "S2", None)))
    assert "it stands for 100 m of wire" in found.said
    assert found.doubts == ()
    assert found.figure is None


@pytest.mark.parametrize(
    "stretches",
    [
        (run("R1", "G", "S1", None, None), run("R2", "S1", "S2")),
        (run("R1", "G", "S2", None), run("R2", "G", "S2")),
        (run("R1", "S1", "S2"),),
    ],
)
def test_nothing_is_said_of_a_loop_of_which_too_little_is_known(stretches: tuple[Stretch, ...]) -> None:
    found = compared(loop(18.76), circuit(*stretches))
    assert "stands for" not in found.said
    assert found.doubts == ()


def test_a_voltage_too_low_names_the_length_that_leaves_so_much() -> None:
    # One load of 3 W at the end of one run: R = V (24 - V) / P. At 18 V: 18 x 6 / 3 = 36 ohm, or 36 / 0.209718 = 171.7 m.
    wired = circuit(run("R1", "G", "S1"), loads=(("S1", 3.0),))
    assert times_for_voltage(wired, "S1", 18.0) == pytest.approx(1.71659, abs=1e-4)
    found = compared(reading(Quantity.LOADED, 18.0, "S1"), wired)
    assert "172 m of wire on the way instead of 100 m" in found.said
    assert found.doubts == ("Length of run R1 (Bus L1)", "Cable of run R1 (Bus L1)")


def test_patch_leads_do_not_grow_with_the_run() -> None:
    # 6 ohm of leads leave 30 ohm of the 36 for the run: 143.0 m
    wired = circuit(replace(run("R1", "G", "S1"), lead_ohm=6.0), loads=(("S1", 3.0),))
    assert times_for_voltage(wired, "S1", 18.0) == pytest.approx(30 / 20.9718, abs=1e-4)


def test_a_voltage_that_no_length_explains_says_so() -> None:
    # a constant-power load does not stand below half the source's voltage: 12 V of 24
    found = compared(reading(Quantity.LOADED, 9.0, "S1"), circuit(run("R1", "G", "S1"), loads=(("S1", 3.0),)))
    assert "No length" in found.said
    assert found.doubts != ()


def test_a_voltage_is_good_down_to_two_percent_of_the_source_below_the_prediction() -> None:
    wired = circuit(run("R1", "G", "S1"), loads=(("S1", 3.0),))
    # (24 + sqrt(576 - 12 x 20.9718)) / 2 = 21.004 V; 2 % of 24 V is 0.48 V
    assert compared(reading(Quantity.LOADED, 20.53, "S1"), wired).doubts == ()
    assert compared(reading(Quantity.LOADED, 20.52, "S1"), wired).doubts != ()


def test_a_source_seen_low_without_load_is_not_blamed_on_the_cable() -> None:
    wired = circuit(run("R1", "G", "S1"), loads=(("S1", 3.0),))
    # the source gives 23 V: (23 + sqrt(529 - 251.66)) / 2 = 19.827 V
    low, source = reading(Quantity.LOADED, 19.8, "S1"), reading(Quantity.NO_LOAD, 23.0, "S1")
    assert compared(low, wired).doubts != ()
    assert compared(low, wired, source).doubts == ()
    assert compared(reading(Quantity.LOADED, 19.3, "S1"), wired, source).doubts != ()


def test_a_source_that_gives_too_little_without_load_is_doubted_itself() -> None:
    found = compared(reading(Quantity.NO_LOAD, 20.0))
    assert found.doubts == ("What feeds L1, with how many volts, and what else draws from it",)
    assert "something else still draws" in found.said


def test_more_volts_than_the_source_gives_doubt_the_source() -> None:
    assert compared(reading(Quantity.LOADED, 26.0)).doubts == ("Voltage of what feeds L1",)


@pytest.mark.parametrize(("value", "words"), [(120.0, "missing"), (40.0, "too many"), (60.0, None)])
def test_end_resistors_are_counted_by_the_meter(value: float, words: str | None) -> None:
    # ISO 11898-2: two ends of 120 ohm read 60, one 120, three 40
    found = compared(reading(Quantity.DATA_LINES, value, "G", "S2"))
    assert found.doubts == (() if words is None else ("End resistors in circuit on L1",))
    assert words is None or words in found.said


@pytest.mark.parametrize(
    ("one", "facts"),
    [
        (reading(Quantity.DATA_LINES, 1.0, "G", "S2"), {"ends": None}),
        (reading(Quantity.DATA_LINES, 1.0, "G", "S2"), {"end_ohm": None}),
        (reading(Quantity.NO_LOAD, 1.0), {"source_v": None}),
        (reading(Quantity.LOADED, 1.0), {"source_v": None}),
        (reading(Quantity.LOADED, 1.0, "elsewhere"), {}),
    ],
)
def test_nothing_is_doubted_where_nothing_is_predicted(one: Reading, facts: dict[str, Any]) -> None:
    found = compared(one, circuit(**facts))
    assert found.figure is None
    assert found.doubts == ()
    assert found.said


def test_a_ring_is_read_by_both_ways_and_a_bridge_between_them() -> None:
    # Wheatstone's bridge in balance carries nothing: 10 + 20 beside 20 + 40 ohm is 20 ohm, whatever the middle
    arms = (
        ("R1", "G", "A", 10.0),
        ("R2", "A", "S", 20.0),
        ("R3", "G", "B", 20.0),
        ("R4", "B", "S", 40.0),
        ("R5", "A", "B", 7.0),
    )
    way = tuple(run(key, near, far, ohm / 0.1876) for key, near, far, ohm in arms)
    assert between_ohm(Circuit(stretches=way).way("G", "S"), "G", "S") == pytest.approx(20.0, abs=1e-9)


def test_a_run_of_no_length_joins_two_points() -> None:
    way = (run("R1", "G", "A"), run("R2", "A", "S", 0.0))
    assert between_ohm(way, "G", "S") == pytest.approx(18.76, abs=1e-6)


def test_a_line_of_two_thousand_runs_is_told_at_once() -> None:
    way = tuple(run(f"R{n:04d}", f"N{n:04d}", f"N{n + 1:04d}", 1.0) for n in range(2000))
    wired = Circuit(stretches=way)
    assert between_ohm(wired.way("N0000", "N2000"), "N0000", "N2000") == pytest.approx(2000 * 0.1876, rel=1e-6)
