"""One audit: movement, torque by every definition, how the wrench was turned, why a figure is absent."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from analysis.arrays import FloatArray
from analysis.audit.movement_fit import MovementFit, fit_movement
from analysis.audit.settings import AuditSettings
from analysis.catalogue.reasons import (
    NO_READING,
    NOT_MOVED,
    PRESENT,
    PULLED_TWICE,
    STOPPED_EARLY,
    TOO_FEW_SAMPLES,
    TURNED_FAST,
)
from analysis.operation.hand_wrench import turning_end

#: Degrees after the movement with less of which the ongoing line is not known (own choice).
LEAST_MOVED_DEG = 1.5
#: Degrees after the movement among which the lowest torque is looked for, and either side of an angle that is
#: read (own choice).
DIP_WITHIN_DEG, BESIDE_DEG = 5.0, 0.5
#: The torque falls between two pulls by this share of the highest and climbs again: one such fall is the dip
#: of a movement, two, or a single one deeper than friction at rest can explain, are several pulls (own
#: choice).
PULL_SHARE, DEEP_SHARE = 0.08, 0.30
#: Torque from which on the wrench is being wound up, as a share of the highest.
WINDING_SHARE = 0.2


@dataclass(frozen=True)
class Reading:
    """A torque by one definition, with its standard uncertainty, N·m."""

    value: float
    uncertainty: float


@dataclass(frozen=True)
class AuditReading:
    """What one audit shows."""

    #: By definition: those that can be read.
    readings: Mapping[str, Reading] = field(default_factory=dict)
    reason: int = TOO_FEW_SAMPLES  #: Code of why the plant's definition is absent; `PRESENT` where it is not.
    #: None where there is no fit; where nothing moved its figures are NaN or mean nothing.
    fit: MovementFit | None = None
    #: Highest torque; angle at which the wrench was let go.
    peak_nm: float = math.nan
    end_deg: float = math.nan
    moved_deg: float = math.nan  #: Turned after the movement; NaN where there was none.
    #: NaN without a time.
    speed_deg_per_s: float = math.nan
    seconds_to_movement: float = math.nan
    turned_back: bool = False  #: Whether the fastener was turned back, not on.


def read_audit(
    angle_deg: FloatArray, torque_nm: FloatArray, time_s: FloatArray | None, settings: AuditSettings
) -> AuditReading:
    """Every figure of one audit.

    Parameters
    ----------
    angle_deg, torque_nm : ndarray
        The whole recording.
    time_s : ndarray or None
    settings : AuditSettings
        Of its joint.
    """
    end = turning_end(angle_deg, torque_nm)
    angle, torque = angle_deg[:end], torque_nm[:end]
    fit = fit_movement(angle, torque)
    peak = float(torque.max())
    if fit is None:
        return AuditReading({"peak": Reading(peak, math.nan)}, TOO_FEW_SAMPLES, None, peak, float(angle[-1]))
    wound = int(np.argmax(torque > WINDING_SHARE * peak))
    speed, seconds = _by_hand(angle, None if time_s is None else time_s[:end], wound, fit)
    moved = float(angle[-1]) - fit.at_deg if fit.moved else math.nan
    step = float(np.median(np.diff(angle[wound:]))) if end - wound > 1 else 0.0
    readings = {"peak": Reading(peak, fit.noise_nm)}
    if speed > settings.max_speed_deg_per_s:
        reason = TURNED_FAST
    elif pulls(torque[wound:]) > 1:
        reason = PULLED_TWICE
    elif not fit.moved:
        reason = NOT_MOVED
    else:
        early = moved < LEAST_MOVED_DEG
        readings |= _first(fit, step) if early else _all(angle, torque, fit, step, settings)
        reason = STOPPED_EARLY if early else NO_READING
    if settings.definition in readings and (settings.definition != "peak" or fit.moved):
        reason = PRESENT if reason in (STOPPED_EARLY, NO_READING) else reason
    return AuditReading(readings, reason, fit, peak, float(angle[-1]), moved, speed, seconds)


def _first(fit: MovementFit, step_deg: float) -> dict[str, Reading]:
    # Where between two samples it moved is not known.
    unresolved = step_deg * fit.wrench_slope / math.sqrt(12.0)
    return {"first-movement": Reading(fit.static_nm, math.hypot(fit.static_uncertainty_nm, unresolved))}


def _all(
    angle: FloatArray, torque: FloatArray, fit: MovementFit, step: float, settings: AuditSettings
) -> dict[str, Reading]:
    beyond = angle - fit.at_deg
    unresolved = step * fit.slope / math.sqrt(12.0)
    found = _first(fit, step)
    ongoing = Reading(fit.ongoing_nm, math.hypot(fit.uncertainty_nm, unresolved))
    line = ongoing if settings.fit_deg is None else _line(beyond, torque, fit, settings.fit_deg)
    if line is not None:
        found["ongoing"] = line
    after = torque[(beyond > 0.0) & (beyond <= DIP_WITHIN_DEG)]
    if len(after) > 2:
        smooth = np.convolve(after, np.full(3, 1.0 / 3.0), "valid")
        found["dip"] = Reading(float(smooth.min()), math.hypot(fit.noise_nm / math.sqrt(3.0), unresolved))
    near = np.abs(beyond - settings.at_angle_deg) <= BESIDE_DEG + step
    if beyond[-1] >= settings.at_angle_deg and near.sum() > 1:
        level = np.polyfit(beyond[near] - settings.at_angle_deg, torque[near], 1)[1]
        spread = math.hypot(fit.noise_nm / math.sqrt(near.sum()), fit.slope * fit.at_uncertainty_deg)
        found["at-angle"] = Reading(float(level), math.hypot(spread, unresolved))
    return found


def _line(
    beyond: FloatArray, torque: FloatArray, fit: MovementFit, between_deg: tuple[float, float]
) -> Reading | None:
    """A plain straight line through the stretch that the plant lays down, drawn back to the movement."""
    low, high = between_deg
    inside = (beyond >= low) & (beyond <= high)
    if inside.sum() < 4 or beyond[-1] < 0.5 * (low + high):
        return None
    coefficients, covariance = np.polyfit(beyond[inside], torque[inside], 1, cov="unscaled")
    own = fit.noise_nm * math.sqrt(float(covariance[1, 1]))
    return Reading(float(coefficients[1]), math.hypot(own, fit.slope * fit.at_uncertainty_deg))


def _by_hand(
    angle: FloatArray, time_s: FloatArray | None, wound: int, fit: MovementFit
) -> tuple[float, float]:
    """Degrees a second from the wind-up to the end, and seconds from there to the movement."""
    if time_s is None or not np.isfinite(time_s).all() or not time_s[-1] > time_s[wound]:
        return math.nan, math.nan
    speed = float((angle[-1] - angle[wound]) / (time_s[-1] - time_s[wound]))
    if not fit.moved:
        return speed, math.nan
    at = min(int(np.searchsorted(angle, fit.at_deg)), len(angle) - 1)
    return speed, float(time_s[at] - time_s[wound])


def pulls(torque_nm: FloatArray) -> int:
    """How many times the wrench was pulled, by the falls of the torque and the rises after them.

    Examples
    --------
    >>> rise, again = np.linspace(2.0, 10.0, 30), np.linspace(3.0, 10.0, 30)
    >>> pulls(np.concatenate((rise, rise[-9:]))), pulls(np.concatenate((rise, again)))
    (1, 2)
    """
    high = float(torque_nm.max(initial=0.0))
    # A second pull is no noise: from the median of the second differences, which it does not move.
    noise = (
        float(np.median(np.abs(np.diff(torque_nm, 2)))) * 1.4826 / math.sqrt(6.0)
        if len(torque_nm) > 2
        else 0.0
    )
    least = max(PULL_SHARE * high, 6.0 * noise)
    falls: list[float] = []
    top, low, falling = -math.inf, math.inf, False
    for one in torque_nm.tolist():
        if not falling:
            top = max(top, one)
            falling, low = top - one >= least, one
        else:
            low = min(low, one)
            if one - low >= least:
                falls.append(top - low)
                top, falling = one, False
    deep = [fall for fall in falls if fall > DEEP_SHARE * high]
    return 2 if deep or len(falls) > 1 else 1
