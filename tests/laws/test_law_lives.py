"""Laws of lives, risk and spares that hold on any input."""

from datetime import date
from random import Random

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from numpy.typing import NDArray

from inventory.core.lives import FailureLog, lives_of
from inventory.core.recurrence import TroubleSpot, mean_cumulative_count, trouble_spots
from inventory.core.risk import shortage_share
from inventory.core.spares import NEVER, Pool, run_pools
from inventory.core.survival import survival_curve
from inventory.core.weibull import NoShape, Weibull, WeibullFit, fit_weibull
from tests.laws.settings import LAW

Spells = tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.bool_]]
AGES = st.floats(0.5, 40.0).map(lambda age: round(age, 2))


@st.composite
def spells(draw: st.DrawFn, least: int = 6) -> Spells:
    rows = draw(st.lists(st.tuples(AGES, st.floats(0.0, 0.8), st.booleans()), min_size=least, max_size=40))
    end = np.array([row[0] for row in rows])
    failed = np.array([row[2] for row in rows])
    failed[:3] = True
    return end * np.array([row[1] for row in rows]), end, failed


def fitted(begin: NDArray[np.float64], end: NDArray[np.float64], failed: NDArray[np.bool_]) -> WeibullFit:
    try:
        return fit_weibull(begin, end, failed)
    except NoShape:
        assume(False)
        raise


@LAW
@given(st.floats(1.0, 8.0), st.floats(1.0, 60.0), st.lists(st.floats(0.0, 80.0), min_size=2, max_size=10))
def test_more_age_is_never_less_risk_where_the_shape_is_above_one(
    shape: float, scale: float, ages: list[float]
) -> None:
    chance = Weibull(shape=shape, scale_years=scale).chance_within(sorted(ages), 1.0)
    assert (np.diff(chance) >= -1e-12).all()


@LAW
@given(spells(), st.sampled_from([0.25, 2.0, 12.0, 365.2425]))
def test_counting_time_in_another_unit_scales_the_scale_and_nothing_else(rows: Spells, times: float) -> None:
    begin, end, failed = rows
    plain, scaled = fitted(*rows), fitted(begin * times, end * times, failed)
    assert scaled.curve.shape == pytest.approx(plain.curve.shape, rel=1e-6)
    assert scaled.curve.scale_years == pytest.approx(plain.curve.scale_years * times, rel=1e-5)
    lift = np.log(times) * plain.failures
    assert scaled.log_likelihood == pytest.approx(plain.log_likelihood - lift, rel=1e-9, abs=1e-6)


@LAW
@given(spells(), st.randoms(use_true_random=False))
def test_the_order_of_units_changes_nothing(rows: Spells, shuffler: Random) -> None:
    order = list(range(rows[0].size))
    shuffler.shuffle(order)
    mixed = rows[0][order], rows[1][order], rows[2][order]
    assert fitted(*mixed).curve.shape == pytest.approx(fitted(*rows).curve.shape, rel=1e-7)
    curve, other = survival_curve(*rows), survival_curve(*mixed)
    assert np.array_equal(curve.survival, other.survival)


@LAW
@given(spells(), st.data())
def test_one_more_unit_seen_alive_never_raises_the_estimated_loss(rows: Spells, data: st.DataObject) -> None:
    begin, end, failed = rows
    age = data.draw(AGES)
    more = np.append(begin, 0.0), np.append(end, age), np.append(failed, False)
    before, after = survival_curve(*rows), survival_curve(*more)
    assert np.array_equal(before.age_years, after.age_years)
    assert (after.survival >= before.survival - 1e-12).all()


@LAW
@given(spells())
def test_the_fit_expects_as_many_failures_as_there_were(rows: Spells) -> None:
    # With the shape fixed the scale is (sum of end^shape - begin^shape over failures)^(1 / shape).
    begin, end, failed = rows
    fit = fitted(*rows)
    shape = fit.curve.shape
    total = (end**shape - begin**shape).sum()
    assert fit.curve.scale_years == pytest.approx((total / failed.sum()) ** (1 / shape), rel=1e-6)
    assert fit.curve.cumulative_hazard(end).sum() - fit.curve.cumulative_hazard(begin).sum() == pytest.approx(
        failed.sum()
    )


