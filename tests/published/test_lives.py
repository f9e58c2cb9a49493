"""Lives, failures and spares against handbooks, R survival, lifelines and surpyval."""

from math import exp, log, sqrt

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.stats import poisson

from inventory.core.recurrence import mean_cumulative_count
from inventory.core.spares import least_stock
from inventory.core.survival import survival_curve
from inventory.core.weibull import fit_weibull
from tests.published.lives_data import (
    AML,
    COHORT,
    FREIREICH,
    FREIREICH_PLACEBO,
    LATE_ENTRY,
    LUNG,
    NIST,
    SYSTEMS,
    WALTONS,
    columns,
)

# age: at risk, failures, survival and its standard error as published (Le, Introductory Biostatistics, example 11.1).
FREIREICH_TABLE = {
    6: (21, 3, 0.857, 0.0764),
    7: (17, 1, 0.807, 0.0869),
    10: (15, 1, 0.753, 0.0963),
    13: (12, 1, 0.690, 0.1068),
    16: (11, 1, 0.627, 0.1141),
    22: (7, 1, 0.538, 0.1282),
    23: (6, 1, 0.448, 0.1346),
}
# R 4.3.3, survival 3.5.8, survfit(..., conf.type = 'log-log'), as kept in the reference files of surpyval 0.25:
# age, at risk, survival, standard error of -log survival, lower, upper.
AML_ROWS = (
    (9, 11, 0.909090909090909, 0.0953462589245592, 0.50808020576993, 0.986673822667823),
    (13, 10, 0.818181818181818, 0.14213381090374, 0.447428614682181, 0.951162228582492),
    (31, 5, 0.490909090909091, 0.334467766561573, 0.167330909776851, 0.753399790370811),
    (48, 2, 0.184090909090909, 0.833787754888509, 0.0117384801231896, 0.525014842726641),
)
LUNG_ROWS = (
    (5, 228, 0.995614035087719, 0.00439561501176264, 0.969277036218889, 0.999381011438739),
    (183, 156, 0.703515416845995, 0.0432301315159489, 0.639240908613965, 0.758531785481384),
    (291, 97, 0.536313581392396, 0.0644018184050587, 0.466285587127624, 0.601231063124774),
)
LATE_ENTRY_ROWS = (
    (0.73, 19, 0.947368421052632, 0.0540738070435875, 0.681186799806287, 0.992414635519268),
    (2.39, 37, 0.687989520941466, 0.116336319604387, 0.502540945047988, 0.816061856574082),
    (3.84, 29, 0.410139686663019, 0.168875680547387, 0.274699096776431, 0.54076169894099),
    (7.32, 2, 0.0393634777619956, 0.858149377079364, 0.00433576093904585, 0.146116314257468),
)
# lifelines 0.30.3, KaplanMeierFitter(entry=...): survival at an age, lower, upper.
COHORT_ROWS = (
    (1.0, 0.8908858607722248, 0.7575572056285677, 0.9530591168565621),
    (2.0, 0.6482418381432183, 0.4974550091443055, 0.7640496491063883),
    (4.5, 0.4670473053166557, 0.32313274987112944, 0.5986526348243592),
    (4.7, 0.424588459378778, 0.2739735498162116, 0.5673494249988792),
)
# R survival with id and robust errors (Lawless and Nadeau): age, count, standard error.
SYSTEM_ROWS = (
    (105.824, 0.166666666666667, 0.152145154862546),
    (915.101, 1.13333333333333, 0.309360152094131),
    (2227.08, 1.98333333333333, 0.187737503899382),
    (4704.24, 5.31666666666667, 0.681817424242003),
    (7202.724, 9.31666666666667, 0.38497835436987),
)


def test_nist_weibull_with_ten_units_removed_alive() -> None:
    # NIST/SEMATECH e-Handbook 8.4.1.3 publishes four decimals of the shape and three of the others.
    fit = fit_weibull(*columns(NIST))
    assert fit.curve.shape == pytest.approx(1.7208, abs=1e-4)
    assert fit.curve.scale_years == pytest.approx(606.528, abs=1e-3)
    assert fit.log_likelihood == pytest.approx(-75.135, abs=1e-3)
    assert 2 * 2 - 2 * fit.log_likelihood == pytest.approx(154.27, abs=0.01)
    assert fit.curve.mean_years() == pytest.approx(540.737, abs=1e-3)
    assert fit.curve.sd_years() == pytest.approx(323.806, abs=1e-3)


