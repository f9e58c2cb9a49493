"""The log of failures made into lives, survival and Weibull fits: by hand, at the edges, and refused."""

from datetime import date

import numpy as np
import pytest

from inventory.core.ageing import DAYS_PER_YEAR
from inventory.core.lives import (
    TAKES_A_SPARE,
    BadLog,
    FailedAfterRemoved,
    FailedBeforeInstalled,
    FailedInFuture,
    FailureLog,
    Lives,
    Outcome,
    TwoFailuresInADay,
    lives_of,
    log_problems,
    sound_log,
)
from inventory.core.recurrence import mean_cumulative_count, trouble_spots
from inventory.core.survival import BadLives, NoLives, survival_curve, well_watched_from
from inventory.core.weibull import NoFailures, NoShape, Weibull, fit_weibull

AS_OF = date(2027, 1, 1)
NAMES = ["S1", "S2", "S3"]
INSTALLED = np.array(["2010-01-01", "2012-01-01", "NaT"], "datetime64[D]")


def log_of(*rows: tuple[int, str, Outcome], starts: date | None = date(2000, 1, 1)) -> FailureLog:
    return FailureLog(
        node=np.array([row[0] for row in rows], dtype=np.int32),
        day=np.array([row[1] for row in rows], dtype="datetime64[D]"),
        outcome=np.array([row[2] for row in rows], dtype=np.int8),
        starts=starts,
    )


def lives_with(*rows: tuple[int, str, Outcome], starts: date | None = date(2000, 1, 1)) -> Lives:
    return lives_of(NAMES, INSTALLED, log_of(*rows, starts=starts), AS_OF)


def days(first: str, last: str) -> int:
    return int((np.datetime64(last) - np.datetime64(first)).astype(int))


def spans(lives: Lives, node: int) -> list[tuple[float, float, bool]]:
    """Return the spells of a node in days."""
    rows = lives.node == node
    begin, end = lives.entry_years[rows] * DAYS_PER_YEAR, lives.exit_years[rows] * DAYS_PER_YEAR
    return [(round(a, 3), round(b, 3), bool(f)) for a, b, f in zip(begin, end, lives.failed[rows], strict=True)]


def test_without_a_failure_each_node_of_known_age_is_one_spell_seen_alive() -> None:
    lives = lives_with()
    assert spans(lives, 0) == [(0, days("2010-01-01", "2027-01-01"), False)]
    assert spans(lives, 2) == []
    assert np.isnan(lives.age_years[2])
    assert lives.on_wall.all()


def test_a_station_older_than_the_log_comes_under_watch_at_the_age_it_had() -> None:
    lives = lives_with(starts=date(2020, 1, 1))
    assert spans(lives, 0) == [(days("2010-01-01", "2020-01-01"), days("2010-01-01", "2027-01-01"), False)]


def test_a_log_with_no_first_day_begins_with_its_earliest_row() -> None:
    lives = lives_with((0, "2020-01-01", Outcome.REPAIRED), starts=None)
    age = days("2010-01-01", "2020-01-01")
    assert spans(lives, 0)[0] == (age, age + 0.5, True)


def test_after_a_replacement_the_clock_starts_at_nought() -> None:
    lives = lives_with((0, "2020-01-01", Outcome.REPLACED))
    age, since = days("2010-01-01", "2020-01-01") + 0.5, days("2020-01-01", "2027-01-01") - 0.5
    assert spans(lives, 0) == [(0, age, True), (0, since, False)]
    assert lives.age_years[0] == pytest.approx(since / DAYS_PER_YEAR)


@pytest.mark.parametrize("outcome", [Outcome.REPAIRED, Outcome.NOT_KNOWN])
def test_after_a_repair_or_an_outcome_not_recorded_the_same_unit_goes_on(outcome: Outcome) -> None:
    lives = lives_with((0, "2020-01-01", outcome))
    age, all_days = days("2010-01-01", "2020-01-01") + 0.5, days("2010-01-01", "2027-01-01")
    assert spans(lives, 0) == [(0, age, True), (age, all_days, False)]
    assert lives.age_years[0] == pytest.approx(all_days / DAYS_PER_YEAR)


def test_after_a_removal_nothing_hangs_there() -> None:
    lives = lives_with((0, "2020-01-01", Outcome.REMOVED))
    assert spans(lives, 0) == [(0, days("2010-01-01", "2020-01-01") + 0.5, True)]
    assert np.isnan(lives.age_years[0])
    assert not lives.on_wall[0]


def test_a_repair_takes_no_spare_and_ends_no_spell_where_spares_are_counted() -> None:
    log = log_of((0, "2015-01-01", Outcome.REPAIRED), (0, "2020-01-01", Outcome.REPLACED))
    lives = lives_of(NAMES, INSTALLED, log, AS_OF, counting=TAKES_A_SPARE)
    assert [span[2] for span in spans(lives, 0)] == [True, False]
    assert spans(lives, 0)[0][:2] == (0, days("2010-01-01", "2020-01-01") + 0.5)


