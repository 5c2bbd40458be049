"""Figures as texts: digits that the uncertainty allows, limits as given, the same from unit to unit."""

from __future__ import annotations

import math
from decimal import Decimal

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.catalogue.sentences import Amount, Apart
from analysis.figure_text import (
    UNKNOWN,
    Uncertainty,
    bounded_texts,
    difference_text,
    given_text,
    measured_text,
    with_uncertainty,
)
from analysis.traces import TraceSet
from analysis.traces.recorded_step import FINEST_ANGLE_DEG, RecordedSteps, recorded_step
from analysis.traces.units import UNITS, from_internal

VALUES = st.floats(-1e5, 1e5, allow_nan=False)
DOUBTS = st.floats(1e-6, 1e5, allow_nan=False)
TORQUES = ("N·m", "ft·lbf", "in·lbf", "kgf·cm", "cN·m")


def _number(text: str) -> float:
    return float(text.replace("−", "-"))


def _decimals(text: str) -> int:
    return len(text.partition(".")[2])


@pytest.mark.parametrize(
    ("value", "uncertainty", "unit", "expected"),
    [
        (130.04, Uncertainty(1.52), "deg", "130.0 ± 1.5 deg"),
        (4.7104, Uncertainty(0.0512), "N·m", "4.710 ± 0.051 N·m"),
        # The uncertainty is rounded before its place is taken: 0.0996 is 0.10, not 0.100.
        (4.7104, Uncertainty(0.0996), "N·m", "4.71 ± 0.10 N·m"),
        (38.34, Uncertainty(41.2), "deg", "38 ± 41 deg"),
        (1405.0, Uncertainty(123.0), "deg", "1405 ± 123 deg"),
        (-0.0412, Uncertainty(0.3), "N·m", "−0.04 ± 0.30 N·m"),
        (-0.0012, Uncertainty(0.3), "N·m", "0.00 ± 0.30 N·m"),
        (1.0, Uncertainty(0.3, step=0.001), "", "1.00 ± 0.30"),
        # Recorded in hundredths, in halves, in twentieths; in hundredths of N·m, shown in ft·lbf.
        (4.7104, Uncertainty(step=0.01), "N·m", "4.71 N·m"),
        (65.5, Uncertainty(step=0.5), "deg", "65.5 deg"),
        (65.05, Uncertainty(step=0.05), "N·m", "65.05 N·m"),
        (47.9415, Uncertainty(step=0.0073756), "ft·lbf", "47.94 ft·lbf"),
        (1405.0, Uncertainty(step=1.0), "deg", "1405 deg"),
        # Nothing known, endless, or none: four digits and no uncertainty invented.
        (4.7104, UNKNOWN, "N·m", "4.710 N·m"),
        (4.7104, Uncertainty(math.inf), "N·m", "4.710 N·m"),
        (4.7104, Uncertainty(math.nan), "N·m", "4.710 N·m"),
        (4.7104, Uncertainty(0.0), "N·m", "4.710 N·m"),
        (math.nan, Uncertainty(0.1), "", "–"),
    ],
)
def test_values_with_their_doubt(value: float, uncertainty: Uncertainty, unit: str, expected: str) -> None:
    assert measured_text(value, uncertainty, unit) == expected


def test_a_narrow_column_takes_four_digits_and_fewer_where_the_doubt_says_so() -> None:
    assert with_uncertainty(15.1852, Uncertainty(0.0051), most=4) == ("15.19", "")
    assert with_uncertainty(1405.26, Uncertainty(0.51), most=4) == ("1405", "")
    assert with_uncertainty(14052.6, Uncertainty(0.51), most=4) == ("14050", "")
    assert with_uncertainty(15.1852, Uncertainty(0.51), most=4) == ("15.19", "0.51")
    assert with_uncertainty(0.0, Uncertainty(0.51), most=4) == ("0.00", "0.51")


def test_a_margin_keeps_its_side_where_it_rounds_to_nothing() -> None:
    assert with_uncertainty(-0.004, Uncertainty(step=0.01), signed=True)[0] == "−0.00"
    assert with_uncertainty(0.004, Uncertainty(step=0.01), signed=True)[0] == "+0.00"


@pytest.mark.parametrize(
    ("value", "unit", "expected"),
    [
        (8.4, "N·m", "8.4"),
        (9.70, "N·m", "9.7"),
        (0.0, "ft·lbf", "0"),
        (-0.5, "N·m", "−0.5"),
        (117.0, "N·m", "117"),
        (58.125, "N·m", "58.125"),
        # NIST SP 811: 1 ft·lbf is 1.3558179483314004 N·m.
        (58.0, "ft·lbf", "42.78"),
        (72.0, "ft·lbf", "53.10"),
        (58.125, "ft·lbf", "42.8708"),
        (58.0, "cN·m", "5800"),
        (43.0 * 1.3558179483314004, "ft·lbf", "43"),
        (43.0 * 1.3558179483314004, "N·m", "58.3002"),
        (12345.0, "N·m", "12345"),
    ],
)
def test_limits_stand_as_they_were_given(value: float, unit: str, expected: str) -> None:
    assert given_text(value, from_internal(1.0, unit)) == expected


