"""The coverage picture counts each trace once per pixel: the compiled loop against a readable twin."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PySide6.QtCore import QRectF

from analysis.report.coverage_kernel import count_traces
from app.items.coverage import (
    CellCache,
    Group,
    Layer,
    PictureRequest,
    count_layer,
    draw_picture,
    opacity_table,
)
from app.items.flat_curves import FlatCurves


def twin(traces: list[tuple[np.ndarray, np.ndarray]], width: int, height: int, brush: int = 1) -> np.ndarray:
    """Cells that a person would tick off: for each trace those that its segments touch, column by column."""
    counts = np.zeros((width, height), int)
    for x, y in traces:
        touched: set[tuple[int, int]] = set()
        for ax, ay, bx, by in zip(x[:-1], y[:-1], x[1:], y[1:], strict=True):
            if not all(map(math.isfinite, (ax, ay, bx, by))):
                continue
            low, high = (ax, bx) if ax <= bx else (bx, ax)
            for column in range(max(math.floor(low), -brush), min(math.floor(high), width) + 1):
                inside = [min(max(v, low), high) for v in (column, column + 1)]
                ends = [ay + (v - ax) * (by - ay) / (bx - ax) if bx != ax else v for v in inside]
                if bx == ax:
                    ends = [ay, by]
                touched |= cells_of(column, min(ends), max(ends), width, height, brush)
        for v, w in zip(x, y, strict=True):  # single samples between gaps
            if math.isfinite(v) and math.isfinite(w):
                touched |= cells_of(math.floor(v), w, w, width, height, brush)
        for column, row in touched:
            counts[column, row] += 1
    return counts


def cells_of(
    column: int, low: float, high: float, width: int, height: int, brush: int
) -> set[tuple[int, int]]:
    rows = range(max(math.floor(low), 0), min(math.floor(high + brush - 1), height - 1) + 1)
    return {(c, r) for c in range(max(column, 0), min(column + brush, width)) for r in rows}


def counted(
    traces: list[tuple[np.ndarray, np.ndarray]], width: int, height: int, brush: int = 1
) -> np.ndarray:
    offsets = np.concatenate(([0], np.cumsum([len(x) for x, _ in traces]))).astype(np.int64)
    x = np.concatenate([x for x, _ in traces])
    y = np.concatenate([y for _, y in traces])
    cells = np.zeros((width, height + 1), np.int32)
    rows = np.arange(len(traces))
    count_traces(x, y, offsets, rows, np.zeros(len(traces)), (0.0, 0.0), (1.0, 1.0), brush, cells)
    return cells[:, :height]


# Apart from each other, so that segments do not run through the corners of cells, where rounding decides.
across = st.floats(-15.0, 35.0).map(lambda v: round(v, 3) + 0.00041)
upward = st.floats(-15.0, 35.0).map(lambda v: round(v, 3) + 0.31379)


@st.composite
def rising_traces(draw: st.DrawFn) -> list[tuple[np.ndarray, np.ndarray]]:
    """Traces whose x rises, with samples outside the picture and samples that are no number."""
    traces = []
    for _ in range(draw(st.integers(1, 4))):
        x = np.array(sorted(draw(st.lists(across, min_size=1, max_size=12))))
        y = np.array(draw(st.lists(upward, min_size=len(x), max_size=len(x))))
        if draw(st.booleans()):
            y[draw(st.integers(0, len(y) - 1))] = np.nan
        traces.append((x, y))
    return traces


@given(rising_traces())
def test_counts_as_a_person_would(traces: list[tuple[np.ndarray, np.ndarray]]) -> None:
    assert (
        np.abs(counted(traces, 20, 16) - twin(traces, 20, 16)).sum() <= 1
    )  # one rounding at a cell's border


@given(rising_traces())
def test_broad_lines_count_once_too(traces: list[tuple[np.ndarray, np.ndarray]]) -> None:
    wide = counted(traces, 20, 16, brush=2)
    assert wide.max(initial=0) <= len(traces)
    assert (wide >= counted(traces, 20, 16)).all()


def test_a_curve_that_runs_back_counts_once() -> None:
    forth = np.linspace(0.5, 15.5, 40)
    x = np.concatenate([forth, forth[::-1]])
    y = np.concatenate([np.full(40, 5.5), np.full(40, 5.5)])
    cells = counted([(x, y)], 20, 16)
    assert cells.max() == 1
    assert cells.sum() == 16


def test_the_release_shares_columns_with_the_rise_without_double_count() -> None:
    x = np.array([0.5, 10.5, 9.5, 8.5])
    y = np.array([0.5, 10.5, 5.5, 0.5])
    assert np.array_equal(counted([(x, y)], 12, 12), twin([(x, y)], 12, 12))


def test_traces_without_a_place_are_left_out() -> None:
    x, y = np.array([1.5, 8.5]), np.array([1.5, 1.5])
    cells = np.zeros((10, 6), np.int32)
    shift = np.array([np.nan])
    count_traces(x, y, np.array([0, 2]), np.array([0]), shift, (0.0, 0.0), (1.0, 1.0), 1, cells)
    assert cells.sum() == 0


def flat_lines(n: int) -> FlatCurves:
    """n traces along y = 0.5, from x = 0 to 1."""
    x, y = np.tile([0.0, 1.0], n), np.full(2 * n, 0.5)
    return FlatCurves(x, lambda: y, np.arange(0, 2 * n + 1, 2), np.zeros(n))


def request_of(curves: FlatCurves, *layers: Layer) -> PictureRequest:
    return PictureRequest(curves, layers, QRectF(0.0, 0.0, 1.0, 1.0), 8, 8)


def test_opacity_rises_with_the_logarithm_and_ends_at_one() -> None:
    table = opacity_table(1000, 0.2)
    assert table[0] == 0.0
    assert table[1] == pytest.approx(0.2)
    assert table[1000] == pytest.approx(1.0)
    assert table[10] - table[1] == pytest.approx(table[1000] - table[100], abs=1e-5)


def test_picture_has_its_lowest_row_first_and_the_colour_asked_for() -> None:
    low = FlatCurves(np.array([0.0, 1.0]), lambda: np.array([0.1, 0.1]), np.array([0, 2]), np.zeros(1))
    picture = draw_picture(request_of(low, Layer((Group(np.array([0]), "#D55E00"),), 1.0)))
    assert picture is not None
    assert picture.image.pixelColor(4, 0).name() == "#d55e00"
    assert picture.image.pixelColor(4, 7).alpha() == 0


def test_groups_that_meet_mix_by_their_numbers() -> None:
    rows = np.arange(4)
    layer = Layer((Group(rows[:3], "#000000"), Group(rows[3:], "#0000C8")), 1.0)
    picture = draw_picture(request_of(flat_lines(4), layer))
    assert picture is not None
    assert picture.image.pixelColor(4, 4).blue() == pytest.approx(50, abs=2)


def test_layers_that_stay_are_not_counted_again(monkeypatch: pytest.MonkeyPatch) -> None:
    counted_layers: list[Layer] = []
    monkeypatch.setattr(
        "app.items.coverage.count_layer",
        lambda request, layer, smooth: counted_layers.append(layer) or count_layer(request, layer, smooth),
    )
    curves, cache = flat_lines(3), CellCache()
    crowd, flagged = (Layer((Group(np.array(rows), "#888888"),), 0.5) for rows in ([0, 1], [2]))
    draw_picture(request_of(curves, crowd, flagged), cache)
    draw_picture(request_of(curves, crowd), cache)
    assert counted_layers == [crowd, flagged]


def test_cache_forgets_what_was_counted_for_another_view() -> None:
    curves, cache = flat_lines(1), CellCache()
    layer = Layer((Group(np.array([0]), "#888888"),), 1.0)
    draw_picture(request_of(curves, layer), cache)
    beside = PictureRequest(curves, (layer,), QRectF(5.0, 0.0, 1.0, 1.0), 8, 8)
    picture = draw_picture(beside, cache)
    assert picture is not None
    assert picture.image.pixelColor(4, 4).alpha() == 0
