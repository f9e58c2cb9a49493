"""Copper against handbook tables, NEC chapter 9 Table 8, IEC 60228, TIA-568 and worked lighting-bus figures."""

import pytest

from inventory.core.catalogue import Cable
from inventory.core.conductors import (
    COEFFICIENT_PER_K,
    IEC_60228_OHM_PER_KM,
    RESISTIVITY_OHM_MM2_PER_M,
    awg_diameter_mm,
    conductor_ohm_per_m,
    loop_ohm,
    loop_ohm_per_m,
    ohm_per_m_at_20c,
    parse_conductor,
    temperature_factor,
)

FEET_PER_KM = 3280.84

# Handbook table of solid copper wire, ohm in 1000 ft at 20 C.
HANDBOOK = {24: 25.67, 23: 20.36, 22: 16.14, 20: 10.15, 18: 6.385, 16: 4.016, 14: 2.525, 12: 1.588}
# NEC chapter 9 Table 8, uncoated copper at 75 C, ohm in 1000 ft: solid, seven strands.
NEC_TABLE_8 = {18: (7.77, 7.95), 16: (4.89, 4.99), 14: (3.07, 3.14), 12: (1.93, 1.98)}
# IEC 60228, plain copper at 20 C, ohm/km: class 1, class 2, class 5.
IEC_60228 = {
    0.5: (36.0, 36.0, 39.0),
    0.75: (24.5, 24.5, 26.0),
    1.0: (18.1, 18.1, 19.5),
    1.5: (12.1, 12.1, 13.3),
    2.5: (7.41, 7.41, 7.98),
}


def cable(conductor: str, conductor_class: str | None = None, pairs: int | None = 1) -> Cable:
    return Cable(key="C", power_conductor=conductor, conductor_class=conductor_class, power_pairs=pairs)


@pytest.mark.parametrize(("gauge", "ohm_per_kft"), HANDBOOK.items())
def test_solid_gauges_stand_within_the_rounding_of_the_handbook(gauge: int, ohm_per_kft: float) -> None:
    ohm = conductor_ohm_per_m(cable(f"{gauge} AWG", "solid"), 20.0)
    assert ohm is not None
    assert ohm * 1e6 / FEET_PER_KM == pytest.approx(ohm_per_kft, rel=3e-4)


@pytest.mark.parametrize(("gauge", "row"), NEC_TABLE_8.items())
def test_hot_gauges_stand_within_the_rounding_of_nec_table_8(gauge: int, row: tuple[float, float]) -> None:
    solid, stranded = (conductor_ohm_per_m(cable(f"{gauge} AWG", kind), 75.0) for kind in ("solid", "stranded"))
    assert solid is not None
    assert stranded is not None
    assert solid * 1e6 / FEET_PER_KM == pytest.approx(row[0], rel=1.5e-3)
    assert stranded * 1e6 / FEET_PER_KM == pytest.approx(row[1], rel=1e-9)
    assert 1.0 < stranded / solid < 1.03  # strands are laid up in a spiral: 2.2 to 2.5 % longer


def test_gauges_that_the_table_has_no_row_for_take_the_larger_excess() -> None:
    solid, stranded = (ohm_per_m_at_20c(parse_conductor("22 AWG"), kind) for kind in (1, 2))
    assert stranded / solid == pytest.approx(1.025)


def test_a_gauge_of_unknown_class_is_taken_as_stranded_because_that_is_worse() -> None:
    assert conductor_ohm_per_m(cable("18 AWG"), 50.0) == conductor_ohm_per_m(cable("18 AWG", "stranded"), 50.0)


def test_diameters_meet_the_two_fixed_points_of_astm_b258() -> None:
    assert awg_diameter_mm(36) == 0.127
    assert awg_diameter_mm(-3) == pytest.approx(11.684, abs=5e-4)


def test_annealed_copper_agrees_with_its_mass_resistivity() -> None:
    # NBS Handbook 100: 0.15328 ohm g/m2 at 8.89 g/cm3.
    assert pytest.approx(0.15328 / 8.89, rel=1e-4) == RESISTIVITY_OHM_MM2_PER_M


def test_coefficient_at_75_c_is_the_one_in_the_note_to_nec_table_8() -> None:
    # 0.00323 per kelvin at 75 C, three digits; 0.00393 at 20 C is from memory and confirmed by it.
    assert COEFFICIENT_PER_K / temperature_factor(75.0) == pytest.approx(0.00323, rel=1e-3)


