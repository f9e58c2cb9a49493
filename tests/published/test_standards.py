"""The built-in limits against the figures of the standards, row by row."""

import pytest

from inventory.core.catalogue import Layout, ProtocolRow
from inventory.core.standards import open_standards
from planner.core.figures import between_data_lines_ohm

ROWS = {(row.protocol, row.bit_rate_kbit_s): row for row in open_standards()}


def row(protocol: str, bit_rate_kbit_s: float) -> ProtocolRow:
    return ROWS[protocol, bit_rate_kbit_s]


def test_every_row_names_its_source_and_its_layout() -> None:
    assert all(row.source and row.layout for row in ROWS.values())


def test_rows_come_sorted_and_none_comes_twice() -> None:
    keys = [(row.protocol, row.bit_rate_kbit_s) for row in open_standards()]
    assert keys == sorted(set(keys))


@pytest.mark.parametrize(
    ("bit_rate", "trunk_thick", "trunk_thin", "all_drops"),
    [(125, 500, 100, 156), (250, 250, 100, 78), (500, 100, 100, 39)],
)
def test_trunk_and_drops_of_iec_62026_3(
    bit_rate: float, trunk_thick: float, trunk_thin: float, all_drops: float
) -> None:
    thick, thin = row("DeviceNet, thick trunk", bit_rate), row("DeviceNet, thin trunk", bit_rate)
    assert (thick.longest_bus_m, thin.longest_bus_m) == (trunk_thick, trunk_thin)
    assert {thick.all_stubs_m, thin.all_stubs_m} == {all_drops}
    assert (thick.longest_stub_m, thick.end_ohm, thick.ends) == (6.0, 121.0, 2)


def test_32_unit_loads_and_4000_ft_of_tia_485_a() -> None:
    slow = row("RS-485 (TIA-485-A)", 9.6)
    assert slow.most_unit_loads == 32.0
    assert slow.longest_bus_m == pytest.approx(4000 * 0.3048, rel=0.02)  # the guideline is 4000 ft, written 1200 m


# Fail-safe bias of RS-485: V = Vs x 60 / (60 + 2 R) over the two 120 ohm ends in parallel, Vs 5 V. TIA-485-A asks for 0.2 V;
# 510 ohm (ASHRAE 135, from memory) and 450 to 650 ohm (Modbus, from memory) clear it, 720 ohm is the most that does.
@pytest.mark.parametrize(("bias_ohm", "idle_v"), [(720.0, 0.2), (510.0, 0.2778), (450.0, 0.3125), (650.0, 0.2206)])
def test_two_ends_between_the_data_lines_leave_the_published_idle_voltage(bias_ohm: float, idle_v: float) -> None:
    ends_ohm = between_data_lines_ohm(2, row("RS-485 (TIA-485-A)", 9.6).end_ohm or 0.0)
    assert ends_ohm is not None
    assert 5.0 * ends_ohm / (ends_ohm + 2 * bias_ohm) == pytest.approx(idle_v, abs=5e-5)


def test_rate_times_length_stays_below_the_guideline_for_rs_485() -> None:
    # About 1e8 bit/s times metre; from memory.
    rates = [r for r in ROWS.values() if r.protocol.startswith("RS-485")]
    assert all(r.bit_rate_kbit_s * r.longest_bus_m <= 1e5 for r in rates if r.bit_rate_kbit_s and r.longest_bus_m)


def test_bacnet_ms_tp_of_ashrae_135_clause_9() -> None:
    rows = [r for r in ROWS.values() if r.protocol == "BACnet MS/TP"]
    assert {(r.longest_bus_m, r.lowest_impedance_ohm, r.highest_impedance_ohm) for r in rows} == {
        (1200.0, 100.0, 130.0)
    }


def test_modbus_over_serial_line_v1_02() -> None:
    wide, category = row("Modbus serial", 9.6), row("Modbus serial, category 5 cable", 9.6)
    assert (wide.longest_bus_m, category.longest_bus_m) == (1000.0, 600.0)
    assert (wide.longest_stub_m, wide.most_nodes) == (20.0, 32)


def test_dali_of_iec_62386() -> None:
    dali = row("DALI (IEC 62386)", 1.2)
    assert (dali.farthest_pair_m, dali.most_nodes, dali.ends, dali.power_on_bus) == (300.0, 64, 0, True)


def test_three_arms_of_100_m_are_within_dali_because_the_farthest_pair_is_200_m() -> None:
    # Guidance to IEC 62386: three star arms of 100 m put the farthest two devices 200 m apart, not 300 m.
    dali = row("DALI (IEC 62386)", 1.2)
    assert dali.total_wire_m is None
    assert dali.farthest_pair_m is not None
    assert dali.farthest_pair_m >= 2 * 100.0


def test_knx_tp1_has_64_devices_on_one_segment_and_256_on_four() -> None:
    most = row("KNX TP1", 9.6).most_nodes
    assert most is not None
    assert 4 * most == 256


def test_knx_tp1_lengths_from_memory() -> None:
    knx = row("KNX TP1", 9.6)
    assert (knx.total_wire_m, knx.farthest_pair_m) == (1000.0, 700.0)


def test_dmx512_a_of_ansi_e1_11() -> None:
    dmx = row("DMX512-A", 250)
    assert (dmx.most_unit_loads, dmx.end_ohm, dmx.ends) == (32.0, 120.0, 1)


@pytest.mark.parametrize(
    ("cable", "farthest_m", "total_m", "bus_m"),
    [
        ("16 AWG", 500, 500, 2700),
        ("22 AWG", 400, 500, 1400),
        ("0.8 mm", 320, 500, 900),
        ("category 5 cable", 250, 450, 900),
    ],
)
def test_both_limits_of_free_topology_in_ansi_cta_709_3(
    cable: str, farthest_m: float, total_m: float, bus_m: float
) -> None:
    free, bus = row(f"TP/FT-10 free topology, {cable}", 78.125), row(f"TP/FT-10 bus topology, {cable}", 78.125)
    assert (free.farthest_pair_m, free.total_wire_m, free.layout) == (farthest_m, total_m, Layout.ANY)
    assert (bus.longest_bus_m, bus.longest_stub_m, bus.layout) == (bus_m, 3.0, Layout.LINE)
    assert {free.most_nodes, bus.most_nodes} == {64}


def test_one_end_of_free_topology_is_two_ends_of_the_bus_in_parallel() -> None:
    # ANSI/CTA-709.3: 52.3 ohm once, or 105 ohm at both ends; 105 / 2 = 52.5.
    free, bus = row("TP/FT-10 free topology, 22 AWG", 78.125), row("TP/FT-10 bus topology, 22 AWG", 78.125)
    assert free.end_ohm is not None
    assert bus.end_ohm is not None
    assert free.ends == 1
    assert bus.end_ohm / 2 == pytest.approx(free.end_ohm, rel=5e-3)
