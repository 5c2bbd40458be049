"""All points of one trace, by the names of the curve table."""

from __future__ import annotations

from dataclasses import fields

import numpy as np

from analysis.curve import CurveTable, reasons
from tests.twins.bins import HALF_TURN_DEG, MAD_TO_SIGMA, Bins, make_bins, passes
from tests.twins.least_squares import correlation_factor
from tests.twins.ripple import Ripple
from tests.twins.rise_fit import NoRise, Recording, Rise, coarse_bins, fit_rise

Array = np.ndarray

#: The true bend is none of those that are tried: factors on the standard deviation of snug, elastic slope,
#: yield onset and drawdown start; and least uncertainties: of snug and start as shares of the drawdown, of
#: the slope of itself.
SNUG_SPREAD, SLOPE_SPREAD, YIELD_SPREAD, START_SPREAD = 1.9, 1.6, 1.5, 1.8
SNUG_SHAPE, SLOPE_SHAPE, YIELD_SHAPE, START_SHAPE = 0.01, 0.003, 0.002, 0.2
#: Fewest samples that are worth looking at.
FEWEST_SAMPLES = 8
#: A rundown below this share of the rise is only believed where it is longer than its uncertainty.
SHORT_RUNDOWN = 0.1
#: No place on a stretch is less certain than the even spread over it: its length over the root of 12.
EVEN = np.sqrt(12.0)
#: Every figure of the curve table.
FIGURES = tuple(field.name for field in fields(CurveTable) if field.type == "FloatArray")
REASONS = ("slope", "snug", "yield", "drawdown", "prevailing")


def tightening_curve(angle: Array, torque: Array) -> tuple[int, Array, int]:
    """Final point (-1: none), samples of the tightening curve, and the reason why there is no such curve (0:
    there is).

    Forward rotation up to the final point, the last sample of highest torque: samples whose angle is not
    below an earlier one's, nor above the final one's.
    """
    none = np.zeros(0, int)
    if len(torque) == 0:
        return -1, none, reasons.TOO_FEW_SAMPLES
    if not np.all(np.isfinite(torque)):
        return -1, none, reasons.NOT_FINITE
    final = int(np.flatnonzero(torque == torque.max())[-1])
    part = angle[: final + 1]
    if not np.all(np.isfinite(part)):
        return final, none, reasons.NOT_FINITE
    reached = np.maximum.accumulate(np.where(part <= part[-1], part, -np.inf))
    kept = np.flatnonzero((part <= part[-1]) & (part >= reached))
    # Behind a tightening, a breakaway against the thread may exceed the final torque.
    share = 2.0 if len(kept) >= FEWEST_SAMPLES else 1.0
    if torque[: final + 1].min() < -abs(torque[final]) or torque[final:].min() < -share * abs(torque[final]):
        return final, kept, reasons.LOOSENING
    if len(angle) < FEWEST_SAMPLES:
        return final, kept, reasons.TOO_FEW_SAMPLES
    if not part[-1] > part[kept[0]]:
        return final, kept, reasons.NO_FORWARD_ROTATION
    if len(kept) < FEWEST_SAMPLES:
        return final, kept, reasons.TOO_FEW_SAMPLES
    return final, kept, 0 if torque[final] > 0.0 else reasons.NO_RISE


def find_points(
    angle: Array, torque: Array, snug_ratio: float = 0.80, yield_ratio: float = 0.50
) -> dict[str, float]:
    """Points of one trace by the names of `CurveTable`; absent ones NaN, with the code of the reason."""
    found: dict[str, float] = dict.fromkeys(FIGURES, np.nan) | {f"{name}_reason": 0 for name in REASONS}
    found |= {"final_index": -1, "yielded": -1}
    final, kept, why = tightening_curve(angle, torque)
    if final >= 0:
        found |= {"final_index": final, "final_angle_deg": angle[final], "final_torque_nm": torque[final]}
    if why == 0:
        data = Recording(angle[kept], torque[kept], angle[: final + 1], kept, torque[: final + 1])
        try:
            rise = fit_rise(data, (snug_ratio, yield_ratio))
        except NoRise as reason:
            why, found["samples_per_deg"] = getattr(reasons, str(reason)), reason.density
        else:
            _report_rise(found, rise, data, yield_ratio)
            _report_rundown(found, rise, data)
    if why != 0:
        found |= {f"{name}_reason": why for name in REASONS}
    return found


