"""The voltage solve: cases worked by hand, the edge of what a wire can deliver, unknown facts and refused input."""

from typing import cast

import numpy as np
import pytest

from planner.core.nodal import solve_nodes
from planner.core.power import PowerState, load_voltage, solve
from planner.core.reach import growth_of_one, headroom
from tests.networks import Wiring, many, one_load, random_wiring, solved


def changed(wiring: Wiring, **values: object) -> Wiring:
    return cast("Wiring", {**wiring, **values})


def line(ohms: list[float], load_w: list[float], source_v: float = 24.0) -> Wiring:
    count = len(load_w)
    return Wiring(
        segment=np.zeros(count, dtype=np.int32),
        tail=np.arange(count - 1, dtype=np.int32),
        head=np.arange(1, count, dtype=np.int32),
        loop_ohm=np.array(ohms),
        source=np.array([0], dtype=np.int32),
        source_v=np.array([source_v]),
        load_w=np.array(load_w),
    )


def test_two_loads_on_one_line_worked_by_hand() -> None:
    # End: 20 V x 1 A = 20 W. Its run of 2 ohm drops 2 V: 22 V in the middle, where 22 W draw 1 A more. The first
    # run carries 2 A over 1 ohm: 24 V at the source. Loss 2 A^2 x 1 + 1 A^2 x 2 = 6 W.
    result = solved(line([1.0, 2.0], [0.0, 22.0, 20.0]))
    assert result.voltage_v == pytest.approx([24.0, 22.0, 20.0], abs=1e-9)
    assert result.current_a == pytest.approx([2.0, 1.0], abs=1e-9)
    assert result.source_current_a == pytest.approx([2.0], abs=1e-9)
    assert result.loss_w == pytest.approx([6.0], abs=1e-8)


def test_current_is_positive_from_tail_to_head() -> None:
    wiring = line([1.0, 2.0], [0.0, 22.0, 20.0])
    turned = changed(wiring, tail=wiring["head"], head=wiring["tail"])
    assert solved(turned).current_a == pytest.approx([-2.0, -1.0], abs=1e-9)


def test_two_equal_parallel_runs_are_half_the_resistance_and_share_the_current() -> None:
    # 44 V behind 20 ohm at 12.95 W stands at 37 V and 0.35 A; here 40 ohm twice.
    wiring = one_load(44.0, 40.0, 12.95)
    double = changed(
        wiring, tail=np.array([0, 1], dtype=np.int32), head=np.array([1, 0], dtype=np.int32), loop_ohm=np.full(2, 40.0)
    )
    result = solved(double)
    assert result.voltage_v[1] == pytest.approx(37.0, abs=1e-9)
    assert result.current_a == pytest.approx([0.175, -0.175], abs=1e-9)


def test_a_ring_is_not_solved_along_its_spanning_tree() -> None:
    # A square 0-1-2-3 of 1 ohm a side, one load opposite the source: two ways of 2 ohm, 1 ohm together.
    # 20 V x 4 A = 80 W at the load, 4 V dropped from 24 V, 2 A each way, 22 V at the other two corners.
    ring = Wiring(
        segment=np.zeros(4, dtype=np.int32),
        tail=np.array([0, 1, 2, 3], dtype=np.int32),
        head=np.array([1, 2, 3, 0], dtype=np.int32),
        loop_ohm=np.ones(4),
        source=np.array([0], dtype=np.int32),
        source_v=np.array([24.0]),
        load_w=np.array([0.0, 0.0, 80.0, 0.0]),
    )
    result = solved(ring)
    assert result.voltage_v == pytest.approx([24.0, 22.0, 20.0, 22.0], abs=1e-9)
    assert result.current_a == pytest.approx([2.0, 2.0, -2.0, -2.0], abs=1e-9)


@pytest.mark.parametrize("excess", [1e-12, 1e-9, 1e-6, 1e-3, 1.0, 1e6])
def test_just_past_what_the_wire_can_deliver_there_is_no_number(excess: float) -> None:
    # Vs^2 / (4 R) = 24^2 / 16 = 36 W.
    result = solve(**one_load(24.0, 4.0, 36.0 * (1.0 + excess)))
    assert result.state[0] == PowerState.NO_OPERATING_POINT
    for values in (result.voltage_v, result.current_a, result.source_current_a, result.loss_w):
        assert np.all(np.isnan(values))


