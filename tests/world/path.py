"""What tool and fastener do over time: speed steps, pause and restart, release; before any instrument."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from tests.world.mishaps import drive_slips, saw_tooth, uneven_entry
from tests.world.model import Pause, Tool, TraceModel
from tests.world.shapes import FloatArray
from tests.world.true_curve import TrueCurve, prevailing_torque

#: Spacing of the rundown on the path, degrees.
_RUNDOWN_STEP_DEG = 2.0
#: Time in which a tool changes speed to 1/e, seconds, and the share of its speed that it starts with.
_SPEED_LAG_S, _STARTING_SHARE = 0.02, 0.08
#: Share of the way over which a dip forms before it recovers.
_DIP_FORMS = 0.15
#: A tool that starts again winds itself up over this angle before the fastener moves.
_WIND_UP_DEG = 0.4
#: Seconds from the stop of a stage to rest.
_COLLAPSE_S = 0.015


@dataclass(frozen=True, eq=False)
class Path:
    """Dense points of what happens: time, angle from the start, torque, clamp force, tool step, speed."""

    #: Time rises; the angle may stand or step back.
    time_s: FloatArray
    angle_deg: FloatArray
    torque_nm: FloatArray
    clamp_force_kn: FloatArray
    step: FloatArray
    speed_deg_per_s: FloatArray


def build_path(model: TraceModel, curve: TrueCurve, rng: np.random.Generator) -> Path:
    """Everything that happens from the start of the recording to the end of the release."""
    angle, torque, force = _forward(model, curve, rng)
    if model.joint.slip_at_nm is not None:
        angle, torque, force = drive_slips(
            angle, torque, force, model.joint.slip_at_nm, model.joint.slip_pitch_deg, rng
        )
    angle, torque, force = _stopped_early(model, angle, torque, force)
    pause, at = model.tool.pause, _pause_index(model.tool.pause, curve, angle)
    if pause is not None and at is not None:
        torque[: at + 1] *= 1.0 - pause.ease_share * np.exp((angle[: at + 1] - angle[at]) / pause.ease_deg)
        past = angle[at + 1 :] - angle[at]
        excess = pause.breakaway_share * pause.at_torque_nm
        torque[at + 1 :] += excess * np.exp(-past / pause.breakaway_decay_deg)
    speed, step = _speed(model.tool, angle, torque, at)
    seconds = np.diff(angle) / (0.5 * (speed[1:] + speed[:-1]))
    time = np.concatenate(([0.0], np.cumsum(seconds)))
    whole = np.stack([time, angle, torque, force, step, speed])
    if pause is not None and at is not None:
        standing = _pause(whole[:, at], pause, speed[at + 1])
        after = whole[:, at + 1 :]
        after[0] += standing[0, -1] - whole[0, at]
        whole = np.concatenate([whole[:, : at + 1], standing, after], axis=1)
    cut_nm = model.instrument.record_to_torque_nm
    if cut_nm is not None:
        cut = np.flatnonzero((whole[1] > curve.rundown_deg) & (whole[2] > cut_nm))
        if len(cut):
            return Path(*whole[:, : max(int(cut[0]), 2)])
    if model.tool.release_s > 0.0:
        whole = np.concatenate([whole, _release(whole[:, -1], model.tool)], axis=1)
    return Path(*whole)


def _pause_index(pause: Pause | None, curve: TrueCurve, angle_deg: FloatArray) -> int | None:
    """Point of the forward way at which the first stage stops, where it lies within the recording."""
    if pause is None:
        return None
    reached = np.flatnonzero(curve.torque_nm >= pause.at_torque_nm)
    if len(reached) == 0:
        return None
    at = int(np.searchsorted(angle_deg, curve.angle_deg[reached[0]]))
    return at if 0 < at < len(angle_deg) - 2 else None


def _forward(
    model: TraceModel, curve: TrueCurve, rng: np.random.Generator
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Forward rotation: the true curve with start transient, dips, galling and uneven entry laid on it."""
    joint, tool, prevailing = model.joint, model.tool, model.prevailing
    start = model.instrument.record_from_deg
    rundown = np.arange(start, curve.rundown_deg, _RUNDOWN_STEP_DEG)
    rise = slice(None)
    if start > curve.rundown_deg:
        rise = slice(int(np.searchsorted(curve.angle_deg, start)), None)
    angle = np.concatenate([rundown, curve.angle_deg[rise]])
    free = prevailing_torque(rundown, prevailing, curve.rundown_deg)
    torque = np.concatenate([free, curve.torque_nm[rise]])
    force = np.concatenate([np.zeros(len(rundown)), curve.clamp_force_kn[rise]])
    torque += prevailing.transient_nm * np.exp(-angle / prevailing.transient_decay_deg)
    if prevailing.ripple_nm > 0.0:
        fading = np.clip(1.0 - force / (0.1 * curve.clamp_force_kn.max() + 1e-9), 0.0, 1.0)
        torque += prevailing.ripple_nm * fading * np.sin(np.deg2rad(angle) + rng.uniform(0.0, 2.0 * np.pi))
    for at, (before, after) in zip(tool.switch_deg, pairwise(tool.speeds_deg_per_s), strict=True):
        past = np.maximum(angle - at, 0.0) / tool.dip_recover_deg
        # Grows within the first degrees to its height, then recovers; a dip never goes below zero torque.
        change = tool.dip_nm * (1.0 - np.exp(-past / _DIP_FORMS)) * np.exp(-past)
        torque += change if after > before else -np.minimum(change, np.maximum(torque, 0.0) * 0.9)
    if joint.cross_start_nm > 0.0:
        torque += uneven_entry(angle, joint.cross_start_nm, rng)
    if joint.galling_nm > 0.0:
        risen = np.clip(force / (0.15 * curve.clamp_force_kn.max() + 1e-9), 0.0, 1.0)
        torque += joint.galling_nm * risen * saw_tooth(angle, joint.galling_pitch_deg, rng)
    if tool.wind_up_deg > 0.0:
        angle, torque, force = _wound_up(angle, torque, force, tool)
    return angle, torque, force


