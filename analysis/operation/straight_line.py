"""The longest straight stretch of a run, and the line through it, fitted per degree."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analysis.arrays import FloatArray

#: Cells that a run is averaged in, at most, so that dense and sparse parts weigh by their degrees, and fewest
#: that make a line.
MOST_CELLS, FEWEST_CELLS = 72, 5
#: A stretch is straight where scatter and bend stay within so many standard deviations of what noise makes
#: (own choice).
WITHIN_SIGMAS = 3.0
#: Share of the mean square of the differences that the noise is at least (own choice).
MEAN_SQUARE_SHARE = 0.95
#: Of the longest of many stretches the line is less certain than of one chosen beforehand, by this factor
#: (measured on synthetic back-offs).
SELECTION = 1.1
#: Noise that is always allowed for, as a share of the highest torque (own choice: below any transducer's class).
LEAST_NOISE = 0.0001


@dataclass(frozen=True)
class StraightLine:
    """Torque = level - slope x depth, depth in degrees from the level's place."""

    slope: float  #: N·m/deg.
    level: float  #: N·m at depth zero.
    covariance: FloatArray  #: Shape (2, 2). Of level and slope.
    #: Depths between which the run is straight.
    start: float
    stop: float
    noise_nm: float  #: Standard deviation of one cell's mean.

    @property
    def slope_uncertainty(self) -> float:
        """Standard uncertainty of the slope, N·m/deg."""
        return float(np.sqrt(self.covariance[1, 1]))

    def at(self, depth: float) -> float:
        """Torque of the line, N·m."""
        return self.level - self.slope * depth

    def from_depth(self, depth: float) -> StraightLine:
        """The same line with its level at another place."""
        move = np.array([[1.0, -depth], [0.0, 1.0]])
        return StraightLine(
            self.slope,
            self.at(depth),
            move @ self.covariance @ move.T,
            self.start - depth,
            self.stop - depth,
            self.noise_nm,
        )


def cell_means(depth: FloatArray, torque_nm: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Mean depth and torque of even cells of depth, those without a sample left out."""
    span = float(np.ptp(depth))
    if span <= 0.0:
        return depth[:1], torque_nm[:1]
    step = float(np.median(np.abs(np.diff(depth)))) if len(depth) > 1 else span
    n = int(np.clip(span / max(step, span / MOST_CELLS), 1, MOST_CELLS))
    cell = np.minimum(((depth - depth.min()) / span * n).astype(np.int64), n - 1)
    count = np.bincount(cell, minlength=n)
    filled = count > 0
    x = np.bincount(cell, depth, n)[filled] / count[filled]
    return x, np.bincount(cell, torque_nm, n)[filled] / count[filled]


def longest_line(depth: FloatArray, torque_nm: FloatArray, least_deg: float) -> StraightLine | None:
    """The line of the longest stretch, at least `least_deg` long, that noise alone bends; None where none is.

    Every stretch of cells is tried: its scatter about the line, and what a parabola would take off it, against
    the noise that the differences of neighbouring cells show.
    """
    x, y = cell_means(depth, torque_nm)
    n = len(x)
    if n < FEWEST_CELLS:
        return None
    noise = _noise(y)
    first, last = np.triu_indices(n, FEWEST_CELLS - 1)
    long = x[last] - x[first] >= least_deg
    first, last = first[long], last[long]
    if not len(first):
        return None
    scatter, bend = _residuals(x, y, first, last)
    free = last - first - 1.0
    most = noise**2 * (free + WITHIN_SIGMAS * np.sqrt(2.0 * free))
    straight = (scatter <= most) & (bend <= (WITHIN_SIGMAS * noise) ** 2)
    length = x[last] - x[first]
    # Where nothing is straight, the stretch that is nearest to it.
    nearest = np.argmin(scatter / free / length**2)
    best = int(np.argmax(np.where(straight, length, -1.0)) if straight.any() else nearest)
    inside = slice(int(first[best]), int(last[best]) + 1)
    noise = max(noise, float(np.sqrt(scatter[best] / free[best])))
    return line_through(x[inside], y[inside], SELECTION * noise)


def line_through(x: FloatArray, y: FloatArray, noise_nm: float) -> StraightLine:
    """Least squares with equal weights; the uncertainty is that of the noise."""
    design = np.stack([np.ones_like(x), -x], axis=1)
    covariance = np.linalg.inv(design.T @ design)
    level, slope = covariance @ design.T @ y
    spread = np.asarray(covariance * noise_nm**2, np.float64)
    return StraightLine(float(slope), float(level), spread, float(x[0]), float(x[-1]), noise_nm)


def _noise(y: FloatArray) -> float:
    """By second differences, whose median no bend and no peak moves much."""
    second = np.abs(y[2:] - 2.0 * y[1:-1] + y[:-2])
    # Median size of a normal deviate 0.6745; a second difference carries sqrt(6) times the noise. Of few cells
    # the median may be low by chance: not by more than this below the mean square.
    seen = max(float(np.median(second)) / 0.6745, MEAN_SQUARE_SHARE * float(np.sqrt(np.mean(second**2))))
    seen /= np.sqrt(6.0)
    return float(max(seen, LEAST_NOISE * float(np.abs(y).max()), 1e-12))


def _residuals(
    x: FloatArray, y: FloatArray, first: NDArray[np.int64], last: NDArray[np.int64]
) -> tuple[FloatArray, FloatArray]:
    """Sum of squares about the line of each stretch, and how much less a parabola leaves."""
    u = (x - x.mean()) / (0.5 * np.ptp(x))
    v = y - y.mean()
    powers = np.stack([u**k for k in range(5)] + [v, u * v, u**2 * v, v * v])
    total = np.concatenate([np.zeros((len(powers), 1)), np.cumsum(powers, axis=1)], axis=1)
    s = total[:, last + 1] - total[:, first]
    n, mean = s[0], s[1] / s[0]
    # Moments about each stretch's own middle.
    xx = s[2] - n * mean**2
    x3 = s[3] - 3.0 * mean * s[2] + 2.0 * n * mean**3
    x4 = s[4] - 4.0 * mean * s[3] + 6.0 * mean**2 * s[2] - 3.0 * n * mean**4
    xy = s[6] - mean * s[5]
    x2y = s[7] - 2.0 * mean * s[6] + mean**2 * s[5]
    yy = s[8] - s[5] ** 2 / n
    scatter = np.maximum(yy - xy**2 / xx, 0.0)
    # The parabola's own part, at right angles to constant and slope.
    own = x4 - xx**2 / n - x3**2 / xx
    along = x2y - xx * s[5] / n - x3 * xy / xx
    return scatter, along**2 / np.maximum(own, 1e-12 * np.maximum(x4, 1e-300))