@pytest.mark.parametrize("less", [0.0, 1e-12, 1e-9, 1e-6, 1e-3, 0.1])
def test_up_to_what_the_wire_can_deliver_the_upper_root_is_found(less: float) -> None:
    result = solved(one_load(24.0, 4.0, 36.0 * (1.0 - less)))
    assert result.voltage_v[1] == pytest.approx(12.0 * (1.0 + less**0.5), abs=2e-6)


def test_a_load_behind_another_may_stand_below_half_the_source() -> None:
    # End: 11 V x 1 A = 11 W. Its 8 ohm drop 8 V: 19 V in the middle, where 57 W draw 3 A more. 4 A over 1 ohm: 23 V
    # at the source, half of which is 11.5 V. Stable, since a change of 1 A moves the end by less than 11 V / 1 A.
    result = solved(line([1.0, 8.0], [0.0, 57.0, 11.0], source_v=23.0))
    assert result.voltage_v == pytest.approx([23.0, 19.0, 11.0], abs=1e-8)


def test_wire_without_resistance_drops_nothing_and_still_carries_its_current() -> None:
    result = solved(line([0.0, 2.0, 0.0], [0.0, 0.0, 0.0, 22.0]))
    # 22 V at 1 A behind 2 ohm.
    assert result.voltage_v == pytest.approx([24.0, 24.0, 22.0, 22.0], abs=1e-9)
    assert result.current_a == pytest.approx([1.0, 1.0, 1.0], abs=1e-9)


def test_a_ring_with_runs_without_resistance_balances() -> None:
    # 0 to 1 without resistance, 1 to 2 by 2 ohm twice, 2 to 3 without: 44 W at 22 V draw 2 A, 1 A each way.
    wiring = Wiring(
        segment=np.zeros(4, dtype=np.int32),
        tail=np.array([0, 1, 1, 2], dtype=np.int32),
        head=np.array([1, 2, 2, 3], dtype=np.int32),
        loop_ohm=np.array([0.0, 2.0, 2.0, 0.0]),
        source=np.array([0], dtype=np.int32),
        source_v=np.array([24.0]),
        load_w=np.array([0.0, 0.0, 0.0, 44.0]),
    )
    result = solved(wiring)
    assert result.voltage_v == pytest.approx([24.0, 24.0, 22.0, 22.0], abs=1e-9)
    assert result.current_a == pytest.approx([2.0, 1.0, 1.0, 2.0], abs=1e-9)


def test_a_run_from_a_node_to_itself_carries_nothing() -> None:
    wiring = one_load(44.0, 20.0, 12.95)
    looped = changed(
        wiring,
        tail=np.array([0, 1], dtype=np.int32),
        head=np.array([1, 1], dtype=np.int32),
        loop_ohm=np.array([20.0, 3.0]),
    )
    result = solved(looped)
    assert result.voltage_v[1] == pytest.approx(37.0, abs=1e-9)
    assert result.current_a[1] == 0.0


@pytest.mark.parametrize(
    ("values", "state"),
    [
        ({"source": np.array([-1])}, PowerState.NO_SOURCE),
        ({"source_v": np.array([np.nan])}, PowerState.UNKNOWN_SOURCE_VOLTAGE),
        ({"loop_ohm": np.array([np.nan])}, PowerState.UNKNOWN_RESISTANCE),
        ({"load_w": np.array([0.0, np.nan])}, PowerState.UNKNOWN_LOAD),
        ({"source_v": np.array([0.0])}, PowerState.NO_OPERATING_POINT),
    ],
)
def test_what_is_not_known_gives_no_number_and_says_which(values: dict[str, object], state: PowerState) -> None:
    campus = many([changed(one_load(44.0, 20.0, 12.95), **values), one_load(44.0, 20.0, 12.95)])
    campus["source"] = np.array([-1 if "source" in values else 0, 2], dtype=np.int32)
    result = solve(**campus)
    assert list(result.state) == [state, PowerState.SOLVED]
    assert np.all(np.isnan(result.voltage_v[:2]))
    assert result.voltage_v[3] == pytest.approx(37.0, abs=1e-9)


