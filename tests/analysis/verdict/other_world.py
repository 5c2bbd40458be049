"""Tightenings made by plain formulae, unlike the project's own synthetic world: a second judge of the
causes."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pyarrow as pa

from analysis.traces import TraceSet

#: Step of the fine angle grid, degrees.
STEP_DEG = 0.05


@dataclass(frozen=True)
class Plain:
    """A joint: final torque, prevailing torque, elastic slope, bend of the drawdown, rundown, noise per
    sample."""

    final_nm: float
    prevailing_nm: float
    slope_nm_per_deg: float
    bend_deg: float
    rundown_deg: float
    noise_nm: float


PLAIN_JOINTS = {
    "bolt": Plain(40.0, 0.5, 1.4, 12.0, 1500.0, 0.10),
    "nut": Plain(30.0, 3.5, 0.9, 15.0, 1800.0, 0.08),
    "lid": Plain(10.0, 0.2, 0.08, 60.0, 1200.0, 0.03),
}
KINDS = (
    "low-friction",
    "high-friction",
    "softer-joint",
    "stiffer-joint",
    "seated-early",
    "prevailing-missing",
    "prevailing-high",
    "cross-thread",
    "thread-stripping",
    "yielded",
    "already-tight",
    "galling",
    "incomplete-recording",
)
Curve = tuple[np.ndarray, np.ndarray]


def joints_text() -> str:
    """Only target and torque limits, and that none may yield: no engineering keys, no angle limits."""
    return "\n".join(
        f"[joints.{name}]\ntarget_torque_nm = {joint.final_nm}\n"
        f"torque_limits_nm = [{0.93 * joint.final_nm}, {1.07 * joint.final_nm}]\nmay_yield = false\n"
        for name, joint in PLAIN_JOINTS.items()
    )


def _varied(joint: Plain, kind: str | None, rng: np.random.Generator) -> Plain:
    """Natural scatter of 5 % friction and 3 % stiffness, and what the kind of fault changes."""
    friction, stiffness = np.exp(0.05 * rng.normal()), np.exp(0.03 * rng.normal())
    friction *= {"low-friction": rng.uniform(0.6, 0.75), "high-friction": rng.uniform(1.4, 1.8)}.get(
        kind or "", 1.0
    )
    stiffness *= {"softer-joint": rng.uniform(0.45, 0.65), "stiffer-joint": rng.uniform(1.5, 2.0)}.get(
        kind or "", 1
    )
    prevailing = joint.prevailing_nm * np.exp(0.07 * rng.normal())
    if kind == "prevailing-missing":
        prevailing = 0.01 * joint.final_nm * rng.uniform()
    if kind == "prevailing-high":
        prevailing += joint.final_nm * rng.uniform(0.1, 0.25)
    early = rng.uniform(200.0, 500.0) if kind == "seated-early" else 0.0
    return replace(
        joint,
        final_nm=joint.final_nm * (1.0 + 0.006 * rng.normal()),
        prevailing_nm=prevailing,
        slope_nm_per_deg=joint.slope_nm_per_deg * friction * stiffness,
        bend_deg=joint.bend_deg / stiffness,
        rundown_deg=joint.rundown_deg + 25.0 * rng.normal() - early,
    )


def _usual(joint: Plain) -> Curve:
    """Prevailing torque with a wave a turn, then a slope that grows as 1 - exp(-x / bend)."""
    angle = np.arange(0.0, joint.rundown_deg + 6.0 * joint.final_nm / joint.slope_nm_per_deg, STEP_DEG)
    x = np.maximum(angle - joint.rundown_deg, 0.0)
    rise = joint.slope_nm_per_deg * (x - joint.bend_deg * (1.0 - np.exp(-x / joint.bend_deg)))
    return angle, joint.prevailing_nm * (1.0 + 0.05 * np.sin(np.deg2rad(angle))) + rise


def _until(curve: Curve, torque_nm: float) -> Curve:
    over = np.flatnonzero(curve[1] >= torque_nm)
    stop = int(over[0]) + 1 if len(over) else len(curve[0])
    return curve[0][:stop], curve[1][:stop]


def _saw(curve: Curve, joint: Plain, rng: np.random.Generator) -> Curve:
    pitch = rng.uniform(3.0, 9.0) * max(joint.bend_deg / 15.0, 1.0)
    x = curve[0] - joint.rundown_deg
    height = rng.uniform(0.05, 0.12) * joint.final_nm * np.clip(x / joint.bend_deg, 0.0, 1.0)
    return curve[0], curve[1] + height * ((x % pitch) / pitch - 0.5)


def _askew(curve: Curve, joint: Plain, rng: np.random.Generator) -> Curve:
    angle = curve[0]
    start, length = rng.uniform(0.2, 0.5) * joint.rundown_deg, rng.uniform(180.0, 500.0)
    u = np.clip((angle - start) / length, 0.0, None)
    wave = 0.03 * joint.final_nm * np.sin(angle / rng.uniform(8.0, 20.0)) * (u > 0)
    return angle, joint.prevailing_nm + joint.final_nm * u ** rng.uniform(0.8, 1.5) + wave


def _collapsing(curve: Curve, joint: Plain, lowest: float, rng: np.random.Generator) -> Curve:
    """The slope falls off exponentially to `lowest` of what it was, and the tool stops by angle."""
    angle, torque = curve
    net, elastic = joint.final_nm - joint.prevailing_nm, joint.final_nm / joint.slope_nm_per_deg
    begins = angle[np.flatnonzero(torque >= joint.prevailing_nm + net * rng.uniform(0.65, 0.85))[0]]
    past = np.maximum(angle - begins, 0.0)
    factor = lowest + (1.0 - lowest) * np.exp(-past / (elastic * rng.uniform(0.15, 0.3)))
    bent = torque[0] + np.cumsum(np.gradient(torque) * factor)
    stop = int(np.flatnonzero(angle > begins + elastic * rng.uniform(0.7, 1.2))[0])
    return angle[:stop], bent[:stop]


def _tight(joint: Plain, rng: np.random.Generator) -> Curve:
    angle = np.arange(0.0, rng.uniform(3.0, 8.0), STEP_DEG)
    share = np.clip(angle / (angle[-1] * rng.uniform(0.3, 0.7)), 0.0, 1.0) ** 0.8
    return angle, joint.final_nm * share * (0.9 + 0.1 * angle / angle[-1])


def _curve(joint: Plain, kind: str | None, rng: np.random.Generator) -> tuple[Curve, bool]:
    """Angle and torque on the fine grid, and whether the release is recorded."""
    curve = _usual(joint)
    match kind:
        case "already-tight":
            return _tight(joint, rng), True
        case "galling":
            curve = _saw(curve, joint, rng)
        case "cross-thread":
            curve = _askew(curve, joint, rng)
        case "yielded":
            return _until(_collapsing(curve, joint, 0.05, rng), joint.final_nm), True
        case "thread-stripping":
            return _collapsing(curve, joint, -0.5, rng), True
    whole = _until(curve, joint.final_nm)
    if kind != "incomplete-recording":
        return whole, True
    net = joint.final_nm - joint.prevailing_nm
    if rng.random() < 0.5:
        return _until(whole, joint.prevailing_nm + net * rng.uniform(0.3, 0.8)), False
    begin = int(np.flatnonzero(whole[1] >= joint.prevailing_nm + net * rng.uniform(0.35, 0.6))[0])
    return (whole[0][begin:] - whole[0][begin], whole[1][begin:]), True


def _recorded(curve: Curve, joint: Plain, release: bool, by_time: bool, rng: np.random.Generator) -> Curve:
    """Every 0.25 deg of angle, or every millisecond with rounded angles and the spring-back at the end."""
    angle, torque = curve
    if by_time:
        speed = np.where(torque > joint.prevailing_nm + 0.05 * joint.final_nm, 0.3, 2.0)  # deg per ms
        passed = np.cumsum(STEP_DEG / speed)
        at = np.unique(np.append(np.searchsorted(passed, np.arange(0.0, passed[-1], 1.0)), len(angle) - 1))
        angle, torque = np.round(angle[at] / 0.25) * 0.25, torque[at]
        if release:
            angle = np.append(angle, angle[-1] - np.linspace(0.0, 2.0, 15))
            torque = np.append(torque, torque[-1] * np.linspace(0.95, 0.0, 15))
    else:
        angle, torque = angle[::5], torque[::5]
    noise_nm = joint.noise_nm * rng.uniform(0.5, 1.5)  # no two recordings are equally noisy
    return angle, torque + noise_nm * rng.normal(size=len(torque))


def other_shift(seed: int, *, by_time: bool, good: int, each: int) -> tuple[TraceSet, pa.Table]:
    """Good traces and seeded faults of the three joints, and their truth (trace_id, cause)."""
    rng = np.random.default_rng(seed)
    plan = [
        (name, kind)
        for name in PLAIN_JOINTS
        for kind in [None] * good + [k for k in KINDS if k != "prevailing-missing" or name == "nut"] * each
    ]
    plan = [plan[index] for index in rng.permutation(len(plan))]
    curves = []
    for name, kind in plan:
        joint = _varied(PLAIN_JOINTS[name], kind, rng)
        curve, release = _curve(joint, kind, rng)
        curves.append(_recorded(curve, joint, release, by_time, rng))
    ids = [f"o{number:04d}" for number in range(len(plan))]
    traces = TraceSet.from_lists(
        ids, [c[0] for c in curves], [c[1] for c in curves], {"joint": [name for name, _ in plan]}
    )
    return traces, pa.table({"trace_id": ids, "cause": pa.array([kind for _, kind in plan], pa.string())})
