"""Published values of the NIST/SEMATECH e-Handbook of Statistical Methods and others, with their source."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from analysis.capability.control_charts import (
    individuals_limits,
    weighted_average,
    weighted_average_limits,
)
from analysis.capability.indices import capability_of
from analysis.shift.outlier_tests import critical_value, generalised_esd
from analysis.shift.robust import chi_square_quantile, modified_z_scores
from analysis.shift.tolerance import (
    distribution_free_confidence,
    expected_outside_normal,
    propose_limits,
    smallest_distribution_free,
    tolerance_factor,
)

# NIST e-Handbook 1.3.5.17.1: mass spectrometer, uranium isotope.
URANIUM = np.array([199.31, 199.53, 200.19, 200.82, 201.92, 201.95, 202.18, 245.57])
# NIST e-Handbook 1.3.5.17.3: B. Rosner (1983), 54 values.
ROSNER = np.array(
    [-0.25, 0.68, 0.94, 1.15, 1.20, 1.26, 1.26, 1.34, 1.38, 1.43, 1.49, 1.49, 1.55, 1.56, 1.58, 1.65, 1.69,
     1.70, 1.76, 1.77, 1.81, 1.91, 1.94, 1.96, 1.99, 2.06, 2.09, 2.10, 2.14, 2.15, 2.23, 2.24, 2.26, 2.35,
     2.37, 2.40, 2.47, 2.54, 2.62, 2.64, 2.90, 2.92, 2.92, 2.93, 3.21, 3.26, 3.30, 3.59, 3.68, 4.30, 4.64,
     5.34, 5.42, 6.01]
)  # fmt: skip
# NIST e-Handbook 6.3.2.2: flowrate of ten batches.
BATCHES = np.array([49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1])


def test_capability() -> None:
    """NIST e-Handbook 6.1.6: limits 8 and 20, mean 16, s 2."""
    cp, cpk = capability_of(16.0, 2.0, 8.0, 20.0)
    assert cp == pytest.approx(1.0)
    assert cpk == pytest.approx(0.6667, abs=5e-5)


def test_individuals_chart() -> None:
    """NIST e-Handbook 6.3.2.2."""
    limits = individuals_limits(BATCHES)
    assert limits.centre == pytest.approx(50.81)
    assert np.abs(np.diff(BATCHES)).mean() == pytest.approx(1.8778, abs=5e-5)
    assert (limits.high, limits.low) == (pytest.approx(55.8041, abs=2e-3), pytest.approx(45.8159, abs=2e-3))
    assert not limits.outside(BATCHES).any()


def test_weighted_average_chart() -> None:
    """NIST e-Handbook 6.3.2.4: lambda 0.3, start 50, s 2.0539."""
    limits = weighted_average_limits(50.0, 2.0539)
    assert (limits.high, limits.low) == (pytest.approx(52.5884, abs=2e-4), pytest.approx(47.4115, abs=2e-4))
    # The same section lists 52.0 as first value and 50.60 as its average.
    assert weighted_average(np.array([52.0]), 50.0)[0] == pytest.approx(50.60)


def test_grubbs() -> None:
    """NIST e-Handbook 1.3.5.17.1: G 2.4688, critical 2.0317 one-sided; 2.1266 two-sided."""
    assert (URANIUM.max() - URANIUM.mean()) / URANIUM.std(ddof=1) == pytest.approx(2.4688, abs=5e-5)
    assert critical_value(8, 0.05 / 8) == pytest.approx(2.0317, abs=1e-3)
    assert critical_value(8, 0.05 / 16) == pytest.approx(2.1266, abs=1e-3)
    assert URANIUM[generalised_esd(URANIUM, 1)].tolist() == [245.57]


def test_rosner_finds_exactly_three() -> None:
    """NIST e-Handbook 1.3.5.17.3: three, although the first statistic is below its critical value."""
    assert ROSNER[generalised_esd(ROSNER, 10)].tolist() == [6.01, 5.42, 5.34]
    assert generalised_esd(ROSNER, 1) == []


@pytest.mark.parametrize(("share", "found"), [(0.98, 0), (1.02, 1)])
def test_an_outlier_lies_beyond_the_two_sided_critical_value(share: float, found: int) -> None:
    """Lambda by Student's t at 1 - 0.05/(2 n), n - 2 degrees: 2.709 for twenty values."""
    n = 20
    quantile = stats.t.ppf(1.0 - 0.05 / (2 * n), n - 2)
    critical = (n - 1) / np.sqrt(n) * np.sqrt(quantile**2 / (n - 2 + quantile**2))
    assert critical == pytest.approx(2.709, abs=0.001)
    values = np.append(np.linspace(-1.0, 1.0, n - 1), 0.0)
    low, high = 1.0, 100.0
    while high - low > 1e-9:
        values[-1] = (low + high) / 2.0
        statistic = (values[-1] - values.mean()) / values.std(ddof=1)
        low, high = (values[-1], high) if statistic < share * critical else (low, values[-1])
    assert len(generalised_esd(values, 1)) == found


