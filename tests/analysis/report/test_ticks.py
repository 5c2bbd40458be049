"""Ticks stand at round values, inside the axis, few enough, and say what they stand for."""

from __future__ import annotations

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.figure_text import number_text
from analysis.report.ticks import padded_range, ticks

finite = st.floats(-1e6, 1e6)


@given(low=st.floats(-1e4, 1e4), span=st.floats(1e-2, 1e6), most=st.integers(2, 12))
def test_ticks_lie_inside_evenly_and_no_more_than_asked(low: float, span: float, most: int) -> None:
    high = low + span
    found = ticks(low, high, most)
    assert len(found) <= most
    slack = 1e-6 * (high - low) + 1e-9 * abs(low)
    assert all(low - slack <= tick.value <= high + slack for tick in found)
    steps = [b.value - a.value for a, b in itertools.pairwise(found)]
    assert all(step == pytest.approx(steps[0], rel=1e-6) for step in steps)


@given(low=st.floats(-1e4, 1e4), span=st.floats(1e-2, 1e4), most=st.integers(3, 12))
def test_a_label_says_the_value_of_its_tick(low: float, span: float, most: int) -> None:
    found = ticks(low, low + span, most)
    assert found, "three ticks are asked for, at least one fits"
    for tick in found:
        assert float(tick.text.replace("−", "-")) == pytest.approx(tick.value, abs=1e-9 + 1e-6 * span)
    assert len({tick.text for tick in found}) == len(found), "two ticks read alike"


def test_the_axis_that_printed_wrong_labels_elsewhere() -> None:
    assert [tick.text for tick in ticks(0.0, 400.0, 5)] == ["0", "100", "200", "300", "400"]
    assert [tick.text for tick in ticks(0.0, 118.0, 6)] == ["0", "20", "40", "60", "80", "100"]


@pytest.mark.parametrize(("low", "high"), [(1.0, 1.0), (2.0, 1.0), (0.0, float("nan")), (0.0, float("inf"))])
def test_an_axis_without_a_range_is_refused(low: float, high: float) -> None:
    with pytest.raises(ValueError):
        ticks(low, high, 5)


def test_no_negative_zero_is_printed() -> None:
    assert number_text(-0.001, 2) == "0.00"
    assert number_text(-1.5, 1) == "−1.5"


@given(low=finite, span=st.floats(0.0, 1e6))
def test_a_padded_range_holds_the_range_and_is_never_empty(low: float, span: float) -> None:
    a, b = padded_range(low, low + span)
    assert a <= low <= low + span <= b
    assert b > a
