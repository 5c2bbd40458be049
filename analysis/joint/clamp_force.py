"""Clamp force of every trace from its final torque, and from its angle where stiffness is known."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import fields

import numpy as np
from numpy.typing import NDArray

from analysis.curve.curve_table import CurveTable
from analysis.curve.reasons import (
    LOOSENING,
    NO_FORWARD_ROTATION,
    NO_RISE,
    NOT_FINITE,
    OPPOSITE_SIGN,
    REASONS,
    TOO_FEW_SAMPLES,
)
from analysis.errors import CallError
from analysis.joint.clamp_basis import ClampBasis, clamp_basis
from analysis.joint.clamp_table import ClampTable
from analysis.joint.definition import JointDefinition
from analysis.joint.torque import total_friction
from analysis.joint.utilisation import torsion_factor
from analysis.settings import Settings
from analysis.traces import TraceSet

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

#: Reasons of the curve with which the final torque does not stand for a tightened joint.
_NO_TIGHTENING = (TOO_FEW_SAMPLES, NO_FORWARD_ROTATION, NO_RISE, LOOSENING, NOT_FINITE, OPPOSITE_SIGN)
#: Standard uncertainties to each side of the elastic origin in the bounds from the angle (about 95 %).
COVERAGE = 2.0
NOT_BELOW_PREVAILING = "the final torque does not exceed the prevailing torque"

_COLUMNS = tuple(f.name for f in fields(ClampTable) if f.name not in ("reason", "note", "disagreement"))


def estimate_clamp(
    traces: TraceSet,
    curves: CurveTable,
    joint_names: Sequence[str | None],
    joints: Mapping[str, JointDefinition],
    settings: Settings,
) -> ClampTable:
    """Clamp force of each trace with its bounds; estimated, not measured.

    From the final torque less the prevailing torque, divided by the lever T/F of the long form (or of the
    short form, where only K is given) at the middle, the highest and the lowest friction of the joint. Where
    the joint's force per degree is known, the angle beyond the elastic origin gives a second estimate; what
    both allow becomes the bounds. Beyond yield the angle is the one at which the elastic line, drawn on, has
    the final torque: the bolt would spring back along that line.

    Parameters
    ----------
    traces : TraceSet
        n traces.
    curves : CurveTable
        Points of the n traces.
    joint_names : sequence of str or None, length n
        Key of each trace's joint in `joints`.
    joints : Mapping
    settings : Settings
        Part of every result; the estimate has no choice of its own beyond the joint's definition.

    Returns
    -------
    ClampTable
        NaN with a reason where a trace has no estimate.

    Raises
    ------
    CallError
        Where the numbers of traces, curves and names differ.

    Notes
    -----
    Valid where the friction of the joint is as stated and the torque reaches the thread: no account is taken
    of a bent or off-centre joint, nor of what relaxation takes later. Prevailing torque that the recording
    does not show is taken as the middle of the joint's limits where their lower one is above zero, else as
    none, and said so.

    References
    ----------
    MIL-HDBK-60, 100.5 (long form) and 110.3 (prevailing torque comes off first).
    """
    n = len(curves)
    if len(traces) != n or len(joint_names) != n:
        raise CallError(f"{len(traces)} traces, {n} curves and {len(joint_names)} joint names")
    columns = {name: np.full(n, np.nan) for name in _COLUMNS}
    disagreement = np.zeros(n, np.bool_)
    reason = np.full(n, "", object)
    note = np.full(n, "", object)
    for name, rows in _rows_by_joint(joint_names).items():
        if name is None:
            reason[rows] = "not evaluated: no joint assigned"
        elif name not in joints:
            reason[rows] = f'not evaluated: the joint "{name}" is not defined'
        else:
            basis = clamp_basis(joints[name])
            if isinstance(basis, str):
                reason[rows] = f"not evaluated: {basis}"
                continue
            usable = _refuse_curves(curves, rows, reason)
            _fill(columns, disagreement, note, reason, curves, usable, joints[name], basis)
    return ClampTable(
        **columns, disagreement=disagreement, reason=tuple(reason.tolist()), note=tuple(note.tolist())
    )


def _rows_by_joint(joint_names: Sequence[str | None]) -> dict[str | None, IntArray]:
    codes: dict[str | None, int] = {}
    code = np.fromiter(
        (codes.setdefault(name, len(codes)) for name in joint_names), np.int64, len(joint_names)
    )
    return {name: np.flatnonzero(code == k) for name, k in codes.items()}


def _refuse_curves(curves: CurveTable, rows: IntArray, reason: NDArray[np.object_]) -> IntArray:
    """Give a reason to the traces that show no tightening; return the others."""
    codes = curves.slope_reason[rows]
    refused = np.isin(codes, _NO_TIGHTENING)
    for code in np.unique(codes[refused]):
        reason[rows[codes == code]] = f"not evaluated: {REASONS[int(code)]}"
    lost = ~refused & ~np.isfinite(curves.final_torque_nm[rows])
    reason[rows[lost]] = "not evaluated: no final torque"
    return rows[~refused & ~lost]


def _fill(
    columns: dict[str, FloatArray],
    disagreement: NDArray[np.bool_],
    note: NDArray[np.object_],
    reason: NDArray[np.object_],
    curves: CurveTable,
    rows: IntArray,
    joint: JointDefinition,
    basis: ClampBasis,
) -> None:
    prevailing, least, most, words = _prevailing(curves, rows, joint)
    final = curves.final_torque_nm[rows]
    positive = final - prevailing > 0.0
    reason[rows[~positive]] = f"not evaluated: {NOT_BELOW_PREVAILING}"
    rows, final, prevailing = rows[positive], final[positive], prevailing[positive]
    note[rows] = words[positive]
    net = final - prevailing
    low = np.maximum(final - most[positive], 0.0) / basis.lever_high_mm
    high = (final - least[positive]) / basis.lever_low_mm
    middle = net / basis.lever_middle_mm
    columns["prevailing_taken_nm"][rows] = prevailing
    columns["torque_force_low_kn"][rows], columns["torque_force_high_kn"][rows] = low, high
    if basis.stiffness is not None:
        angle = _force_from_angle(curves, rows, net, basis)
        columns["angle_force_kn"][rows], columns["angle_force_low_kn"][rows] = angle[0], angle[1]
        columns["angle_force_high_kn"][rows] = angle[2]
        low, high, apart = _narrowed(low, high, angle[1], angle[2])
        disagreement[rows] = apart
        columns["implied_friction"][rows] = _implied_friction(basis, net, angle[0])
    middle = np.clip(middle, low, high)
    columns["clamp_force_low_kn"][rows], columns["clamp_force_high_kn"][rows] = low, high
    columns["clamp_force_kn"][rows] = middle
    _fill_utilisation(columns, rows, basis, low, middle, high)


def _prevailing(
    curves: CurveTable, rows: IntArray, joint: JointDefinition
) -> tuple[FloatArray, FloatArray, FloatArray, NDArray[np.object_]]:
    """What to take off each final torque: best value, least, most, and a note where it was not read."""
    read = curves.prevailing_torque_nm[rows]
    absent = ~np.isfinite(read)
    low, high = joint.prevailing_limits_nm or (0.0, 0.0)
    low, high = max(low, 0.0), max(high, 0.0)
    meant = low > 0.0
    best = (low + high) / 2.0 if meant else 0.0
    words = np.full(len(rows), "", object)
    if absent.any():
        what = f"taken as {best:g} N·m, the middle of the joint's limits" if meant else "none taken off"
        words[absent] = f"prevailing torque not read from the recording, {what}"
    return (
        np.where(absent, best, read),
        np.where(absent, low, read),
        np.where(absent, high, read),
        words,
    )


def _force_from_angle(
    curves: CurveTable, rows: IntArray, net_nm: FloatArray, basis: ClampBasis
) -> tuple[FloatArray, FloatArray, FloatArray]:
    assert basis.stiffness is not None
    rate_kn = basis.stiffness.force_per_degree_n / 1000.0
    scatter = basis.stiffness.scatter
    turned = curves.final_angle_deg[rows] - curves.elastic_origin_deg[rows]
    on_line = net_nm / curves.elastic_slope_nm_per_deg[rows]
    # Where yielding cannot be excluded only the elastic line is safe.
    angle = np.where(curves.yielded[rows] == 0, turned, on_line)
    uncertainty = COVERAGE * np.nan_to_num(curves.elastic_origin_uncertainty_deg[rows], posinf=np.inf)
    angle = np.where(angle > 0.0, angle, np.nan)
    return (
        rate_kn * angle,
        rate_kn * (1.0 - scatter) * np.maximum(angle - uncertainty, 0.0),
        rate_kn * (1.0 + scatter) * (angle + uncertainty),
    )


def _narrowed(
    low: FloatArray, high: FloatArray, angle_low: FloatArray, angle_high: FloatArray
) -> tuple[FloatArray, FloatArray, NDArray[np.bool_]]:
    """What torque and angle both allow; where they have nothing in common the torque's bounds stay."""
    both_low, both_high = np.fmax(low, angle_low), np.fmin(high, angle_high)
    apart = both_low > both_high
    return np.where(apart, low, both_low), np.where(apart, high, both_high), apart