@LAW
@given(spells())
def test_no_other_shape_and_scale_are_likelier(rows: Spells) -> None:
    begin, end, failed = rows
    fit = fitted(*rows)
    assert _log_likelihood(rows, fit.curve) == pytest.approx(fit.log_likelihood, abs=1e-6)
    for shape_times in (0.97, 1.0, 1.03):
        for scale_times in (0.97, 1.0, 1.03):
            near = Weibull(shape=fit.curve.shape * shape_times, scale_years=fit.curve.scale_years * scale_times)
            assert _log_likelihood((begin, end, failed), near) <= fit.log_likelihood + 1e-6


def _log_likelihood(rows: Spells, curve: Weibull) -> float:
    begin, end, failed = rows
    dense = np.log(curve.shape / curve.scale_years) + (curve.shape - 1) * np.log(end[failed] / curve.scale_years)
    return float(dense.sum() - (curve.cumulative_hazard(end) - curve.cumulative_hazard(begin)).sum())


def test_intervals_hold_the_truth_in_about_nineteen_samples_of_twenty() -> None:
    # 200 samples with late entry and censoring: 95 % give or take three standard errors of sqrt(0.95 x 0.05 / 200).
    scale_held = shape_held = 0
    for seed in range(200):
        rng = np.random.default_rng(seed)
        life, begin = 20 * rng.weibull(2.5, 600), rng.uniform(0, 15, 600)
        seen = life > begin
        fit = fit_weibull(begin[seen], np.minimum(life, begin + 8)[seen], (life < begin + 8)[seen])
        (low, high), (flat, steep) = fit.scale_interval_years(), fit.shape_interval()
        scale_held += low < 20 < high
        shape_held += flat < 2.5 < steep
    assert scale_held / 200 == pytest.approx(0.95, abs=0.046)
    assert shape_held / 200 == pytest.approx(0.95, abs=0.046)


@LAW
@given(spells())
def test_with_no_repeats_the_mean_count_is_the_cumulative_hazard_of_the_curve(rows: Spells) -> None:
    begin, end, failed = rows
    seen, curve = mean_cumulative_count(begin, end, failed, np.arange(end.size)), survival_curve(*rows)
    assert seen.count == pytest.approx(np.cumsum(curve.failures / curve.at_risk))
    assert (seen.low <= seen.count).all()
    assert (seen.count <= seen.high).all()


@LAW
@given(st.floats(0.01, 60.0), st.integers(0, 40))
def test_a_spare_more_never_lets_more_failures_meet_an_empty_shelf(mean: float, on_hand: int) -> None:
    share = shortage_share(np.array([mean, mean]), np.array([on_hand, on_hand + 1]))
    assert 0 <= share[1] <= share[0] <= 1


@LAW
@given(st.lists(st.tuples(st.integers(0, 8), st.floats(0.1, 6.0)), min_size=1, max_size=12))
def test_looking_at_more_places_never_makes_one_stand_out_more(places: list[tuple[int, float]]) -> None:
    failures, expected = np.array([one[0] for one in places]), np.array([one[1] for one in places])
    more = trouble_spots(np.append(failures, 0), np.append(expected, 1.0))
    for spot, same in zip(sorted_by_place(trouble_spots(failures, expected)), sorted_by_place(more), strict=True):
        assert spot.chance == same.chance
        assert spot.chance_of_any <= same.chance_of_any + 1e-12
        assert spot.chance <= spot.chance_of_any


def sorted_by_place(spots: tuple[TroubleSpot, ...]) -> list[TroubleSpot]:
    return sorted(spots, key=lambda spot: spot.place)


@st.composite
def logs(draw: st.DrawFn) -> tuple[NDArray[np.datetime64], FailureLog]:
    count = draw(st.integers(1, 6))
    installed = np.array(draw(st.lists(st.integers(0, 5000), min_size=count, max_size=count)), "datetime64[D]")
    rows = draw(
        st.lists(
            st.tuples(st.integers(0, count - 1), st.integers(5001, 9000), st.sampled_from([-1, 0, 1])),
            unique_by=lambda row: row[:2],
            max_size=12,
        )
    )
    node, day, outcome = (np.array([row[at] for row in rows], dtype=np.int32) for at in range(3))
    return installed, FailureLog(
        node=node, day=day.astype("datetime64[D]"), outcome=outcome.astype(np.int8), starts=date(1975, 1, 1)
    )


