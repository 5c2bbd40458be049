"""What a joint definition offers for turning torque and angle into clamp force, or why it does not."""

from __future__ import annotations

from dataclasses import dataclass

from analysis.errors import CallError
from analysis.joint.bearing import Bearing, bearing
from analysis.joint.definition import JointDefinition
from analysis.joint.friction import friction_range, missing_friction
from analysis.joint.layers import stressed_thread
from analysis.joint.property_class import strength
from analysis.joint.routes import COVERAGE
from analysis.joint.stiffness import Stiffness, joint_stiffness
from analysis.joint.thread import Thread, parse_thread
from analysis.joint.torque import COS_FLANK, lever_mm, lever_short_mm, total_friction


@dataclass(frozen=True)
class ClampBasis:
    """Everything about one joint that the clamp force of its traces needs."""

    thread: Thread
    ring: Bearing | None  #: Bearing face; None where the short form is used and no head or hole is given.
    #: Torque per clamp force at the lowest, middle and highest friction.
    lever_low_mm: float
    lever_middle_mm: float
    lever_high_mm: float
    #: Friction in the thread that goes with them; None where it cannot be told from the short form.
    mu_thread_low: float | None
    mu_thread_middle: float | None
    mu_thread_high: float | None
    yield_mpa: float | None
    stiffness: Stiffness | None
    stiffness_reason: str  #: Why there is no stiffness; empty where there is one.
    form: str  #: "long form" or "short form".

    @property
    def stiffness_kn_per_deg(self) -> float | None:
        """Clamp force per degree, where it is known."""
        return None if self.stiffness is None else self.stiffness.force_per_degree_n / 1000.0

    @property
    def stiffness_spread(self) -> float | None:
        """Its standard uncertainty, as a share: the stated scatter is two of them to each side."""
        return None if self.stiffness is None else self.stiffness.scatter / COVERAGE

    @property
    def friction_arm_mm(self) -> float | None:
        """Torque per clamp force that one more unit of friction on both faces takes."""
        if self.ring is None:
            return None
        return self.thread.pitch_diameter_mm / (2.0 * COS_FLANK) + self.ring.friction_diameter_mm / 2.0


def joint_ring(definition: JointDefinition) -> Bearing | str:
    """The bearing face of a joint, or the reason why it is not known."""
    if definition.thread is None:
        return "no thread given"
    outer = definition.parts.get("bearing_diameter_mm")
    inner = definition.parts.get("hole_diameter_mm")
    if definition.head is None and outer is None:
        return "no head given"
    if definition.hole is None and inner is None:
        return "no clearance hole given"
    try:
        return bearing(
            parse_thread(definition.thread),
            definition.head,
            definition.hole,
            bearing_diameter_mm=outer,
            hole_diameter_mm=inner,
        )
    except CallError as error:
        return str(error)


def bolt_thread(definition: JointDefinition) -> Thread:
    """The joint's thread, with the bolt's waist where that yields first; the joint must name a thread."""
    assert definition.thread is not None
    return stressed_thread(parse_thread(definition.thread), definition.parts.get("sections", ()))


def joint_yield_mpa(definition: JointDefinition) -> float | None:
    """Minimum yield strength: a stated one, else the class's; None where neither is given."""
    stated = definition.parts.get("yield_strength_mpa")
    if stated is not None:
        return float(stated)
    if definition.property_class is None or definition.thread is None:
        return None
    return strength(definition.property_class, parse_thread(definition.thread).diameter_mm).yield_mpa


def clamp_basis(definition: JointDefinition) -> ClampBasis | str:
    """What the joint's clamp force is computed from, or the first reason why it cannot be."""
    if "plastic" in definition.parts:
        from analysis.joint.plastic_screw import NO_CLAMP_FORCE  # late: else the chain of imports is long

        return NO_CLAMP_FORCE
    if definition.thread is None:
        return "no thread given"
    thread = bolt_thread(definition)
    ring = joint_ring(definition)
    if friction_range(definition) is not None:
        if isinstance(ring, str):
            return ring
        return _long_form(definition, thread, ring)
    if "torque_coefficient" in definition.parts:
        return _short_form(definition, thread, None if isinstance(ring, str) else ring)
    return missing_friction(definition)


def _long_form(definition: JointDefinition, thread: Thread, ring: Bearing) -> ClampBasis:
    mu = friction_range(definition)
    assert mu is not None
    diameter = ring.friction_diameter_mm
    pairs = (
        (mu.thread_low, mu.bearing_low),
        (mu.thread_middle, mu.bearing_middle),
        (mu.thread_high, mu.bearing_high),
    )
    low, middle, high = (float(lever_mm(thread, diameter, *pair)) for pair in pairs)
    threads = (mu.thread_low, mu.thread_middle, mu.thread_high)
    return _basis(definition, thread, ring, levers=(low, middle, high), threads=threads, form="long form")


def _short_form(definition: JointDefinition, thread: Thread, ring: Bearing | None) -> ClampBasis:
    lowest, highest = definition.parts["torque_coefficient"]
    low, middle, high = (
        float(lever_short_mm(thread.diameter_mm, k)) for k in (lowest, (lowest + highest) / 2, highest)
    )
    threads: tuple[float | None, float | None, float | None] = (None, None, None)
    if ring is not None:
        # The same coefficient on both surfaces is the only one that K alone can give.
        implied = [
            float(total_friction(thread, ring.friction_diameter_mm, lever, 1.0))
            for lever in (low, middle, high)
        ]
        threads = (implied[0], implied[1], implied[2])
    return _basis(definition, thread, ring, levers=(low, middle, high), threads=threads, form="short form")


def _basis(
    definition: JointDefinition,
    thread: Thread,
    ring: Bearing | None,
    *,
    levers: tuple[float, float, float],
    threads: tuple[float | None, float | None, float | None],
    form: str,
) -> ClampBasis:
    stiffness = joint_stiffness(definition, ring)
    known = isinstance(stiffness, Stiffness)
    return ClampBasis(
        thread,
        ring,
        *levers,
        *threads,
        yield_mpa=joint_yield_mpa(definition),
        stiffness=stiffness if isinstance(stiffness, Stiffness) else None,
        stiffness_reason="" if known else str(stiffness),
        form=form,
    )
