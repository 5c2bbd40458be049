"""The truth about a synthetic trace, read from its noise-free curve by the program's own definitions."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tests.world.model import TraceModel
from tests.world.shapes import FloatArray
from tests.world.true_curve import TrueCurve, prevailing_torque

#: Slope shares of the definitions: snug at 0.80, yield onset at 0.50 of the elastic slope.
SNUG_SHARE = 0.80
YIELD_SHARE = 0.50
#: "Sustained": the elastic slope is the steepest mean slope over this share of the rise (common practice,
#: no source).
SUSTAINED_SHARE = 0.2
#: The prevailing level is the median over the last half turn of rundown.
HALF_TURN_DEG = 180.0
#: A start transient is over after this many decay lengths (exp(-5) = 0.7 %).
_TRANSIENT_DECAYS = 5.0
#: Torque above the prevailing level, as a share of final torque, from which a rise can be seen at all.
_SEEN_SHARE = 0.005


@dataclass(frozen=True)
class Truth:
    """What is true of a trace, on the recorded angle axis; NaN where the trace does not have it."""

    snug_angle_deg: float
    snug_torque_nm: float
    snug_reason: str  #: Why there is no snug point in the recording; empty where there is one.
    elastic_slope_nm_per_deg: float
    #: Where the parts first touch; with a softplus, which has no such angle, where the rise can be seen.
    drawdown_angle_deg: float
    drawdown_seen_deg: float  #: Where the torque has left the prevailing level by 0.5 % of final torque.
    drawdown_reason: str
    prevailing_torque_nm: float
    prevailing_reason: str
    yielded: bool
    yield_angle_deg: float
    yield_torque_nm: float
    yield_two_thirds_deg: float  #: The same by the rule of two thirds.
    #: The highest noise-free torque of the recording.
    final_angle_deg: float
    final_torque_nm: float
    joint_rate_deg: float  #: Snug to final.
    clamp_force_kn: float  #: At the final point.
    plastic_start_deg: float  #: Where the slope begins to fall (not the onset); NaN where it does not.


def sustained_slope(angle_deg: FloatArray, slope_nm_per_deg: FloatArray) -> tuple[float, int]:
    """Steepest mean slope over a fifth of the rise, and the sample at the middle of that stretch.

    The rise ends, for this purpose, where the slope was last at half of its highest value, so that a long
    plastic
    part does not widen the stretch.
    """
    half = np.flatnonzero(slope_nm_per_deg >= YIELD_SHARE * slope_nm_per_deg.max())[-1]
    width = SUSTAINED_SHARE * (angle_deg[half] - angle_deg[0])
    area = np.concatenate(
        ([0.0], np.cumsum(0.5 * np.diff(angle_deg) * (slope_nm_per_deg[1:] + slope_nm_per_deg[:-1])))
    )
    starts = angle_deg[angle_deg <= angle_deg[-1] - width]
    if width <= 0.0 or len(starts) == 0:
        return float(slope_nm_per_deg.max()), int(slope_nm_per_deg.argmax())
    mean = (np.interp(starts + width, angle_deg, area) - area[: len(starts)]) / width
    best = int(mean.argmax())
    return float(mean[best]), int(np.searchsorted(angle_deg, angle_deg[best] + 0.5 * width))


def snug_angle(angle_deg: FloatArray, slope_nm_per_deg: FloatArray, elastic: float, middle: int) -> float:
    """First angle from which the slope stays at or above 0.80 of the elastic one up to the steepest part."""
    level = SNUG_SHARE * elastic
    below = np.flatnonzero(slope_nm_per_deg[: middle + 1] < level)
    if len(below) == 0:
        return float(angle_deg[0])
    return _crossing(angle_deg, slope_nm_per_deg, int(below[-1]), level)


def onset_angle(
    angle_deg: FloatArray,
    slope_nm_per_deg: FloatArray,
    elastic: float,
    middle: int,
    share: float = YIELD_SHARE,
) -> float:
    """First later angle at which the slope has fallen to `share` of the elastic one for good, or NaN."""
    level = share * elastic
    above = np.flatnonzero(slope_nm_per_deg >= level)
    last = int(above[-1]) if len(above) else middle
    if last >= len(angle_deg) - 1 or last < middle:
        return float("nan")
    return _crossing(angle_deg, slope_nm_per_deg, last, level)


def read_truth(model: TraceModel, curve: TrueCurve) -> Truth:
    """The truth of a recording that begins at `record_from_deg`; see `Truth`."""
    start, zero = model.instrument.record_from_deg, model.first_angle_deg
    if model.joint.cross_start_nm > 0.0:
        return _no_truth("no straight stretch is sustained")
    stop = _last_recorded(model, curve)
    angle, torque, slope = curve.angle_deg[:stop], curve.torque_nm[:stop], curve.slope_nm_per_deg[:stop]
    final = int(len(torque) - 1 - np.argmax(torque[::-1]))
    # Everything that counts ends at the final point: a falling branch after it is no plastic zone of its own.
    elastic, middle = sustained_slope(angle[: final + 1], slope[: final + 1])
    snug = snug_angle(angle[: final + 1], slope[: final + 1], elastic, middle)
    onset = onset_angle(angle[: final + 1], slope[: final + 1], elastic, middle)
    two_thirds = onset_angle(angle[: final + 1], slope[: final + 1], elastic, middle, 2.0 / 3.0)
    seen_level = prevailing_torque(angle, model.prevailing, curve.rundown_deg) + _SEEN_SHARE * torque[final]
    seen = float(angle[np.flatnonzero(torque <= seen_level)[-1]])
    has_start = model.joint.drawdown.shape != "softplus"
    drawdown = curve.rundown_deg if has_start else seen
    snug_reason = "the recording starts after snug" if start > snug else ""
    rise_reason = "the recording starts in the rise, there is no rundown" if start >= drawdown else ""
    snug_recorded = float("nan") if snug_reason else snug
    return Truth(
        snug_angle_deg=snug_recorded - zero,
        snug_torque_nm=float(np.interp(snug_recorded, angle, torque)),
        snug_reason=snug_reason,
        elastic_slope_nm_per_deg=elastic,
        drawdown_angle_deg=float("nan") if rise_reason else drawdown - zero,
        drawdown_seen_deg=float("nan") if start >= seen else seen - zero,
        drawdown_reason=rise_reason,
        prevailing_torque_nm=float("nan") if rise_reason else _prevailing_level(model, drawdown),
        prevailing_reason=rise_reason,
        yielded=bool(np.isfinite(onset)),
        yield_angle_deg=onset - zero,
        yield_torque_nm=float(np.interp(onset, angle, torque)),
        yield_two_thirds_deg=two_thirds - zero,
        final_angle_deg=float(angle[final]) - zero,
        final_torque_nm=float(torque[final]),
        joint_rate_deg=float(angle[final]) - snug_recorded,
        clamp_force_kn=float(curve.clamp_force_kn[final]),
        plastic_start_deg=curve.plastic_start_deg - zero,
    )


def _no_truth(reason: str) -> Truth:
    """A thread that entered askew has none of the points: its torque says nothing about clamp force."""
    absent = float("nan")
    return Truth(
        snug_angle_deg=absent,
        snug_torque_nm=absent,
        snug_reason=reason,
        elastic_slope_nm_per_deg=absent,
        drawdown_angle_deg=absent,
        drawdown_seen_deg=absent,
        drawdown_reason=reason,
        prevailing_torque_nm=absent,
        prevailing_reason=reason,
        yielded=False,
        yield_angle_deg=absent,
        yield_torque_nm=absent,
        yield_two_thirds_deg=absent,
        final_angle_deg=absent,
        final_torque_nm=absent,
        joint_rate_deg=absent,
        clamp_force_kn=absent,
        plastic_start_deg=absent,
    )


def _last_recorded(model: TraceModel, curve: TrueCurve) -> int:
    cuts = [model.instrument.record_to_torque_nm, model.joint.slip_at_nm]
    cut = min((c for c in cuts if c is not None), default=None)
    past = np.flatnonzero(curve.torque_nm > cut) if cut is not None else np.empty(0, np.int64)
    return max(int(past[0]), 2) if len(past) else len(curve.torque_nm)


def _prevailing_level(model: TraceModel, drawdown_deg: float) -> float:
    start = model.instrument.record_from_deg
    if model.prevailing.transient_nm > 0.0:
        start = max(start, min(_TRANSIENT_DECAYS * model.prevailing.transient_decay_deg, drawdown_deg - 1.0))
    window = np.linspace(max(drawdown_deg - HALF_TURN_DEG, start), drawdown_deg, 181)
    return float(np.median(prevailing_torque(window, model.prevailing, model.joint.rundown_deg)))


def _crossing(angle_deg: FloatArray, slope_nm_per_deg: FloatArray, before: int, level: float) -> float:
    """Angle between samples `before` and `before + 1` at which the slope passes the level."""
    first, second = slope_nm_per_deg[before], slope_nm_per_deg[before + 1]
    share = 0.0 if second == first else (level - first) / (second - first)
    return float(angle_deg[before] + share * (angle_deg[before + 1] - angle_deg[before]))