@LAW
@given(logs())
def test_spells_of_one_node_are_all_the_time_under_watch_and_all_its_failures(
    case: tuple[NDArray[np.datetime64], FailureLog],
) -> None:
    installed, log = case
    as_of = date(1996, 1, 1)
    lives = lives_of([f"S{i}" for i in range(installed.size)], installed, log, as_of)
    assert lives.failed.sum() == len(log)
    watched = np.datetime64(as_of) - np.maximum(installed, np.datetime64(log.starts))
    total = (lives.exit_years - lives.entry_years).sum() * 365.2425
    assert total == pytest.approx(watched.astype(int).sum(), abs=1e-6)
    assert (lives.exit_years > lives.entry_years).all()


@LAW
@given(logs(), st.randoms(use_true_random=False))
def test_the_order_of_the_log_changes_nothing(
    case: tuple[NDArray[np.datetime64], FailureLog], shuffler: Random
) -> None:
    installed, log = case
    order = list(range(len(log)))
    shuffler.shuffle(order)
    names = [f"S{i}" for i in range(installed.size)]
    one, other = (
        lives_of(names, installed, rows, date(1996, 1, 1)) for rows in (log, log.take(np.array(order, dtype=np.int32)))
    )
    assert np.array_equal(one.exit_years, other.exit_years)
    assert np.array_equal(one.age_years, other.age_years)


def pool(**changes: object) -> Pool:
    facts: dict[str, object] = {
        "model": "WS-1",
        "on_hand": 4,
        "curve": Weibull(shape=3.0, scale_years=25.0),
        "age_years": np.linspace(8.0, 22.0, 60),
        "leaves_month": np.array([NEVER] * 30 + [12] * 15 + [30] * 15),
    }
    return Pool(**{**facts, **changes})  # type: ignore[arg-type]


def test_simulated_and_closed_odds_agree_where_nothing_but_failures_is_left_to_chance() -> None:
    # 20,000 courses: three standard errors are at most 3 sqrt(0.25 / 20000) = 0.011.
    course = run_pools([pool()], 48, courses=20_000)[0]
    assert course.short_odds == pytest.approx(course.short_odds_poisson, abs=0.011)


@LAW
@given(st.integers(0, 12), st.floats(0.0, 1.0), st.integers(1, 24))
def test_a_spare_more_or_a_unit_scrapped_less_never_raises_the_odds(on_hand: int, scrapped: float, months: int) -> None:
    plain = run_pools([pool(on_hand=on_hand, scrapped_share=scrapped)], months, courses=200)[0]
    more = run_pools([pool(on_hand=on_hand + 1, scrapped_share=scrapped)], months, courses=200)[0]
    whole = run_pools([pool(on_hand=on_hand, scrapped_share=0.0)], months, courses=200)[0]
    assert (more.run_out_odds <= plain.run_out_odds).all()
    assert (whole.run_out_odds <= plain.run_out_odds).all()
    assert (np.diff(plain.run_out_odds) >= 0).all()


@LAW
@given(st.integers(0, 12), st.integers(1, 48), st.sampled_from([None, 5.0, 40.0]))
def test_buying_what_is_asked_makes_the_odds_bearable_and_one_less_does_not(
    on_hand: int, months: int, behind: float | None
) -> None:
    course = run_pools([pool(on_hand=on_hand, behind_rate=behind)], months, courses=300)[0]
    enough = run_pools([pool(on_hand=on_hand + course.buy_least, behind_rate=behind)], months, courses=300)[0]
    assert enough.first_month is None
    assert (course.first_month is None) == (course.buy_least == 0)
    if course.buy_least:
        less = run_pools([pool(on_hand=on_hand + course.buy_least - 1, behind_rate=behind)], months, courses=300)[0]
        assert less.first_month is not None
