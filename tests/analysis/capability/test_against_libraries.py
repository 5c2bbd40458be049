"""Every interval and test against an independent library, to rounding."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats
from statsmodels.stats.diagnostic import normal_ad
from statsmodels.stats.oneway import anova_oneway

from analysis.capability.intervals import cp_interval, index_needed, one_limit_bound
from analysis.capability.shape import anderson_darling, find_shape
from analysis.capability.shaped_indices import shaped_indices
from analysis.capability.skewed_curves import lognormal_curve, skewed_curves
from analysis.capability.spread import by_moving_range, c4, same_spread, variance_components, within_groups


@pytest.mark.parametrize("n", [2, 5, 50, 500])
def test_interval_of_cp_by_chi_square(n: int) -> None:
    low, high = (np.sqrt(stats.chi2.ppf(share, n - 1) / (n - 1)) for share in (0.025, 0.975))
    assert cp_interval(1.4, n - 1) == (pytest.approx(1.4 * low), pytest.approx(1.4 * high))


@pytest.mark.parametrize(
    ("n", "index"), [(5, 0.4), (25, 1.67), (50, 2.0), (125, 1.33), (400, 1.1), (30, -0.2)]
)
def test_bound_by_the_noncentral_t(n: int, index: float) -> None:
    scale = 3.0 * np.sqrt(n)
    bound = one_limit_bound(index, n)
    assert stats.nct.cdf(scale * index, n - 1, scale * bound) == pytest.approx(0.95, abs=1e-6)
    needed = stats.nct.ppf(0.95, n - 1, scale * 1.2) / scale
    assert index_needed(1.2, n) == pytest.approx(needed, rel=1e-6)


@pytest.mark.parametrize("kind", ["normal", "skewed", "even"])
@pytest.mark.parametrize("n", [20, 60, 300])
def test_anderson_darling_as_statsmodels_has_it(kind: str, n: int) -> None:
    rng = np.random.default_rng(n)
    values = {"normal": rng.normal(60, 2, n), "skewed": rng.gamma(4, 1, n), "even": rng.uniform(0, 1, n)}[
        kind
    ]
    statistic, probability = anderson_darling(values)
    theirs, chance = normal_ad(values)
    adjusted = theirs * (1 + 0.75 / n + 2.25 / n**2)
    assert statistic == pytest.approx(adjusted, rel=1e-9)
    assert probability == pytest.approx(chance, rel=1e-6, abs=1e-12)


def test_skew_and_kurtosis_as_scipy_has_them() -> None:
    values = np.random.default_rng(2).gamma(5, 2, 80)
    shape = find_shape(values)
    assert shape.skew == pytest.approx(stats.skew(values))
    assert shape.kurtosis == pytest.approx(stats.kurtosis(values))


def test_normal_values_are_taken_for_normal() -> None:
    """One in two hundred is not, by chance."""
    shapes = [find_shape(np.random.default_rng(k).normal(65.0, 1.0, 60)).family for k in range(40)]
    assert shapes.count("normal") >= 39


def test_components_and_f_as_statsmodels_has_them() -> None:
    rng = np.random.default_rng(4)
    codes = np.repeat([0, 1, 2, 3], [10, 12, 9, 14])
    values = rng.normal(50, 1, len(codes)) + np.array([0.0, 0.5, -0.4, 0.2])[codes]
    found = variance_components(values, codes)
    theirs = anova_oneway(values, codes, use_var="equal")
    assert found is not None
    assert (found.f, found.probability) == (pytest.approx(theirs.statistic), pytest.approx(theirs.pvalue))
    within = within_groups(values, codes)
    assert within is not None
    assert within.deviation * c4(within.degrees + 1) == pytest.approx(np.sqrt(found.mean_square_within))


def test_f_test_of_the_spreads() -> None:
    values = np.random.default_rng(5).normal(10, 1, 60)
    within = by_moving_range(values)
    assert within is not None
    chance = same_spread(1.3, 60, within)
    assert chance == pytest.approx(stats.f.sf((1.3 / within.deviation) ** 2, 59, within.degrees))


@pytest.mark.parametrize(("n", "limits"), [(50, (15.0, 110.0)), (125, (15.0, None)), (25, (None, 110.0))])
def test_intervals_of_lognormal_indices_by_plain_draws(n: int, limits: tuple[float, float]) -> None:
    """The pivotal quantities by chance instead of evenly: the same quantiles within what draws leave open."""
    rng = np.random.default_rng(6)
    values = 40.0 * np.exp(0.3 * rng.normal(size=n))
    logs = np.log(values)
    s = logs.std(ddof=1) * np.sqrt((n - 1) / rng.chisquare(n - 1, 200_000))
    low, middle, high = np.exp(logs.mean() + s * rng.normal(size=200_000) / np.sqrt(n) + 2.99998 * s * [
        [-1.0], [0.0], [1.0]])  # fmt: skip
    sides = [] if limits[0] is None else [(middle - limits[0]) / (middle - low)]
    sides += [] if limits[1] is None else [(limits[1] - middle) / (high - middle)]
    expected = np.quantile(np.min(sides, axis=0), [0.025, 0.05, 0.975])
    _, ppk, bound = shaped_indices(values, find_shape(values, "lognormal"), limits, 0.95)
    assert ppk is not None
    np.testing.assert_allclose([ppk.low, bound, ppk.high], expected, rtol=5e-3)


def test_how_much_values_say_for_each_beginning_by_plain_integration() -> None:
    """Likelihood times measure, integrated on a grid of mean and deviation of the logarithms."""
    values = 20.0 + np.exp(2.0 + 0.5 * np.random.default_rng(4).normal(size=30))
    curves = skewed_curves(values)
    found = []
    for k in (2, 8, 14, 40):
        away = curves.side[k] * (values - curves.begin[k])
        m = curves.mean[k] + np.linspace(-8, 8, 400)[:, None] * curves.deviation[k] / np.sqrt(30)
        log_s = np.log(curves.deviation[k]) + np.linspace(-1.2, 1.8, 400)
        likelihood = stats.norm.logpdf(np.log(away)[:, None, None], m, np.exp(log_s)).sum(axis=0)
        likelihood += m - np.log(away).sum() + 100.0
        step = (m[1, 0] - m[0, 0]) * (log_s[1] - log_s[0])
        belief = abs(curves.begin[k] - values.max() if curves.side[k] < 0 else values.min() - curves.begin[k])
        found.append(np.exp(likelihood).sum() * step * belief / np.exp(curves.mean[k]) ** 2)
    expected = curves.share[[2, 8, 14, 40]]
    np.testing.assert_allclose(np.array(found) / found[1], expected / expected[1], rtol=0.05)


def test_percentiles_of_a_lognormal_sample() -> None:
    values = 40.0 * np.exp(0.3 * np.random.default_rng(8).normal(size=4000))
    family = find_shape(values).family
    assert family == "lognormal"
    found = np.ravel(lognormal_curve(values).likeliest())
    fitted = stats.lognorm(*stats.lognorm.fit(values, floc=0))
    np.testing.assert_allclose(found, fitted.ppf([0.00135, 0.5, 0.99865]), rtol=2e-3)
    pp, ppk, bound = shaped_indices(values, find_shape(values), (15.0, 110.0), 0.95)
    assert pp is not None
    assert ppk is not None
    assert bound is not None
    assert (pp.value, ppk.value) == (pytest.approx(1.157, rel=0.03), pytest.approx(1.053, rel=0.03))
    assert ppk.low < bound < ppk.value < ppk.high


def test_values_that_begin_at_zero_count_for_a_curve_from_there() -> None:
    """The bound lies below that of a curve known to begin at zero, and not far: it is the likelier one."""
    ratios = []
    for seed in range(12):
        values = 40.0 * np.exp(0.3 * np.random.default_rng(seed).normal(size=60))
        found = find_shape(values)
        if found.family == "lognormal":
            bounds = [
                shaped_indices(values, shape, (None, 110.0), 0.95)[2]
                for shape in (found, find_shape(values, "lognormal"))
            ]
            ratios.append(bounds[0] / bounds[1])  # type: ignore[operator]
    assert len(ratios) >= 6
    assert max(ratios) <= 1.0
    assert np.mean(ratios) >= 0.83


def test_percentiles_of_a_shifted_curve_on_either_side() -> None:
    skewed = 100.0 + np.exp(0.5 * np.random.default_rng(9).normal(size=3000))
    for values, expected in (
        (skewed, 100.0 + np.exp(0.5 * np.array([-3.0, 0.0, 3.0]))),
        (200.0 - skewed, 100.0 - np.exp(0.5 * np.array([3.0, 0.0, -3.0]))),
    ):
        assert find_shape(values).family == "shifted lognormal"
        found = np.ravel(skewed_curves(values).likeliest())
        np.testing.assert_allclose(found, expected, atol=0.35)