def test_factor_from_75_c_agrees_with_iec_60228() -> None:
    # 0.820 in the annex, which uses 250 / (230 + t); the straight line gives 0.8223.
    assert 1.0 / temperature_factor(75.0) == pytest.approx(0.820, rel=4e-3)


@pytest.mark.parametrize("area", IEC_60228)
def test_metric_areas_carry_the_maximum_of_iec_60228(area: float) -> None:
    for kind, ohm_per_km in zip(("class 1", "class 2", "class 5"), IEC_60228[area], strict=True):
        assert conductor_ohm_per_m(cable(f"{area} mm2", kind), 20.0) == pytest.approx(ohm_per_km / 1000, rel=1e-12)
    assert IEC_60228_OHM_PER_KM.keys() == IEC_60228.keys()


def test_solid_stranded_and_unsaid_metric_conductors_are_class_1_2_and_5() -> None:
    figures = [conductor_ohm_per_m(cable("1.5 mm²", kind), 20.0) for kind in ("solid", "stranded", None)]
    assert figures == pytest.approx([0.0121, 0.0121, 0.0133])


def test_an_area_that_iec_60228_lacks_takes_the_largest_excess_and_never_passes_a_thinner_row() -> None:
    # 0.6 mm2: 17.241 / 0.6 = 28.74 ohm/km of solid copper, times 1.1571.
    assert conductor_ohm_per_m(cable("0.6 mm2"), 20.0) == pytest.approx(0.03325, rel=1e-3)
    assert conductor_ohm_per_m(cable("0.51 mm2"), 20.0) == pytest.approx(0.039)


def test_category_cable_is_at_the_maximum_of_tia_568() -> None:
    # 9.38 ohm in 100 m for a conductor, 18.76 for a pair; two pairs in parallel halve that.
    two_pairs = Cable(key="C", category="5e", power_pairs=2)
    one_pair = Cable(key="C", category="5e", power_pairs=1)
    assert conductor_ohm_per_m(two_pairs, 20.0) == pytest.approx(0.0938)
    assert loop_ohm_per_m(one_pair, 20.0) == pytest.approx(0.1876)
    assert loop_ohm_per_m(two_pairs, 20.0) == pytest.approx(0.0938)


def test_the_stated_maximum_beats_the_ideal_of_the_gauge() -> None:
    stated = Cable(key="C", category="6", power_conductor="23 AWG", conductor_class="solid", power_pairs=2)
    assert conductor_ohm_per_m(stated, 20.0) == pytest.approx(0.0938)


def test_a_thick_conductor_beside_category_pairs_keeps_its_own_resistance() -> None:
    composite = Cable(key="C", category="5e", power_conductor="18 AWG", conductor_class="solid", power_pairs=1)
    assert conductor_ohm_per_m(composite, 20.0) == pytest.approx(0.0209482, rel=1e-5)


def test_300_m_of_1_5_mm2_drop_1_815_v_at_250_ma() -> None:
    # IEC 62386-101: 250 mA, at most 2 V, 300 m at 1.5 mm2; IEC 60228 class 1: 2 x 300 x 0.0121 x 0.25 = 1.815 V.
    ohm = loop_ohm(300.0, cable("1.5 mm2", "solid"), 20.0)
    assert ohm is not None
    assert ohm * 0.25 == pytest.approx(1.815, abs=1e-12)


@pytest.mark.parametrize(
    ("conductor", "longest_m"), [("1.5 mm2", 330.6), ("1.0 mm2", 221.0), ("0.75 mm2", 163.3), ("0.5 mm2", 111.1)]
)
def test_8_ohm_of_loop_reach_as_far_as_iec_60228_says(conductor: str, longest_m: float) -> None:
    # 2 V at 250 mA leave 8 ohm of loop.
    per_m = loop_ohm_per_m(cable(conductor, "class 1"), 20.0)
    assert per_m is not None
    assert 8.0 / per_m == pytest.approx(longest_m, abs=0.05)


def test_6_m_of_24_awg_at_half_an_ampere_drop_0_505_v() -> None:
    # NMRA S-9.7.1.1 and its note: at most 0.5 A a connector and 6 m from a supply of 9 V to a load that needs 7.5 V.
    ohm = loop_ohm(6.0, cable("24 AWG", "solid"), 20.0)
    assert ohm is not None
    assert ohm * 0.5 == pytest.approx(0.505, abs=5e-4)
    assert 9.0 - ohm * 0.5 >= 7.5
