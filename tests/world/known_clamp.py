"""Joints and shifts whose clamp force, friction and stiffness are known, to hold stated bounds against.

A joint is drawn with its size, class, clamp length, friction, tool and instrument; its definition states a
range of friction and a stiffness as an engineer would, and the parts that come along differ from it, by lot
and by part. Torque is (lead + friction) x clamp force + prevailing torque; the clamp force grows by the
stiffness a degree once the drawdown is over, up to where tension and torsion make the bolt yield.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np
import pyarrow as pa

from analysis.traces import TraceSet
from tests.world.cases import between, log_between, random_drawdown, random_instrument, random_tool
from tests.world.fastener import Fastener
from tests.world.fastener_sizes import DIAMETERS_MM, HEADS, YIELD_MPA, fastener_of
from tests.world.faults import FAULTS, applies, with_friction, with_stiffness
from tests.world.model import Joint, Plastic, Prevailing, TraceModel
from tests.world.recording import Recording, record
from tests.world.shift import assemble, naturally

#: Faults in which the torque was turned into clamp force, and those in which it was not, or not to its end.
FORCE_FAULTS = (
    "low-friction",
    "high-friction",
    "softer-joint",
    "stiffer-joint",
    "seated-early",
    "seated-late",
    "prevailing-missing",
    "prevailing-high",
    "yielded",
    "galling",
)
NO_FORCE_FAULTS = (
    "cross-thread",
    "thread-stripping",
    "already-tight",
    "bottomed-out",
    "drive-slip",
    "incomplete-recording",
)
#: Torque per clamp force of a wrong lot over that of the right parts.
OILY, DRY = (0.58, 0.66), (1.6, 1.8)
#: How far the lots of a sound shift lie from the definition at most: friction, stiffness, as shares.
LOT_FRICTION, LOT_STIFFNESS = 0.08, 0.05
#: Standard deviation of a stiffness computed from dimensions about the true one, as a share (own choice: half
#: of what the program takes it for, 20 % being two of them); strength of steel over the least of its class.
_COMPUTED_ERROR, _STRONGER = 0.05, (1.02, 1.15)
#: Yielding begins at this share of the yield force, and levels out above it by this share.
_YIELD_BEGINS, _HARDENING = 0.92, 0.22
_FIRST_START = datetime(2024, 3, 12, 6, 0, tzinfo=UTC)


@dataclass(frozen=True)
class KnownJoint:
    """A drawn joint: what its parts are in the middle, and what its definition says."""

    name: str
    fastener: Fastener
    model: TraceModel  #: At the middle of the stated friction, and at the true stiffness of sound parts.
    yield_mpa: float  #: Of the bolts that come, not the least of the class.
    stated_n_per_deg: float  #: The stiffness that the definition gives, or that follows from its dimensions.
    friction: tuple[float, float]  #: (lowest, highest): as stated.
    definition: str  #: TOML text.


@dataclass(frozen=True)
class Lot:
    """What a whole shift's parts are over the middle of the definition."""

    lever: float = 1.0  #: Torque per clamp force.
    stiffness: float = 1.0