def test_a_node_of_unknown_age_is_under_watch_from_its_first_replacement() -> None:
    lives = lives_with((2, "2020-01-01", Outcome.REPLACED), (2, "2022-01-01", Outcome.REPAIRED))
    first = days("2020-01-01", "2022-01-01")
    assert spans(lives, 2) == [(0, first, True), (first, days("2020-01-01", "2027-01-01") - 0.5, False)]


def test_failures_before_the_log_is_complete_count_for_nothing_but_the_clock() -> None:
    lives = lives_with((0, "2015-01-01", Outcome.REPLACED), starts=date(2020, 1, 1))
    entry, end = days("2015-01-01", "2020-01-01") - 0.5, days("2015-01-01", "2027-01-01") - 0.5
    assert spans(lives, 0) == [(entry, end, False)]


def test_a_node_installed_on_the_last_day_is_there_but_not_yet_under_watch() -> None:
    installed = np.array(["2027-01-01", "2027-02-01"], "datetime64[D]")
    lives = lives_of(NAMES[:2], installed, log_of(), AS_OF)
    assert len(lives) == 0
    assert list(lives.age_years) == [0, 0]
    assert lives.on_wall.all()


def test_a_failure_on_the_day_of_installation_is_half_a_day_of_life() -> None:
    assert spans(lives_with((0, "2010-01-01", Outcome.REPAIRED)), 0)[0] == (0, 0.5, True)


WRONG = {
    "the day before it was installed": (((0, "2009-12-31", Outcome.REPAIRED),), FailedBeforeInstalled, "2009-12-31"),
    "two on one day": (
        ((1, "2020-05-05", Outcome.REPAIRED), (1, "2020-05-05", Outcome.REPLACED)),
        TwoFailuresInADay,
        "2020-05-05",
    ),
    "after it was removed": (
        ((1, "2020-05-05", Outcome.REMOVED), (1, "2021-06-06", Outcome.REPAIRED)),
        FailedAfterRemoved,
        "2021-06-06",
    ),
    "tomorrow": (((1, "2027-01-02", Outcome.REPAIRED),), FailedInFuture, "2027-01-02"),
}


@pytest.mark.parametrize("case", WRONG)
def test_a_log_that_cannot_be_is_refused_by_node_and_day(case: str) -> None:
    rows, kind, day = WRONG[case]
    with pytest.raises(kind, match=f"{NAMES[rows[0][0]]} .*{day}"):
        lives_with(*rows)
    assert issubclass(kind, BadLog)


@pytest.mark.parametrize("case", WRONG)
def test_without_the_rows_that_cannot_be_the_rest_is_taken(case: str) -> None:
    log = log_of((0, "2018-01-01", Outcome.REPAIRED), *WRONG[case][0])
    problems = log_problems(NAMES, INSTALLED, log, AS_OF)
    assert [problem.kind for problem in problems] == [WRONG[case][1]]
    assert len(lives_of(NAMES, INSTALLED, sound_log(log, problems), AS_OF).failed) >= 3


def test_of_two_failures_on_a_day_the_weightier_outcome_stands() -> None:
    log = log_of((0, "2020-01-01", Outcome.REPAIRED), (0, "2020-01-01", Outcome.REPLACED))
    sound = sound_log(log, log_problems(NAMES, INSTALLED, log, AS_OF))
    assert list(sound.outcome) == [Outcome.REPLACED]


def test_a_log_with_nothing_wrong_has_no_problems() -> None:
    log = log_of((0, "2010-01-01", Outcome.REMOVED), (1, "2027-01-01", Outcome.REPAIRED))
    assert log_problems(NAMES, INSTALLED, log, AS_OF) == ()


def test_all_problems_are_told_and_not_only_the_first() -> None:
    log = log_of(*(row for rows, _, _ in WRONG.values() for row in rows))
    kinds = {problem.kind for problem in log_problems(NAMES, INSTALLED, log, AS_OF)}
    assert kinds == {FailedBeforeInstalled, TwoFailuresInADay, FailedAfterRemoved, FailedInFuture}


def test_survival_with_late_entry_by_hand() -> None:
    # At 3: A (0-3), B (0-6) at risk, C comes at 4: 2 at risk, S = 1/2. At 5: B and C: S = 1/4. At 6: B alone: 0.
    curve = survival_curve([0, 0, 4], [3, 6, 5], [True, True, True])
    assert list(curve.at_risk) == [2, 2, 1]
    assert list(curve.survival) == [0.5, 0.25, 0.0]
    assert curve.emptied_at_years is None
    assert curve.from_years == 0


