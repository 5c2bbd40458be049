"""Statistics of the report against published values and other libraries."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from statsmodels.stats.proportion import proportion_confint

from analysis.report.statistics import histogram_edges, usual_range
from analysis.spread import spread_of, wilson_interval

#: NIST/SEMATECH e-Handbook of Statistical Methods, Grubbs' test example (mass spectrometer counts).
GRUBBS = [199.31, 199.53, 200.19, 200.82, 201.92, 201.95, 202.18, 245.57]


@given(st.integers(1, 5000).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n))))
def test_wilson_agrees_with_statsmodels(count_and_n: tuple[int, int]) -> None:
    count, n = count_and_n
    low, high = wilson_interval(count, n)
    expected_low, expected_high = proportion_confint(count, n, alpha=0.05, method="wilson")
    assert low == pytest.approx(expected_low, abs=1e-12)
    assert high == pytest.approx(expected_high, abs=1e-12)
    assert 0.0 <= low <= count / n <= high <= 1.0


def test_wilson_knows_nothing_of_nothing_and_refuses_nonsense() -> None:
    assert wilson_interval(0, 0) == (0.0, 1.0)
    with pytest.raises(ValueError):
        wilson_interval(4, 3)


def test_spread_gives_grubbs_statistic_of_the_handbook() -> None:
    # NIST: G = 2.4687 two-sided, from mean and sample standard deviation; the report's figures must give it.
    spread = spread_of(GRUBBS)
    assert spread.mean is not None
    assert spread.standard_deviation is not None
    assert spread.highest is not None
    assert (spread.highest - spread.mean) / spread.standard_deviation == pytest.approx(2.4687, abs=1e-3)


def test_absent_values_are_not_counted_and_too_few_give_no_spread() -> None:
    assert spread_of([np.nan, np.nan]).n == 0
    assert spread_of([]).median is None
    one = spread_of([3.0, np.nan])
    assert (one.n, one.median, one.standard_deviation) == (1, 3.0, None)


values = st.lists(st.floats(-1e3, 1e3), min_size=1, max_size=60)


@given(values=values, low=st.floats(-1e3, 1e3), span=st.floats(0.5, 500.0))
def test_every_value_falls_into_a_bar_and_no_bar_straddles_a_limit(
    values: list[float], low: float, span: float
) -> None:
    edges = histogram_edges(values, (low, low + span))
    assert np.histogram(values, edges)[0].sum() == len(values)
    for limit in (low, low + span):
        assert np.min(np.abs(edges - limit)) <= 1e-6 * max(1.0, abs(edges[-1] - edges[0]))


@given(values=values)
def test_the_usual_range_shows_the_median_and_the_limits(values: list[float]) -> None:
    median = float(np.median(values))
    low, high = usual_range(values, None)
    assert low <= median <= high
    assert low < high
    low, high = usual_range(values, (median - 1.0, median + 1.0))
    assert low <= median - 1.0
    assert high >= median + 1.0


def test_a_value_beyond_a_limit_is_never_shown_on_the_limit() -> None:
    bulk = np.random.default_rng(5).normal(26.0, 0.2, 300)
    low, high = usual_range([*bulk, 15.0], (24.5, 28.0))
    assert 24.0 < low < 24.4
    assert high == 28.0


def test_percentiles_are_those_that_the_report_names() -> None:
    """5 and 95 %, by linear interpolation between order statistics: of 0 to 100 they are 5 and 95."""
    spread = spread_of(np.arange(101.0))
    assert (spread.low_5, spread.median, spread.high_95) == (5.0, 50.0, 95.0)
    assert spread_of([0.0, 1.0]).high_95 == pytest.approx(0.95)
