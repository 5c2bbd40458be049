"""The noise-free tightening: torque, slope and clamp force against the angle that the tool has turned."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tests.world.model import Prevailing, TraceModel
from tests.world.shapes import FloatArray, drawdown_share, plastic_share

#: Points that the rise is computed on; with a rise of 1500 deg a spacing of 0.5 deg.
RISE_POINTS = 3000
#: Share of the prevailing level that a thread turns with before its locking element is reached.
_FREE_SHARE = 0.1
#: Degrees over which a locking element engages.
_ENGAGE_DEG = 60.0
#: Lengths of the waves in which a prevailing torque wanders, degrees (as seen on open recordings of
#: plastic threads).
_SHORTEST_WAVE_DEG, _LONGEST_WAVE_DEG = 180.0, 1100.0


@dataclass(frozen=True, eq=False)
class TrueCurve:
    """Noise-free, forward only, without what tool and instrument add; angles count from the tool's start."""

    #: The rise: from the drawdown start to the end of turning.
    angle_deg: FloatArray
    torque_nm: FloatArray
    slope_nm_per_deg: FloatArray
    clamp_force_kn: FloatArray
    rundown_deg: float  #: Where the drawdown starts.
    plastic_start_deg: float  #: Where the slope begins to fall; NaN where it does not.


def prevailing_torque(angle_deg: FloatArray, prevailing: Prevailing, rundown_deg: float) -> FloatArray:
    """Noise-free prevailing torque (N·m) at degrees after the tool's start, without start transient."""
    level = prevailing.level_nm + prevailing.climb_nm_per_turn * (angle_deg - rundown_deg) / 360.0
    if prevailing.wander_nm > 0.0:
        level = level + prevailing.wander_nm * _wander(
            np.minimum(angle_deg, rundown_deg), prevailing.wander_choice
        )
    level = np.maximum(level, 0.0)
    if prevailing.enters_deg > 0.0:
        engaged = np.clip((angle_deg - prevailing.enters_deg) / _ENGAGE_DEG, 0.0, 1.0)
        level = level * (_FREE_SHARE + (1.0 - _FREE_SHARE) * engaged)
    return level


def _wander(angle_deg: FloatArray, choice: int) -> FloatArray:
    """A smooth course of about unit deviation: four waves between half a turn and three turns long."""
    rng = np.random.default_rng(choice)
    lengths = rng.uniform(_SHORTEST_WAVE_DEG, _LONGEST_WAVE_DEG, 4)
    phases = rng.uniform(0.0, 2.0 * np.pi, 4)
    waves = np.sin(2.0 * np.pi * angle_deg[:, None] / lengths + phases)
    return np.asarray(waves.sum(axis=1) / np.sqrt(2.0))


def build_true_curve(model: TraceModel) -> TrueCurve:
    """The rise of a model, up to its stop torque or stop angle, whichever comes first."""
    joint, tool = model.joint, model.tool
    from_start = np.linspace(0.0, _longest_rise_deg(model), RISE_POINTS)
    step = from_start[1]
    share = drawdown_share(from_start, joint.drawdown)
    force = joint.clamp_kn_per_deg * _integral(share, step)
    plastic_start = np.nan
    if joint.plastic is not None and force[-1] > joint.plastic.start_force_kn:
        plastic_start = float(np.interp(joint.plastic.start_force_kn, force, from_start))
        share = share * plastic_share(from_start - plastic_start, joint.plastic)
        force = joint.clamp_kn_per_deg * _integral(share, step)
    angle = joint.rundown_deg + from_start
    torque = (
        prevailing_torque(angle, model.prevailing, joint.rundown_deg)
        + joint.torque_per_force_nm_per_kn * force
    )
    slope = joint.torque_per_force_nm_per_kn * joint.clamp_kn_per_deg * share
    slope = slope + model.prevailing.climb_nm_per_turn / 360.0
    stop = _stop_index(torque, tool.stop_torque_nm)
    if stop is not None:
        end = float(np.interp(tool.stop_torque_nm, torque[stop - 1 : stop + 1], angle[stop - 1 : stop + 1]))
        columns = [np.append(c[:stop], np.interp(end, angle, c)) for c in (angle, torque, slope, force)]
    else:
        columns = [angle, torque, slope, force]
    return TrueCurve(
        columns[0], columns[1], columns[2], columns[3], joint.rundown_deg, joint.rundown_deg + plastic_start
    )


def _longest_rise_deg(model: TraceModel) -> float:
    """By when the stop is reached, if ever: the drawdown, and all torque at a tenth below full slope."""
    joint, tool = model.joint, model.tool
    slope = joint.torque_per_force_nm_per_kn * joint.clamp_kn_per_deg
    longest = 1.2 * (joint.drawdown.width_deg + tool.stop_torque_nm / (0.9 * slope))
    return longest if tool.stop_after_deg is None else min(tool.stop_after_deg, longest * 20.0)


def _stop_index(torque_nm: FloatArray, stop_torque_nm: float) -> int | None:
    reached = np.flatnonzero(torque_nm >= stop_torque_nm)
    return int(reached[0]) if len(reached) and reached[0] > 0 else None


def _integral(values: FloatArray, step: float) -> FloatArray:
    total = np.cumsum(0.5 * step * (values[1:] + values[:-1]))
    return np.concatenate(([0.0], total))