def test_a_curve_that_empties_before_others_come_under_watch_says_so() -> None:
    assert survival_curve([0, 5], [3, 9], [True, True]).emptied_at_years == 3


def test_a_curve_is_well_watched_from_the_age_at_which_a_tenth_is_under_watch() -> None:
    # One unit from 0, ten more from 8; at 8 the first is still there: 11 at most, and a tenth of them is 1.1.
    begin, end = np.array([0.0] + [8.0] * 10), np.full(11, 12.0)
    assert well_watched_from(begin, end) == 8
    assert well_watched_from(begin[1:], end[1:]) == 8
    assert well_watched_from(np.array([0.0] * 3 + [8.0] * 10), np.full(13, 12.0)) == 0
    # The early one is gone when the others come: ten at most, and a tenth of them is the one.
    assert well_watched_from(begin, np.array([7.0] + [12.0] * 10)) == 0


def test_where_nothing_failed_there_is_no_step() -> None:
    curve = survival_curve([0, 0], [3, 4], [False, False])
    assert curve.age_years.size == 0
    assert curve.median_years() is None


def test_the_median_is_the_age_at_which_just_half_are_left() -> None:
    assert survival_curve([0, 0], [3, 4], [True, False]).median_years() == 3
    assert survival_curve([0] * 3, [3, 4, 4], [True, False, False]).median_years() is None


def test_where_all_failed_the_curve_ends_at_nought_with_no_band_there() -> None:
    curve = survival_curve([0, 0], [3, 4], [True, True])
    assert curve.survival[-1] == 0
    assert np.isnan(curve.low[-1])
    assert curve.se[-1] == 0


def test_all_units_failed_is_an_ordinary_fit() -> None:
    fit = fit_weibull([0] * 4, [10, 12, 15, 19], [True] * 4)
    assert fit.failures == fit.spells == 4
    assert fit.shape_interval()[0] < fit.curve.shape < fit.shape_interval()[1]


def test_none_failed_is_said_in_words() -> None:
    with pytest.raises(NoFailures, match="model WS-1: none of 3 has failed"):
        fit_weibull([0] * 3, [1, 2, 3], [False] * 3, of="model WS-1")


@pytest.mark.parametrize(
    ("end", "failed"),
    [([7.0], [True]), ([7.0, 7.0, 7.0], [True] * 3), ([7.0, 3.0], [True, False])],
    ids=["one", "tied", "last"],
)
def test_too_little_to_settle_a_shape_is_said_in_words(end: list[float], failed: list[bool]) -> None:
    with pytest.raises(NoShape, match="model WS-1"):
        fit_weibull([0.0] * len(end), end, failed, of="model WS-1")


@pytest.mark.parametrize("begin", [-1.0, 5.0, 6.0, float("nan")], ids=["negative", "equal", "later", "not known"])
def test_a_spell_that_cannot_be_is_refused_by_row(begin: float) -> None:
    with pytest.raises(BadLives, match="stock: row 1"):
        fit_weibull([0.0, begin], [3.0, 5.0], [True, True], of="stock")
    with pytest.raises(BadLives, match="stock: row 1"):
        survival_curve([0.0, begin], [3.0, 5.0], [True, True], of="stock")


def test_no_units_at_all_is_said_in_words() -> None:
    with pytest.raises(NoLives, match="stock: no unit is under watch"):
        survival_curve([], [], [], of="stock")
    with pytest.raises(BadLives, match="of one length"):
        survival_curve([0.0], [1.0, 2.0], [True, True])


def test_the_band_of_a_fit_lies_about_its_curve_and_is_nought_wide_at_age_nought() -> None:
    fit = fit_weibull([0] * 4, [10, 12, 15, 19], [True] * 4)
    low, high = fit.survival_band([0.0, 5.0, 12.0, 30.0])
    curve = fit.curve.survival([0.0, 5.0, 12.0, 30.0])
    assert (low[0], curve[0], high[0]) == (1, 1, 1)
    assert (low[1:] < curve[1:]).all()
    assert (curve[1:] < high[1:]).all()


def test_the_band_at_the_scale_is_as_wide_as_the_scale_is_unsure() -> None:
    # At age = scale, log H = 0 and its variance is shape^2 var(log scale): S = exp(-exp(+-1.96 shape sd)).
    fit = fit_weibull([0] * 4, [10, 12, 15, 19], [True] * 4)
    width = 1.959963984540054 * fit.curve.shape * fit.var_log_scale**0.5
    low, high = fit.survival_band(fit.curve.scale_years)
    assert (float(low), float(high)) == pytest.approx((np.exp(-np.exp(width)), np.exp(-np.exp(-width))))