def test_a_vertex_that_no_run_reaches_has_no_voltage() -> None:
    wiring = line([1.0], [0.0, 23.0], source_v=24.0)
    more = changed(wiring, segment=np.zeros(3, dtype=np.int32), load_w=np.array([0.0, 23.0, 5.0]))
    result = solved(more)
    assert result.voltage_v[1] == pytest.approx((24.0 + (24.0**2 - 4 * 23.0) ** 0.5) / 2, abs=1e-9)
    assert np.isnan(result.voltage_v[2])


def test_nothing_at_all_is_solved_to_nothing() -> None:
    none, no_number = np.zeros(0, dtype=np.int32), np.zeros(0)
    result = solve(
        segment=none, tail=none, head=none, loop_ohm=no_number, source=none, source_v=no_number, load_w=no_number
    )
    assert (result.voltage_v.size, result.state.size) == (0, 0)


def test_a_segment_of_one_vertex_stands_at_its_source() -> None:
    result = solved(line([], [5.0]))
    assert result.voltage_v == pytest.approx([24.0])
    assert result.source_current_a == pytest.approx([5.0 / 24.0])


def test_a_line_of_many_thousand_nodes_is_solved_without_recursion() -> None:
    # Even loads on a long line against a coarse closed form: with nearly constant current the far end drops
    # I R n^2 / 2 = (0.005 / 48) x 1e-6 x 1e10 / 2, about 0.52 V, and a little more as the current rises.
    count = 100_000
    result = solved(line([1e-6] * (count - 1), [0.005] * count, source_v=48.0))
    assert 0.520 < 48.0 - result.voltage_v[-1] < 0.530


