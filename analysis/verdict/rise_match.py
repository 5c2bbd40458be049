"""Each rise against the usual one of its joint: the same in degrees, or the same in torque.

Other friction scales the torque of the usual rise and leaves its degrees; other stiffness scales its degrees
and leaves its torque. On a straight line the two are one; where the parts are pulled together they are not.
Compared are the degrees from one torque level to the next: what went before (where the parts met, how late
the start is seen) does not count.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analysis.arrays import BoolArray, FloatArray
from analysis.curve.curve_table import CurveTable
from analysis.shift.band_depth import ranked_points
from analysis.spread import MAD_TO_SIGMA, MEDIAN_EFFICIENCY, median_along
from analysis.verdict.rise_signs import RISE_POINTS
from analysis.verdict.unfinished_bend import slope_still_to_come

#: Torque levels: evenly spaced in the logarithm, from this share of the joint's usual net torque on, up to
#: this many times it (own choices).
LEVEL_STEP, LOWEST_LEVEL, HIGHEST_LEVEL = 0.15, 0.03, 2.5
#: Logarithms of the factors that are tried (own choice: 0.3 to 3.3 times).
FACTORS = np.arange(-24, 25) * 0.05
#: Traces that say what is usual, at least and at most, and the share of them that has to reach a level (own
#: choices).
FEWEST_USUAL, MOST_USUAL, REACHED_BY = 5, 100, 0.5
#: Levels that two rises need in common, at least, and as a share of the most that any factor leaves (own
#: choices).
FEWEST_LEVELS, COMMON_LEVELS = 6, 0.6
#: Scatter of the degrees between two levels that is believed, as a share of them (own choice).
LEAST_SCATTER = 0.02
#: Times that the scatter is read anew, each rise at its own friction (own choice).
REFINED = 2
#: Departures, in standard deviations, from which a level counts less: a pause or a step is no shape (Cauchy's
#: loss, common practice).
TOLERATED = 2.0
#: Neighbouring levels that say the same thing (measured: on sound traces of independent worlds the factor
#: scatters 2.5 times what independent levels would leave).
SAID_TOGETHER = 5.0
#: Smallest standard uncertainty of a factor that is believed, of the logarithm (own choice).
LEAST_SPREAD = 0.02
#: A rise whose levels depart this many times more than the usual ones' is not of their kind (own choice).
ODD_TIMES = 3.0


@dataclass(frozen=True, eq=False)
class RiseMatch:
    """Rises of n traces against the usual ones of their joints; arrays of shape (n,)."""

    #: ln of the torque over the usual one at the same degrees; NaN where the rise is as usual, or where the
    #: rises have too little in common.
    friction_log: FloatArray
    spread: FloatArray  #: Its standard uncertainty.
    #: ln of how much more likely the rise is with other friction than with other stiffness; 0 where unknown.
    favour: FloatArray
    odd: BoolArray  #: Whether the rise is not of the kind of its joint's others.
    #: Of the joint's usual rise: ln of the slope as read over the one that parts pulled together would have,
    #: 0 where its end is straight; and its standard uncertainty.
    unbent_log: FloatArray
    unbent_spread: FloatArray


def match_rises(
    rises: FloatArray,
    span_deg: FloatArray,
    curves: CurveTable,
    first_deg: FloatArray,
    codes: NDArray[np.integer],
    trusted: BoolArray,
) -> RiseMatch:
    """Match every rise with the usual one of its joint.

    Parameters
    ----------
    rises : ndarray, shape (n, points)
        As `analysis.verdict.rise_signs.resample_rises` gives them.
    span_deg, first_deg : ndarray, shape (n,)
        Degrees that they reach back; first angle of the recording.
    trusted : ndarray of bool, shape (n,)
        Traces that may say what is usual.
    """
    n = len(codes)
    blank = np.full(n, np.nan)
    found = RiseMatch(blank, blank.copy(), np.zeros(n), np.zeros(n, np.bool_), np.zeros(n), np.zeros(n))
    for code in np.unique(codes[codes >= 0]):
        rows = np.flatnonzero((codes == code) & np.isfinite(rises[:, -1]) & (span_deg > 0.0))
        if len(rows) < FEWEST_USUAL:
            continue
        whole = rises.shape[1] == RISE_POINTS
        points = np.arange(0, RISE_POINTS, RISE_POINTS // rises.shape[1])
        points = points[ranked_points(len(rows), RISE_POINTS)] if whole else points
        own = rises[np.ix_(rows, points)] if whole else rises[rows]
        back_deg = (points / (RISE_POINTS - 1.0) - 1.0) * span_deg[rows][:, None]
        net = own - np.nan_to_num(curves.prevailing_torque_nm[rows])[:, None]
        known = back_deg >= (first_deg - curves.final_angle_deg)[rows][:, None]
        plastic = (curves.yield_angle_deg - curves.final_angle_deg)[rows][:, None]
        known = known & ~((curves.yielded[rows] == 1)[:, None] & (back_deg > plastic))
        usual = trusted[rows] & known.any(axis=1)
        usual = usual if usual.sum() >= FEWEST_USUAL else known.any(axis=1)
        slope = float(np.median(curves.elastic_slope_nm_per_deg[rows][usual]))
        _match_joint(found, rows, back_deg, np.where(known, net, np.nan), usual, slope)
    return found


def _match_joint(
    found: RiseMatch,
    rows: NDArray[np.int64],
    back_deg: FloatArray,
    net: FloatArray,
    usual: BoolArray,
    slope_nm_per_deg: float,
) -> None:
    climbing = _climbing(net)
    top = float(np.median(np.nanmax(climbing[usual], axis=1)))
    if not top > 0.0:
        return
    first, last = (int(np.floor(np.log(end) / LEVEL_STEP)) for end in (LOWEST_LEVEL, HIGHEST_LEVEL))
    log_levels = LEVEL_STEP * np.arange(first, last + 1, dtype=np.float64)
    degrees = np.diff(_angles_at(climbing, back_deg, top * np.exp(log_levels)), axis=1)
    few = np.flatnonzero(usual)[:: -(-int(usual.sum()) // MOST_USUAL)]
    shape = _usual_rise(degrees[few], log_levels)
    if shape is None:
        return
    steps, middles = np.diff(np.exp(log_levels)), np.exp(log_levels[:-1] + 0.5 * LEVEL_STEP)
    well = MEDIAN_EFFICIENCY * shape.scatter / np.sqrt(len(few))
    found.unbent_log[rows], found.unbent_spread[rows] = slope_still_to_come(
        slope_nm_per_deg / top, middles, shape.degrees / steps, well / steps
    )
    unmoved = _mean_loss((degrees - shape.degrees) / shape.scatter)
    odd = np.nan_to_num(unmoved) > ODD_TIMES * float(np.nanmedian(unmoved[few]))
    found.odd[rows] = odd
    if not odd.any():
        return
    ordinary = float(np.nanmedian(_best(shape.by_friction(degrees[few])).loss))
    scaled, stretched = shape.by_friction(degrees[odd]), shape.by_stiffness(degrees[odd])
    friction = _best(scaled)
    # Both are judged by the same levels: those that the usual rise has at the other friction as well.
    both = np.isfinite(scaled[np.arange(len(scaled)), friction.place])
    stiffness = _best(np.where(both[:, None, :], stretched, np.nan))
    said = friction.levels / SAID_TOGETHER / np.fmax(friction.loss, ordinary)
    known = np.isfinite(friction.loss) & np.isfinite(stiffness.loss)
    moved = rows[odd]
    found.friction_log[moved] = np.where(known, friction.log_factor, np.nan)
    found.spread[moved] = np.where(known, np.fmax(friction.width(0.5 * said), LEAST_SPREAD), np.nan)
    found.favour[moved] = np.where(known, 0.5 * said * (stiffness.loss - friction.loss), 0.0)


def _climbing(net: FloatArray) -> FloatArray:
    """The highest torque so far: neither a stop between stages nor a tooth is a fall of the rise."""
    known = np.isfinite(net)
    return np.where(known, np.maximum.accumulate(np.where(known, net, -np.inf), axis=1), np.nan)


def _angles_at(climbing: FloatArray, back_deg: FloatArray, levels: FloatArray) -> FloatArray:
    """Degrees at which each rise comes to each torque level; NaN where it does not."""
    angles = np.full((len(climbing), len(levels)), np.nan)
    for row, (torque, angle) in enumerate(zip(climbing, back_deg, strict=True)):
        known = np.isfinite(torque)
        if known.any():
            angles[row] = np.interp(levels, torque[known], angle[known], left=np.nan, right=np.nan)
    return angles


@dataclass(frozen=True, eq=False)
class _UsualRise:
    """Degrees that a joint's usual rise takes from one torque level to the next, and their scatter.

    Of shape (steps,), and those of friction as many times the usual as `FACTORS` says (factors, steps).
    """

    degrees: FloatArray
    scatter: FloatArray
    friction_degrees: FloatArray
    friction_scatter: FloatArray

    def by_friction(self, degrees: FloatArray) -> FloatArray:
        """Departures of n rises from the usual one at another friction, shape (n, factors, steps)."""
        return np.asarray((degrees[:, None, :] - self.friction_degrees) / self.friction_scatter)

    def by_stiffness(self, degrees: FloatArray) -> FloatArray:
        """Departures of n rises from the usual one at another stiffness, shape (n, factors, steps)."""
        stretched = degrees[:, None, :] * np.exp(FACTORS)[:, None]
        return np.asarray((stretched - self.degrees) / self.scatter)


def _usual_rise(degrees: FloatArray, log_levels: FloatArray) -> _UsualRise | None:
    """Medians of the usual rises, and what is left of their scatter once each has its own friction."""
    reached = np.isfinite(degrees).mean(axis=0) >= REACHED_BY
    if reached.sum() < FEWEST_LEVELS:
        return None
    inside = slice(int(reached.argmax()), len(reached) - int(reached[::-1].argmax()))
    usual = np.full(degrees.shape[1], np.nan)
    usual[inside] = median_along(degrees[:, inside], 0)
    least = LEAST_SCATTER * usual
    scatter = np.fmax(MAD_TO_SIGMA * median_along(np.abs(degrees - usual), 0), least)
    for _ in range(REFINED):
        shape = _with_friction(usual, scatter, log_levels, inside)
        departures = shape.by_friction(degrees)
        own = departures[np.arange(len(degrees)), _best(departures).place]
        scatter = np.fmax(MAD_TO_SIGMA * median_along(np.abs(own), 0) * scatter, least)
    return _with_friction(usual, scatter, log_levels, inside)


def _with_friction(
    usual: FloatArray, scatter: FloatArray, log_levels: FloatArray, inside: slice
) -> _UsualRise:
    ends = log_levels[inside.start : inside.stop + 1]
    turned = np.concatenate([[0.0], np.cumsum(usual[inside])])
    moved = log_levels - FACTORS[:, None]
    at = np.interp(np.exp(moved), np.exp(ends), turned, left=np.nan, right=np.nan)
    middles = moved[:, :-1] + 0.5 * LEVEL_STEP
    spread = np.interp(middles, ends[:-1] + 0.5 * LEVEL_STEP, scatter[inside])
    return _UsualRise(usual, scatter, np.diff(at, axis=1), np.asarray(spread))


def _mean_loss(departures: FloatArray) -> FloatArray:
    """Mean over the levels in common, each counted by Cauchy's loss; NaN where they are too few."""
    known = np.isfinite(departures)
    loss = TOLERATED**2 * np.log1p((np.where(known, departures, 0.0) / TOLERATED) ** 2)
    count = known.sum(axis=-1)
    return np.where(count >= FEWEST_LEVELS, loss.sum(axis=-1) / np.maximum(count, 1), np.nan)


