"""Landing tables and what is wrong with them, and readings of a meter."""

import pytest

from inventory.core.catalogue import Method, MethodPin
from planner.core.figures import (
    between_data_lines_ohm,
    data_lines_figure,
    loop_figure,
    no_load_figure,
    reading_words,
    voltage_figure,
)
from planner.core.landing import (
    LandingRow,
    Scheme,
    bridges,
    check_landing,
    crossed_signals,
    is_data,
    landing_faults,
    landing_table,
)

Pin = tuple[str, str | None, str | None, int | None]
GOOD: tuple[Pin, ...] = (
    ("DATA_H", "data pair, white", "1", 1),
    ("DATA_L", "data pair, blue", "2", 2),
    ("V+", "power pair, red", "7", 7),
    ("V-", "power pair, black", "8", 8),
)


def table(*pins: Pin) -> tuple[LandingRow, ...]:
    rows = tuple(MethodPin(signal=a, old_conductor=b, terminal=c, rj45_pin=d) for a, b, c, d in pins)
    return landing_table(Method(key="M", old_model="O", new_model="N", new_protocol="P", pins=rows))


def test_a_good_landing_has_no_fault_and_comes_by_pin() -> None:
    rows = table(*GOOD[::-1])
    assert [row.rj45_pin for row in rows] == [1, 2, 7, 8]
    assert check_landing(rows) == ()


def test_colours_stand_beside_each_pin() -> None:
    row = table(*GOOD)[0]
    assert (row.colour_t568a, row.colour_t568b, row.pair_t568a, row.pair_t568b) == ("white/green", "white/orange", 3, 2)


def test_doubled_power_terminals_are_bridged_and_no_fault() -> None:
    rows = table(*GOOD, ("V+", "power pair, red", "4", 4), ("V-", None, "5", 5))
    assert [row.bridged for row in rows] == [False, False, True, True, True, True]
    assert check_landing(rows) == ()


@pytest.mark.parametrize(
    ("pins", "words"),
    [
        ((*GOOD[:1], ("DATA_L", "data pair, blue", "3", 3), *GOOD[2:]), "not one twisted pair"),
        ((*GOOD[:3], ("V-", "power pair, black", "7b", 7)), "Pin 7 holds"),
        ((*GOOD[:3], ("V-", "power pair, black", "7", 8)), "Terminal 7 holds"),
        ((*GOOD[:3], ("V-", "power pair, red", "8", 8)), "Conductor power pair, red holds"),
        ((*GOOD[:3], ("V-", None, "8", 8)), "V- has no old conductor"),
        ((*GOOD[:3], ("V-", "power pair, black", None, 8)), "V- has no terminal"),
        ((*GOOD[:3], ("V-", "power pair, black", "8", None)), "V- has no pin"),
        ((*GOOD[:3], ("V-", "power pair, black", "8", 9)), "a jack has pins 1 to 8"),
        ((*GOOD[:3], ("V-", "Power Pair, Red", "8", 8)), "Conductor power pair, red holds"),
        ((GOOD[0], *GOOD[2:]), "DATA_H has no second line"),
        (GOOD[2:], "No signal of the method is data"),
        ((*GOOD[:2], ("DATA_H", None, "3", 3), ("DATA_L", None, "4", 4), *GOOD[2:]), "DATA_H on pin 3"),
        ((), "does not say where any signal lands"),
    ],
)
def test_each_fault_is_said_in_words(pins: tuple[Pin, ...], words: str) -> None:
    found = check_landing(table(*pins))
    assert len(found) == 1
    assert words in found[0]


def test_data_on_two_pairs_is_a_fault_wherever_the_split_pair_stands() -> None:
    # TIA-568: 1 pairs with 2, 4 with 5, 3 with 6; the last pair by pin is right, the first one is split
    split = (("DATA_H", "data pair, white", "1", 1), ("DATA_L", "data pair, blue", "3", 3))
    more = (("DATA_H", None, "4", 4), ("DATA_L", None, "5", 5))
    assert any("DATA_H on pin 1" in said for said in check_landing(table(*split, *more, *GOOD[2:])))
    assert check_landing(table(*GOOD[:2], *more, *GOOD[2:])) == ()