def test_hopeless_and_light_segments_side_by_side_do_not_disturb_each_other() -> None:
    campus = many([one_load(24.0, 4.0, 37.0), one_load(44.0, 20.0, 12.95), one_load(1.0, 1.0, 1.0)])
    result = solve(**campus)
    assert list(result.state) == [2, 0, 2]
    assert result.voltage_v[3] == pytest.approx(37.0, abs=1e-9)


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ({"loop_ohm": np.array([-1.0])}, r"loop_ohm\[0\] is -1"),
        ({"loop_ohm": np.array([np.inf])}, r"loop_ohm\[0\] is inf"),
        ({"load_w": np.array([0.0, -5.0])}, r"load_w\[1\] is -5"),
        ({"source_v": np.array([-24.0])}, r"source_v\[0\] is -24"),
        ({"source": np.array([2])}, r"source\[0\] is 2"),
        ({"tail": np.array([9])}, r"tail\[0\] is 9"),
        ({"segment": np.array([0, 1])}, r"segment\[1\] is 1"),
        ({"load_w": np.array([0.0])}, "segment and load_w"),
    ],
)
def test_wrong_input_is_refused_by_name(values: dict[str, object], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        solve(**changed(one_load(24.0, 1.0, 5.0), **values))


def test_an_edge_between_two_segments_and_a_source_in_another_are_refused() -> None:
    campus = many([one_load(24.0, 1.0, 5.0), one_load(24.0, 1.0, 5.0)])
    with pytest.raises(ValueError, match="edge 0 joins two segments"):
        solve(**changed(campus, head=np.array([2, 3])))
    with pytest.raises(ValueError, match=r"source\[0\] is vertex 3"):
        solve(**changed(campus, source=np.array([3, 2])))


def test_closed_form_works_on_arrays_and_knows_no_number_past_the_edge() -> None:
    volts = load_voltage([44.0, 24.0, 24.0], [20.0, 4.0, 4.0], [12.95, 36.0, 36.1])
    assert volts[:2] == pytest.approx([37.0, 12.0])
    assert np.isnan(volts[2])


@pytest.mark.parametrize("values", [(-1.0, 1.0, 1.0), (1.0, np.nan, 1.0), (1.0, 1.0, np.inf)])
def test_closed_form_refuses_negative_and_unknown_input(values: tuple[float, float, float]) -> None:
    with pytest.raises(ValueError, match="must be 0 or more, and finite"):
        load_voltage(*values)


def test_closed_form_and_solve_agree_on_single_loads() -> None:
    rng = np.random.default_rng(5)
    source_v, ohm = rng.uniform(10, 50, 200), rng.uniform(0.1, 20, 200)
    watt = rng.uniform(0.0, 0.9999, 200) * source_v**2 / (4 * ohm)
    campus = many([one_load(*row) for row in zip(source_v, ohm, watt, strict=True)])
    assert solved(campus).voltage_v[1::2] == pytest.approx(load_voltage(source_v, ohm, watt), abs=1e-8)


def test_headroom_at_the_limit_and_either_side_of_it() -> None:
    # 37 V is where class 3 of IEEE 802.3 stands: at 37 V it may not grow, at 36 V 36 x 8 / (20 x 12.95) = 1.112.
    assert growth_of_one(44.0, 20.0, 12.95, [37.0, 36.0, 38.0]) == pytest.approx([1.0, 288 / 259, 228 / 259])


def test_headroom_never_goes_below_half_the_source() -> None:
    # A load that works from 1 V still finds no more than Vs^2 / 4R = 24.2 W.
    assert growth_of_one(44.0, 20.0, 12.1, 1.0) == pytest.approx(2.0)


def test_headroom_says_what_has_no_bound_and_what_has_none_left() -> None:
    assert growth_of_one([24.0, 24.0, 10.0], [1.0, 0.0, 1.0], [0.0, 5.0, 5.0], [20.0, 20.0, 20.0]).tolist() == [
        np.inf,
        np.inf,
        0.0,
    ]


def test_headroom_of_many_segments_at_once() -> None:
    campus = many(
        [
            one_load(44.0, 10.0, 12.95),
            one_load(44.0, 20.0, 0.0),
            changed(one_load(44.0, 20.0, 12.95), loop_ohm=np.array([np.nan])),
            one_load(24.0, 4.0, 72.0),
            one_load(30.0, 4.0, 1.0),
        ]
    )
    lowest = np.tile([np.nan, 37.0], 5)
    lowest[7] = 1.0
    assert headroom(**campus, lowest_v=lowest) == pytest.approx([2.0, np.inf, np.nan, 0.5, 0.0], nan_ok=True, abs=1e-9)


def test_headroom_refuses_a_negative_lowest_supply() -> None:
    with pytest.raises(ValueError, match="lowest_v"):
        headroom(**one_load(24.0, 1.0, 5.0), lowest_v=np.array([np.nan, -1.0]))


def test_sweep_and_nodal_analysis_agree_where_both_can_do_it() -> None:
    # A run doubled by one of a million ohm is a loop, and all but the tree it was.
    tree = random_wiring(11, vertices=30)
    meshed = changed(
        tree,
        tail=np.append(tree["tail"], tree["tail"][0]),
        head=np.append(tree["head"], tree["head"][0]),
        loop_ohm=np.append(tree["loop_ohm"], 1e12),
    )
    assert solved(meshed).voltage_v == pytest.approx(solved(tree).voltage_v, abs=1e-9)


@pytest.mark.parametrize("extra_edges", [0, 1])
def test_trees_and_rings_stand_as_nodal_analysis_says_up_to_the_edge_and_past_it(extra_edges: int) -> None:
    stood = set()
    for seed in range(60):
        wiring = random_wiring(seed, vertices=2 + seed % 19, extra_edges=extra_edges)
        for load in (1.0, 5.0, 8.0, 12.0, 20.0, 60.0):
            grown = changed(wiring, load_w=wiring["load_w"] * load)
            result = solve(**grown)
            volts, amps, stands = solve_nodes(**{name: np.asarray(value) for name, value in grown.items()})
            assert (result.state[0] == PowerState.SOLVED) == stands[0], (seed, load)
            stood.add(bool(stands[0]))
            if stands[0]:
                assert result.voltage_v == pytest.approx(volts, abs=1e-6), (seed, load)
                assert result.current_a == pytest.approx(amps, abs=1e-5), (seed, load)
    assert stood == {True, False}


def test_a_ring_of_no_resistance_shares_its_current_as_if_all_its_runs_had_the_same() -> None:
    # 44 V and nothing lost: 22 W opposite the source draw half an ampere, a quarter each way.
    ring = Wiring(
        segment=np.zeros(4, dtype=np.int32),
        tail=np.array([0, 1, 2, 3], dtype=np.int32),
        head=np.array([1, 2, 3, 0], dtype=np.int32),
        loop_ohm=np.zeros(4),
        source=np.array([0], dtype=np.int32),
        source_v=np.array([44.0]),
        load_w=np.array([0.0, 0.0, 22.0, 0.0]),
    )
    assert solved(ring).current_a == pytest.approx([0.25, 0.25, -0.25, -0.25], abs=1e-12)
