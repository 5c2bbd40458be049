"""Clamp force of one tightening by each strategy; arrays of draws in, arrays of kN out.

Notes
-----
lambda = T/F of the long form. F_y = R_p A_s/tau with the torsion factor tau of VDI 2230. Past yield the force
rises by the share h of the elastic rise.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analysis.arrays import FloatArray
from analysis.joint.torque import lever_mm
from analysis.joint.utilisation import torsion_factor
from analysis.strategy.draws import INPUTS
from analysis.strategy.joint_scatter import LOT_DEVIATION, LOT_MEAN, JointScatter

STRATEGIES = (
    "torque",
    "torque with angle window",
    "torque plus angle",
    "torque plus angle past yield",
    "yield",
)
#: Rise of force per degree past yield over the elastic one, lowest and highest (own choice).
HARDENING = (0.03, 0.08)
#: Force at the shut-off of a yield-controlled tool over that at yield, mean and deviation (own choice; the
#: slope falls to half within c ln 2 of the onset, see `analysis.joint.stiffness`).
SHUT_OFF = (0.01, 0.01)
#: Angle past yield is set for a bolt so many deviations stronger than its lot (own choice).
STRONG_BOLT = 3.0
#: Share of the joints that the angle window holds (common practice, no source).
WINDOW_SHARE = 0.95


@dataclass(frozen=True, eq=False)
class Drawn:
    """Forces that the strategies share."""

    lever: FloatArray  #: Mm.
    rate: FloatArray | None  #: KN/deg.
    yield_kn: FloatArray  #: Infinite where no strength is given.


def draw(joint: JointScatter, z: FloatArray) -> Drawn:
    """Lever, stiffness and yield force of each draw; `z` has one row for each of `INPUTS`."""
    of = dict(zip(INPUTS, z, strict=True))
    rho = joint.settings.friction_correlation
    mixed = rho * of["thread friction"] + np.sqrt(1.0 - rho * rho) * of["bearing friction"]
    # Friction below zero is no friction; stated ranges never reach there within draws that matter.
    mu_thread = np.maximum(joint.mu_thread[0] + joint.mu_thread[1] * of["thread friction"], 0.0)
    mu_bearing = np.maximum(joint.mu_bearing[0] + joint.mu_bearing[1] * mixed, 0.0)
    lever = lever_mm(joint.thread, joint.friction_diameter_mm, mu_thread, mu_bearing)
    rate = None
    if joint.stiffness_kn_per_deg is not None:
        scatter = joint.settings.stiffness_scatter_percent / 100.0
        rate = joint.stiffness_kn_per_deg * (1.0 + scatter * of["stiffness"])
    if joint.least_yield_mpa is None:
        return Drawn(lever, rate, np.full(z.shape[1], np.inf))
    strength = joint.least_yield_mpa * np.maximum(LOT_MEAN + LOT_DEVIATION * of["yield strength"], 1.0)
    area = joint.thread.stress_area_mm2 / 1000.0
    return Drawn(lever, rate, strength * area / torsion_factor(joint.thread, mu_thread))


def torque_force(joint: JointScatter, z: FloatArray, drawn: Drawn) -> FloatArray:
    """Torque alone: F = (T - T_p)/lambda, held at yield."""
    return np.minimum(_torque(joint, z) / drawn.lever, drawn.yield_kn)


def _torque(joint: JointScatter, z: FloatArray) -> FloatArray:
    of = dict(zip(INPUTS, z, strict=True))
    scatter = joint.settings.torque_scatter_percent / 100.0
    own = joint.target_nm * (1.0 + scatter * of["torque"])
    return np.asarray(own - _prevailing(joint, of["prevailing torque"]))


def _prevailing(joint: JointScatter, z: FloatArray) -> FloatArray:
    return joint.prevailing_nm[0] + joint.prevailing_nm[1] * z


def turned_deg(joint: JointScatter, z: FloatArray, drawn: Drawn) -> FloatArray:
    """Degrees from the elastic origin to the stop of a torque-controlled tool."""
    assert drawn.rate is not None
    return np.asarray(torque_force(joint, z, drawn) / drawn.rate)


def angle_force(joint: JointScatter, z: FloatArray, drawn: Drawn, angle_deg: float) -> FloatArray:
    """Torque plus angle: F = (T_s - T_p)/lambda + k (theta + e), beyond yield along the flatter line."""
    assert drawn.rate is not None
    of = dict(zip(INPUTS, z, strict=True))
    snug = joint.snug_nm * (1.0 + joint.settings.snug_torque_scatter_percent / 100.0 * of["snug torque"])
    start = (snug - _prevailing(joint, of["prevailing torque"])) / drawn.lever
    elastic = start + drawn.rate * (angle_deg + joint.settings.angle_scatter_deg * of["angle"])
    beyond = elastic - drawn.yield_kn
    if not np.any(beyond > 0.0):
        return np.asarray(elastic)
    from scipy.special import ndtr

    rise = HARDENING[0] + (HARDENING[1] - HARDENING[0]) * ndtr(of["hardening"])
    return np.asarray(np.where(beyond > 0.0, drawn.yield_kn + rise * beyond, elastic))


def yield_force(z: FloatArray, drawn: Drawn) -> FloatArray:
    """Yield-controlled: F = F_y (1 + delta)."""
    of = dict(zip(INPUTS, z, strict=True))
    return np.asarray(drawn.yield_kn * (1.0 + SHUT_OFF[0] + SHUT_OFF[1] * of["shut-off"]))


def elastic_angle_deg(joint: JointScatter) -> float:
    """Angle from the snug torque that makes the force of the target torque at the middle friction."""
    assert joint.stiffness_kn_per_deg is not None
    return (joint.target_kn - joint.snug_kn) / joint.stiffness_kn_per_deg


def yield_angle_deg(joint: JointScatter) -> float:
    """Angle from the snug torque that takes even a strong bolt past yield."""
    assert joint.stiffness_kn_per_deg is not None
    return (joint.yield_kn(STRONG_BOLT) - joint.snug_kn) / joint.stiffness_kn_per_deg