@pytest.mark.parametrize("age", FREIREICH_TABLE)
def test_freireich_table_with_greenwood_errors(age: int) -> None:
    curve = survival_curve(*columns(FREIREICH))
    row = int(np.flatnonzero(curve.age_years == age)[0])
    at_risk, failures, survival, se = FREIREICH_TABLE[age]
    assert (curve.at_risk[row], curve.failures[row]) == (at_risk, failures)
    assert curve.survival[row] == pytest.approx(survival, abs=5e-4)
    assert curve.se[row] == pytest.approx(se, abs=1e-4)


def test_freireich_median_is_23_weeks_and_placebo_8() -> None:
    # Le, example 11.1; the placebo median of 8 weeks is in Freireich 1963 (from memory).
    assert survival_curve(*columns(FREIREICH)).median_years() == 23
    assert survival_curve(*columns(FREIREICH_PLACEBO)).median_years() == 8


@pytest.mark.parametrize(
    ("text", "rate"),
    [(FREIREICH, 9 / 359), (FREIREICH_PLACEBO, 21 / 182), (NIST, 10 / 7771)],
    ids=["6-MP", "placebo", "NIST"],
)
def test_a_life_of_constant_risk_fails_once_in_its_total_time(text: str, rate: float) -> None:
    # With shape 1 the cumulative hazard of all spells is their total time over the scale, and the best scale is that
    # time over the failures: 359 weeks / 9, 182 weeks / 21, 7771 h / 10 (Freireich; NIST data).
    begin, end, failed = columns(text)
    assert failed.sum() / (end - begin).sum() == pytest.approx(rate, rel=1e-12)
    fit = fit_weibull(begin, end, failed)
    assert fit.log_likelihood >= failed.sum() * (log(rate) - 1)


@pytest.mark.parametrize(
    ("text", "rows"),
    [(AML, AML_ROWS), (LUNG, LUNG_ROWS), (LATE_ENTRY, LATE_ENTRY_ROWS)],
    ids=["aml", "lung", "late entry"],
)
def test_survival_and_band_of_r(text: str, rows: tuple[tuple[float, ...], ...]) -> None:
    curve = survival_curve(*columns(text))
    for age, at_risk, survival, error, low, high in rows:
        row = int(np.flatnonzero(curve.age_years == age)[0])
        found = (
            curve.at_risk[row],
            curve.survival[row],
            curve.se[row] / curve.survival[row],
            curve.low[row],
            curve.high[row],
        )
        assert found == pytest.approx((at_risk, survival, error, low, high), rel=1e-12)


def test_median_of_r_with_late_entry() -> None:
    assert survival_curve(*columns(LATE_ENTRY)).median_years() == 3.4
    assert survival_curve(*columns(LUNG)).median_years() == 310


def test_survival_of_lifelines_with_late_entry() -> None:
    curve = survival_curve(*columns(COHORT))
    for age, survival, low, high in COHORT_ROWS:
        row = int(np.searchsorted(curve.age_years, age, side="right")) - 1
        assert (curve.survival[row], curve.low[row], curve.high[row]) == pytest.approx((survival, low, high), rel=1e-9)


def test_weibull_of_r_with_its_covariance() -> None:
    # survreg(Surv(time, status) ~ 1, dist = 'weibull') on lung: coef = log scale, scale = 1 / shape, var of coef and log scale.
    fit = fit_weibull(*columns(LUNG))
    assert log(fit.curve.scale_years) == pytest.approx(6.03490391022577, rel=1e-9)
    assert 1 / fit.curve.shape == pytest.approx(0.759393601123977, rel=1e-9)
    assert fit.log_likelihood == pytest.approx(-1153.85118808941, rel=1e-12)
    found = (fit.var_log_scale, fit.var_log_shape, -fit.cov_log)
    assert found == pytest.approx((0.00349705591203905, 0.00389754315058992, -8.90336453772827e-05), rel=1e-6)


# lifelines 0.30.3, WeibullFitter: rho_, lambda_, log-likelihood, standard errors of rho_ and lambda_, their covariance.
# Its search stops when the slope is small, hence the tolerance.
LIFELINES = {
    "late entry": (
        COHORT,
        1.0792393598904328,
        5.457628015650856,
        -73.33479195594605,
        0.194303009,
        1.010495581,
        -0.0528421577,
    ),
    "waltons": (
        WALTONS,
        3.4505054112456808,
        55.733096995296066,
        -672.0621872716684,
        0.243323222,
        1.3265043,
        0.0718628387,
    ),
}


