"""CAN: lengths and stubs by rate, ends, pins, and bit timing against the standards and published worked examples."""

import math

import pytest

from inventory.core.catalogue import ProtocolRow
from inventory.core.standards import open_standards
from planner.core.figures import between_data_lines_ohm

CIA = {row.bit_rate_kbit_s: row for row in open_standards() if row.protocol == "CAN (CiA 301)"}
NAMED = {row.protocol: row for row in open_standards()}

# CiA 301 lengths and CiA 303-1 stubs: kbit/s -> bus m, one stub m, all stubs m. Stubs at 20 and 10 from memory.
LENGTHS = {
    1000: (25, 1.5, 7.5),
    800: (50, 2.5, 12.5),
    500: (100, 5.5, 27.5),
    250: (250, 11, 55),
    125: (500, 22, 110),
    100: (650, None, None),
    50: (1000, 55, 275),
    20: (2500, 137.5, 687.5),
    10: (5000, 275, 1375),
}


@pytest.mark.parametrize(("rate", "figures"), LENGTHS.items())
def test_lengths_and_stubs_by_bit_rate(rate: float, figures: tuple[float | None, ...]) -> None:
    row = CIA[rate]
    assert (row.longest_bus_m, row.longest_stub_m, row.all_stubs_m) == figures


def test_no_rate_is_missing_or_added() -> None:
    assert set(CIA) == set(LENGTHS)


def test_all_stubs_are_five_times_one_in_every_row() -> None:
    # CiA 303-1 divides the same propagation segment by 10 and by 50 times the delay of a metre.
    ratios = [row.all_stubs_m / row.longest_stub_m for row in CIA.values() if row.all_stubs_m and row.longest_stub_m]
    assert len(ratios) == len(LENGTHS) - 1
    assert ratios == pytest.approx([5.0] * len(ratios))


def test_40_m_and_0_3_m_at_1_mbit_in_iso_11898_2() -> None:
    row = NAMED["CAN (ISO 11898-2)"]
    assert (row.bit_rate_kbit_s, row.longest_bus_m, row.longest_stub_m) == (1000.0, 40.0, 0.3)


def test_can_lines_have_120_ohm_at_both_ends_and_95_to_140_ohm_of_impedance() -> None:
    # ISO 11898-2 (2003), 7.1 and table 9 of 7.5.1.
    rows = [row for row in open_standards() if row.protocol.startswith("CAN (")]
    assert {(row.ends, row.end_ohm, row.lowest_impedance_ohm, row.highest_impedance_ohm) for row in rows} == {
        (2, 120.0, 95.0, 140.0)
    }


def test_sae_j1939_rows() -> None:
    # 250 kbit/s as published; lengths, stubs and nodes from memory.
    eleven, fifteen = NAMED["CAN (SAE J1939/11)"], NAMED["CAN (SAE J1939/15)"]
    assert (eleven.bit_rate_kbit_s, eleven.longest_bus_m, eleven.longest_stub_m, eleven.most_nodes) == (250, 40, 1, 30)
    assert (fifteen.bit_rate_kbit_s, fifteen.longest_bus_m, fifteen.longest_stub_m, fifteen.most_nodes) == (
        250,
        40,
        3,
        10,
    )


def test_length_budget_of_nmra_s_9_7_1_1() -> None:
    # L <= 300 - 6 N - 2 S: ten nodes with 5 m of stubs in all leave 230 m.
    row = NAMED["CAN over RJ45 (NMRA S-9.7.1.1)"]
    assert (row.bit_rate_kbit_s, row.ends, row.power_on_bus) == (125.0, 2, True)
    assert row.longest_bus_m is not None
    assert row.less_per_node_m is not None
    assert row.less_per_stub_m is not None
    assert row.longest_bus_m - 10 * row.less_per_node_m - 5.0 * row.less_per_stub_m == 230.0


def test_node_limit_of_nmra_s_9_7_1_1_is_what_its_lengths_imply() -> None:
    # 6 m a node and at least 0.3 m between nodes: (6 + 0.3) N <= 300 gives 47.6, written as about 48.
    row = NAMED["CAN over RJ45 (NMRA S-9.7.1.1)"]
    assert row.longest_bus_m is not None
    assert row.less_per_node_m is not None
    assert row.most_nodes == math.ceil(row.longest_bus_m / (row.less_per_node_m + 0.3))


@pytest.mark.parametrize(("ends", "reads_ohm"), [(1, 120.0), (2, 60.0), (3, 40.0), (4, 30.0)])
def test_a_meter_between_the_lines_counts_the_120_ohm_ends(ends: int, reads_ohm: float) -> None:
    assert between_data_lines_ohm(ends, 120.0) == pytest.approx(reads_ohm)


def propagation_m(row: ProtocolRow, sample_point: float, loop_ns: float) -> float:
    """Return how far the bit allows: twice line and loop delay before the sample point, 5 ns/m."""
    assert row.bit_rate_kbit_s is not None
    return (sample_point * 1e6 / row.bit_rate_kbit_s / 2.0 - loop_ns) / 5.0


# With a loop delay of at most 255 ns and the sample point at 87.5 %: kbit/s -> m. Published relation
# t_PROP = 2 (t_loop + t_bus) with about 5 ns/m of line.
@pytest.mark.parametrize(("rate", "longest_m"), [(1000, 36.5), (500, 124.0), (250, 299.0), (125, 649.0)])
def test_cia_lengths_lie_within_what_the_bit_time_allows(rate: float, longest_m: float) -> None:
    row = CIA[rate]
    assert propagation_m(row, 0.875, 255.0) == pytest.approx(longest_m, abs=0.5)
    assert row.longest_bus_m is not None
    assert row.longest_bus_m <= longest_m


def test_300_m_of_nmra_s_9_7_1_1_lie_within_its_worked_timing() -> None:
    # Its technical note: 500 ns quanta, propagation segment 7, loop delay 200 ns: (7 * 500 / 2 - 200) / 5 = 310 m.
    row = NAMED["CAN over RJ45 (NMRA S-9.7.1.1)"]
    assert row.longest_bus_m is not None
    assert row.longest_bus_m <= (7 * 500 / 2 - 200) / 5 == 310.0