def test_modified_z() -> None:
    """NIST e-Handbook 1.3.5.17: 0.6745 (x - median) / MAD, limit 3.5."""
    away = np.abs(URANIUM - np.median(URANIUM))
    expected = 0.6745 * (URANIUM - np.median(URANIUM)) / np.median(away)
    np.testing.assert_allclose(modified_z_scores(URANIUM), expected, rtol=1e-12)
    assert np.flatnonzero(np.abs(modified_z_scores(URANIUM)) > 3.5).tolist() == [7]


@pytest.mark.parametrize(
    ("n", "factor"), [(5, 4.291), (10, 2.856), (20, 2.319), (30, 2.145), (50, 1.999), (100, 1.875)]
)
def test_tolerance_factors(n: int, factor: float) -> None:
    """NASA-STD-5020B Table 5: two-sided 90/95."""
    assert tolerance_factor(n, 0.90, 0.95) == pytest.approx(factor, rel=1e-3)


def test_chi_square_against_scipy() -> None:
    for degrees in (2, 3, 6, 9):
        for probability in (0.5, 0.95, 0.999):
            exact = stats.chi2.ppf(probability, degrees)
            assert chi_square_quantile(probability, degrees) == pytest.approx(
                exact, rel=1e-9 if degrees == 2 else 0.02
            )


def test_distribution_free_interval_by_order_statistics() -> None:
    """Coverage of smallest to largest of n follows a beta distribution (n - 1, 2)."""
    for n in (20, 93, 500):
        exact = stats.beta.sf(0.95, n - 1, 2)
        assert distribution_free_confidence(n, 0.95) == pytest.approx(exact, rel=1e-9)
    for n, rank in ((2000, 3), (2000, 6), (700, 2)):
        exact = stats.beta.sf(0.99, n + 1 - 2 * rank, 2 * rank)
        assert distribution_free_confidence(n, 0.99, rank) == pytest.approx(exact, rel=1e-9)
    n = smallest_distribution_free(0.99, 0.95)
    assert stats.beta.sf(0.99, n - 1, 2) >= 0.95 > stats.beta.sf(0.99, n - 2, 2)


def test_proposed_limits_say_what_they_would_flag() -> None:
    rng = np.random.default_rng(4)
    good, faults = rng.normal(50.0, 1.0, 600), np.concatenate([rng.normal(58.0, 1.0, 50), [np.nan] * 10])
    normal, free = propose_limits(good, "final torque", "N·m", faults=faults)
    assert normal.low is not None
    assert normal.high is not None
    assert 46.9 < normal.low < 47.4
    assert 52.6 < normal.high < 53.1
    assert normal.false_alarms < 0.02
    assert normal.caught == pytest.approx(1.0, abs=0.02)
    assert (free.low, free.high) == (good.min(), good.max())
    assert free.false_alarms == 0.0
    few = propose_limits(good[:40], "final torque", "N·m")[1]
    assert few.low is None
    assert "473" in few.note  # fewest for 99 % coverage at 95 % confidence


def test_expected_false_alarms_by_simulation() -> None:
    """Share of a further value outside a window made of n values, over many such windows."""
    rng = np.random.default_rng(21)
    n, factor = 30, tolerance_factor(30, 0.99, 0.95)
    values = rng.normal(0.0, 1.0, (40_000, n))
    mean, s = values.mean(axis=1), values.std(axis=1, ddof=1)
    outside = 1.0 - stats.norm.cdf(mean + factor * s) + stats.norm.cdf(mean - factor * s)
    assert expected_outside_normal(n, factor) == pytest.approx(outside.mean(), rel=0.03)
    normal, free = propose_limits(rng.exponential(1.0, 500), "torque", "N·m", coverage=0.99, confidence=0.95)
    assert normal.expected_false_alarms < normal.false_alarms  # the exponential's tail is not normal
    assert free.expected_false_alarms == pytest.approx(2.0 / 501.0)
    few = propose_limits(np.ones(1), "torque", "N·m")
    assert all(np.isnan(one.expected_false_alarms) and one.low is None for one in few)


def test_distribution_free_window_of_many_values_holds_what_was_asked_and_not_much_more() -> None:
    rng = np.random.default_rng(22)
    held, expected = [], 0.0
    for _ in range(300):
        _, free = propose_limits(rng.exponential(1.0, 2000), "torque", "N·m", coverage=0.99, confidence=0.95)
        assert free.low is not None
        assert free.high is not None
        held.append(np.exp(-free.low) - np.exp(-free.high))
        expected = free.expected_false_alarms
        assert "6th smallest" in free.note
    assert 0.92 <= np.mean(np.array(held) >= 0.99) <= 0.99  # 95 % asked, 96 % given by rank 6
    assert 1.0 - np.mean(held) == pytest.approx(expected, rel=0.05)