@pytest.mark.parametrize("case", LIFELINES)
def test_weibull_of_lifelines(case: str) -> None:
    text, shape, scale, log_likelihood, se_shape, se_scale, covariance = LIFELINES[case]
    fit = fit_weibull(*columns(text))
    assert (fit.curve.shape, fit.curve.scale_years) == pytest.approx((shape, scale), rel=2e-5)
    assert fit.log_likelihood == pytest.approx(log_likelihood, rel=1e-9)
    assert sqrt(fit.var_log_shape) * fit.curve.shape == pytest.approx(se_shape, rel=1e-4)
    assert sqrt(fit.var_log_scale) * fit.curve.scale_years == pytest.approx(se_scale, rel=1e-4)
    assert fit.cov_log * fit.curve.shape * fit.curve.scale_years == pytest.approx(covariance, rel=1e-3)


def test_intervals_are_those_of_r_on_the_log_scale() -> None:
    # By hand from R's figures for lung: exp(6.034904 +- 1.959964 sqrt(0.003497056)), and 1/0.7593936 likewise.
    fit = fit_weibull(*columns(LUNG))
    z = 1.959963984540054
    scale = tuple(exp(6.03490391022577 + sign * z * sqrt(0.00349705591203905)) for sign in (-1, 1))
    shape = tuple(exp(sign * z * sqrt(0.00389754315058992)) / 0.759393601123977 for sign in (-1, 1))
    assert fit.scale_interval_years() == pytest.approx(scale, rel=1e-8)
    assert fit.shape_interval() == pytest.approx(shape, rel=1e-8)


def spells_of(ends: tuple[str, ...]) -> tuple[list[float], list[float], list[bool], list[int]]:
    """Return the spells of repairable units: each begins where the one before ended."""
    begin, end, failed, unit = [], [], [], []
    for at, text in enumerate(ends):
        _, ages, events = columns(text)
        begin += [0.0, *ages[:-1]]
        end += list(ages)
        failed += list(events)
        unit += [at] * ages.size
    return begin, end, failed, unit


def test_mean_count_and_robust_error_of_r_on_six_repairable_systems() -> None:
    seen = mean_cumulative_count(*spells_of(SYSTEMS))
    for age, count, se in SYSTEM_ROWS:
        row = int(np.flatnonzero(seen.age_years == age)[0])
        assert (seen.count[row], seen.se[row]) == pytest.approx((count, se), rel=1e-12)


def test_repaired_units_give_the_power_law_of_the_handbook() -> None:
    # NIST/SEMATECH e-Handbook, reliability growth example (from memory): failures at these hours of a 1500 h test; the
    # improvement slope by the unbiased estimate is 0.5165 and the mean time between failures at the end 310 h. The plain
    # maximum-likelihood shape is n / sum log(T / t), the unbiased one (n - 1) / n of it (MIL-HDBK-189).
    hours = "5 40 43 175 389 712 747 795 1299 1478 1500+"
    begin, end, failed, _ = spells_of((hours,))
    fit = fit_weibull(begin, end, failed)
    slope = 1 - fit.curve.shape * 9 / 10
    assert slope == pytest.approx(0.5165, abs=5e-5)
    assert 1500 / (10 * (1 - slope)) == pytest.approx(310, abs=0.5)
    assert fit.curve.cumulative_hazard(1500.0) == pytest.approx(10, rel=1e-9)


@pytest.mark.parametrize(
    ("mean", "confidence", "published"),
    [
        pytest.param(30 * 0.0001 * 2160, 0.95, 11, id="30 parts of 10 000 h, 90 days: common worked example"),
        pytest.param(4.32, 0.95, 8, id="20 parts, 0.1 per 1000 h, 3 months: Blanchard, from memory"),
        pytest.param(0.972, 0.95, 3, id="45 drives of 100 kh, 90 days"),
        pytest.param(0.486, 0.95, 2, id="45 drives of 200 kh, 90 days"),
        pytest.param(1.0, 0.95, 3, id="Poisson tables, mean 1"),
        pytest.param(2.0, 0.95, 5, id="Poisson tables, mean 2"),
        pytest.param(5.0, 0.95, 9, id="Poisson tables, mean 5"),
        pytest.param(0.0, 0.95, 0, id="nothing fails"),
    ],
)
def test_least_stock_of_worked_examples(mean: float, confidence: float, published: int) -> None:
    assert least_stock(mean, confidence) == published
    assert poisson.cdf(published, mean) >= confidence
    assert published == 0 or poisson.cdf(published - 1, mean) < confidence


