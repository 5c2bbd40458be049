"""The compiled fit against its twin: every figure to rounding, every reason the same."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.curve import find_points
from analysis.settings import CurveSettings
from tests.analysis.curve.curve_making import clean_curve, one
from tests.analysis.curve.test_points import AWKWARD
from tests.twins import whole_fit
from tests.twins.comparing import agreement, differences
from tests.world import make_cases


def _noisy(angle, torque, sigma=0.2, seed=4):
    return angle, torque + np.random.default_rng(seed).normal(0.0, sigma, len(angle))


def _stick_slip(angle, torque):
    return _noisy(angle, torque + np.where(torque > 5.0, 1.5 * ((angle % 4.0) / 4.0 - 0.5), 0.0))


def _pause(angle, torque):
    k = 850
    hold = np.r_[np.full(80, angle[k]), angle[k] - np.linspace(0.0, 1.0, 20)]
    fall = np.r_[np.linspace(torque[k], torque[k] - 6.0, 80), np.full(20, torque[k] - 9.0)]
    return _noisy(np.r_[angle[:k], hold, angle[k:]], np.r_[torque[:k], fall, torque[k:]])


def _yielding(angle, torque):
    more = np.arange(0.5, 30.0, 0.5)
    plastic = torque[-1] + 10.0 * (1.0 - np.exp(-more / 10.0))
    return _noisy(np.r_[angle, angle[-1] + more], np.r_[torque, plastic])


def _layer():
    angle = np.arange(0.0, 600.0, 0.5)
    slope = np.interp(angle, [400.0, 400.1, 460.0, 475.0], [0.0, 0.3, 0.3, 1.0])
    return _noisy(angle, 2.0 + 0.5 * np.cumsum(slope))


#: Beside the awkward traces of the points' own tests, those with noise, as recordings have it.
RECORDED = {
    "plain": _noisy(*clean_curve()),
    "three samples": ([0.0, 1.0, 2.0], [0.0, 1.0, 2.0]),
    "constant with noise": _noisy(np.arange(300.0), np.full(300, 4.0)),
    "gap in the rise": tuple(np.delete(x, np.s_[800:840]) for x in _noisy(*clean_curve())),
    "angle steps back": _noisy(clean_curve()[0] - 3.0 * (np.arange(901) % 60 == 59), clean_curve()[1]),
    "stick-slip": _stick_slip(*clean_curve()),
    "cut off before snug": tuple(x[:760] for x in _noisy(*clean_curve())),
    "starts on the line": tuple(x[810:] for x in _noisy(*clean_curve())),
    "pause": _pause(*clean_curve()),
    "torque in cN·m": tuple(f * x for f, x in zip((1.0, 100.0), _noisy(*clean_curve()), strict=True)),
    "turns for degrees": tuple(f * x for f, x in zip((1 / 360, 1.0), _noisy(*clean_curve()), strict=True)),
    "trend of the prevailing torque": _noisy(clean_curve()[0], clean_curve()[1] + 0.005 * clean_curve()[0]),
    "layer between the parts": _layer(),
    "yielding": _yielding(*clean_curve()),
}


@pytest.mark.parametrize("name", [*AWKWARD, *(f"recorded: {name}" for name in RECORDED)])
def test_awkward_traces(name: str) -> None:
    angle, torque = RECORDED[name.removeprefix("recorded: ")] if ":" in name else AWKWARD[name]
    angle, torque = np.asarray(angle, float), np.asarray(torque, float)
    twin = whole_fit.find_points(angle, torque)
    assert not differences(find_points(one(angle, torque)), 0, twin)


def test_other_slope_shares() -> None:
    angle, torque = RECORDED["yielding"]
    settings = CurveSettings(snug_slope_ratio=0.7, yield_rule="two-thirds-slope")
    found = find_points(one(angle, torque), settings)
    assert not differences(found, 0, whole_fit.find_points(angle, torque, 0.7, 2.0 / 3.0))


def test_synthetic_traces() -> None:
    """Seven of each case; ``python -m tests.twins`` compares three hundred."""
    traces, _ = make_cases(41, 7)
    found = agreement(traces, find_points(traces))
    assert not found.different, found.text()
    assert found.undetermined <= 6, found.text()
