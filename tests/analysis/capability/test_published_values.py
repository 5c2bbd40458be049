"""Indices, intervals and charts against published values; "derived": computed from the formula elsewhere."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.capability.control_charts import (
    SLACK,
    THRESHOLD,
    WEIGHT,
    WEIGHTED_LIMIT,
    individuals_chart,
    neighbour_correlation,
    subgroup_charts,
    two_of_three,
    weighted_average_limits,
)
from analysis.capability.false_alarms import individuals_run_length, sum_run_length, weighted_run_length
from analysis.capability.indices import MACHINE_CAPABILITY, capability_of, percentile_indices, share_beyond
from analysis.capability.intervals import (
    cp_interval,
    cpk_interval,
    index_needed,
    one_limit_bound,
    values_needed,
)
from analysis.capability.spread import variance_components, within_groups
from analysis.capability.stability import is_stable
from analysis.capability.study import make_study
from analysis.capability.tool_performance import compare_readings, tool_performance
from tests.helpers.judged_sample import judged_sample

RUNS = (25, 50, 100, 125)


def test_indices() -> None:
    """NIST e-Handbook 6.1.6: limits 8 and 20, mean 16, s 2."""
    assert capability_of(16.0, 2.0, 8.0, 20.0) == (pytest.approx(1.0), pytest.approx(0.6667, abs=5e-5))
    assert MACHINE_CAPABILITY == 1.67


@pytest.mark.parametrize(("n", "low", "high"), [(50, 1.340, 1.999), (100, 1.438, 1.902)])
def test_interval_of_cp(n: int, low: float, high: float) -> None:
    """Cp 1.67, 95 %: derived from the chi-square formula of the NIST e-Handbook."""
    assert cp_interval(1.67, n - 1) == (pytest.approx(low, abs=5e-4), pytest.approx(high, abs=5e-4))


@pytest.mark.parametrize(
    ("n", "exact", "bissell"),
    list(zip(RUNS, (1.253, 1.379, 1.466, 1.487), (1.259, 1.382, 1.467, 1.489), strict=True)),
)
def test_bounds_of_cpk(n: int, exact: float, bissell: float) -> None:
    """Cpk 1.67, one-sided 95 %: derived. "1.67 over 50" shows only 1.38."""
    assert one_limit_bound(1.67, n) == pytest.approx(exact, abs=5e-4)
    assert cpk_interval(1.67, n, n - 1, 0.90)[0] == pytest.approx(bissell, abs=5e-4)


def test_limits_of_a_chart_do_not_hold_where_neighbours_are_correlated() -> None:
    """Alarms come as often as chance has it only where each value stands for itself."""
    chart = individuals_chart(np.random.default_rng(2).normal(65.0, 1.0, 60))
    assert not chart.alarms.any()
    assert is_stable(chart, 0.1)
    assert not is_stable(chart, 0.6)


@pytest.mark.parametrize(
    ("wanted", "needed"), [(1.67, (2.214, 2.018, 1.901, 1.873)), (4.0 / 3.0, (1.775, 1.616, 1.521, 1.499))]
)
def test_what_must_be_observed_to_show_an_index(wanted: float, needed: tuple[float, ...]) -> None:
    """Derived from the noncentral t; the table's 1.33 is 4/3."""
    for n, index in zip(RUNS, needed, strict=True):
        assert index_needed(wanted, n) == pytest.approx(index, abs=5e-4)
        assert one_limit_bound(index_needed(wanted, n), n) == pytest.approx(wanted, rel=1e-6)


def test_bound_goes_on_smoothly_where_the_noncentral_t_is_left() -> None:
    assert one_limit_bound(1.67, 1001) == pytest.approx(one_limit_bound(1.67, 1000), rel=1e-3)
    assert index_needed(1.67, 5000) < index_needed(1.67, 1000)


def test_values_that_would_show_an_index() -> None:
    n = values_needed(1.67, 2.018)
    assert n == 50
    assert values_needed(1.67, 1.6) is None


def test_percentiles_of_a_skewed_population() -> None:
    """Lognormal, s 0.3, median 40, limits 15 and 110: derived."""
    found = 40.0 * np.exp(0.3 * np.array([-2.99998, 0.0, 2.99998]))
    assert (found[0], found[2]) == (pytest.approx(16.263, abs=1e-3), pytest.approx(98.383, abs=5e-3))
    assert percentile_indices(tuple(found), 15.0, 110.0) == (
        pytest.approx(1.157, abs=5e-4),
        pytest.approx(1.053, abs=5e-4),
    )
    mean, deviation = 40.0 * np.exp(0.045), 40.0 * np.exp(0.045) * np.sqrt(np.exp(0.09) - 1.0)
    assert capability_of(mean, deviation, 15.0, 110.0)[1] == pytest.approx(0.697, abs=5e-4)


def test_share_beyond_one_limit() -> None:
    """Derived: 1.33 stands for 4/3 (31.7 per million), 1.67 for 5.01 standard deviations (0.272)."""
    assert 1e6 * share_beyond(4.0 / 3.0) == pytest.approx(31.67, abs=0.02)
    assert 1e6 * share_beyond(1.67) == pytest.approx(0.272, abs=5e-4)