def test_the_third_drive_case_needs_one_spare_though_its_normal_approximation_says_two() -> None:
    assert least_stock(0.324, 0.95) == 1


def test_surpyval_agrees_on_a_sample_with_late_entry() -> None:
    surpyval = pytest.importorskip("surpyval", reason="surpyval is not installed: its live comparison is not made")
    rng = np.random.default_rng(7)
    life = 20 * rng.weibull(2.5, 4000)
    begin = rng.uniform(0, 15, 4000)
    seen = life > begin
    end, failed = np.minimum(life, begin + 8)[seen], (life < begin + 8)[seen]
    other = surpyval.Weibull.fit(x=end, c=(~failed).astype(int), tl=begin[seen])
    fit = fit_weibull(begin[seen], end, failed)
    assert (fit.curve.scale_years, fit.curve.shape) == pytest.approx((other.alpha, other.beta), rel=1e-4)


def lifelines_sets() -> dict[str, tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.bool_]]]:
    """Return data sets that lifelines carries, as begin, end and whether the end was a failure."""
    sets = pytest.importorskip("lifelines.datasets", reason="lifelines is not installed: no live comparison is made")
    waltons, lung, leukemia, rossi = sets.load_waltons(), sets.load_lung(), sets.load_leukemia(), sets.load_rossi()
    cohort = sets.load_multicenter_aids_cohort_study()
    return {
        "waltons": (np.zeros(len(waltons)), waltons["T"].to_numpy(float), waltons["E"].to_numpy() == 1),
        "lung": (np.zeros(len(lung)), lung["time"].to_numpy(float), lung["status"].to_numpy() == 1),
        "leukemia": (np.zeros(len(leukemia)), leukemia["t"].to_numpy(float), leukemia["status"].to_numpy() == 1),
        "recidivism": (np.zeros(len(rossi)), rossi["week"].to_numpy(float), rossi["arrest"].to_numpy() == 1),
        "late entry": (cohort["W"].to_numpy(float), cohort["T"].to_numpy(float), cohort["D"].to_numpy() == 1),
    }


SETS = ("waltons", "lung", "leukemia", "recidivism", "late entry")


@pytest.mark.parametrize("name", SETS)
def test_lifelines_run_here_gives_the_same_curve_and_band_on_its_own_data(name: str) -> None:
    lifelines = pytest.importorskip("lifelines", reason="lifelines is not installed: no live comparison is made")
    begin, end, failed = lifelines_sets()[name]
    assert failed.sum() > 20
    other = lifelines.KaplanMeierFitter().fit(end, failed, entry=begin if begin.any() else None)
    low, high = (other.confidence_interval_[f"KM_estimate_{side}_0.95"] for side in ("lower", "upper"))
    curve = survival_curve(begin, end, failed)
    for row, age in enumerate(curve.age_years[:-1]):
        found = (curve.survival[row], curve.low[row], curve.high[row])
        assert found == pytest.approx((other.predict(age), low[age], high[age]), rel=1e-9), age


@pytest.mark.parametrize("name", SETS)
def test_lifelines_run_here_gives_the_same_weibull_on_its_own_data(name: str) -> None:
    lifelines = pytest.importorskip("lifelines", reason="lifelines is not installed: no live comparison is made")
    begin, end, failed = lifelines_sets()[name]
    other = lifelines.WeibullFitter().fit(end, failed, entry=begin if begin.any() else None)
    fit = fit_weibull(begin, end, failed)
    assert (fit.curve.shape, fit.curve.scale_years) == pytest.approx((other.rho_, other.lambda_), rel=1e-4)
    assert fit.log_likelihood == pytest.approx(other.log_likelihood_, rel=1e-8)
    errors = other.summary["se(coef)"]
    assert sqrt(fit.var_log_shape) * fit.curve.shape == pytest.approx(errors["rho_"], rel=1e-3)
    assert sqrt(fit.var_log_scale) * fit.curve.scale_years == pytest.approx(errors["lambda_"], rel=1e-3)
