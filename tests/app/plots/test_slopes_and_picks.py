"""Local slopes for drawing, and which curves a stroke or a click means."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.traces import TraceSet
from app.items.flat_curves import FlatCurves
from app.items.picking import crossing, nearest
from app.items.slope_kernel import local_slopes, windows_deg
from tests.app.plots.known_curves import hat_traces


def test_slope_of_a_straight_rise_is_exact_and_of_the_rundown_zero() -> None:
    traces, curves = hat_traces(1)
    slopes = local_slopes(traces, curves)
    assert slopes[150] == pytest.approx(0.09, rel=1e-5)
    assert slopes[50] == pytest.approx(0.0, abs=1e-6)


def test_slope_is_per_degree_however_dense_the_samples() -> None:
    angle = np.sort(np.concatenate([np.linspace(0, 50, 20), np.linspace(20, 30, 200)]))
    traces = TraceSet.from_lists(["a"], [angle], [0.5 * angle])
    slopes = local_slopes(traces, None)
    assert np.nanmax(np.abs(slopes - 0.5)) < 1e-5


def test_samples_that_run_back_and_the_release_have_no_slope() -> None:
    angle = np.concatenate([np.arange(0.0, 50.0, 0.5), [49.0, 48.0, 47.0]])
    torque = np.concatenate([np.arange(0.0, 50.0, 0.5), [10.0, 5.0, 0.0]])
    slopes = local_slopes(TraceSet.from_lists(["a"], [angle], [torque]), None)
    assert np.isnan(slopes[-3:]).all()
    assert slopes[90] == pytest.approx(1.0, rel=1e-5)


def test_too_few_samples_give_no_slope() -> None:
    slopes = local_slopes(TraceSet.from_lists(["a", "b"], [[0.0, 1.0], []], [[0.0, 1.0], []]), None)
    assert np.isnan(slopes).all()


def test_window_grows_with_noise_and_stays_within_bounds() -> None:
    _, curves = hat_traces(3)
    noise = np.array([1e-6, 0.1, 100.0])
    object.__setattr__(curves, "torque_noise_nm", noise)
    narrow, middle, wide = windows_deg(curves, 3)
    assert narrow == 2.0
    assert wide == 20.0
    # By the formula: 0.1 N·m, 0.05 of 0.09 N·m/deg wanted, 2 samples a degree.
    assert middle == pytest.approx(min((0.1 * np.sqrt(12) / (0.05 * 0.09 * np.sqrt(2.0))) ** (2 / 3), 20.0))


def crosses_by_hand(x: np.ndarray, y: np.ndarray, stroke: np.ndarray) -> bool:
    """The textbook way: solve for the common point of every pair of segments."""
    for p, q in pairwise(np.column_stack((x, y))):
        for r, s in pairwise(stroke):
            system = np.column_stack((q - p, r - s))
            if abs(np.linalg.det(system)) < 1e-12:
                continue
            t, u = np.linalg.solve(system, r - p)
            if 0 <= t <= 1 and 0 <= u <= 1:
                return True
    return False


numbers = st.floats(-10.0, 10.0).map(lambda v: round(v, 2))


@given(st.data())
def test_crossing_agrees_with_the_textbook(data: st.DataObject) -> None:
    n = data.draw(st.integers(2, 8))
    curves = [
        np.array(data.draw(st.lists(st.tuples(numbers, numbers), min_size=n, max_size=n))) for _ in range(3)
    ]
    stroke = np.array(data.draw(st.lists(st.tuples(numbers, numbers), min_size=2, max_size=5)))
    # Off the grid of the curves' points, so that nothing just touches.
    stroke = stroke + np.array([0.00317, 0.00713])
    flat = np.concatenate(curves)
    shared = FlatCurves(
        np.ascontiguousarray(flat[:, 0]),
        lambda: np.ascontiguousarray(flat[:, 1]),
        np.arange(0, 3 * n + 1, n),
        np.zeros(3),
    )
    found = crossing(shared, np.arange(3), stroke)
    assert found.tolist() == [k for k, c in enumerate(curves) if crosses_by_hand(c[:, 0], c[:, 1], stroke)]


def hats() -> FlatCurves:
    traces, _ = hat_traces(5)
    return FlatCurves(traces.angle_deg, lambda: traces.torque_nm, traces.offsets, np.zeros(5))


def test_line_through_some_hats_selects_those() -> None:
    # At 5.5 N·m hat k stands at 150 + 10 k degrees.
    stroke = np.array([[155.0, 5.5], [185.0, 5.5]])
    assert crossing(hats(), np.arange(5), stroke).tolist() == [1, 2, 3]
    assert crossing(hats(), np.array([0, 2]), stroke).tolist() == [2]


def test_box_takes_curves_that_end_inside_it() -> None:
    box = np.array([[199.0, 9.5], [201.0, 9.5], [201.0, 11.0], [199.0, 11.0], [199.0, 9.5]])
    assert crossing(hats(), np.arange(5), box, filled=True).tolist() == [0]
    around_everything = np.array([[-9, -9], [999, -9], [999, 99], [-9, 99], [-9, -9]], float)
    assert len(crossing(hats(), np.arange(5), around_everything, filled=True)) == 5
    assert len(crossing(hats(), np.arange(5), around_everything)) == 0


def test_click_takes_the_nearest_within_reach() -> None:
    pixel = (0.5, 0.02)
    assert nearest(hats(), np.arange(5), (171.0, 5.5), pixel) == 2
    assert nearest(hats(), np.array([0, 4]), (171.0, 5.5), pixel) is None
    assert nearest(hats(), np.arange(5), (171.0, 9.9), pixel) is None


def test_click_between_two_samples_meets_the_line_between_them() -> None:
    sparse = FlatCurves(np.array([0.0, 100.0]), lambda: np.array([0.0, 100.0]), np.array([0, 2]), np.zeros(1))
    assert nearest(sparse, np.array([0]), (50.0, 51.0), (1.0, 1.0)) == 0
