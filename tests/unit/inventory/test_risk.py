"""What models borrow, what is ranked first, and what becomes of a spare pool."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import nbinom, poisson

from inventory.core.lives import Lives
from inventory.core.model_lives import (
    BORROWED_WEIGHT,
    LEAST_FAILURES,
    Basis,
    ModelLife,
    expected_by_spell,
    expected_failures,
    fit_models,
)
from inventory.core.recurrence import sum_by_place
from inventory.core.risk import (
    GONE_DAYS,
    SWAP_DAYS,
    WAIT_DAYS,
    BadRisk,
    Ranking,
    days_without_spare,
    estimate_installed,
    rank_stations,
    riskiest_rooms,
    shortage_share,
)
from inventory.core.spares import NEVER, BadPool, Pool, least_stock, monthly_failures, run_pools
from inventory.core.survival import BadLives
from inventory.core.weibull import Weibull

MODELS = (("OLD", "station"), ("RARE", "station"), ("PANEL", "panel"))


def lives_of_models(*spells: tuple[int, float, bool]) -> tuple[Lives, np.ndarray[tuple[int, ...], np.dtype[np.int32]]]:
    """Return one node for each (model, years, failed), and the models."""
    count = len(spells)
    ages = np.array([spell[1] for spell in spells])
    lives = Lives(
        node=np.arange(count, dtype=np.int32),
        entry_years=np.zeros(count),
        exit_years=ages,
        failed=np.array([spell[2] for spell in spells], dtype=np.bool_),
        age_years=ages,
        on_wall=np.ones(count, dtype=np.bool_),
    )
    return lives, np.array([spell[0] for spell in spells], dtype=np.int32)


def failing(model: int, *ages: float) -> list[tuple[int, float, bool]]:
    return [(model, age, True) for age in ages]


FIVE = (10.0, 13.0, 15.0, 18.0, 21.0)


def test_a_model_with_enough_failures_stands_on_its_own() -> None:
    own = fit_models(*lives_of_models(*failing(0, *FIVE)), MODELS)[0]
    assert len(FIVE) == LEAST_FAILURES
    assert own.basis is Basis.OWN
    assert own.says == "from its own 5 failures"
    assert own.fit is not None


def test_one_failure_less_and_it_takes_the_shape_of_its_kind_and_says_so() -> None:
    spells = [*failing(0, *FIVE, 12.0, 16.0), *failing(1, *FIVE[:-1])]
    own, rare, _ = fit_models(*lives_of_models(*spells), MODELS)
    kind = fit_models(lives_of_models(*spells)[0], np.zeros(11, dtype=np.int32), MODELS[:1])[0]
    assert own.basis is Basis.OWN
    assert rare.basis is Basis.KIND
    assert rare.curve is not None
    assert kind.curve is not None
    assert rare.curve.shape == pytest.approx(kind.curve.shape)
    assert rare.says.startswith(
        "4 failures of its own, too few to settle a shape: shape of its kind (station, 11 failures)"
    )


def test_the_rate_of_a_model_without_failures_lies_between_nought_and_its_kinds() -> None:
    # Kind: H = (t / scale)^shape. Given E failures of the kind over its own spells, its rate is 5 / (E + 5) of the kind's.
    spells = [*failing(0, *FIVE, 12.0, 16.0), (1, 14.0, False), (1, 14.0, False)]
    rare = fit_models(*lives_of_models(*spells), MODELS)[1]
    kind = fit_models(lives_of_models(*spells)[0], np.zeros(9, dtype=np.int32), MODELS[:1])[0].curve
    assert kind is not None
    assert rare.curve is not None
    expected = 2 * float(kind.cumulative_hazard(14.0))
    rate = rare.curve.cumulative_hazard(14.0) / kind.cumulative_hazard(14.0)
    assert rate == pytest.approx(BORROWED_WEIGHT / (expected + BORROWED_WEIGHT))
    assert rare.scale_interval_years is not None
    assert rare.scale_interval_years[0] < rare.curve.scale_years < rare.scale_interval_years[1]
    assert rare.behind_rate == BORROWED_WEIGHT


def test_one_unit_is_enough_to_lean_on_the_kind() -> None:
    rare = fit_models(*lives_of_models(*failing(0, *FIVE), (1, 3.0, False)), MODELS)[1]
    assert (rare.basis, rare.spells, rare.failures) == (Basis.KIND, 1, 0)


def test_a_kind_without_failures_leans_on_all_equipment() -> None:
    panel = fit_models(*lives_of_models(*failing(0, *FIVE), (2, 3.0, False)), MODELS)[2]
    assert panel.basis is Basis.ALL
    assert "all equipment (5 failures)" in panel.says


def test_failures_at_one_age_settle_no_shape_and_are_taken_as_a_constant_risk() -> None:
    # Five failures at 10 years, one unit seen to 50: 100 years in all, so once in 20 years.
    spells = [*failing(0, 10.0, 10.0, 10.0, 10.0, 10.0)]
    own = fit_models(*lives_of_models(*spells), MODELS)[0]
    assert own.basis is Basis.CONSTANT
    assert own.curve == Weibull(shape=1.0, scale_years=10.0)


def test_too_few_failures_in_all_are_taken_as_a_constant_risk() -> None:
    # One failure in 10 + 30 years under watch. Gamma quantiles with shape 1: -log(0.975), -log(0.025) failures in 40 years.
    own = fit_models(*lives_of_models((0, 10.0, True), (1, 30.0, False)), MODELS)[1]
    assert own.curve == Weibull(shape=1.0, scale_years=40.0)
    assert own.says == "only 1 failure on record in all: risk taken as the same at every age"
    assert own.scale_interval_years == pytest.approx((40 / -np.log(0.025), 40 / -np.log(0.975)))


def test_where_nothing_failed_no_risk_is_told() -> None:
    own = fit_models(*lives_of_models((0, 10.0, False)), MODELS)[0]
    assert (own.basis, own.curve, own.behind_rate) == (Basis.NOTHING, None, None)
    assert "no failure is on record" in own.says


def test_a_node_of_no_known_model_tells_only_of_all_equipment() -> None:
    found = fit_models(*lives_of_models(*failing(-1, *FIVE), (2, 3.0, False)), MODELS)
    assert [one.basis for one in found] == [Basis.ALL] * 3
    assert [one.spells for one in found] == [0, 0, 1]


def test_a_model_that_is_not_there_is_refused() -> None:
    with pytest.raises(BadLives, match="outside the 3 models"):
        fit_models(*lives_of_models((3, 10.0, True)), MODELS)


def test_expected_failures_add_up_to_those_seen_where_a_model_stands_on_its_own() -> None:
    lives, model = lives_of_models(*failing(0, *FIVE), (0, 9.0, False))
    expected = expected_by_spell(lives, model, fit_models(lives, model, MODELS))
    assert expected.sum() == pytest.approx(5)
    rooms = np.array([0, 0, 1, 1, -1, 0])
    by_room = sum_by_place(rooms, lives.node, expected, 2)
    assert by_room.sum() == pytest.approx(5 - expected[4])


def constant(model: str, scale_years: float) -> ModelLife:
    curve = Weibull(shape=1.0, scale_years=scale_years)
    return ModelLife(model=model, basis=Basis.OWN, failures=9, spells=9, says="", curve=curve)


FOUND = (constant("A", 10.0), constant("B", 20.0), replace(constant("C", 1.0), basis=Basis.NOTHING, curve=None))
AGES = np.array([5.0, 5.0, np.nan, 5.0])
MODEL = np.array([0, 1, 0, 2], dtype=np.int32)


def ranked(importance: tuple[int, ...] = (1, 5, 3, 3), **changes: object) -> Ranking:
    facts: dict[str, object] = {
        "stations": np.arange(4, dtype=np.int32),
        "age_years": AGES,
        "model": MODEL,
        "found": FOUND,
        "importance": np.array(importance, dtype=np.int32),
        "days_without": np.array([10.0, 10.0, 10.0]),
        "estimated": np.array([False, True, False, False]),
    }
    return rank_stations(**{**facts, **changes})  # type: ignore[arg-type]


def test_chance_times_importance_times_days_decides_and_the_unknown_stands_last() -> None:
    # A fails with 1 - exp(-1/10) = 0.0952 x 1 x 10; B with 1 - exp(-1/20) = 0.0488 x 5 x 10.
    ranking = ranked()
    assert list(ranking.station) == [1, 0, 2, 3]
    assert ranking.score[:2] == pytest.approx([50 * -np.expm1(-0.05), 10 * -np.expm1(-0.1)])
    assert np.isnan(ranking.score[2:]).all()
    assert list(ranking.estimated) == [True, False, False, False]


def test_an_importance_not_known_counts_as_the_middle() -> None:
    assert list(ranked((-1, 1, 1, 1)).importance) == [3, 1, 1, 1]


@pytest.mark.parametrize(
    ("importance", "years", "words"),
    [((0, 1, 1, 1), 1.0, "between 1 and 5"), ((6, 1, 1, 1), 1.0, "between"), ((1, 1, 1, 1), 0.0, "above 0")],
)
def test_a_ranking_of_what_cannot_be_is_refused(importance: tuple[int, ...], years: float, words: str) -> None:
    with pytest.raises(BadRisk, match=words):
        ranked(importance, years=years)


def test_rooms_are_ranked_by_the_sum_of_their_stations_and_say_how_many_are_not_known() -> None:
    ranking = ranked()
    rooms = riskiest_rooms(ranking, np.array([7, 4, 7, 2], dtype=np.int32))
    assert [(one.room, one.stations, one.not_known) for one in rooms] == [(4, 1, 0), (7, 2, 1)]
    assert len(riskiest_rooms(ranking, np.array([7, 4, 7, 2], dtype=np.int32), 1)) == 1
    assert riskiest_rooms(ranking, np.full(4, -1, dtype=np.int32)) == ()


def test_expected_failures_of_a_constant_risk_do_not_depend_on_age() -> None:
    found = expected_failures(np.array([0.0, 30.0, np.nan, 1.0]), MODEL, FOUND, 2.0)
    assert found[:2] == pytest.approx([0.2, 0.1])
    assert np.isnan(found[2:]).all()


def test_unknown_days_are_the_median_of_neighbours_of_the_same_model_and_building() -> None:
    days = np.array(["2001-01-01", "2009-01-01", "2004-01-01", "NaT", "NaT", "NaT", "NaT"], "datetime64[D]")
    model, building = np.array([0, 0, 0, 0, 1, 0, -1]), np.array([2, 2, 2, 2, 2, 3, 2])
    filled, estimated = estimate_installed(days, model, building)
    assert filled[3] == np.datetime64("2004-01-01")
    assert list(estimated) == [False, False, False, True, False, False, False]
    assert np.isnat(filled[4:]).all()
    assert np.isnat(days[3])


def test_an_estimated_day_is_never_after_the_first_failure() -> None:
    days = np.array(["2004-01-01", "NaT", "NaT", "2010-01-01"], "datetime64[D]")
    failed = np.array(["2003-01-01", "2003-01-01", "2009-01-01", "NaT"], "datetime64[D]")
    filled, _ = estimate_installed(days, np.array([0, 0, 0, 1]), np.zeros(4, dtype=np.int32), failed)
    assert list(filled.astype(str)) == ["2004-01-01", "2003-01-01", "2004-01-01", "2010-01-01"]


def test_shortage_by_hand() -> None:
    # Mean 1, none on hand: each failure. One on hand: (1 - 1 + exp(-1)) / 1 = exp(-1).
    share = shortage_share(np.array([1.0, 1.0, 0.0, 0.0]), np.array([0, 1, 1, 0]))
    assert share == pytest.approx([1.0, np.exp(-1), 0.0, 1.0])
    with pytest.raises(BadRisk, match="below 0"):
        shortage_share(np.array([-1.0]), np.array([0]))


def test_days_without_a_spare_lie_between_a_swap_and_the_whole_wait() -> None:
    found = days_without_spare(
        np.array([1.0, 1.0, np.nan]), np.array([0, 50, 50]), np.array([GONE_DAYS, GONE_DAYS, np.nan])
    )
    assert found == pytest.approx([GONE_DAYS, SWAP_DAYS, WAIT_DAYS])


def pool(**changes: object) -> Pool:
    facts: dict[str, object] = {
        "model": "OLD",
        "on_hand": 2,
        "curve": Weibull(shape=1.0, scale_years=10.0),
        "age_years": np.full(12, 15.0),
        "leaves_month": np.full(12, NEVER, dtype=np.int32),
    }
    return Pool(**{**facts, **changes})  # type: ignore[arg-type]


def test_twelve_units_of_ten_years_fail_once_in_ten_months() -> None:
    assert monthly_failures(pool().curve, np.full(12, 15.0), np.full(12, NEVER), 3) == pytest.approx([0.1] * 3)


def test_a_unit_counts_to_the_end_of_the_month_in_which_it_leaves() -> None:
    leaves = np.array([0] * 6 + [1] * 5 + [NEVER])
    assert monthly_failures(pool().curve, np.full(12, 15.0), leaves, 4) * 120 == pytest.approx([12, 6, 1, 1])


def test_closed_odds_are_those_of_poisson_tables() -> None:
    # Mean 0.1 a month, two on hand: after 10 months P(X > 2 | 1) = 0.0803, after 20 P(X > 2 | 2) = 0.3233.
    course = run_pools([pool()], 20)[0]
    assert course.short_odds_poisson[[9, 19]] == pytest.approx([0.0803, 0.3233], abs=5e-5)
    assert course.first_month is not None
    assert (
        7 <= course.first_month <= 9
    )  # P(X > 2 | 0.8) = 0.0474, | 0.9) = 0.0629: the ninth month, give or take chance


def test_buying_to_the_end_is_the_least_stock_of_the_whole_mean() -> None:
    course = run_pools([pool()], 60, courses=20_000)[0]
    assert course.buy_least == least_stock(6.0) - 2


def test_what_is_freed_is_on_the_shelf_from_the_next_month_on() -> None:
    leaves = np.array([3] * 4 + [NEVER] * 8)
    course = run_pools([pool(leaves_month=leaves, scrapped_share=0.25, on_hand=0)], 6)[0]
    assert list(course.freed) == [0, 0, 0, 3, 0, 0]
    assert list(course.installed) == [12, 12, 12, 12, 8, 8]
    assert course.short_odds_poisson[3] == pytest.approx(-np.expm1(-0.4))
    assert course.short_odds_poisson[4] < 0.01
    assert course.level[3] == pytest.approx(3 - 0.4, abs=0.1)


def test_freeing_earlier_helps_where_later_units_are_enough() -> None:
    late = pool(leaves_month=np.array([23] * 6 + [NEVER] * 6), on_hand=0)
    course = run_pools([late], 24)[0]
    assert course.first_month == 0
    assert course.free_least is None  # nothing can be freed before the plan begins
    some = run_pools([replace(late, on_hand=2)], 24)[0]
    assert some.first_month is not None
    assert some.free_by_month == some.first_month
    assert some.free_least is not None
    assert 1 <= some.free_least <= 6


def test_units_that_leave_in_the_month_of_running_out_can_be_freed_before_it() -> None:
    first = run_pools([pool()], 12)[0].first_month
    assert first is not None
    course = run_pools([pool(leaves_month=np.array([first] * 4 + [NEVER] * 8))], 12)[0]
    assert course.first_month == first
    assert course.free_least == 1


def test_units_that_never_leave_cannot_be_freed_earlier() -> None:
    assert run_pools([pool()], 24)[0].free_least is None


def test_bought_units_count_from_the_month_in_which_they_come() -> None:
    plain, more = run_pools([pool(), pool(bought=((12, 5),))], 24)
    assert list(more.short_odds_poisson[:12]) == list(plain.short_odds_poisson[:12])
    assert (more.short_odds_poisson[12:] < plain.short_odds_poisson[12:]).all()


def test_units_that_orders_take_are_gone_from_their_month_on() -> None:
    # One taken in the sixth month leaves one: P(X > 1 | 0.6) = 0.1219.
    course = run_pools([pool(taken=((5, 1),))], 6)[0]
    assert course.short_odds_poisson[5] == pytest.approx(0.1219, abs=5e-5)
    assert course.short_odds_poisson[4] == pytest.approx(0.0144, abs=5e-5)  # P(X > 2 | 0.5)


def test_a_rate_that_stands_on_few_failures_makes_running_out_likelier() -> None:
    sure, unsure = run_pools([pool(on_hand=5), pool(on_hand=5, behind_rate=5.0)], 24, courses=20_000)
    assert unsure.run_out_odds[-1] > sure.run_out_odds[-1]
    # Mean 2.4 at rates by gamma with shape 5 is negative binomial; three standard errors of 20,000 courses are 0.006.
    assert unsure.short_odds[-1] == pytest.approx(nbinom.sf(5, 5, 5 / (5 + 2.4)), abs=0.006)
    assert sure.short_odds[-1] == pytest.approx(poisson.sf(5, 2.4), abs=0.006)


def test_below_the_floor_is_told_apart_from_run_out() -> None:
    course = run_pools([pool(on_hand=2, floor=2)], 10)[0]
    assert course.below_floor_odds[-1] == pytest.approx(1 - np.exp(-1), abs=0.04)
    assert course.run_out_odds[-1] < course.below_floor_odds[-1]


def test_the_course_of_a_pool_depends_neither_on_the_others_nor_on_the_run() -> None:
    alone, again = run_pools([pool()], 12)[0], run_pools([pool(model="X"), pool()], 12)[1]
    assert np.array_equal(alone.level, again.level)
    assert not np.array_equal(alone.level, run_pools([pool()], 12, seed=2)[0].level)


def test_nothing_on_the_wall_never_runs_out() -> None:
    none = pool(age_years=np.empty(0), leaves_month=np.empty(0, dtype=np.int32), on_hand=0)
    course = run_pools([none], 3)[0]
    assert (course.first_month, course.buy_least) == (None, 0)


BAD: dict[str, dict[str, object]] = {
    "below 0": {"on_hand": -1},
    "needs its age": {"leaves_month": np.zeros(2, dtype=np.int32)},
    "is not known": {"age_years": np.full(12, np.nan)},
    "an age is below 0": {"age_years": np.full(12, -1.0)},
    "before the plan begins": {"leaves_month": np.full(12, -2, dtype=np.int32)},
    "between 0 and 1": {"scrapped_share": 1.01},
    "more than 0 failures": {"behind_rate": 0.0},
    "a month and a count": {"bought": ((-1, 2),)},
}


@pytest.mark.parametrize("words", BAD)
def test_a_pool_that_cannot_be_is_refused_by_name(words: str) -> None:
    with pytest.raises(BadPool, match=f"spares of OLD: .*{words}"):
        run_pools([pool(**BAD[words])], 12)


@pytest.mark.parametrize(("months", "courses", "bearable"), [(0, 1, 0.05), (1, 0, 0.05), (1, 1, 0.0), (1, 1, 1.0)])
def test_a_run_that_cannot_be_is_refused(months: int, courses: int, bearable: float) -> None:
    with pytest.raises(BadPool, match="give at least"):
        run_pools([pool()], months, courses=courses, bearable=bearable)


@pytest.mark.parametrize(
    ("mean", "confidence"), [(-1.0, 0.95), (float("nan"), 0.95), (float("inf"), 0.95), (1.0, 0.0), (1.0, 1.0)]
)
def test_a_stock_of_what_cannot_be_is_refused(mean: float, confidence: float) -> None:
    with pytest.raises(BadPool):
        least_stock(mean, confidence)