def _wound_up(
    angle_deg: FloatArray, torque_nm: FloatArray, force_kn: FloatArray, tool: Tool
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """A start on a tight fastener: torque at once up to the breakaway, then down to what turns it."""
    way = np.linspace(0.0, 1.0, 8)[:-1]
    # The recorded angle counts from the tool's first movement, so the rise lies before the curve's first
    # angle.
    start = angle_deg[0] - tool.wind_up_deg * (1.0 - way)
    rise = (torque_nm[0] + tool.breakaway_nm) * way**1.2
    torque = torque_nm + tool.breakaway_nm * np.exp(-(angle_deg - angle_deg[0]) / (0.5 * tool.wind_up_deg))
    joined = np.concatenate([start, angle_deg]), np.concatenate([rise, torque])
    return *joined, np.concatenate([np.full(7, force_kn[0]), force_kn])


def _stopped_early(
    model: TraceModel, angle_deg: FloatArray, torque_nm: FloatArray, force_kn: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """A thread that entered askew stops the tool wherever the whole torque reaches the stop torque."""
    if model.joint.cross_start_nm == 0.0:
        return angle_deg, torque_nm, force_kn
    reached = np.flatnonzero(torque_nm >= model.tool.stop_torque_nm)
    stop = max(int(reached[0]) + 1, 3) if len(reached) else len(angle_deg)
    return angle_deg[:stop], torque_nm[:stop], force_kn[:stop]


def _speed(
    tool: Tool, angle_deg: FloatArray, torque_nm: FloatArray, restart: int | None
) -> tuple[FloatArray, FloatArray]:
    """Speed (deg/s) and step number along the way, with the tool's lag at each change."""
    step = np.searchsorted(np.asarray(tool.switch_deg), angle_deg, side="right").astype(np.float64)
    speed = np.asarray(tool.speeds_deg_per_s)[step.astype(np.int64)]
    previous = _STARTING_SHARE * tool.speeds_deg_per_s[0]
    for at, wanted in zip((0.0, *tool.switch_deg), tool.speeds_deg_per_s, strict=True):
        lag_deg = _SPEED_LAG_S * max(previous, wanted)
        here = angle_deg >= at
        speed[here] += (previous - wanted) * np.exp(-(angle_deg[here] - at) / lag_deg)
        previous = wanted
    speed = speed * (1.0 - tool.droop * np.clip(torque_nm / tool.target_torque_nm, 0.0, 1.0))
    if restart is not None:
        step[restart + 1 :] += 1.0
        past = angle_deg[restart + 1 :] - angle_deg[restart]
        lag_deg = _SPEED_LAG_S * tool.speeds_deg_per_s[-1]
        speed[restart + 1 :] *= 1.0 - (1.0 - _STARTING_SHARE) * np.exp(-past / lag_deg)
    return np.maximum(speed, 1.0), step


def _pause(stopped: FloatArray, pause: Pause, restart_speed: float) -> FloatArray:
    """From the stop of a stage to the moment when the fastener moves again."""
    time, angle, torque, force, step = stopped[:5]
    held = pause.hold_share * torque
    low = angle - pause.back_deg
    peak = torque + pause.breakaway_share * pause.at_torque_nm
    wind_up_s = (pause.back_deg + _WIND_UP_DEG) / max(restart_speed, 20.0)
    seconds = [_COLLAPSE_S * 0.4, _COLLAPSE_S, pause.duration_s, pause.duration_s + wind_up_s]
    rest = pause.duration_s + np.linspace(0.0, wind_up_s, 6)[1:]
    times = time + np.concatenate([seconds[:3], rest])
    way = np.linspace(0.0, 1.0, 6)[1:]
    angles = np.concatenate([[angle - 0.3 * pause.back_deg, low, low], low + (angle - low) * way])
    torques = np.concatenate(
        [[held + 0.35 * (torque - held), held, 0.95 * held], held + (peak - held) * way**0.8]
    )
    rows = [times, angles, torques, np.full(8, force), np.full(8, step), np.zeros(8)]
    return np.stack(rows)


def _release(final: FloatArray, tool: Tool) -> FloatArray:
    """The torque collapses and the angle springs back; a few rest samples follow."""
    time, angle, torque, force, step = final[:5]
    way = np.array([0.05, 0.2, 0.45, 0.75, 1.0, 1.6])
    done = np.minimum(way, 1.0)
    rows = [
        time + tool.release_s * way,
        angle - tool.release_back_deg * done**1.3,
        torque * (1.0 - done) ** 1.2,
        np.full(6, force),
        np.full(6, step),
        np.where(way < 1.5, tool.release_back_deg / tool.release_s, 0.0),
    ]
    return np.stack(rows)
