"""Compiled routines against slow, readable twins."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.curve.bend_fit import cholesky_solve
from analysis.curve.cells import ANGLE, TORQUE, WEIGHT, fill_cells, median_of
from analysis.curve.locate import passes_level, steepest_stretch
from analysis.curve.model import bend_at
from analysis.curve.shapes import SHAPES, TABLE_START, TABLE_STEP, bend_tables
from analysis.curve.tightening import final_point, forward_mask, mark_forward


@pytest.fixture(params=range(5))
def recording(request):
    rng = np.random.default_rng(request.param)
    angle = np.round(np.cumsum(rng.uniform(-0.2, 1.0, 400)) / 0.25) * 0.25
    return angle, rng.normal(0.0, 0.3, 400) + np.clip(angle - 100.0, 0.0, None) * 0.1


def test_final_point_is_the_last_of_the_highest():
    assert final_point(np.array([1.0, 5.0, 5.0, 2.0])) == 2
    assert final_point(np.array([1.0, np.nan])) == -1


def test_forward_samples(recording):
    angle, torque = recording
    final = final_point(torque)
    keep = np.zeros(len(angle), np.bool_)
    count = mark_forward(angle, final, keep)
    np.testing.assert_array_equal(keep, forward_mask(angle, final))
    assert count == keep.sum()


def test_cells(recording):
    angle, torque = recording
    keep = forward_mask(angle, final_point(torque))
    cells = np.empty((3, 200))
    last = len(angle) - 1
    n = fill_cells(angle, torque, keep, 0, last, 20.0, 2.5, 4.0, cells)
    number = np.floor((angle - 20.0) / 2.5)
    chosen = keep & (angle >= 20.0)
    twin = []
    for k in np.unique(number[chosen]):
        rows = np.flatnonzero(chosen & (number == k))[:4]
        twin.append((angle[rows].mean(), torque[rows].mean(), len(rows)))
    np.testing.assert_allclose(cells[:, :n].T, twin, rtol=1e-12)


def test_steepest_stretch(recording):
    rng = np.random.default_rng(2)
    a = np.sort(rng.uniform(0.0, 100.0, 60))
    cells = np.array([a, np.clip(a - 40.0, 0.0, None) + rng.normal(0, 0.5, 60), rng.integers(1, 8, 60)])
    slope, centre, height = steepest_stretch(cells, 60, 20.0)
    best = (-1.0, 0.0, 0.0)
    for k in range(60):
        inside = (a >= a[k]) & (a <= a[k] + 20.0)
        if inside.sum() < 4 or a[inside][-1] - a[k] < 12.0:
            continue
        w = cells[WEIGHT, inside]
        fit = np.polyfit(a[inside], cells[TORQUE, inside], 1, w=np.sqrt(w))
        if fit[0] > best[0]:
            best = (fit[0], np.average(a[inside], weights=w), np.average(cells[TORQUE, inside], weights=w))
    np.testing.assert_allclose((slope, centre, height), best, rtol=1e-8)


def test_passes_level_puts_the_fewest_degrees_on_the_wrong_side():
    rng = np.random.default_rng(4)
    a = np.cumsum(rng.uniform(0.5, 2.0, 80))
    t = np.where(np.arange(80) > 50, 5.0, 1.0) + rng.normal(0, 2.0, 80)
    cells = np.array([a, t, np.ones(80)])
    step = np.diff(a, prepend=a[0])
    wrong = [step[:k][t[:k] >= 3.0].sum() + step[k:][t[k:] < 3.0].sum() for k in range(81)]
    k = passes_level(cells, 0, 80, 3.0)
    assert wrong[k] == pytest.approx(min(wrong))


def test_bends_are_the_integral_of_their_slope_and_end_on_their_lines():
    tables = bend_tables()
    u = TABLE_START + TABLE_STEP * np.arange(tables.shape[2])
    for name, (height, slope) in zip(SHAPES, tables, strict=True):
        summed = height[0] + np.concatenate(([0.0], np.cumsum(0.5 * (slope[1:] + slope[:-1]) * TABLE_STEP)))
        # The sum over the table's own grid misses as much where a slope starts upright ("rough").
        np.testing.assert_allclose(summed, height, atol=5e-3, err_msg=name)
        assert np.all(np.diff(slope) >= -1e-12)
        assert slope[0] < 1e-3
    phi, psi = bend_at(0.123, tables[0])
    assert phi == pytest.approx(np.interp(0.123, u, tables[0, 0]))
    assert psi == pytest.approx(np.interp(0.123, u, tables[0, 1]))


def test_cholesky_solves():
    rng = np.random.default_rng(0)
    root = rng.normal(size=(5, 5))
    matrix, right = root @ root.T + np.eye(5), rng.normal(size=5)
    out = np.empty(5)
    assert cholesky_solve(matrix.copy(), right, 5, out)
    np.testing.assert_allclose(out, np.linalg.solve(matrix, right))
    assert not cholesky_solve(np.zeros((5, 5)), right, 5, out)


def test_median(recording):
    values = recording[1]
    assert median_of(values, 31, np.empty(64)) == np.median(values[:31])
    assert np.isnan(median_of(values, 0, np.empty(4)))
    assert ANGLE == 0