def test_variance_components() -> None:
    """Rows 64 65 66, 65 66 67, 67 68 69: derived."""
    rows, codes = np.array([64.0, 65, 66, 65, 66, 67, 67, 68, 69]), np.repeat([0, 1, 2], 3)
    found = variance_components(rows, codes)
    assert found is not None
    assert (found.mean_square_within, found.mean_square_between) == (1.0, pytest.approx(7.0))
    assert (found.between, found.total) == (pytest.approx(2.0), pytest.approx(3.0))
    within = within_groups(rows, codes)
    assert within is not None
    assert within.degrees == 6


def test_tool_over_a_hard_and_a_soft_joint() -> None:
    """Means 50.2 and 48.9, s 0.6 and 0.8: derived from the formulae in the manner of ISO 5393 (recalled)."""
    tool = tool_performance((50.2, 48.9), (0.6, 0.8))
    assert tool.mean_shift_nm == pytest.approx(1.3)
    assert (tool.highest_nm, tool.lowest_nm) == (pytest.approx(52.0), pytest.approx(46.5))
    assert tool.combined_scatter_percent == pytest.approx(11.17, abs=0.005)


@pytest.mark.parametrize(("n", "factor"), [(30, 3.064), (50, 2.862)])
def test_one_sided_tolerance_factors_are_needed_indices(n: int, factor: float) -> None:
    """99/95, derived: the factor is three times the index that shows a share of 99 % within one limit."""
    assert 3.0 * index_needed(2.326348 / 3.0, n) == pytest.approx(factor, abs=5e-4)


def test_chart_constants_of_five() -> None:
    """A3 1.427, B4 2.089 (NIST e-Handbook and textbooks); B3 is zero."""
    averages, deviations = subgroup_charts(np.array([0.0, 1.0, 0.5]), np.ones(3), 5)
    assert averages.limits.high - 0.5 == pytest.approx(1.427, abs=5e-4)
    assert (deviations.limits.high, deviations.limits.low) == (pytest.approx(2.089, abs=5e-4), 0.0)
    settled = weighted_average_limits(0.0, 1.0, WEIGHT)
    assert settled.high == pytest.approx(1.0, abs=1e-9)


def test_false_alarms() -> None:
    """Champ & Woodall 1987: 225.44; Crowder 1987: 560; CUSUM k 0.5, h 5: 465 (all recalled; here derived)."""
    assert individuals_run_length() == pytest.approx(225.44, abs=0.05)
    assert weighted_run_length(WEIGHT, WEIGHTED_LIMIT) == pytest.approx(560.0, abs=1.0)
    assert sum_run_length(SLACK, THRESHOLD) == pytest.approx(465.0, abs=1.0)


def test_false_alarms_by_simulation() -> None:
    """First alarm of both rules of the chart for individuals, over many runs of standard values."""
    rng = np.random.default_rng(7)
    lengths = []
    for _ in range(1500):
        z = rng.normal(size=2500)
        alarms = np.flatnonzero((np.abs(z) > 3.0) | two_of_three(z))
        lengths.append(alarms[0] + 1 if len(alarms) else len(z))
    assert np.mean(lengths) == pytest.approx(individuals_run_length(), rel=0.08)


def test_two_of_three_needs_one_side() -> None:
    assert np.flatnonzero(two_of_three(np.array([2.5, 0.0, 2.5, 0.0, 0.0, -2.5]))).tolist() == [2]
    assert not two_of_three(np.array([2.5, -2.5, 0.0])).any()


def test_correlated_neighbours() -> None:
    values = np.repeat([0.0, 1.0], 20)
    assert neighbour_correlation(values) > 0.9
    assert abs(neighbour_correlation(np.random.default_rng(1).normal(size=4000))) < 0.05


def test_reading_against_reference_carries_the_chains_uncertainty() -> None:
    rng = np.random.default_rng(3)
    tool = rng.normal(50.0, 0.5, 50)
    others = {"reference": tool + 0.4 + rng.normal(0, 0.05, 50), "none": np.full(50, np.nan)}
    first, reference = compare_readings(tool, others, 0.95)
    assert first.name == "tool"
    assert first.difference_nm is None
    assert reference.difference_low_nm is not None
    assert reference.difference_high_nm is not None
    assert reference.difference_low_nm < 0.4 < reference.difference_high_nm
    wide = compare_readings(tool, others, 0.95, 0.2)[1]
    assert wide.difference_high_nm is not None
    assert wide.difference_low_nm is not None
    assert wide.difference_high_nm - wide.difference_low_nm == pytest.approx(2 * 1.96 * 0.2, rel=0.01)


def test_the_drive_units_torque_in_the_sample() -> None:
    """All 256 against the 237 judged ok (derived apart from the program): rejects left out flatter."""
    analysis = judged_sample()
    study = make_study(analysis.results(), analysis.traces.attributes, analysis.joints)
    torque = study.joints["drive-unit"].quantities["final_torque_nm"]
    assert torque.sound is not None
    n, _, sound = torque.sound
    for index, expected in ((torque.cpk, (1.89, 1.72, 2.06)), (sound, (2.45, 2.22, 2.67))):
        assert index is not None
        assert (index.value, index.low, index.high) == pytest.approx(expected, abs=0.006)
    assert (torque.limits, torque.n, n) == ((61.0, 69.0), 256, 237)
