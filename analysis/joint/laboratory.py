"""Laboratory traces with a load cell: K and friction at a reference clamp force."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analysis.arrays import FloatArray, finite_or_none
from analysis.errors import CallError
from analysis.joint.clamp_basis import bolt_thread, joint_ring
from analysis.joint.definition import JointDefinition
from analysis.joint.prevailing_limits import prevailing_intent
from analysis.joint.property_class import proof_load_n
from analysis.joint.thread import parse_thread
from analysis.joint.torque import friction_from_test
from analysis.traces import Trace

#: Share of the proof load at which friction is read, in the manner of ISO 16047 (recalled, not confirmed).
REFERENCE_SHARE = 0.75
SCOPE = (
    "In the manner of ISO 16047, which does not cover thread-forming or self-locking fasteners; "
    "holds for the parts, lubrication and speed of the test."
)


def outside_scope(definition: JointDefinition) -> str:
    """Why ISO 16047 does not cover a joint's fastener; empty where nothing says so.

    Examples
    --------
    >>> outside_scope(JointDefinition("a", 20.0, prevailing_limits_nm=(1.0, 4.0)))
    'self-locking or thread-forming: outside the scope of ISO 16047'
    """
    if prevailing_intent(definition) != "intended":
        return ""
    return "self-locking or thread-forming: outside the scope of ISO 16047"


@dataclass(frozen=True)
class LaboratoryResult:
    """What one test says; None with a reason where it says nothing."""

    #: Where the measured clamp force first passes the reference for good; torque and angle there.
    reference_force_kn: float | None = None
    torque_nm: float | None = None
    angle_deg: float | None = None
    torque_coefficient: float | None = None  #: K = T/(F d).
    #: Thread and bearing only where the thread torque was measured.
    mu_total: float | None = None
    mu_thread: float | None = None
    mu_bearing: float | None = None
    #: Measured at the highest torque; highest of all up to there.
    final_force_kn: float | None = None
    highest_force_kn: float | None = None
    #: Slope of measured force over angle between 50 and 100 % of the reference, least squares.
    force_per_degree_n: float | None = None
    reason: str = ""
    scope: str = SCOPE


#: Lower end of the stretch for the force per degree, as a share of the reference force: common practice, no
#: source.
RATE_FROM = 0.5


def evaluate_laboratory(
    trace: Trace,
    definition: JointDefinition,
    *,
    reference_force_kn: float | None = None,
    thread_torque_nm: FloatArray | None = None,
    prevailing_nm: float = 0.0,
) -> LaboratoryResult:
    """Friction and K of one test at 75 % of the proof load, or at a given clamp force.

    Parameters
    ----------
    trace : Trace
        With a clamp force channel.
    reference_force_kn : float or None
        Instead of 75 % of the proof load.
    thread_torque_nm : ndarray, shape (n_samples,), or None
        Torque that reaches the thread, where the rig measures it.
    prevailing_nm : float
        Taken off the torque first; a test of a plain thread has none.

    Raises
    ------
    CallError
        Where the thread torque has another length than the trace.
    """
    if thread_torque_nm is not None and len(thread_torque_nm) != len(trace):
        raise CallError(f"{len(thread_torque_nm)} thread torques for {len(trace)} samples")
    force = trace.clamp_force_kn
    if force is None or not np.isfinite(force).any():
        return LaboratoryResult(reason="not evaluated: the recording has no clamp force")
    if not np.isfinite(trace.torque_nm).any():
        return LaboratoryResult(reason="not evaluated: the recording has no torque")
    reference = reference_force_kn if reference_force_kn is not None else reference_kn(definition)
    if isinstance(reference, str):
        return LaboratoryResult(reason=f"not evaluated: {reference}")
    final = len(trace) - 1 - int(np.nanargmax(trace.torque_nm[::-1]))
    rise = force[: final + 1]
    ends = finite_or_none(rise[-1]), finite_or_none(np.nanmax(rise)) if np.isfinite(rise).any() else None
    crossing = _crossing(rise, reference)
    if crossing is None:
        reason = f"not evaluated: the clamp force does not reach {reference:.4g} kN"
        return LaboratoryResult(reference, final_force_kn=ends[0], highest_force_kn=ends[1], reason=reason)
    torque = _at(trace.torque_nm, crossing) - prevailing_nm
    thread_torque = None if thread_torque_nm is None else _at(thread_torque_nm, crossing) - prevailing_nm
    return _result(
        trace, definition, reference, crossing=crossing, torque=torque, thread_torque=thread_torque, ends=ends
    )


def reference_kn(definition: JointDefinition) -> float | str:
    """75 % of the proof load, kN, or the reason why it is not known."""
    if definition.thread is None:
        return "no thread given"
    if definition.property_class is None:
        return "no property class given, and no reference clamp force"
    return REFERENCE_SHARE * proof_load_n(bolt_thread(definition), definition.property_class) / 1000.0


def _crossing(force: FloatArray, reference: float) -> tuple[int, float] | None:
    """Last sample below the reference, and the share of the way to the next, where it is passed for good."""
    finite = np.flatnonzero(np.isfinite(force))
    below = np.flatnonzero(force[finite] < reference)
    if not finite.size or below.size == finite.size:
        return None
    if not below.size:
        return None
    last = int(below[-1])
    i, j = int(finite[last]), int(finite[last + 1]) if last + 1 < finite.size else -1
    if j < 0:
        # The force passed the reference and fell below again before the end: take the first passage.
        first = int(np.flatnonzero(force[finite] >= reference)[0])
        if first == 0:
            return None
        i, j = int(finite[first - 1]), int(finite[first])
    return i, (reference - force[i]) / (force[j] - force[i]) * (j - i)


def _at(values: FloatArray, crossing: tuple[int, float]) -> float:
    i, way = crossing
    return float(np.interp(i + way, np.arange(len(values)), values))


def _result(
    trace: Trace,
    definition: JointDefinition,
    reference: float,
    *,
    crossing: tuple[int, float],
    torque: float,
    thread_torque: float | None,
    ends: tuple[float | None, float | None],
) -> LaboratoryResult:
    reason = ""
    coefficient = None
    total = thread_mu = bearing_mu = None
    ring = joint_ring(definition)
    if definition.thread is None:
        reason = "not evaluated: no thread given"
    else:
        thread = parse_thread(definition.thread)
        coefficient = torque / (reference * thread.diameter_mm)
        if isinstance(ring, str):
            reason = f"friction not evaluated: {ring}"
        else:
            mu = friction_from_test(thread, ring.friction_diameter_mm, torque, reference, thread_torque)
            total, thread_mu, bearing_mu = mu.total, mu.thread, mu.bearing
    return LaboratoryResult(
        reference_force_kn=reference,
        torque_nm=torque,
        angle_deg=_at(trace.angle_deg, crossing),
        torque_coefficient=coefficient,
        mu_total=total,
        mu_thread=thread_mu,
        mu_bearing=bearing_mu,
        final_force_kn=ends[0],
        highest_force_kn=ends[1],
        force_per_degree_n=_force_per_degree(trace, reference, crossing[0]),
        reason=reason,
    )


def _force_per_degree(trace: Trace, reference: float, last: int) -> float | None:
    assert trace.clamp_force_kn is not None
    force, angle = trace.clamp_force_kn[: last + 1], trace.angle_deg[: last + 1]
    inside = np.isfinite(force) & (force >= RATE_FROM * reference) & (force <= reference)
    if np.count_nonzero(inside) < 3 or np.ptp(angle[inside]) <= 0.0:
        return None
    x = angle[inside] - angle[inside].mean()
    return float(1000.0 * np.dot(x, force[inside]) / np.dot(x, x))
