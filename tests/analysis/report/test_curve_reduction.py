"""The picture of many curves and the thinned curve show what the full curves show."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from analysis.report.curve_reduction import Ranges, coverage, grey_levels, reduce_polyline

FloatArray = NDArray[np.float64]


def slow_coverage(
    curves: list[tuple[FloatArray, FloatArray]],
    window: tuple[float, float, float, float],
    shape: tuple[int, int],
    steps: int = 4000,
) -> NDArray[np.int32]:
    """Readable twin: walk along every segment in small steps and colour the pixel under each."""
    rows, columns = shape
    x_low, x_high, y_low, y_high = window
    counts = np.zeros(shape, np.int32)
    for x, y in curves:
        hit = np.zeros(shape, bool)
        for k in range(len(x) - 1):
            share = np.linspace(0.0, 1.0, steps)
            column = np.floor((x[k] + share * (x[k + 1] - x[k]) - x_low) / (x_high - x_low) * columns).astype(
                int
            )
            row = np.floor((y[k] + share * (y[k + 1] - y[k]) - y_low) / (y_high - y_low) * rows).astype(int)
            inside = (column >= 0) & (column < columns) & (row >= 0) & (row < rows)
            hit[rows - 1 - row[inside], column[inside]] = True
        counts += hit
    return counts


def flat(curves: list[tuple[FloatArray, FloatArray]]) -> tuple[FloatArray, FloatArray, NDArray[np.int64]]:
    offsets = np.cumsum([0, *(len(x) for x, _ in curves)])
    return np.concatenate([x for x, _ in curves]), np.concatenate([y for _, y in curves]), offsets


def test_the_compiled_picture_agrees_with_its_slow_twin() -> None:
    rng = np.random.default_rng(1)
    curves = []
    for _ in range(12):
        n = int(rng.integers(2, 9))
        x = np.sort(rng.uniform(-10.0, 110.0, n))
        x[n // 2 :] -= rng.uniform(0.0, 5.0)  # some angles step back
        curves.append((x, rng.uniform(-5.0, 25.0, n)))
    angle, torque, offsets = flat(curves)
    window, shape = (0.0, 100.0, 0.0, 20.0), (23, 31)
    fast = coverage(Ranges(angle, torque, offsets[:-1], offsets[1:], np.zeros(12)), window, shape)
    slow = slow_coverage(curves, window, shape)
    # Where a curve only touches the corner of a pixel the small steps may miss it: never the other way round.
    assert np.all(fast >= slow)
    assert (fast != slow).mean() < 0.02


def test_each_curve_counts_once_in_a_pixel_and_is_shifted_by_its_own_angle() -> None:
    x = np.array([0.0, 10.0, 10.0, 0.0, 10.0])  # forth, back, forth again
    y = np.zeros(5)
    angle, torque, offsets = flat([(x, y), (x + 50.0, y)])
    curves = Ranges(angle, torque, offsets[:-1], offsets[1:], np.array([0.0, 50.0]))
    counts = coverage(curves, (0.0, 10.0, -1.0, 1.0), (2, 5))
    assert counts.max() == 2
    assert counts[0].tolist() == [2, 2, 2, 2, 2]
    assert counts[1].tolist() == [0, 0, 0, 0, 0]


def test_samples_that_are_not_numbers_leave_a_gap() -> None:
    x = np.array([0.0, 1.0, np.nan, 3.0, 4.0])
    curve = Ranges(x, np.zeros(5), np.array([0]), np.array([5]), np.zeros(1))
    counts = coverage(curve, (0.0, 4.0, -1.0, 1.0), (1, 4))
    assert counts.tolist() == [[1, 1, 0, 1]]


def test_grey_gets_darker_with_more_curves_and_paper_stays_white() -> None:
    levels = grey_levels(np.array([[0, 1, 2, 10, 100, 1000]], np.int32))[0].astype(int)
    assert levels[0] == 255
    assert levels[1] <= 205
    assert np.all(np.diff(levels) <= 0)
    assert levels[-1] < levels[1]


@given(
    y=st.lists(st.floats(-100, 100), min_size=1, max_size=400),
    cells=st.integers(1, 50),
)
def test_a_thinned_curve_keeps_ends_and_extremes_and_only_real_samples(y: list[float], cells: int) -> None:
    torque = np.array(y)
    angle = np.arange(len(y), dtype=float)
    x_kept, y_kept = reduce_polyline(angle, torque, cells)
    assert len(x_kept) <= max(4 * cells, 2 * cells, 4)
    assert (x_kept[0], x_kept[-1]) == (angle[0], angle[-1])
    assert y_kept.max() == torque.max()
    assert y_kept.min() == torque.min()
    assert np.array_equal(torque[x_kept.astype(int)], y_kept)
