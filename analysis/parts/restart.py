"""At which torque a tight bolt turns on in a further pass: what it has kept of its clamp force."""

from __future__ import annotations

import math

import numpy as np

from analysis.arrays import FloatArray

#: Share of the turning, back from the final point, that the line's level is read from: static friction has
#: died away there. Below the line by this share of the final torque the wrench still winds up; its steepness
#: is read from there down to that share of the torque there, and is at least so many times the bolt's (own
#: choices).
_LAST_SHARE, _BELOW_SHARE, _WIND_UP_FROM, _STEEPER = 0.4, 0.03, 0.5, 1.5
_ROUNDS = 3
#: A bolt that turned less than this after it moved says nothing: static friction still shows (own choice).
LEAST_TURNED_DEG = 1.5


def restart_torque(angle_deg: FloatArray, torque_nm: FloatArray, slope_nm_per_deg: float) -> float:
    """Kinetic torque at the first movement; NaN where wind-up and turning cannot be told apart.

    The line of the turning bolt has the slope of its first tightening, which is known better than a few
    degrees could tell, and is laid through the last of the turning. The torque is where the wind-up reaches
    that line; a static peak rises above it and does not count.

    Parameters
    ----------
    angle_deg, torque_nm : ndarray, shape (m,)
        One recording.
    slope_nm_per_deg : float
        Elastic slope of the same bolt's first tightening with the same tool.

    Examples
    --------
    >>> angle = np.arange(0.0, 30.0, 0.1)
    >>> torque = np.minimum(5.0 * angle, 54.0 + 1.5 * (angle - 10.8))
    >>> round(restart_torque(angle, torque, 1.5), 2)
    54.0
    """
    sound = np.isfinite(angle_deg) & np.isfinite(torque_nm)
    if not sound.any() or not slope_nm_per_deg > 0.0:
        return math.nan
    angle, torque = angle_deg[sound], torque_nm[sound]
    final = int(torque.argmax())
    angle, torque = angle[: final + 1], torque[: final + 1]
    top, moved = float(torque[-1]), float(angle[-1])
    restart = math.nan
    for _ in range(_ROUNDS):
        on = angle >= angle[-1] - _LAST_SHARE * (angle[-1] - moved)
        level = float(np.median(torque[on] - slope_nm_per_deg * angle[on]))
        gap = level + slope_nm_per_deg * angle - torque
        met = int(np.argmax(gap <= _BELOW_SHARE * top))
        winding = slice(int(np.argmax(torque >= _WIND_UP_FROM * torque[met])), met + 1)
        if met == 0 or np.ptp(angle[winding]) <= 0.0:
            return math.nan
        steep = float(np.polyfit(angle[winding], torque[winding], 1)[0])
        if steep < _STEEPER * slope_nm_per_deg:
            return math.nan
        closing = (gap[met - 1] - _BELOW_SHARE * top) / max(gap[met - 1] - gap[met], 1e-9 * top)
        crossed = float(angle[met - 1] + closing * (angle[met] - angle[met - 1]))
        moved = crossed + _BELOW_SHARE * top / (steep - slope_nm_per_deg)
        restart = level + slope_nm_per_deg * moved
        if angle[-1] - moved < LEAST_TURNED_DEG:
            return math.nan
    return restart
