"""Laws of the voltage solve and of copper, on generated networks."""

from typing import cast

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from inventory.core.catalogue import Cable
from inventory.core.conductors import conductor_ohm_per_m, loop_ohm_per_m, plausible_loop_ohm_per_m
from planner.core.power import PowerState, solve
from planner.core.reach import growth_of_one, headroom
from tests.networks import Wiring, many, random_wiring

LITTLE_V = 1e-7  # both sides are solved to 1e-9; trees and their neighbours may take different ways there
THINNER = ("2.5 mm2", "1.5 mm2", "1.0 mm2", "0.8 mm2", "0.75 mm2", "0.6 mm2", "0.51 mm2", "0.5 mm2", "0.4 mm2")


@st.composite
def wirings(draw: st.DrawFn, *, most_extra_edges: int = 3) -> Wiring:
    seed = draw(st.integers(0, 10_000))
    return random_wiring(seed, vertices=draw(st.integers(2, 25)), extra_edges=draw(st.integers(0, most_extra_edges)))


def voltages(wiring: Wiring) -> np.ndarray:
    """Return voltages, with none counted as lower than any."""
    return np.nan_to_num(solve(**wiring).voltage_v, nan=-1.0)


@settings(max_examples=60, deadline=None)
@given(wirings(most_extra_edges=0), st.floats(1.0, 4.0), st.data())
def test_a_longer_or_thinner_run_of_a_tree_never_raises_a_voltage(
    wiring: Wiring, factor: float, data: st.DataObject
) -> None:
    # On a mesh one run may: current finds another way, and the vertex before that run gains by it.
    longer = wiring["loop_ohm"].copy()
    longer[data.draw(st.integers(0, longer.size - 1))] *= factor
    assert np.all(voltages(cast("Wiring", {**wiring, "loop_ohm": longer})) <= voltages(wiring) + LITTLE_V)


@settings(max_examples=60, deadline=None)
@given(wirings(), st.floats(0.0, 5.0), st.data())
def test_a_hungrier_load_never_raises_a_voltage(wiring: Wiring, more_w: float, data: st.DataObject) -> None:
    before = voltages(wiring)
    hungrier = wiring["load_w"].copy()
    hungrier[data.draw(st.integers(0, hungrier.size - 1))] += more_w
    assert np.all(voltages(cast("Wiring", {**wiring, "load_w": hungrier})) <= before + LITTLE_V)


@settings(max_examples=40, deadline=None)
@given(wirings(), st.floats(1.0, 1.5))
def test_a_hotter_cable_never_raises_a_voltage(wiring: Wiring, factor: float) -> None:
    hotter = cast("Wiring", {**wiring, "loop_ohm": wiring["loop_ohm"] * factor})
    assert np.all(voltages(hotter) <= voltages(wiring) + LITTLE_V)


@settings(max_examples=40, deadline=None)
@given(wirings(), st.floats(0.1, 10.0))
def test_only_resistance_times_power_over_voltage_squared_matters(wiring: Wiring, factor: float) -> None:
    # R up and P down by the same factor change nothing; V and P up by k and k^2 scale voltages by k.
    plain = solve(**wiring).voltage_v
    traded = {**wiring, "loop_ohm": wiring["loop_ohm"] * factor, "load_w": wiring["load_w"] / factor}
    raised = {**wiring, "source_v": wiring["source_v"] * factor, "load_w": wiring["load_w"] * factor**2}
    assert solve(**cast("Wiring", traded)).voltage_v == pytest.approx(plain, abs=LITTLE_V, nan_ok=True)
    assert solve(**cast("Wiring", raised)).voltage_v / factor == pytest.approx(plain, abs=LITTLE_V, nan_ok=True)


@settings(max_examples=40, deadline=None)
@given(wirings(), st.randoms(use_true_random=False))
def test_the_order_of_vertices_and_edges_changes_nothing(wiring: Wiring, random: "np.random.Generator") -> None:
    count, edges = wiring["segment"].size, wiring["tail"].size
    place, line = np.array(random.sample(range(count), count)), np.array(random.sample(range(edges), edges))
    shuffled = Wiring(
        segment=wiring["segment"],
        tail=place[wiring["tail"]][line].astype(np.int32),
        head=place[wiring["head"]][line].astype(np.int32),
        loop_ohm=wiring["loop_ohm"][line],
        source=place[wiring["source"]].astype(np.int32),
        source_v=wiring["source_v"],
        load_w=wiring["load_w"][np.argsort(place)],
    )
    one, other = solve(**wiring), solve(**shuffled)
    assert other.voltage_v[place] == pytest.approx(one.voltage_v, abs=1e-8, nan_ok=True)
    assert other.current_a == pytest.approx(one.current_a[line], abs=1e-8, nan_ok=True)


@settings(max_examples=30, deadline=None)
@given(st.lists(wirings(), min_size=1, max_size=5), st.integers(0, 4))
def test_a_segment_depends_on_no_other(campus: list[Wiring], which: int) -> None:
    which %= len(campus)
    start = sum(wiring["segment"].size for wiring in campus[:which])
    alone = solve(**campus[which]).voltage_v
    among = solve(**many(campus)).voltage_v[start : start + alone.size]
    assert among == pytest.approx(alone, abs=1e-9, nan_ok=True)