@given(VALUES, DOUBTS)
def test_the_text_lies_within_half_a_unit_of_its_last_digit(value: float, sigma: float) -> None:
    words, spread = with_uncertainty(value, Uncertainty(sigma))
    unit = min(10.0 ** (math.floor(math.log10(_number(spread))) - 1), 1.0)
    assert abs(_number(words) - value) <= 0.5 * unit * (1.0 + 1e-6)
    assert _decimals(words) == _decimals(spread)


@given(VALUES, DOUBTS)
def test_a_doubt_never_rounds_to_nothing_and_has_two_digits(value: float, sigma: float) -> None:
    _, spread = with_uncertainty(value, Uncertainty(sigma))
    assert _number(spread) == pytest.approx(sigma, rel=0.051)
    digits = spread.replace(".", "").lstrip("0")
    assert len(digits) <= 2 or "." not in spread  # whole units at the coarsest


@given(VALUES, st.floats(1e-4, 10.0))
def test_a_recorded_value_moves_by_less_than_a_step(value: float, step: float) -> None:
    words, spread = with_uncertainty(value, Uncertainty(step=step))
    assert spread == ""
    assert abs(_number(words) - value) < step * (1.0 + 2e-4) + 1e-9


@given(st.floats(0.01, 1000.0), st.floats(1e-4, 10.0), st.sampled_from(TORQUES[1:]))
def test_another_unit_says_the_same_within_what_is_shown(value: float, sigma: float, unit: str) -> None:
    factor = from_internal(1.0, unit)
    (plain, _), (shown, spread) = (
        with_uncertainty(value, Uncertainty(sigma)),
        with_uncertainty(value * factor, Uncertainty(sigma).times(factor)),
    )
    assert _number(plain) == pytest.approx(_number(shown) * UNITS[unit].to_internal, abs=0.11 * sigma)
    assert _number(spread) * UNITS[unit].to_internal == pytest.approx(sigma, rel=0.051)


@given(st.integers(1, 99999), st.integers(0, 3), st.sampled_from(TORQUES))
def test_a_written_limit_comes_back_as_it_was_written(number: int, decimals: int, unit: str) -> None:
    """Typed in any unit, kept in N·m, shown in that unit again."""
    typed = number / 10.0**decimals
    assert float(given_text(typed * UNITS[unit].to_internal, from_internal(1.0, unit))) == typed


@given(st.floats(-999.0, 999.0), st.floats(1e-3, 300.0), st.integers(-9999, 9999), st.sampled_from(TORQUES))
def test_figure_limit_and_difference_add_up(value: float, sigma: float, tenths: int, unit: str) -> None:
    limit, factor, known = tenths / 10.0, from_internal(1.0, unit), Uncertainty(sigma)
    shown = Decimal(with_uncertainty(value * factor, known.times(factor))[0].replace("−", "-"))
    given = Decimal(given_text(limit, factor).replace("−", "-"))
    assert Decimal(difference_text(value, limit, known, factor).replace("−", "-")) == shown - given


def test_a_difference_that_is_written_as_none_keeps_its_side() -> None:
    known = Uncertainty(step=0.1)
    assert difference_text(71.97, 72.0, known, signed=True) == "−0.0"
    assert difference_text(72.03, 72.0, known, signed=True) == "+0.0"
    assert str(Apart(Amount(72.03, "N·m", known), 72.0)) == "less than 0.1 N·m"


def test_bounds_say_how_many_digits_count() -> None:
    assert bounded_texts(23.4567, 37.1234, 29.61) == ("23.5", "37.1", "29.6")
    assert bounded_texts(3.283, 4.911, 3.941) == ("3.28", "4.91", "3.94")


def test_steps_of_a_recording() -> None:
    rng = np.random.default_rng(1)
    angle = np.arange(0.0, 100.0, 0.25)
    raw = np.linspace(0.0, 65.0, len(angle)) + rng.normal(0.0, 0.02, len(angle))
    narrow = np.float32(np.round(raw, 1)).astype(np.float64)
    holed = np.where(np.arange(len(angle)) == 7, np.nan, narrow)
    traces = TraceSet.from_lists(["a", "b", "c"], [angle, angle, [0.0, 1.0]], [raw, holed, [2.0, 2.0]])
    steps = RecordedSteps(traces)
    # Nothing is recorded finer than four digits of the highest torque.
    assert steps.torque_nm(0) == 0.01
    assert steps.torque_nm(1) == pytest.approx(0.1, rel=1e-3)
    assert steps.torque_nm(2) == 0.001
    assert steps.angle_deg(0) == 0.25
    assert steps.force_kn(0) is None
    # Made in steps of 0.05 ft·lbf.
    pound = UNITS["ft·lbf"].to_internal
    elsewhere = np.array([0.0, 0.05, 0.25, 0.4, 31.05]) * pound
    assert recorded_step(elsewhere) == pytest.approx(0.05 * pound)
    assert recorded_step(angle / 1000.0) == pytest.approx(2.5e-4)
    fine = RecordedSteps(TraceSet.from_lists(["f"], [angle / 100.0], [raw]))
    assert fine.angle_deg(0) == FINEST_ANGLE_DEG
