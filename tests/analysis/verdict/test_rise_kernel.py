"""The compiled scans of the rise against a slow readable twin, and against curves made for each sign."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.curve import find_points
from analysis.traces import TraceSet
from analysis.verdict import rise_signs as looks
from analysis.verdict.rise_kernel import (
    N_TOOTH_SIGNS,
    TEETH,
    TOOTH_CELL_DEG,
    TOOTH_FROM_DEG,
    TOOTH_SUM_NM,
    TOOTH_TO_DEG,
    count_teeth,
)
from analysis.verdict.rise_signs import (
    CLIMB_SHARE,
    END_SHARE,
    FOOT_SHARE,
    HIGHEST_BASE,
    RISE_POINTS,
    RiseSigns,
    resample_rises,
)
from tests.world import make_shift


def find_rise_signs(traces, curves, codes: np.ndarray) -> RiseSigns:
    """Both looks at the rises of traces at hand."""
    scan = looks.scan_rises(traces, curves)
    by = looks.measure_teeth_by(scan, curves.final_torque_nm, codes)
    return looks.rise_signs(scan, curves, looks.count_teeth(traces, curves, scan, by), by)


def last_below(angle: np.ndarray, torque: np.ndarray, start: int, final: int, level: float) -> int:
    """The readable twin: runs of low torque, latest first; the first that lasts counts from its end."""
    at = final
    while at >= start:
        while at >= start and torque[at] > level:
            at -= 1
        if at < start:
            return start
        end = at
        while at >= start and torque[at] <= level:
            if angle[end] - angle[at] > max(3.0, 0.1 * (angle[final] - angle[end])):
                return end
            at -= 1
        if at < start:
            return end
    return start


def test_scan_agrees_with_its_twin() -> None:
    traces, _ = make_shift(5, good=4, each_fault=1)
    curves = find_points(traces)
    signs = find_rise_signs(traces, curves, np.zeros(len(traces), np.int64))
    for row, trace in enumerate(traces):
        angle, torque, final = trace.angle_deg, trace.torque_nm, int(curves.final_index[row])
        top = torque[final]
        level = curves.prevailing_torque_nm[row]
        base = np.clip(0.0 if np.isnan(level) else level, 0.0, HIGHEST_BASE * top)
        foot = last_below(angle, torque, 0, final, base + FOOT_SHARE * (top - base))
        climb = last_below(angle, torque, foot, final, base + CLIMB_SHARE * (top - base))
        end = last_below(angle, torque, climb, final, base + END_SHARE * (top - base))
        assert signs.climb_deg[row] == pytest.approx(angle[final] - angle[climb])
        assert signs.first_share[row] == pytest.approx(torque[:3].mean() / top)
        assert signs.last_share[row] == pytest.approx(torque[-1] / top)
        assert signs.after_deg[row] == pytest.approx(angle[final:].max() - angle[final])
        if final > end + 1 and np.ptp(angle[end : final + 1]) > 0:
            slope = np.polyfit(angle[end : final + 1], torque[end : final + 1], 1)[0]
            assert signs.end_slope_nm_per_deg[row] == pytest.approx(slope, rel=1e-6, abs=1e-9)


def rise(torque_of_angle: object, stop: float = 60.0, step: float = 0.1) -> tuple[np.ndarray, np.ndarray]:
    angle = np.arange(0.0, 400.0 + stop, step)
    torque = np.where(angle < 400.0, 0.5, torque_of_angle(angle - 400.0) + 0.5)  # type: ignore[operator]
    return angle, torque


def signs_of(*curves: tuple[np.ndarray, np.ndarray]) -> tuple[object, TraceSet]:
    traces = TraceSet.from_lists(
        [str(i) for i in range(len(curves))], [c[0] for c in curves], [c[1] for c in curves]
    )
    return find_rise_signs(traces, find_points(traces), np.zeros(len(curves), np.int64)), traces


def test_teeth_are_counted_and_a_smooth_rise_has_none() -> None:
    noise = np.random.default_rng(1).normal(0.0, 0.05, 10_000)

    def smooth(a: np.ndarray) -> np.ndarray:
        return a + noise[: len(a)]

    def saw(a: np.ndarray) -> np.ndarray:
        return smooth(a) + np.where(a > 10.0, 6.0 * ((a % 8.0) / 8.0), 0.0)

    signs, _ = signs_of(rise(smooth), rise(saw))
    assert signs.teeth[0] == 0  # type: ignore[attr-defined]
    assert 4 <= signs.teeth[1] <= 7  # type: ignore[attr-defined]
    assert signs.tooth_pitch_deg[1] == pytest.approx(8.0, abs=0.5)  # type: ignore[attr-defined]
    assert signs.tooth_largest_share[1] == pytest.approx(6.0 / 66.0, abs=0.04)  # type: ignore[attr-defined]


Cell = tuple[float, float, int]


def cells_of(angle: np.ndarray, torque: np.ndarray, foot: int) -> list[Cell]:
    """The readable twin of the cells: first angle, mean torque, and number of samples of each."""
    cells: list[tuple[float, list[float]]] = []
    reached = -np.inf
    for a, t in zip(angle[foot:], torque[foot:], strict=True):
        if a <= reached:
            continue
        reached = a
        if not cells or a >= cells[-1][0] + TOOTH_CELL_DEG:
            cells.append((a, []))
        cells[-1][1].append(t)
    return [(a, float(np.mean(values)), len(values)) for a, values in cells]


def above_hull(cells: list[Cell]) -> list[Cell]:
    """The twin of the hull: at each cell the lowest chord between a cell before and one after it."""
    over = []
    for k, (a, t, n) in enumerate(cells):
        chords = [
            p[1] + (q[1] - p[1]) * (a - p[0]) / (q[0] - p[0]) for p in cells[:k] for q in cells[k + 1 :]
        ]
        over.append((a, t - min([t, *chords]), n))
    return over


def teeth_of(cells: list[Cell], floor: float, reach: float) -> list[tuple[float, float]]:
    """The readable twin of the count: angle and height of each fall that is followed by a rise as high."""
    over = above_hull(cells)
    found, top, low = [], 0, None
    for k, cell in enumerate(over[1:], 1):
        turn = over[top if low is None else low]
        least = max(floor, reach * np.sqrt((1.0 / cell[2] + 1.0 / turn[2]) / 2.0))
        if low is None:
            if cell[1] > turn[1]:
                top = k
            elif cell[1] < turn[1] - least:
                low = k
        elif cell[1] < turn[1]:
            low = k
        elif cell[1] > turn[1] + least:
            found.append((over[top][0], over[top][1] - turn[1]))
            top, low = k, None
    if low is not None:
        height = over[top][1] - over[low][1]
        if max(t for _, t, _ in cells[low:]) - cells[low][1] > max(floor, reach, 0.5 * height):
            found.append((over[top][0], height))
    return found


def test_teeth_agree_with_their_twin() -> None:
    rng = np.random.default_rng(4)
    for _ in range(20):
        angle = np.cumsum(rng.uniform(-0.05, 0.4, 400))
        torque = angle + np.cumsum(rng.normal(0.0, 1.0, 400))
        final = int(np.argmax(torque))
        if final < 20:
            continue
        floor, reach, found = 2.0, 4.0, np.full((1, N_TOOTH_SIGNS), np.nan)
        offsets, foot = np.array([0, 400]), np.array([3])
        count_teeth(
            angle, torque, offsets, foot, np.array([final]), np.array([floor]), np.array([reach]), found
        )
        grounds = len(np.unique(np.maximum.accumulate(angle[3 : final + 1])))
        step = 1.25 * (torque[final] - torque[3]) / grounds
        twin = teeth_of(cells_of(angle, torque, 3), max(floor, step), reach)
        assert found[0, TEETH] == len(twin)
        assert found[0, TOOTH_SUM_NM] == pytest.approx(sum(height for _, height in twin))
        if twin:
            assert found[0, TOOTH_FROM_DEG] == twin[0][0]
            assert found[0, TOOTH_TO_DEG] == twin[-1][0]


def test_the_bend_of_a_drawdown_is_no_tooth_and_the_last_tooth_counts() -> None:
    bent = lambda a: np.where(a < 20.0, a**2 / 40.0, a - 10.0)  # noqa: E731
    torn = lambda a: bent(a) - 5.0 * (a > 24.0) - 5.0 * (a > 36.0) - 5.0 * (a > 48.0)  # noqa: E731
    signs, _ = signs_of(rise(bent), rise(torn))
    assert signs.teeth[0] == 0  # type: ignore[attr-defined]
    assert signs.teeth[1] == 3  # type: ignore[attr-defined]
    assert signs.tooth_pitch_deg[1] == pytest.approx(12.0, abs=1.0)  # type: ignore[attr-defined]


def test_a_drive_that_slips_lower_each_time_has_its_pitch_and_a_collapse_is_no_tooth() -> None:
    def slipping(a: np.ndarray) -> np.ndarray:
        over = np.maximum(a - 30.0, 0.0)
        again = 30.0 * (1.0 - 0.02 * (over // 60.0)) * (0.15 + 0.85 * (over % 60.0 / 60.0) ** 2)
        return np.where(a < 30.0, a, again)

    def stripped(a: np.ndarray) -> np.ndarray:
        return np.where(a < 30.0, a, np.maximum(10.0 + 0.2 * (a - 40.0), 30.0 - 2.0 * (a - 30.0)))

    signs, _ = signs_of(rise(slipping, 30.0 + 3 * 60.0), rise(stripped, 80.0))
    assert signs.teeth.tolist() == [3, 0]  # type: ignore[attr-defined]
    assert signs.tooth_pitch_deg[0] == pytest.approx(60.0, rel=0.03)  # type: ignore[attr-defined]


def test_noise_makes_no_teeth_however_it_differs_between_recordings() -> None:
    rng = np.random.default_rng(2)
    shares = np.repeat([0.002, 0.0035, 0.005, 0.006], 25)
    curves = []
    for share in shares:
        angle, torque = rise(lambda a: a, step=rng.choice([0.05, 0.15, 0.5]))
        curves.append((angle, torque + 60.0 * share * rng.normal(size=len(torque))))
    signs, _ = signs_of(*curves)
    assert np.mean(signs.teeth > 0) <= 0.02  # type: ignore[attr-defined]
    assert np.median(signs.noise_nm / (60.0 * shares)) == pytest.approx(1.0, abs=0.1)  # type: ignore[attr-defined]


def test_teeth_are_seen_in_noise_and_do_not_pass_for_it() -> None:
    rng = np.random.default_rng(3)
    curves = []
    for number in range(30):
        angle, torque = rise(
            lambda a, saw=number == 7: a + saw * 5.0 * (((a - 10.0) % 6.0) / 6.0) * (a > 10.0)
        )
        curves.append((angle, torque + 0.6 * rng.normal(size=len(torque))))
    signs, _ = signs_of(*curves)
    assert signs.teeth[7] >= 5  # type: ignore[attr-defined]
    assert signs.noise_nm[7] == pytest.approx(0.6, rel=0.2)  # type: ignore[attr-defined]
    assert np.delete(signs.teeth, 7).max() == 0  # type: ignore[attr-defined]


def test_rounded_angles_make_no_teeth() -> None:
    angle, torque = rise(lambda a: 4.0 * a, stop=15.0, step=0.05)
    signs, _ = signs_of((np.round(angle), torque))
    assert signs.teeth[0] == 0  # type: ignore[attr-defined]


def test_collapse_after_the_peak_is_followed_forward_only() -> None:
    angle, torque = rise(lambda a: np.where(a < 40.0, a, 40.0 - 0.5 * (a - 40.0)))
    back = angle[-1] - np.linspace(0.0, 3.0, 20)
    signs, _ = signs_of((np.r_[angle, back], np.r_[torque, np.linspace(torque[-1], 0.0, 20)]))
    assert signs.after_deg[0] == pytest.approx(19.9, abs=0.2)  # type: ignore[attr-defined]
    assert signs.after_fall_share[0] == pytest.approx(10.0 / 40.5, abs=0.01)  # type: ignore[attr-defined]


def test_scaled_torque_scales_torques_and_leaves_shares_and_angles() -> None:
    traces, _ = make_shift(6, good=3, each_fault=1, faults=("galling", "thread-stripping"))
    scaled = TraceSet(traces.angle_deg, 8.0 * traces.torque_nm, traces.offsets, traces.attributes)
    codes = np.zeros(len(traces), np.int64)
    one, eight = (find_rise_signs(t, find_points(t), codes) for t in (traces, scaled))
    np.testing.assert_allclose(eight.climb_deg, one.climb_deg, rtol=1e-6)
    np.testing.assert_allclose(eight.teeth, one.teeth)
    np.testing.assert_allclose(eight.after_fall_share, one.after_fall_share, rtol=1e-9)
    np.testing.assert_allclose(eight.end_slope_nm_per_deg, 8.0 * one.end_slope_nm_per_deg, rtol=1e-6)


def test_resampled_rise_is_the_curve() -> None:
    angle, torque = rise(lambda a: a)
    traces = TraceSet.from_lists(["a"], [angle], [torque])
    (curve,) = resample_rises(traces, find_points(traces), np.array([120.0]))
    grid = np.linspace(-120.0, 0.0, RISE_POINTS)
    np.testing.assert_allclose(curve, np.interp(angle[-1] + grid, angle, torque), atol=0.1)
    assert curve[-1] == torque[-1]