def test_what_takes_no_conductor_says_why_and_what_lacks_one_is_not_known() -> None:
    rows = table(
        *GOOD[:3], ("V-", None, "8", 8), ("V+", None, "3", 3), ("reserved", None, None, 4), ("reserved", None, None, 5)
    )
    said = {(row.signal, row.rj45_pin): (row.conductor_words, row.terminal_words, row.bridged) for row in rows}
    assert said["V+", 3] == ("none: by the bridge", "3", True)
    assert said["V+", 7] == ("power pair, red", "7", True)
    assert said["V-", 8] == (None, "8", False)
    assert said["reserved", 4] == said["reserved", 5] == ("none: stays free", "none", False)


def test_methods_of_one_segment_that_land_otherwise_are_told_apart_from_their_own_faults() -> None:
    def method(key: str, *pins: Pin) -> Method:
        rows = tuple(MethodPin(signal=a, old_conductor=b, terminal=c, rj45_pin=d) for a, b, c, d in pins)
        return Method(key=key, old_model="O", new_model="N", new_protocol="P", pins=rows)

    first, other = landing_faults((method("M1", *GOOD), method("M2", *GOOD[:3], ("V-", "power pair, black", "4", 4))))
    assert first == ()
    assert other == (
        "Methods M1 and M2 do not land alike: V- is power pair, black on pin 8 at one end and power pair, black on pin 4 at the other.",
    )


def test_a_crossed_lead_is_caught_for_every_signal_it_moves() -> None:
    found = check_landing(table(*GOOD), lead=(Scheme.A, Scheme.B))
    assert len(found) == 2
    assert all("is crossed" in sentence for sentence in found)
    assert check_landing(table(*GOOD), lead=(Scheme.A, Scheme.A)) == ()


def test_ends_that_disagree_are_caught() -> None:
    # The far end was landed by the other scheme: what is on 1 and 2 here is on 3 and 6 there.
    far = (("DATA_H", "data pair, white", "3", 3), ("DATA_L", "data pair, blue", "6", 6), *GOOD[2:])
    found = check_landing(table(*GOOD), table(*far))
    assert [sentence.split(" is ")[0] for sentence in found] == ["DATA_H", "DATA_L"]
    assert "on pin 1 at one end" in found[0]
    assert "on pin 3 at the other" in found[0]


def test_a_signal_that_one_end_lacks_is_caught() -> None:
    found = check_landing(table(*GOOD), table(*GOOD[:3]))
    assert found == ("V- is power pair, black on pin 8 at one end and not landed at the other.",)


def test_a_pin_that_stays_free_is_no_fault_unless_a_conductor_lands_there() -> None:
    assert check_landing(table(*GOOD, ("reserved", None, None, 4))) == ()
    (said,) = check_landing(table(*GOOD, ("reserved", "spare pair, white", "4", 4)))
    assert "takes no conductor" in said


def test_data_lines_from_two_pairs_of_the_old_cable_are_caught() -> None:
    swapped = (GOOD[0], ("DATA_L", "power pair, red", "2", 2), ("V+", "data pair, blue", "7", 7), GOOD[3])
    (said,) = check_landing(table(*swapped))
    assert "DATA_H on the data pair and DATA_L on the power pair are not one twisted pair of the old cable" in said


def test_conductors_that_name_no_pair_are_not_guessed_about() -> None:
    plain = tuple((signal, conductor.rpartition(", ")[2], *rest) for signal, conductor, *rest in GOOD)  # type: ignore[union-attr]
    assert check_landing(table(*plain)) == ()


def test_doubled_power_needs_a_bridge_and_single_signals_none() -> None:
    rows = table(*GOOD, ("V+", None, "4", 4), ("V-", None, "5", 5))
    assert [(one.signal, one.terminals, one.pins) for one in bridges(rows)] == [
        ("V+", ("4", "7"), (4, 7)),
        ("V-", ("5", "8"), (5, 8)),
    ]
    assert bridges(table(*GOOD)) == ()


def test_what_a_crossed_lead_would_do_is_said_beforehand() -> None:
    # TIA-568: A to B swaps 1 with 3 and 2 with 6; 7 and 8 stay
    assert crossed_signals(table(*GOOD)) == (("DATA_H", 1, 3), ("DATA_L", 2, 6))


@pytest.mark.parametrize("signal", ["CAN_GND", "GND", "CAN_V+", "PWR_NEG", "CAN_SHLD", "24V+", "V-"])
def test_supply_ground_and_screen_are_no_data(signal: str) -> None:
    assert not is_data(signal)


