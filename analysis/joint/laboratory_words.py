"""What a load cell said about one tightening, in sentences."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from analysis.catalogue.sentences import Amount, Said, said
from analysis.curve.curve_table import CurveTable
from analysis.figure_text import Uncertainty, bounded_texts, measured_text
from analysis.joint.calculation import shown
from analysis.joint.clamp_basis import joint_ring
from analysis.joint.clamp_table import ClampTable
from analysis.joint.definition import JointDefinition
from analysis.joint.force_zones import ForceZones
from analysis.joint.laboratory import (
    REFERENCE_SHARE,
    SCOPE,
    LaboratoryResult,
    evaluate_laboratory,
    outside_scope,
)
from analysis.joint.stiffness import Stiffness, joint_stiffness
from analysis.joint.thread import parse_thread
from analysis.joint.torque import total_friction
from analysis.traces import Trace


def prevailing_or_none(curves: CurveTable, row: int) -> float:
    """Prevailing torque that the recording shows, N·m; 0 where it shows none."""
    read = float(curves.prevailing_torque_nm[row])
    return read if math.isfinite(read) else 0.0


def explain_laboratory(
    trace: Trace,
    curves: CurveTable,
    clamp: ClampTable,
    row: int,
    *,
    definition: JointDefinition | None,
    zones: ForceZones | str,
) -> list[Said]:
    """K and friction, measured beside estimated force, zones by force; the last sentence is the scope.

    Torques in N·m, forces in kN.
    """
    if isinstance(zones, str):
        return [f"Measured clamp force: {zones}."]
    lines: list[Said] = []
    if definition is None:
        lines.append("K and friction: not evaluated: no joint assigned.")
    else:
        result = evaluate_laboratory(trace, definition, prevailing_nm=prevailing_or_none(curves, row))
        lines += [_at_reference(result), *_at_final(curves, row, definition, zones)]
    lines += _beside_the_estimate(clamp, row, zones)
    lines += _force_per_degree(definition, zones)
    lines += [place.sentence() for place in zones.places]
    remark = "" if definition is None else outside_scope(definition)
    if remark:
        lines.append(f"{remark[:1].upper()}{remark[1:]}.")
    return [*lines, SCOPE]


def _at_reference(result: LaboratoryResult) -> Said:
    if result.torque_coefficient is None or result.reference_force_kn is None:
        return f"K and friction at {100 * REFERENCE_SHARE:.0f} % of the proof load: {result.reason}."
    assert result.torque_nm is not None
    if result.mu_total is None:
        friction = f"; {result.reason}"
    elif result.mu_thread is not None and result.mu_bearing is not None:
        friction = (
            f", friction {result.mu_total:.3f} in all, {result.mu_thread:.3f} in the thread, "
            f"{result.mu_bearing:.3f} under the head"
        )
    else:
        friction = f", friction {result.mu_total:.3f} for thread and head together"
    return said(
        "At {share} % of the proof load, {force}, the bolt was turned with {torque} less prevailing torque: "
        "K {k}{friction}.",
        share=f"{100 * REFERENCE_SHARE:.0f}",
        force=Amount(result.reference_force_kn, "kN"),
        torque=Amount(result.torque_nm, "N·m"),
        k=f"{result.torque_coefficient:.3f}",
        friction=friction,
    )


def _at_final(curves: CurveTable, row: int, definition: JointDefinition, zones: ForceZones) -> list[Said]:
    """The same at the final point, which every tightening has; no reading of the standard."""
    force, final = zones.final_force_kn, float(curves.final_torque_nm[row])
    if force is None or force <= 0.0 or definition.thread is None or not np.isfinite(final):
        return []
    net = final - prevailing_or_none(curves, row)
    thread, ring = parse_thread(definition.thread), joint_ring(definition)
    text = f"At the final point: K {net / (force * thread.diameter_mm):.3f}"
    if isinstance(ring, str):
        return [f"{text}; friction not evaluated: {ring}."]
    mu = float(total_friction(thread, ring.friction_diameter_mm, net, force))
    return [f"{text}, friction {mu:.3f} for thread and head together."]


def _beside_the_estimate(clamp: ClampTable, row: int, zones: ForceZones) -> list[Said]:
    measured, estimate = zones.final_force_kn, float(clamp.clamp_force_kn[row])
    if measured is None:
        return ["Measured at the final point: not evaluated: no force recorded up to there."]
    text = f"Measured at the final point: {shown(measured)} kN"
    if not math.isfinite(estimate) or measured <= 0.0:
        return [f"{text}."]
    low, high = float(clamp.clamp_force_low_kn[row]), float(clamp.clamp_force_high_kn[row])
    lowest, highest, middle = bounded_texts(low, high, estimate)
    where = "within" if low <= measured <= high else "outside"
    error = 100.0 * (estimate / measured - 1.0)
    return [
        f"{text}; estimated {middle} kN, {abs(error):.1f} % {'more' if error >= 0 else 'less'}; "
        f"the measured force lies {where} the estimate's bounds, {lowest} to {highest} kN."
    ]


def _force_per_degree(definition: JointDefinition | None, zones: ForceZones) -> Sequence[Said]:
    rate, uncertainty = zones.force_per_degree_n, zones.force_per_degree_uncertainty_n
    if rate is None:
        return []
    text = f"Clamp force per degree measured: {measured_text(rate, Uncertainty(uncertainty), 'N/deg')}"
    if definition is None:
        return [f"{text}."]
    ring = joint_ring(definition)
    expected = joint_stiffness(definition, None if isinstance(ring, str) else ring)
    if not isinstance(expected, Stiffness):
        return [f"{text}; expected: not evaluated: {expected}."]
    return [
        f"{text}; expected {shown(expected.force_per_degree_n)} N/deg ± {100 * expected.scatter:.0f} % "
        f"({expected.source})."
    ]