def _report_rise(found: dict[str, float], rise: Rise, data: Recording, yield_ratio: float) -> None:
    said, begin, end = rise.said, data.angle[0], data.angle[-1]
    middle = 0.5 * (said["from"] + said["to"])
    wave = rise.ripple.unsure_slope(rise.best.level, said["to"] - said["from"])
    slope_spread = (SLOPE_SPREAD * np.sqrt(said["slope_variance"]), SLOPE_SHAPE * said["slope"], wave)
    found |= {
        "elastic_slope_nm_per_deg": said["slope"],
        "elastic_slope_uncertainty_nm_per_deg": min(float(np.linalg.norm(slope_spread)), said["slope"]),
        "elastic_from_deg": said["from"],
        "elastic_to_deg": said["to"],
        "elastic_line_angle_deg": middle,
        "elastic_line_torque_nm": float(rise.torque(middle, ripple=False)),
        "torque_noise_nm": rise.noise,
        "condition": rise.condition,
        "samples_per_deg": rise.density,
        "yielded": 0,
        "yield_reason": reasons.NOT_YIELDED,
    }
    snug, start = said["snug"], said["start"]
    near = 0.05 * rise.best.width
    below, above = rise.best.slope_at(np.array([snug - near, snug + near]))
    spread = np.hypot(SNUG_SPREAD * np.sqrt(said["snug_variance"]), SNUG_SHAPE * (snug - start))
    if above > below:
        spread = np.hypot(spread, wave * 2.0 * near / (above - below))
    uncertainty = min(spread, (end - min(max(start, begin), snug)) / EVEN)
    no_rundown = start - begin < SHORT_RUNDOWN * (end - begin)
    if np.isnan(snug) or snug <= rise.begin or (no_rundown and snug - uncertainty <= begin):
        found["snug_reason"] = reasons.STARTS_AFTER_SNUG
    else:
        found |= {
            "snug_angle_deg": snug,
            "snug_torque_nm": float(rise.torque(snug)),
            "snug_angle_uncertainty_deg": uncertainty,
            "joint_rate_deg": end - snug,
        }
    onset = said["onset"]
    if np.isfinite(onset) and not _climbs_on(data, onset, yield_ratio * said["slope"]):
        found |= {
            "yielded": 1,
            "yield_reason": 0,
            "yield_angle_deg": onset,
            "yield_torque_nm": float(rise.torque(onset)),
            "yield_angle_uncertainty_deg": min(
                np.hypot(YIELD_SPREAD * np.sqrt(said["onset_variance"]), YIELD_SHAPE * (onset - start)),
                (end - said["from"]) / EVEN,
            ),
        }


def _climbs_on(data: Recording, onset: float, limit: float) -> bool:
    """Whether the last 40 % of the way from onset to final point, five samples at least, climb faster than
    the limit.

    By more than the standard error of the fitted slope: a stop and restart bends the curve, but it climbs on
    behind it.
    """
    end = data.angle[-1]
    n = max(int(np.count_nonzero(data.angle >= end - 0.4 * (end - onset))), 5)
    a, t = data.angle[-n:], data.torque[-n:]
    if len(a) < 5 or np.ptp(a) == 0.0:
        return False
    spread = np.sum((a - a.mean()) ** 2)
    slope = np.sum((a - a.mean()) * (t - t.mean())) / spread
    rest = max(np.sum((t - t.mean()) ** 2) - slope**2 * spread, 0.0)
    return bool(slope - np.sqrt(rest / (len(a) - 2) / spread) > limit)


def _seen_from(rise: Rise, begin: float, end: float, top: float) -> float:
    """Angle from which the bend has lifted the torque by 1 %, in 128 steps; the start where that is there."""
    angle = begin + (end - begin) * np.arange(128) / 128
    lifted = rise.best.torque(angle) >= rise.best.level + 0.01 * (top - rise.best.level)
    k = int(lifted.argmax()) if lifted.any() else 0
    return float(angle[k]) if k > 1 else begin


def _report_rundown(found: dict[str, float], rise: Rise, data: Recording) -> None:
    said, begin, end, top = rise.said, data.angle[0], data.angle[-1], data.torque[-1]
    coarse = coarse_bins(data)
    start = said["start"] if said["start"] > begin else _seen_from(rise, begin, end, top)
    ahead, error = start - begin, np.sqrt(said["start_variance"])
    too_short = ahead < SHORT_RUNDOWN * (end - start) and ahead <= error
    if np.isnan(start) or ahead <= 0.0 or too_short:
        found |= {"drawdown_reason": reasons.STARTS_IN_RISE, "prevailing_reason": reasons.STARTS_IN_RISE}
    else:
        snug = found["snug_angle_deg"]
        start = snug if start > snug else start
        unseen = START_SHAPE * (said["snug"] - start) if said["snug"] > start else 0.0
        uncertainty = min(np.hypot(START_SPREAD * error, unseen), (end - begin) / EVEN)
        found |= {"drawdown_angle_deg": start, "drawdown_angle_uncertainty_deg": uncertainty}
        _report_level(found, data, coarse, start, rise.ripple)
        slope, level = found["elastic_slope_nm_per_deg"], found["prevailing_torque_nm"]
        if np.isfinite(level) and slope > 0.0:
            above = found["elastic_line_torque_nm"] - level
            spread = np.sqrt(said["origin_variance"] + (found["prevailing_uncertainty_nm"] / slope) ** 2)
            found["elastic_origin_deg"] = found["elastic_line_angle_deg"] - above / slope
            found["elastic_origin_uncertainty_deg"] = min(spread, (end - start) / EVEN)
    found["joint_rate_line_deg"] = _line_rate(coarse, top, end, found["prevailing_torque_nm"])


