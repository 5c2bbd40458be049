"""Other joints of the three kinds, drawn from a seed, so that nothing is tuned to one flange bolt."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from tests.world.evaluation import EVALUATION_JOINTS
from tests.world.faults import elastic_rise_deg, is_locking, with_rundown, with_stiffness
from tests.world.model import Drawdown, DrawdownShape, Instrument, TraceModel
from tests.world.shift import ShiftJoint

#: Ranges of the draw: target torque over the base joint's, stretch of the rise, length of the rundown, noise.
_TARGET, _STRETCH, _RUNDOWN, _NOISE = (0.4, 3.0), (0.7, 1.6), (0.6, 1.3), (0.5, 2.5)
#: Limits of the final torque about the target, and of a locking element's torque about its level, as shares.
_TORQUE_LIMITS, _PREVAILING_LIMITS = (0.94, 1.08), (0.35, 2.0)
_SHAPES: tuple[DrawdownShape, ...] = ("power-law", "raised-cosine", "softplus", "exponential-saturation")


def varied_joints(seed: int) -> tuple[ShiftJoint, ...]:
    """A flange bolt, a self-locking nut and a gasketed cover of other size, stiffness, tool and instrument.

    Their joints file holds limits alone: thread and parts of a drawn joint are not known.

    Examples
    --------
    >>> [joint.name for joint in varied_joints(3)]
    ['flange', 'locknut', 'cover']
    """
    rng = np.random.default_rng([seed, 7])
    return tuple(_varied(joint, rng) for joint in EVALUATION_JOINTS)


def joints_toml(joints: tuple[ShiftJoint, ...]) -> str:
    """The joints file of some joints."""
    return "\n".join(joint.definition for joint in joints)


def _varied(joint: ShiftJoint, rng: np.random.Generator) -> ShiftJoint:
    model = _scaled(joint.model, float(np.exp(rng.uniform(*np.log(_TARGET)))))
    model = with_stiffness(model, 1.0 / float(rng.uniform(*_STRETCH)))
    model = with_rundown(model, model.joint.rundown_deg * (float(rng.uniform(*_RUNDOWN)) - 1.0))
    switch = model.joint.rundown_deg * float(rng.uniform(0.6, 0.9))
    drawdown = model.joint.drawdown
    if drawdown.shape == "two-knee-gasket":
        drawdown = replace(drawdown, bend=float(rng.uniform(0.15, 0.4)))
    else:
        shape = _SHAPES[int(rng.integers(len(_SHAPES)))]
        drawdown = Drawdown(shape, drawdown.width_deg, float(rng.uniform(0.8, 2.0)))
    model = replace(
        model,
        joint=replace(model.joint, drawdown=drawdown),
        tool=replace(model.tool, switch_deg=(switch,), release_back_deg=float(rng.uniform(1.0, 4.0))),
        instrument=_instrument(model, rng),
    )
    return ShiftJoint(joint.name, model, _definition(joint.name, model))


def _scaled(model: TraceModel, factor: float) -> TraceModel:
    """Every torque by the same factor, by a longer lever per clamp force."""
    joint, prevailing, tool, instrument = model.joint, model.prevailing, model.tool, model.instrument
    return TraceModel(
        replace(
            joint,
            lead_nm_per_kn=joint.lead_nm_per_kn * factor,
            friction_nm_per_kn=joint.friction_nm_per_kn * factor,
        ),
        replace(
            prevailing,
            level_nm=prevailing.level_nm * factor,
            climb_nm_per_turn=prevailing.climb_nm_per_turn * factor,
            transient_nm=prevailing.transient_nm * factor,
            ripple_nm=prevailing.ripple_nm * factor,
            wander_nm=prevailing.wander_nm * factor,
        ),
        replace(
            tool,
            target_torque_nm=tool.target_torque_nm * factor,
            stop_torque_nm=tool.stop_torque_nm * factor,
            dip_nm=tool.dip_nm * factor,
        ),
        replace(
            instrument,
            noise_nm=instrument.noise_nm * factor,
            torque_step_nm=instrument.torque_step_nm * factor,
        ),
    )


def _instrument(model: TraceModel, rng: np.random.Generator) -> Instrument:
    """In time, or in angle as fine as the rise needs it: at least thirty samples."""
    instrument = replace(model.instrument, noise_nm=model.instrument.noise_nm * float(rng.uniform(*_NOISE)))
    if rng.random() < 0.5:
        return replace(instrument, dropped_share=float(rng.choice([0.0, 0.02])))
    finest = [step for step in (1.0, 0.5, 0.25) if elastic_rise_deg(model) / step >= 30.0]
    interval = finest[0] if finest else 0.25
    return replace(instrument, interval_s=None, interval_deg=interval, angle_step_deg=0.0)


def _definition(name: str, model: TraceModel) -> str:
    target, level = model.tool.target_torque_nm, model.prevailing.level_nm
    low, high = (round(target * share, 4) for share in _TORQUE_LIMITS)
    lines = [
        f"[joints.{name}]",
        'stop = "torque"',
        f"target_torque_nm = {round(target, 4)}",
        f"torque_limits_nm = [{low}, {high}]",
    ]
    if is_locking(model):
        least, most = (round(level * share, 4) for share in _PREVAILING_LIMITS)
        lines.append(f"prevailing_limits_nm = [{least}, {most}]")
    return "\n".join([*lines, "may_yield = false", ""])