def draw_joint(name: str, seed: int, *, measured_stiffness: bool | None = None) -> KnownJoint:
    """A joint of any size; the same for the same seed.

    Parameters
    ----------
    measured_stiffness : bool or None
        Whether the definition gives the force per degree, to 10 %; False: the dimensions from which it
        follows; None: either.
    """
    rng = np.random.default_rng([seed, 12])
    fastener = fastener_of(float(rng.choice(DIAMETERS_MM)), head := str(rng.choice(HEADS)))
    length = fastener.diameter_mm * log_between(rng, 1.5, 5.0)
    parts = 5.0 * np.ceil((fastener.bearing_mm + 0.7 * length + 5.0) / 5.0)
    stated = fastener.clamp_kn_per_deg(length, float(parts), 205.0)
    property_class = str(rng.choice(list(YIELD_MPA), p=[0.5, 0.4, 0.1]))
    middle, half = between(rng, 0.10, 0.16), between(rng, 0.18, 0.3)
    friction = (round(middle * (1.0 - half), 3), round(middle * (1.0 + half), 3))
    middle = 0.5 * (friction[0] + friction[1])
    measured = bool(rng.random() < 0.5) if measured_stiffness is None else measured_stiffness
    error = 1.0 if measured else float(np.exp(_COMPUTED_ERROR * np.clip(rng.standard_normal(), -2.0, 2.0)))
    yield_mpa = YIELD_MPA[property_class]
    force = between(rng, 0.45, 0.75) * fastener.yield_force_kn(yield_mpa, middle)
    lead, rubbed = fastener.on_inclined_plane(middle, middle)
    torque = force * (lead + rubbed)
    locking = torque * between(rng, 0.06, 0.2) if rng.random() < 0.35 else 0.0
    target = float(f"{torque + locking:.3g}")
    parts_of = Joint(
        rundown_deg=log_between(rng, 500.0, 2500.0),
        clamp_kn_per_deg=stated * error,
        lead_nm_per_kn=lead,
        friction_nm_per_kn=rubbed,
        drawdown=random_drawdown(rng, 0.8 * force / stated),
    )
    rate = 0.8 * force / stated
    tool = random_tool(rng, target, parts_of, rate)
    # From the first turn on: a fault that shortens the rundown must stay within the recording.
    instrument = replace(random_instrument(rng, target, parts_of, rate), record_from_deg=0.0)
    model = TraceModel(parts_of, _prevailing(rng, target, locking), tool, instrument)
    strength = yield_mpa * between(rng, *_STRONGER)
    definition = _definition(
        name,
        fastener,
        head,
        length,
        float(parts),
        stated,
        property_class,
        friction,
        target,
        locking,
        measured,
    )
    return KnownJoint(name, fastener, model, strength, 1000.0 * stated, friction, definition)


def _prevailing(rng: np.random.Generator, target_nm: float, locking_nm: float) -> Prevailing:
    return Prevailing(
        level_nm=locking_nm or target_nm * between(rng, 0.0, 0.02),
        climb_nm_per_turn=0.02 * locking_nm,
        transient_nm=target_nm * between(rng, 0.0, 0.1),
        transient_decay_deg=between(rng, 6.0, 20.0),
        ripple_nm=target_nm * between(rng, 0.0, 0.003) if rng.random() < 0.3 else 0.0,
        wander_nm=0.03 * locking_nm,
        wander_choice=int(rng.integers(1_000_000)),
    )


def _definition(
    name: str,
    fastener: Fastener,
    head: str,
    length_mm: float,
    parts_mm: float,
    stated_kn_per_deg: float,
    property_class: str,
    friction: tuple[float, float],
    target_nm: float,
    locking_nm: float,
    measured: bool,
) -> str:
    lines = [
        f"[joints.{name}]",
        f'thread = "M{fastener.diameter_mm:g}"',
        f'property_class = "{property_class}"',
        f'head = "{head}"',
        'hole = "medium"',
        f"friction = [{friction[0]}, {friction[1]}]",
        f"clamp_length_mm = {length_mm:.6g}",
        'counterpart = "nut"',
    ]
    if measured:
        lines += [
            f"stiffness_n_per_deg = {1000.0 * stated_kn_per_deg:.5g}",
            "stiffness_scatter_percent = 10.0",
        ]
    else:
        lines += [f"parts_diameter_mm = {parts_mm:g}", "parts_modulus_gpa = 205.0"]
    lines += [
        'stop = "torque"',
        f"target_torque_nm = {target_nm:g}",
        f"torque_limits_nm = [{0.94 * target_nm:.4g}, {1.07 * target_nm:.4g}]",
    ]
    if locking_nm > 0.0:
        lines.append(f"prevailing_limits_nm = [{0.4 * locking_nm:.3g}, {1.9 * locking_nm:.3g}]")
    return "\n".join([*lines, "may_yield = false", ""])


