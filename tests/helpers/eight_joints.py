"""A small shift of eight unlike joints: soft and hard, prevailing, by time and by angle, late, two-stage."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np

from analysis.reading import write_parquet
from analysis.traces import TraceSet
from tests.world import (
    Drawdown,
    Instrument,
    Joint,
    Pause,
    Plastic,
    Prevailing,
    Tool,
    TraceModel,
    make_trace,
)

PLAIN = TraceModel()
BY_ANGLE = Instrument(interval_s=None, interval_deg=0.5, noise_nm=0.1)

MODELS: dict[str, TraceModel] = {
    "plain": PLAIN,
    "by-angle": replace(PLAIN, instrument=BY_ANGLE),
    "hard": replace(PLAIN, joint=Joint(clamp_kn_per_deg=2.0, drawdown=Drawdown(width_deg=10.0))),
    "soft": replace(
        PLAIN,
        joint=Joint(clamp_kn_per_deg=0.06, drawdown=Drawdown("two-knee-gasket", 250.0, 0.3)),
        instrument=replace(BY_ANGLE, interval_deg=1.0),
    ),
    "prevailing": replace(PLAIN, prevailing=Prevailing(level_nm=6.0, enters_deg=180.0)),
    "late": replace(PLAIN, instrument=Instrument(record_from_deg=690.0)),
    "two-stage": replace(PLAIN, tool=Tool(pause=Pause(at_torque_nm=25.0))),
    "yielded": replace(
        PLAIN,
        joint=Joint(plastic=Plastic("exponential", 22.0, 8.0)),
        tool=Tool(stop_torque_nm=90.0, stop_after_deg=75.0),
    ),
}

TARGET_NM = 50.0


def joints_text() -> str:
    """The joints file of the eight; limits of torque for all, nothing that some of them could not meet."""
    return "".join(
        f'[joints."{name}"]\ntarget_torque_nm = {TARGET_NM}\ntorque_limits_nm = [35.0, 60.0]\n'
        f'thread = "M10"\nproperty_class = "10.9"\nhead = "hex"\nhole = "medium"\nfriction = [0.10, 0.16]\n\n'
        for name in MODELS
    )


def make_traces(each: int, seed: int = 7) -> TraceSet:
    """`each` traces of every joint, with 3 % scatter of friction and of stiffness."""
    rng = np.random.default_rng(seed)
    ids, angles, torques, times, joints = [], [], [], [], []
    for number in range(each):
        for name, model in MODELS.items():
            joint = replace(
                model.joint,
                friction_nm_per_kn=model.joint.friction_nm_per_kn * rng.normal(1.0, 0.03),
                clamp_kn_per_deg=model.joint.clamp_kn_per_deg * rng.normal(1.0, 0.03),
            )
            angle, torque, time, _ = make_trace(replace(model, joint=joint), rng)
            ids.append(f"{name}-{number:03d}")
            joints.append(name)
            angles.append(angle)
            torques.append(torque)
            times.append(time)
    return TraceSet.from_lists(ids, angles, torques, {"joint": joints}, time_s=times)


def write_shift(folder: Path, each: int = 15) -> tuple[Path, Path]:
    """Write the traces and the joints file; returns both paths."""
    traces, joints = folder / "shift.parquet", folder / "joints.toml"
    write_parquet(make_traces(each), traces)
    joints.write_text(joints_text(), encoding="utf-8")
    return traces, joints
