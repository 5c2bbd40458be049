"""Points against curves whose truth is known by construction, and rules that hold for any trace."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.curve import ZONES, explain_curve, find_points
from analysis.curve.reasons import REASONS
from analysis.errors import CancelledError
from analysis.settings import CurveSettings
from analysis.traces import TraceSet
from tests.analysis.curve.curve_making import clean_curve, one
from tests.world import make_cases
from tests.world.truth import snug_angle, sustained_slope


def noisy(torque, sigma, seed=0):
    return torque + np.random.default_rng(seed).normal(0.0, sigma, len(torque))


def test_clean_curve_gives_its_points():
    c = find_points(one(*clean_curve()))
    assert c.elastic_slope_nm_per_deg[0] == pytest.approx(1.0, rel=0.005)
    assert c.snug_angle_deg[0] == pytest.approx(384.0, abs=0.5)
    assert c.snug_torque_nm[0] == pytest.approx(2.0 + 24.0**2 / 60.0, abs=0.3)
    assert c.prevailing_torque_nm[0] == pytest.approx(2.0, abs=0.01)
    assert c.drawdown_angle_deg[0] == pytest.approx(360.0, abs=2.0)
    assert c.elastic_origin_deg[0] == pytest.approx(375.0, abs=0.5)
    assert c.joint_rate_deg[0] == pytest.approx(66.0, abs=0.5)
    assert c.yielded[0] == 0
    assert c.final_torque_nm[0] == pytest.approx(77.0)


@pytest.mark.parametrize(
    ("rule", "past"),
    [("half-slope", 0.6931), ("two-thirds-slope", 0.4055)],
)
def test_yield_rules_on_the_analytic_curve(rule, past):
    # Analytic: a slope s exp(-(a - a_y) / c) is half at a_y + 0.6931 c, two thirds at a_y + 0.4055 c.
    angle, torque = clean_curve(elastic_deg=60.0)
    scale, start = 10.0, angle[-1]
    more = np.arange(0.5, 25.0, 0.5)
    plastic = torque[-1] + scale * (1.0 - np.exp(-more / scale))
    c = find_points(
        one(np.r_[angle, start + more], noisy(np.r_[torque, plastic], 0.05)), CurveSettings(yield_rule=rule)
    )
    assert c.yielded[0] == 1
    assert c.yield_angle_deg[0] == pytest.approx(start + past * scale, abs=0.05 * c.joint_rate_deg[0])


def test_release_is_a_zone_behind_the_final_point():
    angle, torque = clean_curve()
    back = np.linspace(0.2, 3.0, 10)
    ts = one(np.r_[angle, angle[-1] - back], np.r_[torque, np.linspace(70.0, 0.0, 10)])
    c = find_points(ts)
    assert c.zones_of(0)[-1] == ("release", len(angle), len(angle) + 10)


def test_backward_samples_and_pauses_are_left_out_and_change_nothing():
    angle, torque = clean_curve()
    plain = find_points(one(angle, noisy(torque, 0.1)))
    k = 800
    pause_a = np.r_[angle[:k], np.full(60, angle[k - 1]), angle[k - 1] - np.linspace(0, 1, 10), angle[k:]]
    base = noisy(torque, 0.1)
    pause_t = np.r_[
        base[:k], np.linspace(base[k - 1], base[k - 1] - 8, 60), np.full(10, base[k - 1] - 12), base[k:]
    ]
    paused = find_points(one(pause_a, pause_t))
    assert paused.left_out_samples[0] >= 9
    assert paused.snug_angle_deg[0] == pytest.approx(plain.snug_angle_deg[0], abs=1.0)
    assert paused.elastic_slope_nm_per_deg[0] == pytest.approx(plain.elastic_slope_nm_per_deg[0], rel=0.02)
    assert paused.yielded[0] == 0


AWKWARD = {
    "empty": ([], []),
    "one sample": ([1.0], [2.0]),
    "three samples": ([0.0, 1.0, 2.0], [0.0, 1.0, 2.0]),
    "constant torque": (np.arange(200.0), np.full(200, 3.0)),
    "constant angle": (np.zeros(200), np.linspace(0, 10, 200)),
    "all zero": (np.zeros(50), np.zeros(50)),
    "torque not a number": (np.arange(50.0), np.full(50, np.nan)),
    "angle not a number": (np.full(50, np.nan), np.linspace(0, 1, 50)),
    "falling torque": (np.arange(100.0), np.linspace(10, 0, 100)),
    "negative torque": (np.arange(100.0), -np.linspace(1, 10, 100)),
    "angle runs back": (np.arange(100.0)[::-1], np.linspace(0, 10, 100)),
    "gap": (np.r_[0:100:1.0, 400:500:1.0], np.r_[np.full(100, 1.0), np.linspace(1, 50, 100)]),
    "straight from the start": (np.arange(100.0), 10.0 + np.arange(100.0)),
    "turns for degrees": (clean_curve()[0] / 360.0, clean_curve()[1]),
    "spike": (np.arange(300.0), np.r_[np.full(299, 1.0), 50.0]),
}


@pytest.mark.parametrize("name", AWKWARD)
def test_awkward_traces_have_points_or_reasons(name):
    c = find_points(one(*AWKWARD[name]))
    assert c.zone_bounds[0, 0] == 0
    assert c.zone_bounds[0, -1] == c.n_samples[0]
    assert np.all(np.diff(c.zone_bounds[0]) >= 0)
    for value, reason in (
        ("elastic_slope_nm_per_deg", "slope_reason"),
        ("snug_angle_deg", "snug_reason"),
        ("prevailing_torque_nm", "prevailing_reason"),
        ("drawdown_angle_deg", "drawdown_reason"),
    ):
        absent = np.isnan(getattr(c, value)[0])
        assert absent == bool(REASONS[int(getattr(c, reason)[0])]), (value, getattr(c, reason)[0])


def test_loosening_is_not_taken_for_tightening():
    c = find_points(one(*AWKWARD["negative torque"]))
    assert REASONS[int(c.slope_reason[0])] == "the recording shows loosening, not tightening"


def test_recording_that_starts_on_the_line_has_no_snug():
    c = find_points(one(np.arange(60.0) * 0.5, noisy(10.0 + np.arange(60.0) * 0.5, 0.05)))
    assert np.isnan(c.snug_angle_deg[0])
    assert REASONS[int(c.snug_reason[0])] == "the recording starts after snug"


@given(
    st.lists(st.tuples(st.floats(-1e3, 1e3), st.floats(-1e3, 1e3)), max_size=80),
    st.sampled_from([0.25, 1.0]),
)
@settings(max_examples=150)
def test_zones_partition_whatever_was_recorded(samples, step):
    angle = np.array([round(a / step) * step for a, _ in samples])
    torque = np.array([t for _, t in samples])
    c = find_points(one(angle, torque))
    stops = c.zones_of(0)
    assert [start for _, start, _ in stops][1:] == [stop for _, _, stop in stops][:-1]
    assert sum(stop - start for _, start, stop in stops) == len(samples)
    assert len(c.zone_bounds[0]) == len(ZONES) + 1


@pytest.fixture(scope="module")
def world():
    return make_cases(3, 6)[0]


def test_scaling_torque_scales_torques_and_leaves_angles(world):
    scaled = TraceSet(
        angle_deg=world.angle_deg,
        torque_nm=world.torque_nm * 8.0,
        offsets=world.offsets,
        attributes=world.attributes,
    )
    a, b = find_points(world), find_points(scaled)
    np.testing.assert_allclose(b.snug_angle_deg, a.snug_angle_deg, rtol=1e-6)
    np.testing.assert_allclose(b.elastic_slope_nm_per_deg, 8.0 * a.elastic_slope_nm_per_deg, rtol=1e-6)
    np.testing.assert_allclose(b.prevailing_torque_nm, 8.0 * a.prevailing_torque_nm, rtol=1e-6)
    np.testing.assert_array_equal(b.yielded, a.yielded)


def test_order_of_traces_is_irrelevant(world):
    rows = np.random.default_rng(1).permutation(len(world))
    a, b = find_points(world), find_points(world.take(rows))
    np.testing.assert_array_equal(b.snug_angle_deg, a.snug_angle_deg[rows])
    np.testing.assert_array_equal(b.zone_bounds, a.zone_bounds[rows])


def test_threshold_torque_and_elastic_line_as_snug():
    ts = one(*clean_curve())
    c = find_points(ts, CurveSettings(snug_rule="threshold-torque", snug_threshold_nm=10.0))
    assert c.snug_torque_nm[0] == pytest.approx(10.0, abs=0.6)
    c = find_points(ts, CurveSettings(snug_rule="threshold-torque"))
    assert REASONS[int(c.snug_reason[0])] == "the chosen rule needs a setting that is not given"
    c = find_points(ts, CurveSettings(snug_rule="elastic-line"))
    assert c.snug_angle_deg[0] == c.elastic_origin_deg[0]
    assert c.joint_rate_deg[0] == pytest.approx(75.0, abs=0.5)


def test_every_estimate_is_explained(world):
    c = find_points(world)
    for row in range(len(world)):
        for name, estimate in explain_curve(c, row).items():
            assert (estimate.value is None) == bool(estimate.reason), name
            assert estimate.method
            if estimate.value is not None and estimate.evidence is not None:
                assert estimate.evidence.sentence


def test_cancelling_stops():
    ts = one(*clean_curve())
    with pytest.raises(CancelledError):
        find_points(ts, cancelled=lambda: True)


@pytest.mark.parametrize("fall_per_turn", [0.02, 0.05, 0.1])
@pytest.mark.parametrize("sigma", [0.1, 0.8])
def test_prevailing_torque_that_falls_is_not_taken_for_a_rise(fall_per_turn, sigma):
    """A locking nut that polishes itself starts with much torque; snug is where the parts meet."""
    angle, torque = clean_curve(rundown_deg=2160.0, level=15.0)
    turns_ahead = np.clip(2160.0 - angle, 0.0, None) / 360.0
    falling = torque + 15.0 * fall_per_turn * turns_ahead
    c = find_points(one(angle, noisy(falling, sigma)))
    assert c.snug_angle_deg[0] == pytest.approx(2160.0 + 24.0, abs=0.12 * c.joint_rate_deg[0])
    assert c.elastic_slope_nm_per_deg[0] == pytest.approx(1.0, rel=0.03)
    assert c.prevailing_torque_nm[0] == pytest.approx(15.0, abs=0.15 * 15.0 * fall_per_turn * 6.0 + 0.2)


@pytest.mark.parametrize(
    ("first_slope", "knee_deg"),
    [(0.15, 15.0), (0.3, 15.0), (0.45, 15.0), (0.15, 1.0), (0.25, 1.0), (0.3, 1.0)],
)
def test_snug_behind_a_layer_with_a_slope_of_its_own(first_slope, knee_deg):
    """A gasket: straight at a part of the elastic slope for 60 deg, then a knee or a corner into the line."""
    angle = np.arange(0.0, 600.0, 0.5)
    slope = np.interp(angle, [400.0, 400.1, 460.0, 460.0 + knee_deg], [0.0, first_slope, first_slope, 1.0])
    torque = 2.0 + np.cumsum(slope) * 0.5
    truth = float(np.interp(0.8, [first_slope, 1.0], [460.0, 460.0 + knee_deg]))
    c = find_points(one(angle, noisy(torque, 0.3)))
    assert c.snug_angle_deg[0] == pytest.approx(truth, abs=0.05 * (angle[-1] - truth))
    assert abs(c.snug_angle_deg[0] - truth) <= 3.0 * c.snug_angle_uncertainty_deg[0]


@pytest.mark.parametrize("power", [0.35, 0.45, 0.7, 0.87])
def test_snug_behind_a_long_drawdown_by_any_power(power):
    """The slope rises by a power of the angle over 2.6 times the degrees from snug to the final point."""
    snug_deg = 390.0 * 0.8 ** (1.0 / power)
    angle = np.arange(0.0, 400.0 + snug_deg + 150.0, 0.25)
    slope = np.clip((angle - 400.0) / 390.0, 0.0, 1.0) ** power
    torque = 2.0 + np.cumsum(slope) * 0.25
    rising = angle >= 400.0
    truth = snug_angle(angle[rising], slope[rising], *sustained_slope(angle[rising], slope[rising]))
    c = find_points(one(angle, noisy(torque, 0.1)))
    assert c.snug_angle_deg[0] == pytest.approx(truth, abs=0.03 * (angle[-1] - truth))


@pytest.mark.parametrize("count", [200.0, 640.0, 1000.0])
def test_five_samples_on_the_rise_are_enough_for_its_slope(count):
    """3.25 deg a sample, as a tool gives that is still fast: the rundown makes up for the few."""
    angle = 3.25 * np.arange(count)
    torque = 0.05 + 0.5 * np.maximum(angle - (angle[-1] - 15.0), 0.0)
    c = find_points(one(angle, noisy(torque, 0.014)))
    assert c.elastic_slope_nm_per_deg[0] == pytest.approx(
        0.5, abs=2.0 * c.elastic_slope_uncertainty_nm_per_deg[0]
    )
    assert c.elastic_slope_nm_per_deg[0] == pytest.approx(0.5, rel=0.05)
    assert c.yielded[0] == 0


def test_recordings_that_start_on_the_line_are_given_neither_snug_nor_prevailing_torque():
    """Forty of them, with noise: at most one may be given a point that it does not show."""
    rng = np.random.default_rng(8)
    starts = rng.uniform(395.0, 425.0, 40)
    angle, torque = clean_curve()
    traces = [(angle[angle > start], torque[angle > start] + rng.normal(0, 0.25, (angle > start).sum()))
              for start in starts]  # fmt: skip
    c = find_points(TraceSet.from_lists([f"t{k}" for k in range(40)], *map(list, zip(*traces, strict=True))))
    assert np.isfinite(c.snug_angle_deg).sum() <= 1
    assert np.isfinite(c.prevailing_torque_nm).sum() <= 1


@pytest.mark.parametrize(
    ("settings", "kinds"),
    [
        (CurveSettings(snug_rule="threshold-torque"), {"undetermined"}),
        (
            CurveSettings(snug_rule="threshold-torque", snug_threshold_nm=10.0),
            {"rundown", "drawdown", "elastic"},
        ),
        (CurveSettings(snug_rule="threshold-torque", snug_threshold_nm=1e3), {"rundown", "drawdown"}),
        (CurveSettings(snug_rule="threshold-torque", snug_threshold_nm=0.1), {"elastic"}),
        (CurveSettings(snug_rule="elastic-line"), {"rundown", "drawdown", "elastic"}),
    ],
)
def test_the_elastic_zone_starts_at_the_snug_point_of_the_chosen_rule(settings, kinds):
    c = find_points(one(*clean_curve()), settings)
    zones = {name: start for name, start, _ in c.zones_of(0)}
    assert set(zones) == kinds
    if c.snug_index[0] >= 0:
        assert zones["elastic"] == c.snug_index[0]


@pytest.mark.parametrize("per_degree", [1, 2, 10, 100])
def test_torque_noise_is_that_of_one_sample(per_degree):
    """True 0.100 N·m at any density, on a rise of 66 degrees and its drawdown."""
    angle, torque = clean_curve(rundown_deg=180.0, step_deg=1.0 / per_degree)
    found = [find_points(one(angle, noisy(torque, 0.1, seed))).torque_noise_nm[0] for seed in range(12)]
    assert np.median(found) == pytest.approx(0.1, rel=0.08)