@pytest.mark.parametrize(("one", "other"), [("CAN_H", "CAN_L"), ("D+", "D-"), ("A", "B"), ("Data_P", "Data_N")])
def test_both_lines_of_a_balanced_signal_are_known_by_their_endings(one: str, other: str) -> None:
    more = (("AUX_H", "spare pair, white", "4", 4), ("AUX_L", "spare pair, blue", "5", 5))
    assert check_landing(table((one, "a", "3", 3), (other, "b", "6", 6), *more)) == ()
    assert any(
        "not one twisted pair" in s for s in check_landing(table((one, "a", "3", 3), (other, "b", "2", 2), *more))
    )


def test_a_long_data_pair_adds_to_the_reading() -> None:
    # 120 ohm here, 120 + 30 ohm beyond: 120 x 150 / 270 = 66.67 ohm.
    assert between_data_lines_ohm(2, 120.0, 30.0) == pytest.approx(66.667, abs=1e-3)


def test_no_end_resistor_gives_nothing_to_measure() -> None:
    assert between_data_lines_ohm(0, 120.0) is None
    assert data_lines_figure(0, 120.0) is None


@pytest.mark.parametrize("values", [(-1, 120.0, 0.0), (2, 0.0, 0.0), (2, 120.0, -1.0), (2, float("nan"), 0.0)])
def test_impossible_ends_are_refused(values: tuple[int, float, float]) -> None:
    with pytest.raises(ValueError, match="must not be negative"):
        between_data_lines_ohm(*values)


@pytest.mark.parametrize(
    ("reading", "words"), [(54.0, None), (66.0, None), (53.9, "too many"), (66.1, "missing"), (120.0, "missing")]
)
def test_readings_between_data_lines_at_the_tolerance_and_just_past_it(reading: float, words: str | None) -> None:
    figure = data_lines_figure(2, 120.0)
    assert figure is not None
    said = reading_words(figure, reading)
    assert (said is None) if words is None else (said is not None and words in said)


@pytest.mark.parametrize(("reading", "good"), [(7.5, True), (7.4, False), (11.5, True), (11.6, False)])
def test_readings_of_a_10_ohm_loop_at_the_tolerance_and_just_past_it(reading: float, good: bool) -> None:  # noqa: FBT001
    assert (reading_words(loop_figure(10.0), reading) is None) is good


def test_a_voltage_lower_than_predicted_says_that_the_records_are_wrong() -> None:
    # 2 % of 24 V is 0.48 V: 19.52 V is good for a predicted 20 V, 19.5 V is not.
    figure = voltage_figure(20.0, 24.0)
    assert reading_words(figure, 19.52) is None
    assert "recorded length or cable is wrong" in (reading_words(figure, 19.5) or "")
    # a supply marked 24 V may give 5 % more (common practice): 25.2 V
    assert reading_words(figure, 25.2) is None
    assert "check the supply" in (reading_words(figure, 25.3) or "")


def test_a_source_without_load_is_good_within_its_mark_and_no_further() -> None:
    # 5 % of 24 V is 1.2 V
    figure = no_load_figure(24.0)
    assert reading_words(figure, 22.8) is None
    assert "something else still draws" in (reading_words(figure, 22.7) or "")
    assert reading_words(figure, 25.2) is None
    assert "check the supply" in (reading_words(figure, 25.3) or "")


def test_a_long_data_pair_is_not_taken_for_a_missing_end_resistor() -> None:
    # 300 m of a pair of 0.0938 ohm a metre each way adds 56.3 ohm: 120 beside 176.3 ohm reads 71.4
    figure = data_lines_figure(2, 120.0, 56.3)
    assert figure is not None
    assert figure.expected == 60.0
    assert reading_words(figure, 71.4) is None
    assert "missing" in (reading_words(figure, 120.0) or "")


@pytest.mark.parametrize("loop_ohm", [0.0, 56.3, 1000.0, 1e6])
def test_one_resistor_in_place_of_two_is_missed_on_no_length(loop_ohm: float) -> None:
    figure = data_lines_figure(2, 120.0, loop_ohm)
    assert figure is not None
    assert reading_words(figure, 120.0) is not None


def test_one_end_is_read_through_the_pair_where_it_is_far() -> None:
    figure = data_lines_figure(1, 120.0, 30.0)
    assert figure is not None
    assert reading_words(figure, 150.0) is None
    assert reading_words(figure, 60.0) is not None


def test_a_reading_that_no_meter_gives_is_refused() -> None:
    with pytest.raises(ValueError, match="cannot read"):
        reading_words(loop_figure(10.0), float("nan"))
