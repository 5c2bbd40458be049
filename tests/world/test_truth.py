"""The truth of a synthetic trace obeys the definitions, read here afresh from the noise-free torque alone."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.world.cases import CASES, case_models
from tests.world.model import (
    DRAWDOWN_SHAPES,
    PLASTIC_SHAPES,
    Drawdown,
    Joint,
    Plastic,
    Prevailing,
    Tool,
    TraceModel,
)
from tests.world.true_curve import build_true_curve, prevailing_torque
from tests.world.truth import read_truth

BENDS = {"power-law": 1.4, "rough-contact": 2.4, "two-knee-gasket": 0.3, "irregular": 7.0}


def models(case, n=25):
    return [model for model, _ in case_models(case, 77, n)]


def slope_between_samples(curve):
    """Slope from the torque itself, at the middle of each pair of dense points."""
    step = np.diff(curve.angle_deg)
    wide = step > 1e-9
    middle = 0.5 * (curve.angle_deg[1:] + curve.angle_deg[:-1])
    return middle[wide], (np.diff(curve.torque_nm)[wide] / step[wide])


@pytest.mark.parametrize("case", CASES)
def test_the_slope_is_at_least_080_from_snug_to_the_steep_part_and_less_before(case):
    for model in models(case):
        curve = build_true_curve(model)
        truth = read_truth(model, curve)
        if truth.snug_reason:
            continue
        angle, slope = slope_between_samples(curve)
        angle = angle - model.first_angle_deg
        share = slope / truth.elastic_slope_nm_per_deg
        steep = angle[np.argmax(share)]
        spacing = angle[1] - angle[0]
        between = (angle > truth.snug_angle_deg + spacing) & (angle < steep)
        assert np.all(share[between] >= 0.80 - 1e-3)
        before = (angle < truth.snug_angle_deg - spacing) & (angle > truth.snug_angle_deg - 5.0 * spacing)
        if before.any():
            assert np.all(share[before] < 0.80 + 1e-3)


@pytest.mark.parametrize("case", CASES)
def test_no_stretch_of_a_fifth_of_the_rise_is_steeper_than_the_elastic_slope(case):
    for model in models(case):
        curve = build_true_curve(model)
        truth = read_truth(model, curve)
        angle, torque = curve.angle_deg, curve.torque_nm
        width = 0.2 * (angle[-1] - angle[0])
        starts = np.linspace(angle[0], angle[-1] - width, 500)
        chords = (np.interp(starts + width, angle, torque) - np.interp(starts, angle, torque)) / width
        assert chords.max() <= truth.elastic_slope_nm_per_deg * 1.002
        assert chords.max() >= truth.elastic_slope_nm_per_deg * (0.97 if not truth.yielded else 0.5)


@pytest.mark.parametrize("shape", PLASTIC_SHAPES)
def test_the_onset_is_where_the_slope_falls_below_half_for_good(shape):
    seen = 0
    for model in models("yielded", 80):
        if model.joint.plastic is None or model.joint.plastic.shape != shape:
            continue
        seen += 1
        curve = build_true_curve(model)
        truth = read_truth(model, curve)
        angle, slope = slope_between_samples(curve)
        share = slope / truth.elastic_slope_nm_per_deg
        onset = truth.yield_angle_deg + model.first_angle_deg
        spacing = angle[1] - angle[0]
        assert truth.yielded
        assert np.all(share[angle > onset + spacing] < 0.5 + 1e-3)
        just_before = (angle < onset - spacing) & (angle > onset - 4.0 * spacing)
        assert np.all(share[just_before] >= 0.5 - 1e-3)
        assert truth.snug_angle_deg < truth.yield_angle_deg < truth.final_angle_deg
    assert seen >= 8


@pytest.mark.parametrize("case", [case for case in CASES if case != "yielded"])
def test_a_joint_that_does_not_yield_keeps_its_slope(case):
    for model in models(case):
        truth = read_truth(model, build_true_curve(model))
        assert not truth.yielded
        assert np.isnan(truth.yield_angle_deg)
        assert np.isnan(truth.yield_two_thirds_deg)


def test_onset_of_an_exponential_fall_by_both_rules():
    """S7 (computed): slope s exp(-(a - a_y)/c) gives 2/3 at a_y + 0.4055 c and 1/2 at a_y + 0.6931 c."""
    c = 9.0
    joint = Joint(
        drawdown=Drawdown("power-law", 20.0, 1.0),
        plastic=Plastic("exponential", 25.0, c),
        clamp_kn_per_deg=0.8,
    )
    model = TraceModel(joint, tool=Tool(target_torque_nm=60.0, stop_torque_nm=500.0, stop_after_deg=70.0))
    truth = read_truth(model, build_true_curve(model))
    assert truth.yield_angle_deg - truth.plastic_start_deg == pytest.approx(0.6931 * c, abs=0.01)
    assert truth.yield_two_thirds_deg - truth.plastic_start_deg == pytest.approx(0.4055 * c, abs=0.01)


@pytest.mark.parametrize("shape", DRAWDOWN_SHAPES)
def test_snug_where_the_formula_of_each_drawdown_passes_080(shape):
    """Against closed forms where there is one; a long elastic part makes the elastic slope the full one."""
    width = 40.0
    joint = Joint(drawdown=Drawdown(shape, width, BENDS.get(shape, 0.0)), clamp_kn_per_deg=0.1)
    model = TraceModel(joint, tool=Tool(target_torque_nm=90.0, stop_torque_nm=90.0))
    truth = read_truth(model, build_true_curve(model))
    full = joint.torque_per_force_nm_per_kn * joint.clamp_kn_per_deg
    u = (truth.snug_angle_deg - joint.rundown_deg) / width
    closed = {
        "power-law": 0.8 ** (1.0 / 1.4),
        "exponential-saturation": np.log(5.0) / 4.0,
        "softplus": 0.6 + 0.1 * np.log(4.0),
        "raised-cosine": np.arccos(-0.6) / np.pi,
        "two-knee-gasket": 0.6 + 0.4 * np.arccos(1.0 - 2.0 * (0.5 / 0.7)) / np.pi,
    }
    # Asperities never go quite stiff, the others are straight once the drawdown is over.
    assert truth.elastic_slope_nm_per_deg == pytest.approx(
        full, rel=0.04 if shape == "rough-contact" else 0.002
    )
    if shape in closed:
        assert u == pytest.approx(closed[shape], abs=0.01)
    else:
        assert 0.0 < u < 1.0


def test_the_prevailing_level_is_the_median_of_the_last_half_turn():
    prevailing = Prevailing(level_nm=3.0, climb_nm_per_turn=0.8, transient_nm=5.0, transient_decay_deg=10.0)
    model = TraceModel(Joint(rundown_deg=900.0), prevailing)
    truth = read_truth(model, build_true_curve(model))
    # A straight climb: the median of the half turn is its middle, a quarter turn before the drawdown.
    assert truth.prevailing_torque_nm == pytest.approx(3.0 - 0.8 * 90.0 / 360.0, abs=1e-6)
    whole = prevailing_torque(np.linspace(720.0, 900.0, 999), prevailing, 900.0)
    assert truth.prevailing_torque_nm == pytest.approx(np.median(whole), abs=1e-3)


def test_late_recordings_lack_what_they_did_not_see():
    base = TraceModel(Joint(rundown_deg=500.0, drawdown=Drawdown("raised-cosine", 60.0)))
    whole = read_truth(base, build_true_curve(base))
    for start, rundown, snug in ((450.0, True, True), (515.0, False, True), (575.0, False, False)):
        model = replace(base, instrument=replace(base.instrument, record_from_deg=start))
        truth = read_truth(model, build_true_curve(model))
        assert np.isfinite(truth.prevailing_torque_nm) == rundown == (truth.drawdown_reason == "")
        assert np.isfinite(truth.drawdown_angle_deg) == rundown
        assert np.isfinite(truth.snug_angle_deg) == snug == (truth.snug_reason == "")
        assert truth.elastic_slope_nm_per_deg == pytest.approx(whole.elastic_slope_nm_per_deg)
        assert truth.final_angle_deg == pytest.approx(whole.final_angle_deg - start)
        if snug:
            assert truth.snug_angle_deg == pytest.approx(whole.snug_angle_deg - start)


def test_the_points_stand_in_order():
    for case in CASES:
        for model in models(case):
            truth = read_truth(model, build_true_curve(model))
            order = [
                truth.drawdown_angle_deg,
                truth.snug_angle_deg,
                truth.yield_angle_deg,
                truth.final_angle_deg,
            ]
            present = [angle for angle in order if np.isfinite(angle)]
            assert present == sorted(present)
            assert truth.final_torque_nm > truth.prevailing_torque_nm or np.isnan(truth.prevailing_torque_nm)