@settings(max_examples=60, deadline=None)
@given(wirings())
def test_what_the_source_gives_the_loads_and_the_wires_take(wiring: Wiring) -> None:
    result = solve(**wiring)
    if result.state[0] == PowerState.SOLVED:
        given_w = wiring["source_v"][0] * result.source_current_a[0]
        assert given_w == pytest.approx(wiring["load_w"].sum() + result.loss_w[0], abs=1e-6)


@settings(max_examples=60, deadline=None)
@given(wirings())
def test_currents_balance_at_every_vertex_but_the_source(wiring: Wiring) -> None:
    result = solve(**wiring)
    if result.state[0] == PowerState.SOLVED:
        count = wiring["segment"].size
        arriving = np.bincount(wiring["head"], result.current_a, count)
        leaving = np.bincount(wiring["tail"], result.current_a, count)
        drawn = wiring["load_w"] / result.voltage_v
        balance = arriving - leaving - drawn
        balance[wiring["source"][0]] += result.source_current_a[0]
        assert balance == pytest.approx(np.zeros(count), abs=1e-7)


@settings(max_examples=15, deadline=None)
@given(wirings(), st.floats(0.3, 0.95))
def test_loads_grown_by_the_headroom_stand_and_a_little_more_do_not(wiring: Wiring, share: float) -> None:
    lowest_v = np.full(wiring["segment"].size, share * wiring["source_v"][0])
    factor = headroom(**wiring, lowest_v=lowest_v)[0]
    if 0.0 < factor < np.inf:
        within, beyond = (
            solve(**cast("Wiring", {**wiring, "load_w": wiring["load_w"] * factor * k})).voltage_v
            for k in (1 - 1e-5, 1 + 1e-5)
        )
        assert np.all(within >= lowest_v - 1e-9)
        assert not np.all(beyond >= lowest_v + 1e-9)


@settings(max_examples=30, deadline=None)
@given(st.floats(1.0, 60.0), st.floats(0.01, 50.0), st.floats(0.01, 50.0), st.floats(0.0, 60.0))
def test_headroom_of_one_load_is_the_closed_form(source_v: float, ohm: float, watt: float, lowest_v: float) -> None:
    wiring = Wiring(
        segment=np.zeros(2, dtype=np.int32),
        tail=np.array([0], dtype=np.int32),
        head=np.array([1], dtype=np.int32),
        loop_ohm=np.array([ohm]),
        source=np.array([0], dtype=np.int32),
        source_v=np.array([source_v]),
        load_w=np.array([0.0, watt]),
    )
    general = headroom(**wiring, lowest_v=np.array([np.nan, lowest_v]))[0]
    assert general == pytest.approx(float(growth_of_one(source_v, ohm, watt, lowest_v)), rel=1e-6, abs=1e-6)


@given(st.sampled_from(range(len(THINNER) - 1)), st.sampled_from([None, "class 1", "class 2", "class 5"]))
def test_a_thinner_metric_conductor_never_resists_less(place: int, conductor_class: str | None) -> None:
    thick, thin = (
        conductor_ohm_per_m(Cable(key="C", power_conductor=text, conductor_class=conductor_class), 20.0)
        for text in THINNER[place : place + 2]
    )
    assert thick is not None
    assert thin is not None
    assert thin >= thick


@given(st.integers(0, 29), st.sampled_from([None, "solid", "stranded"]), st.sampled_from([None, "6"]))
def test_a_thinner_gauge_never_resists_less(gauge: int, conductor_class: str | None, category: str | None) -> None:
    thick, thin = (
        conductor_ohm_per_m(
            Cable(key="C", power_conductor=f"{size} AWG", conductor_class=conductor_class, category=category), 50.0
        )
        for size in (gauge, gauge + 1)
    )
    assert thick is not None
    assert thin is not None
    assert thin >= thick


@given(
    st.sampled_from(["18 AWG", "24 AWG", "0.75 mm2", "0.6 mm2"]),
    st.sampled_from(["solid", "stranded", "class 5"]),
    st.integers(1, 4),
    st.floats(-20.0, 90.0),
)
def test_blanking_a_cell_never_makes_a_cable_better(size: str, kind: str, pairs: int, temperature_c: float) -> None:
    known = Cable(key="C", power_conductor=size, conductor_class=kind, power_pairs=pairs)
    told = loop_ohm_per_m(known, temperature_c)
    assert told is not None
    no_class = Cable(key="C", power_conductor=size, power_pairs=pairs)
    assert (loop_ohm_per_m(no_class, temperature_c) or 0.0) >= told
    for less in (
        Cable(key="C", conductor_class=kind, power_pairs=pairs),
        Cable(key="C", power_conductor=size, conductor_class=kind),
    ):
        assert loop_ohm_per_m(less, temperature_c) is None
        low, high = plausible_loop_ohm_per_m(less, temperature_c)
        assert low < high
