"""Robust centre, distance, depth and score, against reference libraries and by their properties."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import spearmanr

from analysis.settings import PopulationSettings
from analysis.shift.band_depth import shape_departure
from analysis.shift.outliers import OutlierTable, find_outliers
from analysis.shift.population import ComparedTraces, Scales, usual_of
from analysis.shift.robust import (
    robust_covariance,
    robust_spread,
    side_factors,
    squared_distances,
    wide_spread,
    without_skew,
)
from analysis.spread import median_along


def scores(features: np.ndarray, **changes: object) -> OutlierTable:
    n, k = features.shape
    given: dict[str, object] = {
        "features": features,
        "uncertainty": np.zeros((n, k)),
        "rounding": np.zeros((n, k)),
        "rises": np.full((n, 10), np.nan),
        "codes": np.zeros(n, np.int64),
        "joints": ["hub"],
        "trusted": np.ones(n, np.bool_),
    }
    scales: dict[str, object] = {
        "names": tuple(f"f{i}" for i in range(k)),
        "least_spread": np.full(k, 1e-6),
        "end_state": np.arange(k) < 2,
        "scored": np.ones(k, np.bool_),
        "telling": np.zeros(k, np.bool_),
    }
    rest = {name: value for name, value in changes.items() if name not in given and name not in scales}
    traces = ComparedTraces(**{name: changes.get(name, value) for name, value in given.items()})  # type: ignore[arg-type]
    compared = Scales(**{name: changes.get(name, value) for name, value in scales.items()})  # type: ignore[arg-type]
    return find_outliers(traces, compared, PopulationSettings(), **rest)  # type: ignore[arg-type]


def test_centre_and_spread_leave_out_nan() -> None:
    values = np.array([[1.0, np.nan], [2.0, 5.0], [3.0, 7.0], [100.0, np.nan]])
    centre = median_along(values, 0)
    assert centre.tolist() == [2.5, 6.0]
    assert robust_spread(values, centre)[1] == pytest.approx(1.0 / 0.6745)
    assert np.isnan(median_along(np.full((3, 1), np.nan), 0)).all()


def test_wide_spread_is_the_normal_one_for_normal_values() -> None:
    values = np.random.default_rng(1).normal(0.0, 2.0, (20_000, 1))
    assert wide_spread(values, np.zeros(1))[0] == pytest.approx(2.0, rel=0.03)


def test_distances_agree_with_a_minimum_covariance_determinant() -> None:
    from sklearn.covariance import MinCovDet

    rng = np.random.default_rng(7)
    good = rng.multivariate_normal([0, 0, 0], [[1, 0.7, 0], [0.7, 1, 0.2], [0, 0.2, 0.5]], 400)
    values = np.vstack([good, rng.normal(6.0, 0.5, (60, 3))])
    ours = squared_distances(values, *robust_covariance(values))
    theirs = MinCovDet(random_state=0).fit(values).mahalanobis(values)
    assert spearmanr(ours, theirs).statistic > 0.97
    assert ours[400:].min() > 3.0 * np.quantile(ours[:400], 0.99)


def test_odd_curve_inside_the_pointwise_band_is_found_by_shape() -> None:
    rng = np.random.default_rng(5)
    x = np.linspace(0.0, 1.0, 200)
    good = rng.normal(0.0, 1.0, (150, 1)) + x
    odd = x + 1.2 * np.sin(6.0 * np.pi * x)
    assert (odd < good.max(axis=0)).all()
    assert (odd > good.min(axis=0)).all()
    departure = shape_departure(np.vstack([good, odd]), good)
    assert departure[-1] > 20.0 * departure[:-1].max()
    table = scores(np.random.default_rng(6).normal(size=(151, 2)), rises=np.vstack([good, odd]))
    assert int(np.nanargmax(table.shape_part)) == 150
    assert table.flagged[150]


def test_departure_is_twice_the_variance_of_the_rank_share() -> None:
    """Across a hundred level curves from lowest to highest: an even spread of ranks, 2/12; level: 0."""
    references = np.tile(np.arange(100.0)[:, None], (1, 200))
    curves = np.array([np.linspace(-0.5, 99.5, 200), np.full(200, 33.3)])
    assert shape_departure(curves, references) == pytest.approx([2.0 / 12.0, 0.0], abs=0.002)


def test_few_good_ones_are_called_outliers_and_odd_ones_are() -> None:
    features = np.random.default_rng(9).normal(size=(4000, 6))
    features[:5, 3] += 8.0
    table = scores(features)
    assert table.flagged[:5].all()
    # outlier_share allows 0.6 %; the end state and the single features share it.
    assert table.flagged[5:].mean() < 0.009
    assert (table.score[table.flagged] > 1.0).all()


@pytest.mark.parametrize("n", [20, 40, 80, 256])
def test_no_more_false_alarms_among_few_than_among_many(n: int) -> None:
    """At most outlier_share, 0.6 %, of normal traces; 0.2 % more for the chance of 10 000 traces."""
    joints = 10_000 // n
    features = np.random.default_rng(n + 1).normal(size=(joints * n, 6))
    names = [f"j{i}" for i in range(joints)]
    table = scores(features, codes=np.repeat(np.arange(joints), n), joints=names)
    assert 0.001 < table.flagged.mean() < 0.008
    most = f"at most about {0.006 * n:.2g}" if 0.006 * n >= 1.0 else "fewer than 1"
    assert f"{most} of {n} sound traces" in table.populations["j0"].chance


def test_what_is_far_off_is_found_among_few() -> None:
    features = np.random.default_rng(4).normal(size=(20, 6))
    features[0, 3], features[1, 0] = 9.0, 12.0
    assert scores(features).flagged.tolist() == [True, True] + 18 * [False]
    assert scores(features[:19]).populations["hub"].chance == ""


def test_a_skewed_side_is_measured_by_its_own_length() -> None:
    rng = np.random.default_rng(10)
    values = np.column_stack([rng.exponential(1.0, 4000), rng.normal(size=4000)])
    centre = median_along(values, 0)
    spread = wide_spread(values, centre)
    sides = side_factors(values, centre, spread)
    assert sides[1, 0] == pytest.approx(1.5, abs=0.1)
    assert sides[0, 0] == 1.0
    assert sides[:, 1] == pytest.approx(1.0, abs=0.06)
    plain = np.abs(values - centre) / spread
    even = np.abs(without_skew(values, centre, sides) - centre) / spread
    assert np.mean(even[:, 0] > 3.5) < 0.4 * np.mean(plain[:, 0] > 3.5)


def test_odd_ones_that_lie_all_on_one_side_do_not_pass_for_skew() -> None:
    features = np.random.default_rng(11).normal(size=(400, 4))
    features[:60, 2] -= 7.5
    table = scores(features)
    assert table.flagged[:60].mean() > 0.95
    assert table.flagged[60:].mean() < 0.01


def test_uncertainty_widens_the_spread_of_its_own_trace_but_hides_no_fault() -> None:
    """A trace twice as uncertain as its population scatters is measured by one and a half times the
    spread."""
    values = np.random.default_rng(2).normal(size=(200, 3))
    values[:2] = 8.0
    uncertainty = np.zeros((200, 3))
    uncertainty[1] = 2.0
    z = scores(values, uncertainty=uncertainty).z
    np.testing.assert_allclose(z[0] / z[1], 1.5)
    uncertainty[1] = 0.5
    spread = usual_of(values, "these").spread
    np.testing.assert_allclose(
        z[0] / scores(values, uncertainty=uncertainty).z[1], np.sqrt(1 + (0.5 / spread) ** 2)
    )


def test_order_of_traces_is_irrelevant() -> None:
    features = np.random.default_rng(2).normal(size=(60, 4))
    order = np.random.default_rng(3).permutation(60)
    np.testing.assert_allclose(scores(features).score[order], scores(features[order]).score)


def test_too_few_are_said_to_be_too_few() -> None:
    table = scores(np.random.default_rng(1).normal(size=(19, 3)))
    assert np.isnan(table.score).all()
    assert not table.flagged.any()
    assert "too few" in table.populations["hub"].note
    assert np.isfinite(scores(np.random.default_rng(1).normal(size=(20, 3))).score).all()


def test_traces_that_break_limits_do_not_say_what_is_usual() -> None:
    rng = np.random.default_rng(8)
    features = np.vstack([rng.normal(10.0, 1.0, (70, 3)), rng.normal(0.0, 1.0, (30, 3))])
    trusted = np.arange(100) >= 70
    table = scores(features, trusted=trusted)
    assert table.flagged[:70].all()
    assert not table.flagged[70:].any()
    assert table.populations["hub"].n_used == 30
    assert "several groups" in table.populations["hub"].note


def test_pinned_reference_goes_first() -> None:
    rng = np.random.default_rng(8)
    usual = usual_of(rng.normal(0.0, 1.0, (50, 3)), "the reference 'May'")
    table = scores(rng.normal(10.0, 1.0, (60, 3)), references={"hub": usual})
    assert table.flagged.all()
    assert table.populations["hub"].basis == "the reference 'May'"
    assert table.populations["hub"].n_used == 50


def test_traces_without_joint_have_no_score() -> None:
    features = np.random.default_rng(1).normal(size=(30, 3))
    codes = np.where(np.arange(30) < 25, 0, -1)
    assert np.isnan(scores(features, codes=codes).score[25:]).all()


def test_values_one_step_of_the_recorded_torque_apart_are_no_outliers() -> None:
    """Seven in eight read the same level and one in eight the next: the step's doing, not the joint's."""
    levels = np.where(np.arange(64) % 8 == 0, 2.0, 3.0)
    ends = np.random.default_rng(4).normal(0.0, 1.0, (64, 2))
    step = np.array([0.0, 0.0, 1.0 / np.sqrt(6.0)]) * np.ones((64, 1))
    values = np.column_stack([ends, levels])
    assert scores(values).flagged[::8].all()
    assert not scores(values, rounding=step).flagged.any()
    values[5, 2] = 7.0
    assert np.flatnonzero(scores(values, rounding=step).flagged).tolist() == [5]


def test_two_levels_one_step_apart_are_no_two_groups() -> None:
    values = np.column_stack([np.random.default_rng(4).normal(0.0, 1.0, (64, 2)), np.arange(64) % 3 // 2])
    step = np.array([0.0, 0.0, 1.0 / np.sqrt(6.0)]) * np.ones((64, 1))
    telling = np.array([False, False, True])
    assert "two groups" in scores(values, telling=telling).populations["hub"].note
    assert "two groups" not in scores(values, telling=telling, rounding=step).populations["hub"].note
