"""What one fitted curve says, how uncertain that is, and what all bends say on average."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from tests.twins.least_squares import Curve, Fit, solve

Array = np.ndarray

#: Points over the rise that are searched for the steepest stretch, and the stretch's share of it
#: ("sustained").
POINTS, SUSTAINED_SHARE = 60, 0.2
#: Step of numerical derivatives, as a share of a parameter's own size.
NUDGE = 0.02
#: A layer between the parts has a say in where the drawdown starts only where it lowers the loss by this
#: much.
LAYER_GAIN = 3.5
#: A bend is seen from this share of the elastic slope; unseen it may have started at the smaller one, or,
#: where it never ends, at this many widths. The drawdown starts between the two.
START_SHARE, TOUCH_SHARE, FARTHEST_TOUCH = 0.02, 1e-4, -1.7
#: At this share of the way back from where it is seen.
UNSEEN_SHARE = 0.40
#: The width of a bend is known beforehand to this many times itself, or the bins' distance where more.
WIDTH_KNOWN_TO = 3.0
#: Bends are weighted by exp(-loss / this).
TEMPERATURE = 2.0


@dataclass(frozen=True)
class Frame:
    """Angles between which a curve is read, slope shares of snug and yield, trend of the prevailing
    torque."""

    begin: float
    end: float
    snug_ratio: float
    yield_ratio: float
    trend: float


#: Quantities with a variance each.
UNCERTAIN = ("slope", "snug", "onset", "start", "origin")


def variance(gradient: Array, normal: Array, unit: float) -> float:
    """Variance of a quantity by its gradient: g N^-1 g times the variance of unit weight."""
    solved = solve(normal + 1e-9 * np.diag(np.diag(normal)), gradient)
    return np.inf if solved is None else unit * max(float(gradient @ solved), 0.0)


def _secant(curve: Curve, stretch: tuple[float, float], trend: float) -> float:
    low, high = curve.torque(np.array(stretch))
    return (high - low) / (stretch[1] - stretch[0]) + trend


def _line_origin(curve: Curve, stretch: tuple[float, float]) -> float:
    """Where the line through the ends of the stretch meets the level."""
    above = float(curve.torque(np.array(stretch[:1]))[0]) - curve.level
    return stretch[0] - above / float(_secant(curve, stretch, 0.0))


def _sizes(curve: Curve) -> Array:
    """Own size of each parameter: of a place, the width of its bend."""
    sizes = curve.vector
    sizes[2] = curve.width
    if len(sizes) > 4:
        sizes[5] = curve.sag_width
    return sizes


def _gradient(curve: Curve, quantity) -> Array:
    """Of a quantity by each parameter but the level, numerically."""
    base, sizes, p = quantity(curve), _sizes(curve), curve.vector
    gradient = np.zeros(len(p))
    for i in range(1, len(p)):
        moved = p.copy()
        moved[i] += NUDGE * sizes[i]
        gradient[i] = (quantity(curve.moved_to(moved)) - base) / (NUDGE * sizes[i])
    return gradient


def _crossing_variance(
    fit: Fit, at: float, ratio: float, stretch: tuple[float, float], trend: float, unit: float
) -> float:
    """Of the angle at which the slope is `ratio` of the mean slope over the stretch.

    By the implicit function: it moves by minus the change of (slope - ratio x elastic slope) over the
    curvature there.
    """
    curve = fit.curve
    near = NUDGE * (curve.width if ratio > 0.5 or curve.yielding is None else curve.sag_width)
    below, above = curve.slope_at(np.array([at - near, at + near]))
    curvature = (above - below) / (2.0 * near)
    if abs(curvature) * (stretch[1] - stretch[0]) < 1e-6 * _secant(curve, stretch, trend):
        return np.inf

    def lacking(c: Curve) -> float:
        return -(float(c.slope_at(at)) - ratio * _secant(c, stretch, trend)) / curvature

    return variance(_gradient(curve, lacking), fit.normal, unit)


def _crossing(curve: Curve, above: float, below: float, level: float) -> float:
    """Angle at which the slope passes a level, by fourteen bisections between a place above and one below."""
    for _ in range(14):
        middle = 0.5 * (above + below)
        if curve.slope_at(middle) >= level:
            above = middle
        else:
            below = middle
    return 0.5 * (above + below)


def read(fit: Fit, frame: Frame, unit: float, distance: float) -> dict[str, float]:
    """Elastic slope, its stretch, snug, onset, drawdown start and origin of the line, each with its variance;
    `distance` is that of the bins."""
    curve = fit.curve
    known = np.zeros(len(curve.vector))
    known[3] = unit / (WIDTH_KNOWN_TO * max(distance, curve.width)) ** 2
    fit = replace(fit, normal=fit.normal + np.diag(known))
    angle = frame.begin + (frame.end - frame.begin) / (POINTS - 1) * np.arange(POINTS)
    step = (frame.end - frame.begin) / (POINTS - 1)
    torque = curve.torque(angle) + frame.trend * (angle - frame.begin)
    slope = curve.slope_at(angle) + frame.trend
    highest = max(slope.max(), 0.0)
    # The rise, for what is "sustained": from a twentieth of the highest slope to where it was last at half of
    # it.
    steep = np.flatnonzero(slope[1:] >= 0.5 * highest) + 1
    last = int(steep[-1]) if len(steep) else 0
    rising = np.flatnonzero(slope[:last] >= 0.05 * highest)
    first = int(rising[0]) if len(rising) else last
    span = max(2, int(SUSTAINED_SHARE * (last - first) + 0.5))
    secants = (torque[span:] - torque[:-span]) / (span * step)
    best = 0
    for k in range(1, len(secants)):
        if secants[k] > secants[best] * (1.0 + 1e-6):
            best = k
    elastic, centre = float(secants[best]), best + span // 2
    stretch = (frame.begin + best * step, frame.begin + (best + span) * step)
    said = dict.fromkeys((*UNCERTAIN, *(f"{name}_variance" for name in UNCERTAIN)), np.nan)
    said |= {"slope": elastic, "from": stretch[0], "to": stretch[1]}
    said["origin"] = _line_origin(curve, stretch)
    said["origin_variance"] = variance(_gradient(curve, lambda c: _line_origin(c, stretch)), fit.normal, unit)
    said["slope_variance"] = variance(
        _gradient(curve, lambda c: _secant(c, stretch, frame.trend)), fit.normal, unit
    )
    flat = np.flatnonzero(slope[: centre + 1] < frame.snug_ratio * elastic)
    if len(flat):
        k = int(flat[-1])
        said["snug"] = _crossing(curve, angle[k + 1], angle[k], frame.snug_ratio * elastic - frame.trend)
        said["snug_variance"] = _crossing_variance(
            fit, said["snug"], frame.snug_ratio, stretch, frame.trend, unit
        )
    gradient = np.zeros(len(curve.vector))
    gradient[2] = 1.0
    seen = curve.bend.reaches(START_SHARE)
    touch = max(curve.bend.reaches(TOUCH_SHARE), FARTHEST_TOUCH)
    gradient[3] = seen - UNSEEN_SHARE * (seen - touch)
    said["start"] = curve.origin + gradient[3] * curve.width
    between = (seen - touch) * curve.width
    said["start_variance"] = variance(gradient, fit.normal, unit) + between**2 / 12.0
    fallen = np.flatnonzero(slope[centre:] < frame.yield_ratio * elastic)
    if curve.yielding is not None and len(fallen):
        k = centre + int(fallen[0])
        said["onset"] = _crossing(curve, angle[k - 1], angle[k], frame.yield_ratio * elastic - frame.trend)
        said["onset_variance"] = _crossing_variance(
            fit, said["onset"], frame.yield_ratio, stretch, frame.trend, unit
        )
    return said


def average(said: list[dict[str, float]], losses: Array, layer: list[bool]) -> dict[str, float]:
    """Mean over the bends with weights exp(-(loss - least) / 2); losses are half sums of squares.

    Twice as even as by their likelihood, since the true bend is none of them. The variance of the mean is the
    mean variance and, added to it, the variance between the bends.
    """
    result = {}
    for name in ("slope", "from", "to", "snug", "onset", "start", "origin"):
        values = np.array([one[name] for one in said])
        there = np.isfinite(values)
        result[name] = result[f"{name}_variance"] = np.nan
        if not there.any():
            continue
        counted = (losses + (LAYER_GAIN * np.array(layer) if name == "start" else 0.0))[there]
        values, weights = values[there], np.exp((counted.min() - counted) / TEMPERATURE)
        mean = result[name] = float(np.average(values, weights=weights))
        if name in UNCERTAIN:
            within = np.array([one[f"{name}_variance"] for one in said])[there]
            result[f"{name}_variance"] = float(np.average(within + (values - mean) ** 2, weights=weights))
    return result