@dataclass(frozen=True, eq=False)
class _Best:
    """The factor that leaves least of the departures; arrays of shape (n,), `losses` (n, factors)."""

    place: NDArray[np.int64]
    log_factor: FloatArray
    loss: FloatArray
    levels: FloatArray
    losses: FloatArray

    def width(self, said: FloatArray) -> FloatArray:
        """Half the range of factors that are not clearly worse, at so many independent levels over loss."""
        near = self.losses <= (self.loss + 1.0 / said)[:, None]
        return np.asarray(0.5 * (near.sum(axis=1) - 1.0) * (FACTORS[1] - FACTORS[0]))


def _best(departures: FloatArray) -> _Best:
    losses = _mean_loss(departures)
    levels = np.isfinite(departures).sum(axis=-1)
    losses = np.where(levels >= COMMON_LEVELS * levels.max(axis=1, keepdims=True), losses, np.nan)
    known = np.isfinite(losses).any(axis=1)
    place = np.where(known, np.where(np.isfinite(losses), losses, np.inf).argmin(axis=1), len(FACTORS) // 2)
    inner, row = np.clip(place, 1, len(FACTORS) - 2), np.arange(len(losses))
    before, at, after = (losses[row, inner + step] for step in (-1, 0, 1))
    bend = before - 2.0 * at + after
    off = np.where(
        bend > 0.0, np.clip(0.5 * (before - after) / np.where(bend > 0.0, bend, 1.0), -1.0, 1.0), 0.0
    )
    factor = np.where(known, FACTORS[inner] + off * (FACTORS[1] - FACTORS[0]), np.nan)
    return _Best(place, factor, losses[row, place], levels[row, place], losses)
