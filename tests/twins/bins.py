"""Torque over even steps of angle, and what a first look at the bins says of the rise."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

Array = np.ndarray

HALF_TURN_DEG = 180.0
#: Standard deviation over median absolute deviation of normal errors.
MAD_TO_SIGMA = 1.4826


@dataclass
class Bins:
    """Mean angle, mean torque and weight (at first: number of samples) of bins that hold samples."""

    angle: Array
    torque: Array
    weight: Array

    def __len__(self) -> int:
        return len(self.angle)

    def part(self, start: int, stop: int | None = None) -> Bins:
        """Some of the bins."""
        return Bins(self.angle[start:stop], self.torque[start:stop], self.weight[start:stop])

    def less(self, trend: float, from_deg: float) -> Bins:
        """The bins without a steady trend of the prevailing torque that is zero at `from_deg`."""
        return Bins(self.angle, self.torque - trend * (self.angle - from_deg), self.weight)


def make_bins(angle: Array, torque: Array, start: float, width: float, most: float) -> Bins:
    """Means over bins of even width, of the first `most` samples in each: a pause counts no more than the
    curve."""
    inside = angle >= start
    angle, torque = angle[inside], torque[inside]
    number = np.floor((angle - start) * (1.0 / width))
    rows = []
    for k in np.unique(number):
        chosen = np.flatnonzero(number == k)[: int(min(most, len(angle)))]
        rows.append((angle[chosen].mean(), torque[chosen].mean(), len(chosen)))
    return Bins(*np.array(rows, float).reshape(-1, 3).T)


def passes(bins: Bins, level: float, first: int = 0) -> int:
    """First bin above a level: the split that leaves the fewest degrees on the wrong side."""
    angle, torque = bins.angle[first:], bins.torque[first:]
    step = np.diff(angle, prepend=angle[0])
    wrong = np.cumsum(np.where(torque >= level, step, -step))
    last_below = int(np.argmin(wrong)) if wrong.min() < 0 else (0 if torque[0] < level else -1)
    return min(first + last_below + 1, len(bins) - 1)


def level_ahead(bins: Bins, stop_deg: float) -> float:
    """Median torque over the half turn before an angle, of three bins at least; NaN where there are not even
    two."""
    stop = int(np.searchsorted(bins.angle, stop_deg))
    start = min(int(np.searchsorted(bins.angle, stop_deg - HALF_TURN_DEG)), max(stop - 3, 0))
    return float(np.median(bins.torque[start:stop])) if stop - start >= 2 else np.nan


def trend_ahead(bins: Bins, stop_deg: float, least_deg: float = 45.0) -> float:
    """Slope of the prevailing torque over the last turn before an angle; 0 where less than `least_deg` is
    there.

    Median of the slopes between bins that lie half the stretch apart.
    """
    stop = int(np.searchsorted(bins.angle, stop_deg))
    start = min(int(np.searchsorted(bins.angle, stop_deg - 2 * HALF_TURN_DEG)), max(stop - 8, 0))
    half = (stop - start) // 2
    if half < 3 or bins.angle[stop - 1] - bins.angle[start] < least_deg:
        return 0.0
    near, far = slice(start, start + half), slice(start + half, start + 2 * half)
    rise = bins.torque[far] - bins.torque[near]
    return float(np.median(rise / (bins.angle[far] - bins.angle[near])))


def locate(bins: Bins, top: float) -> tuple[float, float, float]:
    """Prevailing level, start of the rise, and the degrees that a straight rise would take."""
    angle, torque = bins.angle, bins.torque
    end = angle[-1]
    k65 = passes(bins, 0.65 * top)
    k85 = passes(bins, 0.85 * top, k65)
    slope = (top - torque[k65]) / max(end - angle[k65], 1e-9)
    if angle[k85] > angle[k65]:
        slope = max(slope, (torque[k85] - torque[k65]) / (angle[k85] - angle[k65]))
    corner = angle[k65] - torque[k65] / max(slope, 1e-12)
    level = level_ahead(bins, corner - 0.1 * (end - corner))
    start = corner
    for _ in range(3):
        if np.isnan(level) or level > 0.85 * top:
            level = min(torque[0], 0.5 * top)
        threshold = level + 0.05 * (top - level)
        # What lies further back than six straight rises is rundown, however high its torque.
        far_back = int(np.count_nonzero(angle < end - 6.0 * (end - corner)))
        near = min(far_back, max(k65 - 8, 0))
        k = passes(bins, threshold, near)
        if k == near:
            k = passes(bins, threshold)
        start = angle[k]
        better = level_ahead(bins, start - 0.15 * (end - start)) if k > 0 else np.nan
        if np.isnan(better):
            break
        level = better
    k25 = passes(bins, level + 0.25 * (top - level))
    k60 = passes(bins, level + 0.60 * (top - level), k25)
    gain = torque[k60] - torque[k25]
    straight = max(end - angle[k25], 1e-9)
    if gain > 0.05 * (top - level) and angle[k60] > angle[k25]:
        straight = (angle[k60] - angle[k25]) * (top - level) / gain
    return float(level), float(start), float(straight)


def steepest(bins: Bins, width: float) -> tuple[float, float, float]:
    """Slope, centre angle and centre torque of the steepest straight line fitted over a stretch of this
    width.

    Each stretch begins at a bin; it has four bins and six tenths of the width at least. Slope -1: there is
    none.
    """
    best = (-1.0, np.nan, np.nan)
    weight = np.minimum(bins.weight, 8.0)
    for k in range(len(bins)):
        stop = int(np.searchsorted(bins.angle, bins.angle[k] + width, side="right"))
        a, t, w = bins.angle[k:stop], bins.torque[k:stop], weight[k:stop]
        if len(a) < 4 or a[-1] - a[0] < 0.6 * width:
            continue
        centre, height = np.average(a, weights=w), np.average(t, weights=w)
        slope = np.sum(w * (a - centre) * (t - height)) / np.sum(w * (a - centre) ** 2)
        if slope > best[0]:
            best = (slope, centre, height)
    return best