def of_lot(joint: KnownJoint, lot: Lot) -> TraceModel:
    """The joint's model with the parts of a lot."""
    parts = joint.model.joint
    friction = (
        lot.lever * parts.torque_per_force_nm_per_kn - parts.lead_nm_per_kn
    ) / parts.friction_nm_per_kn
    return with_stiffness(with_friction(joint.model, friction), lot.stiffness)


def sound_lot(joint: KnownJoint, rng: np.random.Generator) -> Lot:
    """A lot within what a sound delivery may be."""
    parts = joint.model.joint
    friction = 1.0 + between(rng, -LOT_FRICTION, LOT_FRICTION)
    lever = (parts.lead_nm_per_kn + friction * parts.friction_nm_per_kn) / parts.torque_per_force_nm_per_kn
    return Lot(lever, 1.0 + between(rng, -LOT_STIFFNESS, LOT_STIFFNESS))


def bound_to_yield(model: TraceModel, joint: KnownJoint) -> TraceModel:
    """The bolt of its class: clamp force levels out past its yield strength, torsion counted in."""
    if model.joint.plastic is not None:
        return model
    mu = joint.fastener.total_friction(model.joint.torque_per_force_nm_per_kn)
    most = joint.fastener.yield_force_kn(joint.yield_mpa, mu)
    scale = _HARDENING * most / model.joint.clamp_kn_per_deg
    return replace(
        model, joint=replace(model.joint, plastic=Plastic("exponential", _YIELD_BEGINS * most, scale))
    )


def make_known_shift(
    joints: Sequence[KnownJoint],
    lots: Sequence[Lot],
    seed: int,
    *,
    good: int,
    each_fault: int = 0,
) -> tuple[TraceSet, pa.Table]:
    """One shift of each joint from one lot, with seeded faults, in random order.

    Returns
    -------
    TraceSet
        With `time_s`, `step`, and the attributes joint, part, position, lot, started_at.
    pyarrow.Table
        ``trace_id``, ``joint``, ``cause`` (null for good ones), ``lever_nm_per_kn``, ``friction`` (one
        coefficient for both surfaces), ``stiffness_n_per_deg``, and a column for each field of `Truth`; its
        ``clamp_force_kn`` is what the torque made only where `NO_FORCE_FAULTS` does not name the cause.
    """
    recordings: list[Recording] = []
    rows: list[dict[str, Any]] = []
    physics: list[tuple[float, float, float]] = []
    for number, (joint, lot) in enumerate(zip(joints, lots, strict=True)):
        nominal = of_lot(joint, lot)
        causes: list[str | None] = [None] * good
        causes += [
            f for f in FORCE_FAULTS + NO_FORCE_FAULTS if applies(f, nominal) for _ in range(each_fault)
        ]
        streams = np.random.SeedSequence([seed, number]).spawn(len(causes) + 1)
        order = np.random.default_rng(streams[-1]).permutation(len(causes))
        for place, index in enumerate(order):
            rng = np.random.default_rng(streams[place])
            model = naturally(nominal, rng)
            cause = causes[index]
            model = bound_to_yield(model if cause is None else FAULTS[cause](model, rng), joint)
            recordings.append(record(model, rng))
            lever = model.joint.torque_per_force_nm_per_kn
            physics.append(
                (lever, joint.fastener.total_friction(lever), 1000.0 * model.joint.clamp_kn_per_deg)
            )
            rows.append(
                {
                    "trace_id": f"{joint.name}-{place:04d}",
                    "joint": joint.name,
                    "part": f"{joint.name}-{place // 4}",
                    "position": str(1 + place % 4),
                    "lot": "only",
                    "started_at": _FIRST_START + timedelta(seconds=20 * place + number),
                    "cause": cause,
                }
            )
    traces, truth = assemble(recordings, rows)
    for name, values in zip(
        ("lever_nm_per_kn", "friction", "stiffness_n_per_deg"), zip(*physics, strict=True), strict=True
    ):
        truth = truth.append_column(name, pa.array(values, pa.float64()))
    return traces, truth
