"""Pins and colours against TIA-568 and the pin tables of CiA 303-1 and NMRA S-9.7.1.1."""

import pytest

from inventory.core.catalogue import Method, MethodPin
from planner.core.landing import (
    JACK,
    LandingRow,
    Scheme,
    check_landing,
    crossed_signals,
    crossing,
    landing_table,
)

# TIA-568: pin -> colour under A, colour under B.
COLOURS = {
    1: ("white/green", "white/orange"),
    2: ("green", "orange"),
    3: ("white/orange", "white/green"),
    4: ("blue", "blue"),
    5: ("white/blue", "white/blue"),
    6: ("orange", "green"),
    7: ("white/brown", "white/brown"),
    8: ("brown", "brown"),
}
CIA_303_1 = {1: "CAN_H", 2: "CAN_L", 3: "CAN_GND", 7: "GND", 8: "CAN_V+"}
CIA_RESERVED = (4, 5)  # CiA 303-1: the remaining pins of the RJ45, with an optional screen on 6
NMRA_S_9_7_1_1 = {
    1: "CAN_H",
    2: "CAN_L",
    3: "CAN_GND",
    4: "ALT_L",
    5: "ALT_H",
    6: "CAN_SHIELD",
    7: "PWR_NEG",
    8: "PWR_POS",
}


def table(signals: dict[int, str], source: str) -> tuple[LandingRow, ...]:
    pins = tuple(
        MethodPin(signal=signal, old_conductor=f"conductor {pin}", terminal=str(pin), rj45_pin=pin, source=source)
        for pin, signal in signals.items()
    )
    return landing_table(Method(key="M", old_model="O", new_model="N", new_protocol="P", pins=pins))


def test_colours_of_tia_568() -> None:
    assert {row.pin: (row.colour_a, row.colour_b) for row in JACK} == COLOURS


def test_pairs_of_tia_568_are_1_2_and_3_6_and_4_5_and_7_8() -> None:
    assert {frozenset((row.pin, row.mate)) for row in JACK} == {
        frozenset(pair) for pair in ((1, 2), (3, 6), (4, 5), (7, 8))
    }


def test_numbers_of_the_pairs_from_memory() -> None:
    assert [row.pair_a for row in JACK] == [3, 3, 2, 1, 1, 2, 4, 4]
    assert [row.pair_b for row in JACK] == [2, 2, 3, 1, 1, 3, 4, 4]


@pytest.mark.parametrize("scheme", Scheme)
def test_a_lead_of_one_scheme_is_straight(scheme: Scheme) -> None:
    assert crossing(scheme, scheme) == tuple(range(1, 9))


def test_a_lead_of_both_schemes_crosses_1_with_3_and_2_with_6() -> None:
    assert crossing(Scheme.A, Scheme.B) == (3, 6, 1, 4, 5, 2, 7, 8)
    assert crossing(Scheme.B, Scheme.A) == crossing(Scheme.A, Scheme.B)


@pytest.mark.parametrize(
    ("signals", "source"), [(CIA_303_1, "CiA 303-1"), (NMRA_S_9_7_1_1, "NMRA S-9.7.1.1")], ids=["CiA", "NMRA"]
)
def test_published_pin_tables_have_no_fault(signals: dict[int, str], source: str) -> None:
    assert check_landing(table(signals, source)) == ()


def test_data_of_both_pin_tables_rides_on_the_pair_1_2() -> None:
    for signals in (CIA_303_1, NMRA_S_9_7_1_1):
        pairs = {row.pair_t568b for row in table(signals, "") if row.signal in ("CAN_H", "CAN_L")}
        assert pairs == {2}


def test_reserved_pins_of_cia_303_1_stay_free_without_a_fault() -> None:
    free = tuple(MethodPin(signal="reserved", rj45_pin=pin, source="CiA 303-1") for pin in CIA_RESERVED)
    wired = tuple(
        MethodPin(signal=signal, old_conductor=f"conductor {pin}", terminal=str(pin), rj45_pin=pin)
        for pin, signal in (CIA_303_1 | {6: "CAN_SHLD"}).items()
    )
    assert (
        check_landing(landing_table(Method(key="M", old_model="O", new_model="N", new_protocol="P", pins=free + wired)))
        == ()
    )


def test_a_crossed_lead_swaps_the_data_pair_of_both_pin_tables_with_the_pair_3_6() -> None:
    # TIA-568: T568A to T568B is 1 to 3, 2 to 6, 3 to 1, 6 to 2
    for signals in (CIA_303_1, NMRA_S_9_7_1_1):
        moved = {signal: (pin, far) for signal, pin, far in crossed_signals(table(signals, ""))}
        assert moved["CAN_H"] == (1, 3)
        assert moved["CAN_L"] == (2, 6)
        assert moved["CAN_GND"] == (3, 1)
        assert not {"GND", "CAN_V+", "PWR_NEG", "PWR_POS"} & moved.keys()
