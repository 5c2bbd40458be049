"""Loosening traces: torque negative while the angle counts up."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tests.world.model import TraceModel
from tests.world.shapes import FloatArray
from tests.world.true_curve import build_true_curve

#: Angle in which the torque falls from breakaway to what keeps the fastener moving, and in which it winds
#: up, degrees.
_BREAKS_OVER_DEG, _WIND_UP_DEG = 4.0, 6.0
#: Torque of a slipping drive at the bottom over that at the top of its recess.
_SLIP_BOTTOM = 0.25


@dataclass(frozen=True)
class LooseningTruth:
    """What is true of a loosening trace."""

    breakaway_torque_nm: float  #: Size of the peak, positive.
    breakaway_angle_deg: float  #: On the recorded axis.
    #: Torque that keeps the fastener loosening over the torque that tightened it, at the same clamp force.
    over_tightening: float
    slipped: bool
    pitch_deg: float  #: Of the slipping drive; NaN where it held.


def make_loosening(
    model: TraceModel,
    rng: np.random.Generator,
    *,
    slip_pitch_deg: float | None = None,
    static_share: float = 0.12,
    interval_deg: float = 5.3,
    turns: float = 3.0,
) -> tuple[FloatArray, FloatArray, FloatArray, LooseningTruth]:
    """Loosen the joint that the model tightens: backlash, breakaway, unloading, free running.

    Parameters
    ----------
    slip_pitch_deg : float or None
        The drive slips with this pitch (60 or 90 degrees) instead of turning the fastener.
    static_share : float
        Breakaway over moving torque, less one.
    interval_deg : float
        Mean distance of samples, degrees.

    Returns
    -------
    angle_deg, torque_nm, time_s : ndarray
    LooseningTruth

    Notes
    -----
    T = -F (friction - P / (2 pi)) - prevailing, and F falls along the curve that it rose on, so that
    T_on - T_off = F P / pi whatever the friction.
    """
    joint, curve = model.joint, build_true_curve(model)
    backlash = float(rng.uniform(20.0, 50.0))
    moving = float(curve.clamp_force_kn[-1]) * (joint.friction_nm_per_kn - joint.lead_nm_per_kn)
    tight = moving + model.prevailing.level_nm
    breakaway = tight * (1.0 + static_share)
    grid = np.arange(0.0, backlash + _WIND_UP_DEG + 360.0 * turns, 0.5)
    past = grid - backlash - _WIND_UP_DEG
    if slip_pitch_deg is None:
        unloaded = np.interp(
            curve.angle_deg[-1] - np.maximum(past, 0.0), curve.angle_deg, curve.clamp_force_kn, left=0.0
        )
        torque = unloaded * (joint.friction_nm_per_kn - joint.lead_nm_per_kn) + model.prevailing.level_nm
        torque += (breakaway - tight) * np.exp(-np.maximum(past, 0.0) / _BREAKS_OVER_DEG)
    else:
        height = 0.5 + 0.5 * np.cos(2.0 * np.pi * np.maximum(past, 0.0) / slip_pitch_deg)
        torque = breakaway * (_SLIP_BOTTOM + (1.0 - _SLIP_BOTTOM) * height)
    wound = breakaway * np.clip(1.0 + past / _WIND_UP_DEG, 0.0, 1.0)
    torque = np.where(past < 0.0, wound, torque)
    # The recorder's clock jitters, as in the open recordings of such runs.
    steps = interval_deg * np.clip(rng.normal(1.0, 0.04, int(grid[-1] / interval_deg) + 2), 0.5, 1.5)
    angle = np.concatenate(([0.0], np.cumsum(steps)))
    angle = angle[angle < grid[-1]]
    recorded = np.interp(angle, grid, torque) + model.instrument.noise_nm * rng.standard_normal(len(angle))
    truth = LooseningTruth(
        breakaway,
        backlash + _WIND_UP_DEG,
        (joint.friction_nm_per_kn - joint.lead_nm_per_kn) / joint.torque_per_force_nm_per_kn,
        slip_pitch_deg is not None,
        float("nan") if slip_pitch_deg is None else slip_pitch_deg,
    )
    return angle, -recorded, angle / model.tool.speeds_deg_per_s[-1], truth
