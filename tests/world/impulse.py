"""Traces of an impulse tool: torque in pulses over time, angle in steps."""

from __future__ import annotations

from dataclasses import asdict, dataclass, replace
from typing import Any

import numpy as np
import pyarrow as pa

from analysis.traces import TraceSet
from tests.world.model import TraceModel
from tests.world.path import Path
from tests.world.recording import Recording, write_down
from tests.world.shapes import FloatArray
from tests.world.true_curve import TrueCurve, build_true_curve, prevailing_torque
from tests.world.truth import read_truth
from tests.world.varied import varied_joints

#: Torque above which the tool no longer turns steadily but strikes, as a share of target.
_STRIKES_FROM = 0.08
#: Points of a pulse: half a sine up and down.
_PULSE_POINTS = 9
_MOST_BLOWS = 400


@dataclass(frozen=True)
class ImpulseTool:
    """How it strikes."""

    blows_per_s: float = 22.0
    pulse_s: float = 0.008  #: Length of one pulse.
    blows_to_target: int = 25  #: About how many blows the rise takes: sets the energy of one.
    spring_back_deg: float = 0.4  #: Angle that tool and joint give back between blows.


def record_impulse(model: TraceModel, rng: np.random.Generator, tool: ImpulseTool | None = None) -> Recording:
    """A tightening by blows: each turns the fastener until the joint's torque has used up the blow's energy.

    The peaks lie on the noise-free curve of the model, so its truth holds for their envelope; between blows
    there is no torque. Energy of a blow over the joint's torque is the angle of its step, so steps shorten.
    """
    tool = ImpulseTool() if tool is None else tool
    curve = build_true_curve(model)
    return write_down(model, _blows(model, curve, tool, rng), read_truth(model, curve), rng)


def _blows(model: TraceModel, curve: TrueCurve, tool: ImpulseTool, rng: np.random.Generator) -> Path:
    begins = _strikes_from(model, curve)
    steady = np.arange(model.instrument.record_from_deg, begins, 2.0)
    speed = model.tool.speeds_deg_per_s[0]
    torque = _torque(model, curve, steady)
    pieces = [np.stack([(steady - steady[0]) / speed, steady, torque, np.zeros_like(steady)])]
    energy = np.trapezoid(curve.torque_nm, curve.angle_deg) / tool.blows_to_target
    time, angle = pieces[0][0, -1], float(steady[-1])
    for _ in range(_MOST_BLOWS):
        here = float(_torque(model, curve, np.array([angle]))[0])
        step = float(energy / max(here, 0.02 * model.tool.target_torque_nm) * rng.uniform(0.8, 1.2))
        reached = min(angle + min(step, 90.0), float(curve.angle_deg[-1]))
        peak = float(_torque(model, curve, np.array([reached]))[0])
        way = np.linspace(0.0, 1.0, _PULSE_POINTS)
        # The fastener moves while the pulse is high: over its middle half.
        turned = angle + (reached - angle) * np.clip((way - 0.25) / 0.25, 0.0, 1.0)
        back = np.where(way > 0.75, tool.spring_back_deg * (way - 0.75) / 0.25, 0.0)
        pulse = peak * np.sin(np.pi * way)
        force = np.interp(reached, curve.angle_deg, curve.clamp_force_kn)
        pieces.append(np.stack([time + tool.pulse_s * way, turned - back, pulse, np.full_like(way, force)]))
        angle = reached
        if reached >= curve.angle_deg[-1]:
            break
        time += float(rng.normal(1.0, 0.04)) / tool.blows_per_s
    whole = np.concatenate(pieces, axis=1)
    speeds = np.full(whole.shape[1], speed)
    return Path(whole[0], whole[1], whole[2], whole[3], np.zeros_like(speeds), speeds)


def _strikes_from(model: TraceModel, curve: TrueCurve) -> float:
    level = prevailing_torque(curve.angle_deg, model.prevailing, curve.rundown_deg)
    above = np.flatnonzero(curve.torque_nm > level + _STRIKES_FROM * model.tool.target_torque_nm)
    return float(curve.angle_deg[above[0]])


def _torque(model: TraceModel, curve: TrueCurve, angle_deg: FloatArray) -> FloatArray:
    free = prevailing_torque(angle_deg, model.prevailing, curve.rundown_deg)
    rise = np.interp(angle_deg, curve.angle_deg, curve.torque_nm)
    return np.asarray(np.where(angle_deg < curve.rundown_deg, free, rise))


def make_impulses(seed: int, n_per_joint: int) -> tuple[TraceSet, pa.Table]:
    """Tightenings of varied joints by varied impulse tools, sampled in time, and the truth about each.

    Parameters
    ----------
    seed, n_per_joint : int

    Returns
    -------
    TraceSet
        With `time_s` and `joint`.
    pyarrow.Table
        ``trace_id``, ``blows_per_s``, and a column for each field of `Truth`.
    """
    rng = np.random.default_rng([seed, 11])
    ids, joints = [], []
    angles, torques, times = [], [], []
    rows: list[dict[str, Any]] = []
    for joint in varied_joints(seed):
        instrument = replace(joint.model.instrument, interval_s=0.001, interval_deg=None)
        model = replace(joint.model, instrument=instrument)
        for number in range(n_per_joint):
            tool = ImpulseTool(
                blows_per_s=float(rng.uniform(12.0, 35.0)),
                pulse_s=float(rng.uniform(0.005, 0.012)),
                blows_to_target=int(rng.integers(15, 60)),
                spring_back_deg=float(rng.uniform(0.0, 1.0)),
            )
            recording = record_impulse(model, rng, tool)
            ids.append(f"{joint.name}-{number:04d}")
            joints.append(joint.name)
            angles.append(recording.angle_deg)
            torques.append(recording.torque_nm)
            times.append(recording.time_s)
            truth = asdict(recording.truth)
            rows.append({"trace_id": ids[-1], "blows_per_s": tool.blows_per_s, **truth})
    traces = TraceSet.from_lists(ids, angles, torques, {"joint": joints}, time_s=times)
    return traces, pa.Table.from_pylist(rows)
