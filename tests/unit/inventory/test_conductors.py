"""Reading conductor sizes, and what is not known about a cable."""

from dataclasses import replace

import pytest

from inventory.core.catalogue import Cable
from inventory.core.conductors import (
    ConductorError,
    cautious_loop_ohm_per_m,
    conductor_ohm_per_m,
    loop_ohm,
    loop_ohm_per_m,
    parse_class,
    parse_conductor,
    plausible_loop_ohm_per_m,
    temperature_factor,
)


@pytest.mark.parametrize("text", ["18 AWG", "AWG 18", "18AWG", "awg18", " #18 AWG ", "AWG #18"])
def test_a_gauge_is_read_however_it_is_written(text: str) -> None:
    assert parse_conductor(text).gauge == 18


@pytest.mark.parametrize("text", ["0.75 mm2", "0.75mm²", "0,75 mm2", "0.75 mm^2", "0.75 sq mm", "0.75 MM2"])
def test_an_area_is_read_however_it_is_written(text: str) -> None:
    assert parse_conductor(text).area_mm2 == 0.75


@pytest.mark.parametrize(("text", "gauge"), [("0 AWG", 0), ("1/0 AWG", 0), ("4/0 AWG", -3), ("0000 AWG", -3)])
def test_the_thick_gauges_are_read(text: str, gauge: int) -> None:
    assert parse_conductor(text).gauge == gauge


@pytest.mark.parametrize("text", ["", "18", "AWG", "0.75", "-1 mm2", "0 mm2", "100 AWG", "0.75 mm", "18 AWG x2", "mm2"])
def test_what_is_no_size_is_refused_with_the_way_to_write_it(text: str) -> None:
    with pytest.raises(ConductorError, match="18 AWG"):
        parse_conductor(text)


@pytest.mark.parametrize(("text", "number"), [("Solid", 1), ("class  5", 5), ("stranded", 2), ("CLASS 1", 1)])
def test_classes_are_read(text: str, number: int) -> None:
    assert parse_class(text) == number


def test_a_class_that_does_not_exist_is_refused() -> None:
    with pytest.raises(ConductorError, match="class 5"):
        parse_class("class 6")


@pytest.mark.parametrize(
    "cable",
    [
        Cable(key="C"),
        Cable(key="C", power_conductor="thick"),
        Cable(key="C", power_conductor="18 AWG", conductor_class="woven"),
    ],
)
def test_a_conductor_that_cannot_be_told_has_no_resistance_rather_than_none(cable: Cable) -> None:
    assert conductor_ohm_per_m(cable, 20.0) is None


def test_power_pairs_must_be_known_in_a_category_cable_too() -> None:
    # one pair may feed or two, and nobody is to take two where one was not counted
    assert loop_ohm_per_m(Cable(key="C", category="6"), 20.0) is None
    assert loop_ohm_per_m(Cable(key="C", power_conductor="18 AWG"), 20.0) is None
    low, high = plausible_loop_ohm_per_m(Cable(key="C", category="6"), 20.0)
    assert (low, high) == pytest.approx((0.0938, 0.1876))


def test_a_count_of_pairs_below_nothing_gives_no_loop() -> None:
    assert loop_ohm_per_m(Cable(key="C", power_conductor="18 AWG", power_pairs=-1), 20.0) is None


@pytest.mark.parametrize("size", ["18 AWG", "22 AWG", "23 AWG", "24 AWG", "26 AWG", "0.25 mm2", "0.34 mm2", "0.75 mm2"])
def test_a_blank_category_never_makes_a_conductor_better(size: str) -> None:
    stated = Cable(key="C", power_conductor=size, conductor_class="solid", power_pairs=1, category="6")
    blank, told = (cautious_loop_ohm_per_m(cable, 20.0) for cable in (replace(stated, category=None), stated))
    assert blank is not None
    assert told is not None
    assert blank >= told
    assert blank >= (loop_ohm_per_m(replace(stated, category=None), 20.0) or 0.0)


def test_a_cable_without_power_pairs_has_no_loop() -> None:
    assert loop_ohm_per_m(Cable(key="C", power_conductor="18 AWG", power_pairs=0), 20.0) is None


def test_a_run_of_unknown_length_or_cable_has_no_resistance() -> None:
    cable = Cable(key="C", category="6", power_pairs=2)
    assert loop_ohm(None, cable, 20.0) is None
    assert loop_ohm(10.0, None, 20.0) is None
    assert loop_ohm(0.0, cable, 20.0) == 0.0


@pytest.mark.parametrize("length_m", [-1.0, float("inf"), float("nan")])
def test_an_impossible_length_is_refused(length_m: float) -> None:
    with pytest.raises(ValueError, match="length_m"):
        loop_ohm(length_m, Cable(key="C", category="6"), 20.0)


@pytest.mark.parametrize("temperature_c", [-234.5, float("inf"), float("nan")])
def test_a_temperature_off_the_straight_line_is_refused(temperature_c: float) -> None:
    with pytest.raises(ValueError, match="temperature_c"):
        temperature_factor(temperature_c)


def test_nothing_is_doubtful_about_a_cable_that_is_known() -> None:
    cable = Cable(key="C", power_conductor="1.5 mm2", power_pairs=1)
    assert plausible_loop_ohm_per_m(cable, 50.0) == (loop_ohm_per_m(cable, 50.0),) * 2


def test_a_known_conductor_leaves_only_its_pairs_in_doubt() -> None:
    low, high = plausible_loop_ohm_per_m(Cable(key="C", power_conductor="1.5 mm2"), 20.0)
    assert (low, high) == pytest.approx((0.0133, 0.0266))