def _settled(begin: float, stop: float) -> float:
    """Where the start transient is over: 60 deg, or a quarter of a short rundown."""
    return begin + min(60.0, 0.25 * (stop - begin))


def _rounding(data: Recording, inside: Array) -> float:
    """Variance of a mean of torques written in steps: that of even values, less the more they scatter.

    The first harmonic of the rounding error falls with exp(-(2 pi s / step)^2 / 2), its square twice as fast;
    s is taken from the mean absolute change of kept neighbours beyond half a step, 2 s / sqrt(pi).
    """
    changes = np.abs(np.diff(data.recorded_nm[data.kept[0] :]))
    steps = changes[changes > 0.0]
    beside = np.diff(data.kept[inside]) == 1
    if not len(steps) or not beside.any():
        return 0.0
    step = float(steps.min())
    change = np.mean(np.abs(np.diff(data.torque[inside]))[beside])
    s = 0.5 * np.sqrt(np.pi) * max(change / step - 0.5, 0.0)
    return step**2 / 12.0 * np.exp(-((2.0 * np.pi * s) ** 2))


def _report_level(
    found: dict[str, float], data: Recording, coarse: Bins, stop: float, ripple: Ripple
) -> None:
    """Median of sixty bins without the ripple over the last half turn of rundown, and the trend over all of
    it.

    Its variance: that of a median over bins that hang together, what is not known of the ripple, and the
    trend over the uncertainty of where the drawdown starts; and the step in which the torque is written.
    """
    begin = max(stop - HALF_TURN_DEG, _settled(data.angle[0], stop))
    below = np.flatnonzero(data.recorded < begin)
    reached = np.flatnonzero(data.angle >= stop)
    last = data.kept[reached[0]] if len(reached) else data.kept[-1]
    inside = (data.kept > (below[below < last][-1] if np.any(below < last) else -1)) & (data.kept < last)
    bins = make_bins(data.angle[inside], data.torque[inside], begin, (stop - begin) / 60, np.inf)
    if len(bins) < 3:
        found["prevailing_reason"] = reasons.STARTS_IN_RISE
        return
    bins.torque = bins.torque - ripple.at(bins.angle)
    level = np.median(bins.torque)
    spread = MAD_TO_SIGMA * np.median(np.abs(bins.torque - level))
    together = correlation_factor(np.clip(bins.torque - level, -3.0 * spread, 3.0 * spread))
    trend = np.polyfit(bins.angle - stop, bins.torque, 1)[0]
    own = 1.2533**2 * spread**2 / len(bins) * together
    own += _rounding(data, inside)
    drift = (trend * found["drawdown_angle_uncertainty_deg"]) ** 2
    found |= {
        "prevailing_torque_nm": level,
        "prevailing_uncertainty_nm": np.sqrt(own + drift + ripple.unsure_mean(bins.angle, level)),
        "prevailing_from_deg": begin,
        "prevailing_to_deg": stop,
    }
    rundown = (coarse.angle >= _settled(coarse.angle[0], stop)) & (coarse.angle < stop)
    if rundown.sum() >= 3:
        found["prevailing_highest_nm"] = coarse.torque[rundown].max()
        found["prevailing_trend_nm_per_turn"] = (
            360.0 * np.polyfit(coarse.angle[rundown] - coarse.angle[0], coarse.torque[rundown], 1)[0]
        )


def _line_rate(coarse: Bins, top: float, end: float, prevailing: float) -> float:
    """Degrees of the line through 10 and 100 % of final torque, drawn to zero; NaN where 10 % is not
    crossed."""
    tenth = 0.1 * top
    if coarse.torque[0] > tenth or prevailing > tenth:
        return np.nan
    k = passes(coarse, tenth)
    before = max(k - 1, 0)
    step = coarse.torque[k] - coarse.torque[before]
    share = np.clip((tenth - coarse.torque[before]) / step, 0.0, 1.0) if step > 0.0 else 1.0
    at = coarse.angle[before] + share * (coarse.angle[k] - coarse.angle[before])
    return float((end - at) / 0.9)
