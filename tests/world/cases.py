"""The world that the estimators are judged in: named cases, drawn at random from a seed."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import asdict, replace
from typing import Any

import numpy as np
import pyarrow as pa

from analysis.traces import TraceSet
from tests.world.model import (
    DRAWDOWN_SHAPES,
    PLASTIC_SHAPES,
    Drawdown,
    Instrument,
    Joint,
    Pause,
    Plastic,
    Prevailing,
    Tool,
    TraceModel,
)
from tests.world.recording import record
from tests.world.shapes import drawdown_share, plastic_share

#: Joint rates of the world, degrees.
SHORTEST_RATE_DEG, LONGEST_RATE_DEG = 20.0, 720.0
#: Least samples between snug and the final point that a sampling may give.
_FEWEST_ON_RISE = 18
_MOST_SAMPLES = 4000


def between(rng: np.random.Generator, low: float, high: float) -> float:
    """An even draw."""
    return float(rng.uniform(low, high))


def log_between(rng: np.random.Generator, low: float, high: float) -> float:
    """A draw that is even in the logarithm."""
    return float(np.exp(rng.uniform(np.log(low), np.log(high))))


def random_drawdown(rng: np.random.Generator, rate_deg: float) -> Drawdown:
    """Any shape, its width beside the joint rate."""
    shape = DRAWDOWN_SHAPES[int(rng.integers(len(DRAWDOWN_SHAPES)))]
    width = rate_deg * log_between(rng, 0.25, 1.5)
    match shape:
        case "power-law":
            bend = between(rng, 0.6, 2.5)
        case "rough-contact":
            # Asperities never go quite stiff: a width short against the elastic stretch leaves it straight.
            bend, width = between(rng, 2.0, 3.0), rate_deg * log_between(rng, 0.1, 0.35)
        case "two-knee-gasket":
            bend = between(rng, 0.12, 0.5)
        case "irregular":
            bend = float(rng.integers(1_000_000))
        case "exponential-saturation":
            bend, width = 0.0, rate_deg * log_between(rng, 0.25, 1.0)
        case _:
            bend = 0.0
    return Drawdown(shape, width, bend)


def _joint(rng: np.random.Generator, target_nm: float, prevailing_nm: float, rate_deg: float) -> Joint:
    """A joint that reaches its target `rate_deg` after snug."""
    drawdown = random_drawdown(rng, rate_deg)
    angle = np.linspace(0.0, drawdown.width_deg * 2.0 + rate_deg * 1.3, 4000)
    share = drawdown_share(angle, drawdown)
    snug = float(angle[np.flatnonzero(share < 0.8)[-1]])
    area = float(np.trapezoid(np.where(angle <= snug + rate_deg, share, 0.0), angle))
    slope = (target_nm - prevailing_nm) / area
    # About one seventh of the torque lifts along the pitch, the rest is friction (MIL-HDBK-60 100.5 at mu
    # 0.12).
    torque_per_force = between(rng, 0.8, 4.0)
    return Joint(
        rundown_deg=log_between(rng, 150.0, 2500.0),
        clamp_kn_per_deg=slope / torque_per_force,
        lead_nm_per_kn=0.15 * torque_per_force,
        friction_nm_per_kn=0.85 * torque_per_force,
        drawdown=drawdown,
    )


def _prevailing(rng: np.random.Generator, target_nm: float, rundown_deg: float) -> Prevailing:
    kind = rng.random()
    level = target_nm * (between(rng, 0.0, 0.03) if kind < 0.5 else between(rng, 0.05, 0.3))
    climb = 0.0 if kind < 0.7 else level * between(rng, 0.2, 0.8) / max(rundown_deg / 360.0, 0.5)
    return Prevailing(
        level_nm=level,
        climb_nm_per_turn=climb,
        transient_nm=target_nm * between(rng, 0.02, 0.15) if rng.random() < 0.6 else 0.0,
        transient_decay_deg=between(rng, 6.0, 20.0),
        ripple_nm=0.0 if rng.random() < 0.7 else target_nm * between(rng, 0.001, 0.004),
        wander_nm=0.0 if rng.random() < 0.6 else level * between(rng, 0.01, 0.06),
        wander_choice=int(rng.integers(1_000_000)),
    )


def random_tool(rng: np.random.Generator, target_nm: float, joint: Joint, rate_deg: float) -> Tool:
    """Fast to a switch somewhere before, or early in, the drawdown; then slow."""
    slowest = max(30.0, rate_deg * 0.8)
    fastest = min(1200.0, rate_deg / _FEWEST_ON_RISE * 1000.0)
    slow = log_between(rng, min(slowest, 0.5 * fastest), fastest)
    fast = max(log_between(rng, 900.0, 4200.0), slow)
    switch = joint.rundown_deg * between(rng, 0.4, 0.98)
    if rng.random() < 0.25:
        switch = joint.rundown_deg + joint.drawdown.width_deg * between(rng, 0.0, 0.25)
    speeds: tuple[float, ...] = (fast, slow)
    switches: tuple[float, ...] = (switch,)
    if rng.random() < 0.3:
        # A careful start: the thread is found slowly, then the tool speeds up.
        speeds, switches = (0.25 * fast, fast, slow), (between(rng, 0.05, 0.2) * switch, switch)
    return Tool(
        target_torque_nm=target_nm,
        stop_torque_nm=target_nm * between(rng, 1.002, 1.03),
        speeds_deg_per_s=speeds,
        switch_deg=switches,
        dip_nm=target_nm * between(rng, 0.02, 0.1) if rng.random() < 0.5 else 0.0,
        dip_recover_deg=min(between(rng, 2.0, 10.0), 0.15 * rate_deg),
        droop=between(rng, 0.0, 0.9),
        release_back_deg=between(rng, 1.0, 4.0),
        release_s=between(rng, 0.015, 0.045) if rng.random() < 0.9 else 0.0,
    )


def random_instrument(
    rng: np.random.Generator, target_nm: float, joint: Joint, rate_deg: float
) -> Instrument:
    """In time or in angle, with at least `_FEWEST_ON_RISE` samples on the rise."""
    kind = rng.integers(4)
    interval_deg = None if kind < 2 else float(rng.choice([0.25, 0.5, 1.0]))
    turned = joint.rundown_deg + 3.0 * rate_deg
    if interval_deg is not None:
        fits = [d for d in (0.25, 0.5, 1.0) if rate_deg / d >= _FEWEST_ON_RISE and turned / d < _MOST_SAMPLES]
        interval_deg = interval_deg if interval_deg in fits else (fits[0] if fits else 0.5)
    angle_step = float(rng.choice([0.0, 0.25, 0.5, 1.0], p=[0.4, 0.35, 0.15, 0.1]))
    if interval_deg is not None or angle_step > rate_deg / _FEWEST_ON_RISE:
        angle_step = 0.0
    return Instrument(
        interval_s=0.001 if interval_deg is None else None,
        interval_deg=interval_deg,
        record_from_deg=max(0.0, joint.rundown_deg - 1500.0),
        noise_nm=target_nm * log_between(rng, 0.001, 0.006),
        ripple_nm=target_nm * between(rng, 0.002, 0.01) if rng.random() < 0.3 else 0.0,
        angle_step_deg=angle_step,
        torque_step_nm=target_nm * float(rng.choice([0.0, 0.0005, 0.002, 0.005])),
        dropped_share=float(rng.choice([0.0, 0.01, 0.05])),
        duplicate_share=float(rng.choice([0.0, 0.002])),
    )


def random_model(rng: np.random.Generator) -> tuple[TraceModel, float]:
    """A joint with everything in order, and its nominal joint rate in degrees."""
    rate = log_between(rng, SHORTEST_RATE_DEG, LONGEST_RATE_DEG)
    target = log_between(rng, 1.0, 300.0)
    prevailing = _prevailing(rng, target, 1000.0)
    joint = _joint(rng, target, prevailing.level_nm, rate)
    tool = random_tool(rng, target, joint, rate)
    return TraceModel(joint, prevailing, tool, random_instrument(rng, target, joint, rate)), rate


def _normal(rng: np.random.Generator) -> TraceModel:
    return random_model(rng)[0]


def _two_stage(rng: np.random.Generator) -> TraceModel:
    model, rate = random_model(rng)
    target, level = model.tool.target_torque_nm, model.prevailing.level_nm
    pause = Pause(
        at_torque_nm=level + (target - level) * between(rng, 0.25, 0.85),
        duration_s=log_between(rng, 0.03, 0.4),
        hold_share=between(rng, 0.0, 0.7),
        back_deg=min(between(rng, 0.0, 3.0), 0.1 * rate),
        breakaway_share=between(rng, 0.02, 0.15),
        breakaway_decay_deg=min(between(rng, 0.3, 2.0), 0.03 * rate),
        ease_share=between(rng, 0.0, 0.03),
        ease_deg=min(between(rng, 1.0, 4.0), 0.03 * rate),
    )
    return replace(model, tool=replace(model.tool, pause=pause))


def _starts_late(rng: np.random.Generator) -> TraceModel:
    """Just before the drawdown, within it, or after snug; never so near snug that it is a toss-up."""
    model, rate = random_model(rng)
    width = model.joint.drawdown.width_deg
    where = rng.integers(3)
    if where == 0:
        start = model.joint.rundown_deg - between(rng, 5.0, 90.0)
    elif where == 1:
        start = model.joint.rundown_deg + width * between(rng, 0.05, 0.4)
    else:
        start = model.joint.rundown_deg + _snug_from_start(model) + rate * between(rng, 0.08, 0.35)
    start = max(start, 0.0)
    return replace(model, instrument=replace(model.instrument, record_from_deg=start))


def _snug_from_start(model: TraceModel) -> float:
    drawdown = model.joint.drawdown
    angle = np.linspace(0.0, 2.0 * drawdown.width_deg, 2000)
    return float(angle[np.flatnonzero(drawdown_share(angle, drawdown) < 0.8)[-1]])


def _friction(rng: np.random.Generator) -> TraceModel:
    model, _ = random_model(rng)
    factor = between(rng, 0.55, 0.8) if rng.random() < 0.5 else between(rng, 1.3, 1.9)
    joint = replace(model.joint, friction_nm_per_kn=model.joint.friction_nm_per_kn * factor)
    return replace(model, joint=joint)


def _stiffness(rng: np.random.Generator) -> TraceModel:
    """A softer joint stretches drawdown and elastic part alike."""
    model, _ = random_model(rng)
    factor = between(rng, 0.4, 0.6)
    drawdown = replace(model.joint.drawdown, width_deg=model.joint.drawdown.width_deg / factor)
    joint = replace(model.joint, clamp_kn_per_deg=model.joint.clamp_kn_per_deg * factor, drawdown=drawdown)
    return replace(model, joint=joint)


def _yielded(rng: np.random.Generator) -> TraceModel:
    """Turned on by angle well past the onset, so that whether it yielded is no toss-up."""
    model, rate = random_model(rng)
    target, joint = model.tool.target_torque_nm, model.joint
    shape = PLASTIC_SHAPES[int(rng.integers(len(PLASTIC_SHAPES)))]
    scale = rate * log_between(rng, 0.04, 0.4)
    start = (target - model.prevailing.level_nm) / joint.torque_per_force_nm_per_kn * between(rng, 0.75, 0.95)
    plastic = Plastic(shape, start, scale, between(rng, 0.0, 0.15) if shape == "linear-decay" else 0.0)
    past = np.linspace(0.0, 10.0 * scale, 1000)
    onset = float(past[np.flatnonzero(plastic_share(past, plastic) >= 0.5)[-1]])
    run = onset + max(0.12 * rate, between(rng, 0.6, 2.0) * scale)
    elastic = np.linspace(0.0, 3.0 * (joint.drawdown.width_deg + rate), 4000)
    force = joint.clamp_kn_per_deg * np.cumsum(drawdown_share(elastic, joint.drawdown)) * elastic[1]
    begins = float(np.interp(start, force, elastic))
    tool = replace(model.tool, stop_torque_nm=10.0 * target, stop_after_deg=begins + run)
    return replace(model, joint=replace(joint, plastic=plastic), tool=tool)


def _noisy(rng: np.random.Generator) -> TraceModel:
    """Total deviation at target of 1-1.5 %: white noise, and stick-slip in proportion to the torque."""
    model, rate = random_model(rng)
    target = model.tool.target_torque_nm
    total, white = target * between(rng, 0.010, 0.015), between(rng, 0.5, 0.9)
    instrument = replace(
        model.instrument,
        noise_nm=total * np.sqrt(white),
        stick_slip_nm=total * np.sqrt(1.0 - white),
        stick_slip_pitch_deg=min(between(rng, 1.5, 8.0), 0.1 * rate),
    )
    return replace(model, instrument=instrument)


def _thread_forming(rng: np.random.Generator) -> TraceModel:
    """High climbing prevailing torque, a stop at the end of the rundown, dips up to a third of the target."""
    model, rate = random_model(rng)
    target = model.tool.target_torque_nm
    level = target * between(rng, 0.2, 0.45)
    joint = _joint(rng, target, level, rate)
    joint = replace(joint, rundown_deg=between(rng, 800.0, 1800.0))
    climb = level * between(rng, 0.5, 0.95) / (joint.rundown_deg / 360.0)
    prevailing = replace(
        model.prevailing,
        level_nm=level,
        climb_nm_per_turn=climb,
        transient_nm=target * between(rng, 0.05, 0.3),
    )
    tool = random_tool(rng, target, joint, rate)
    switch = joint.rundown_deg * between(rng, 0.9, 0.995)
    switches = (*tool.switch_deg[:-1], switch)
    tool = replace(tool, switch_deg=switches, dip_nm=target * between(rng, 0.05, 0.3))
    return TraceModel(joint, prevailing, tool, random_instrument(rng, target, joint, rate))


CASES: dict[str, Callable[[np.random.Generator], TraceModel]] = {
    "normal": _normal,
    "two-stage": _two_stage,
    "starts late": _starts_late,
    "friction": _friction,
    "stiffness": _stiffness,
    "yielded": _yielded,
    "noisy": _noisy,
    "thread-forming": _thread_forming,
}


def case_models(case: str, seed: int, n: int) -> list[tuple[TraceModel, np.random.Generator]]:
    """Models of one case, each with the generator to record it with; the same for the same seed."""
    number = list(CASES).index(case)
    streams = np.random.SeedSequence([seed, number]).spawn(n)
    generators = [np.random.default_rng(stream) for stream in streams]
    return [(CASES[case](rng), rng) for rng in generators]


def make_cases(seed: int, n_per_case: int) -> tuple[TraceSet, pa.Table]:
    """Traces of every case, and the truth about each in the same order.

    Parameters
    ----------
    seed, n_per_case : int

    Returns
    -------
    TraceSet
        With `time_s`; every trace its own joint.
    pyarrow.Table
        ``trace_id``, ``case``, ``sampling`` ("time" or "angle"), ``shape`` (of the drawdown),
        ``target_torque_nm``,
        ``noise_nm``, and a column for each field of `Truth`; NaN where a trace does not have the point.

    Examples
    --------
    >>> traces, truth = make_cases(1, 2)
    >>> len(traces) == truth.num_rows == 2 * len(CASES)
    True
    """
    ids: list[str] = []
    angles, torques, times = [], [], []
    rows: list[dict[str, Any]] = []
    for case in CASES:
        for number, (model, rng) in enumerate(case_models(case, seed, n_per_case)):
            recording = record(model, rng)
            ids.append(f"{case.replace(' ', '-')}-{number:05d}")
            angles.append(recording.angle_deg)
            torques.append(recording.torque_nm)
            times.append(recording.time_s)
            rows.append(
                {
                    "trace_id": ids[-1],
                    "case": case,
                    "sampling": "time" if model.instrument.interval_deg is None else "angle",
                    "shape": model.joint.drawdown.shape,
                    "target_torque_nm": model.tool.target_torque_nm,
                    "noise_nm": float(np.hypot(model.instrument.noise_nm, model.instrument.stick_slip_nm)),
                    **asdict(recording.truth),
                }
            )
    return TraceSet.from_lists(ids, angles, torques, time_s=times), pa.Table.from_pylist(rows)