@pytest.mark.parametrize("age", [2.0, 9.0, 30.0])
def test_the_band_uses_the_whole_covariance(age: float) -> None:
    # Delta method on log H = shape (log age - log scale), the slopes in log shape and log scale taken by small steps.
    fit = fit_weibull([0, 2, 1, 0, 0], [10, 12, 15, 19, 8], [True] * 4 + [False])
    shape, scale, step = fit.curve.shape, fit.curve.scale_years, 1e-5

    def log_hazard(up: float, out: float) -> float:
        return float(np.log(Weibull(shape=shape * np.exp(up), scale_years=scale * np.exp(out)).cumulative_hazard(age)))

    slopes = np.array([log_hazard(step, 0) - log_hazard(-step, 0), log_hazard(0, step) - log_hazard(0, -step)]) / (
        2 * step
    )
    spread = np.array([[fit.var_log_shape, fit.cov_log], [fit.cov_log, fit.var_log_scale]])
    width = 1.959963984540054 * np.sqrt(slopes @ spread @ slopes)
    assert float(fit.survival_band(age)[0]) == pytest.approx(np.exp(-np.exp(log_hazard(0, 0) + width)), rel=1e-6)


def test_an_exponential_life_forgets_its_age() -> None:
    curve = Weibull(shape=1.0, scale_years=8.0)
    assert curve.mean_years() == pytest.approx(8.0)
    assert curve.sd_years() == pytest.approx(8.0)
    assert curve.chance_within([0, 5, 50], 1.0) == pytest.approx([1 - np.exp(-1 / 8)] * 3)


def test_mean_count_of_two_repairable_units_by_hand() -> None:
    # A fails at 2 and 4 and is seen to 5; B is seen to 3, and fails at 1. At 1, 2: two at risk; at 4: one.
    seen = mean_cumulative_count([0, 2, 4, 0, 1], [2, 4, 5, 1, 3], [True, True, False, True, False], [0, 0, 0, 1, 1])
    assert list(seen.age_years) == [1, 2, 4]
    assert list(seen.count) == [0.5, 1.0, 2.0]
    # Robust: at 1, A adds -1/4 and B 1/2 - 1/4; sum of squares 1/8. At 2: A -1/4 + 1/4 = 0, B 1/4 - 1/4 = 0. At 4 A alone: 1 - 1.
    assert seen.se == pytest.approx([(1 / 8) ** 0.5, 0, 0], abs=1e-12)


def test_the_mean_count_can_be_told_at_ages_of_ones_own() -> None:
    seen = mean_cumulative_count([0, 0], [2, 4], [True, False], [0, 1], at_years=[1.0, 2.0, 3.0])
    assert list(seen.count) == [0.0, 0.5, 0.5]
    assert list(seen.low[:1]) == [0.0]


def test_a_mean_count_without_failures_is_nought() -> None:
    assert mean_cumulative_count([0], [2], [False], [0], at_years=[1.0]).count[0] == 0
    with pytest.raises(BadLives, match="must name its unit"):
        mean_cumulative_count([0], [2], [False], [-1])


def test_nine_failures_where_one_is_expected_stand_out_among_a_hundred_rooms() -> None:
    # Poisson tables: P(X >= 9 | 1) = 1.125e-6; times 100 rooms 1.1e-4. P(X >= 5 | 1) = 0.00366; times 99 0.36.
    failures = np.array([9, 5] + [1] * 98)
    spots = trouble_spots(failures, np.ones(100))
    assert [spot.stands_out for spot in spots[:3]] == [True, False, False]
    assert spots[0].chance == pytest.approx(1.125e-6, rel=1e-3)
    assert spots[0].chance_of_any == pytest.approx(1.125e-4, rel=1e-3)
    assert spots[1].chance_of_any == pytest.approx(0.00366 * 99, rel=1e-3)


def test_a_place_stands_out_at_the_level_and_not_just_past_it() -> None:
    chance = trouble_spots(np.array([3]), np.array([1.0]))[0].chance_of_any
    assert trouble_spots(np.array([3]), np.array([1.0]), level=chance)[0].stands_out
    assert not trouble_spots(np.array([3]), np.array([1.0]), level=chance * 0.999)[0].stands_out


def test_a_place_whose_equipment_has_no_known_life_is_not_judged() -> None:
    assert [spot.place for spot in trouble_spots(np.array([9, 2]), np.array([np.nan, 1.0]))] == [1]


@pytest.mark.parametrize(("failures", "expected", "words"), [(1, 0.0, "nothing under watch"), (-1, 1.0, "below 0")])
def test_counts_that_cannot_be_are_refused(failures: int, expected: float, words: str) -> None:
    with pytest.raises(BadLives, match=words):
        trouble_spots(np.array([failures]), np.array([expected]))
