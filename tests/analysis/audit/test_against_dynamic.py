"""Residual against dynamic torque, and how many audits it takes; published and derived values."""

from __future__ import annotations

import math

import numpy as np
import pytest

from analysis.audit.against_dynamic import AgainstDynamic, against_dynamic
from analysis.audit.low_together import shared_value
from analysis.audit.sample_sizes import for_mean, zero_failures
from analysis.errors import CallError


def agree(
    ratio: np.ndarray, minutes: np.ndarray | None = None, limits: tuple[float, float] | None = None
) -> AgainstDynamic:
    found = against_dynamic(ratio, np.full(len(ratio), np.nan) if minutes is None else minutes, limits)
    assert isinstance(found, AgainstDynamic)
    return found


def test_how_many_audits_without_a_failure() -> None:
    # Well known, derived by ln(1 - C)/ln(p).
    shown = [(0.9, 0.9), (0.9, 0.95), (0.95, 0.95), (0.99, 0.95), (0.99, 0.99), (0.999, 0.95)]
    assert [zero_failures(*one) for one in shown] == [22, 29, 59, 299, 459, 2995]


def test_how_many_audits_for_a_sharp_mean() -> None:
    # Derived: n = (t s/E)^2.
    assert [for_mean(0.05, 0.02), for_mean(0.05, 0.01), for_mean(0.08, 0.02)] == [27, 99, 64]


def test_nonsense_is_refused() -> None:
    with pytest.raises(CallError, match="between 0 and 1"):
        zero_failures(1.0, 0.95)
    with pytest.raises(CallError, match="above zero"):
        for_mean(0.0, 0.01)


def test_limits_of_agreement_hold_19_of_20_and_their_intervals_the_truth() -> None:
    rng = np.random.default_rng(4)
    held, inside = 0, 0
    for _ in range(300):
        found = agree(rng.normal(0.92, 0.04, 30))
        held += found.low_limit.low <= 0.92 - 1.96 * 0.04 <= found.low_limit.high
        inside += found.mean.low <= 0.92 <= found.mean.high
    # 95 % nominal; three standard deviations of a binomial share of 300 are 3.8 %.
    assert held / 300 >= 0.90
    assert 0.91 <= inside / 300 <= 0.99


def test_an_odd_ratio_moves_neither_mean_nor_scatter_and_is_low() -> None:
    rng = np.random.default_rng(5)
    ratio = rng.normal(0.95, 0.02, 40)
    spoilt = np.concatenate((ratio, [0.5]))
    found = agree(spoilt)
    assert found.left_out >= 1
    assert found.mean.value == pytest.approx(agree(ratio).mean.value, abs=0.01)
    assert found.is_low(spoilt)[-1]
    assert found.is_low(ratio).sum() <= 1


def test_relaxation_is_seen_over_time_and_none_where_there_is_none() -> None:
    rng = np.random.default_rng(6)
    minutes = np.exp(rng.uniform(math.log(5.0), math.log(2880.0), 60))
    falls = agree(1.0 - 0.012 * np.log(minutes) + rng.normal(0.0, 0.01, 60), minutes).course
    stays = agree(rng.normal(0.95, 0.01, 60), minutes).course
    assert falls is not None
    assert stays is not None
    assert falls.shown
    assert falls.slope.low <= -0.012 <= falls.slope.high
    assert falls.at(120.0) == pytest.approx(1.0 - 0.012 * math.log(120.0), abs=0.01)
    assert not stays.shown
    assert agree(rng.normal(0.95, 0.01, 60), np.full(60, 120.0)).course is None


def test_derived_limits_let_sound_joints_pass_and_false_alarms_are_as_told() -> None:
    rng = np.random.default_rng(7)
    outside, told = [], []
    for _ in range(200):
        found = agree(rng.normal(0.93, 0.03, 25), None, (61.0, 69.0))
        assert found.derived_nm is not None
        low, high = found.derived_nm
        residual = rng.normal(0.93, 0.03, 200)
        outside.append(np.mean((residual < low / 61.0) | (residual > high / 69.0)))
        told.append(found.false_alarms)
    assert np.mean(outside) == pytest.approx(np.mean(told), abs=0.002)
    assert np.mean(told) < 0.01


def test_few_pairs_say_why() -> None:
    assert against_dynamic(np.array([0.9, np.nan]), np.array([1.0, 2.0]), None) == (
        "1 audits with a sound tightening before them; 5 are needed"
    )


def test_low_audits_of_one_spindle_are_told_and_those_of_all_are_not() -> None:
    spindles = [str(k % 4) for k in range(48)]
    of_one = np.array([one == "2" and k < 20 for k, one in enumerate(spindles)])
    found = shared_value(of_one, spindles)
    assert found is not None
    assert (found.value, found.low, found.audits, found.low_in_all) == ("2", 5, 12, 5)
    assert shared_value(np.arange(48) < 8, spindles) is None
    assert shared_value(of_one, ["2"] * 48) is None  # nothing to tell it from
    assert shared_value(of_one, [None] * 48) is None


def test_chance_seldom_says_that_a_spindle_is_shared() -> None:
    rng = np.random.default_rng(8)
    spindles = rng.integers(0, 6, 60).astype(str).tolist()
    said = sum(shared_value(rng.random(60) < 0.1, spindles) is not None for _ in range(400))
    assert said <= 400 * 0.01 + 3.0 * (400 * 0.01) ** 0.5  # 1 % at most, and three standard deviations