def _implied_friction(basis: ClampBasis, net_nm: FloatArray, force_kn: FloatArray) -> FloatArray:
    if basis.ring is None:
        return np.full(len(net_nm), np.nan)
    mu = total_friction(basis.thread, basis.ring.friction_diameter_mm, net_nm, force_kn)
    # More force than even a frictionless bolt would give: no coefficient makes the two agree.
    return np.where(mu > 0.0, mu, np.nan)


def _fill_utilisation(
    columns: dict[str, FloatArray],
    rows: IntArray,
    basis: ClampBasis,
    low: FloatArray,
    middle: FloatArray,
    high: FloatArray,
) -> None:
    if basis.yield_mpa is None or basis.mu_thread_middle is None:
        return
    per_kn = 1000.0 / basis.thread.stress_area_mm2 / basis.yield_mpa
    used = per_kn * middle * torsion_factor(basis.thread, basis.mu_thread_middle)
    # High friction twists more, low friction pulls more: either end may be the worse one.
    at_high_friction = per_kn * low * torsion_factor(basis.thread, basis.mu_thread_high or 0.0)
    at_low_friction = per_kn * high * torsion_factor(basis.thread, basis.mu_thread_low or 0.0)
    columns["utilisation"][rows] = used
    ends = np.array([at_high_friction, used, at_low_friction])
    columns["utilisation_low"][rows], columns["utilisation_high"][rows] = ends.min(axis=0), ends.max(axis=0)
