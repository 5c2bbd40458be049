"""Stiffness, friction and clamp force from a back-off, with the pitch of the joint's thread."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analysis.arrays import FloatArray
from analysis.catalogue.sentences import Said
from analysis.curve.curve_table import CurveTable
from analysis.figure_text import Uncertainty, measured_text
from analysis.joint.clamp_basis import joint_ring
from analysis.joint.definition import JointDefinition
from analysis.joint.thread import Thread, parse_thread
from analysis.joint.torque import COS_FLANK, total_friction
from analysis.operation.back_off_ratio import BackOff, Turn

#: Standard uncertainty of a torque read in one recording against another of the same instrument, as a share
#: (own choice).
SAME_INSTRUMENT = 0.005
#: The same of a second tightening without a straight stretch of its own: taken as the first one's friction.
OTHER_FRICTION = 0.05
NO_JOINT, NO_THREAD = "the joint is not defined", "no thread given"


@dataclass(frozen=True)
class BackOffValue:
    """What one back-off measures; None with a reason where it does not."""

    #: Clamp force per degree of turn, in tightening.
    stiffness_n_per_deg: float | None = None
    stiffness_uncertainty_n: float | None = None
    unloading_n_per_deg: float | None = None  #: The same in loosening, where the two differ.
    #: The one coefficient for thread and bearing face.
    friction: float | None = None
    friction_uncertainty: float | None = None
    #: From which the bolt was backed off.
    force_kn: float | None = None
    force_uncertainty_kn: float | None = None
    left_kn: float | None = None  #: After it.
    #: By how much the exact inclined plane would make stiffness and clamp force lower: a factor.
    helix: float = 1.0
    reason: str = ""
    friction_reason: str = ""


def stiffness_kn_per_deg(thread: Thread, slope_on: float, slope_off: float) -> float:
    """Clamp force per degree from the slopes of tightening and loosening, whatever the friction.

    Notes
    -----
    k = pi (slope_on - slope_off)/P: slope_on = k (lambda_f + P/(2 pi)), slope_off = k (lambda_f - P/(2 pi)).

    Examples
    --------
    >>> from analysis.joint.thread import parse_thread
    >>> round(stiffness_kn_per_deg(parse_thread("M10"), 1.5209, 1.0762), 4)
    0.9314
    """
    return math.pi * (slope_on - slope_off) / thread.pitch_mm


def friction_lever_mm(thread: Thread, ratio: float) -> float:
    """Torque per clamp force that friction takes, from loosening over tightening lever at one friction.

    Notes
    -----
    ratio = (lambda_f - lead)/(lambda_f + lead), lead = P/(2 pi): lambda_f = lead (1 + ratio)/(1 - ratio).
    """
    return thread.pitch_mm / (2.0 * math.pi) * (1.0 + ratio) / (1.0 - ratio)


def helix_factor(thread: Thread, mu_thread: float) -> float:
    """By how much the difference of the two levers exceeds P/pi when the helix angle is not taken as small.

    Notes
    -----
    (1 + tan^2 rho)/(1 - tan^2 phi tan^2 rho), tan rho = mu/cos 30 deg, tan phi = P/(pi d2).

    Examples
    --------
    >>> from analysis.joint.thread import parse_thread
    >>> [round(helix_factor(parse_thread("M10"), mu), 3) for mu in (0.12, 0.20)]
    [1.019, 1.053]
    """
    rho = (mu_thread / COS_FLANK) ** 2
    return (1.0 + rho) / (1.0 - thread.helix_tangent**2 * rho)


def back_off_value(back_off: BackOff, definition: JointDefinition | None) -> BackOffValue:
    """Stiffness, friction and clamp force of one back-off.

    Figures go with the long form of the torque, as all levers of the program do; what the exact inclined
    plane would take off is within the uncertainty, and told.
    """
    if back_off.reason:
        return BackOffValue(reason=back_off.reason, friction_reason=back_off.reason)
    if definition is None or definition.thread is None:
        reason = NO_JOINT if definition is None else NO_THREAD
        return BackOffValue(reason=reason, friction_reason=reason)
    thread, ratio = parse_thread(definition.thread), back_off.ratio
    lead = thread.pitch_mm / (2.0 * math.pi)
    rubbed = friction_lever_mm(thread, ratio)
    ring = joint_ring(definition)
    mu = mu_u = None
    helix = 1.0
    if not isinstance(ring, str):
        mu = float(total_friction(thread, ring.friction_diameter_mm, rubbed + lead, 1.0))
        helix = helix_factor(thread, mu)
        own = 2.0 * back_off.ratio_uncertainty / ((1.0 - ratio) * (1.0 + ratio))
        mu_u = mu * math.hypot(own, (helix - 1.0) / 2.0)
    slope = back_off.slope_nm_per_deg
    stiffness = 1000.0 * stiffness_kn_per_deg(thread, slope, slope * ratio)
    lever_u = math.hypot(back_off.ratio_uncertainty / (1.0 - ratio), (helix - 1.0) / 2.0)
    net = back_off.end_torque_nm - _or_zero(back_off.prevailing_nm)
    force = net / (rubbed + lead)
    return BackOffValue(
        stiffness,
        stiffness * math.hypot(back_off.slope_uncertainty / slope, lever_u),
        stiffness * back_off.stiffness_ratio if back_off.hysteresis else None,
        mu,
        mu_u,
        force,
        force * math.hypot(lever_u, SAME_INSTRUMENT),
        force * back_off.left_share if math.isfinite(back_off.left_share) else None,
        helix,
        friction_reason=ring if isinstance(ring, str) else "",
    )


@dataclass(frozen=True, eq=False)
class BackOffColumns:
    """What the back-offs measure, by trace; arrays of shape (n,), NaN where absent."""

    #: At every trace of a back-off.
    stiffness_n_per_deg: FloatArray
    stiffness_uncertainty_n: FloatArray
    friction: FloatArray
    friction_uncertainty: FloatArray
    #: At the final point of the tightenings among them.
    force_kn: FloatArray
    force_uncertainty_kn: FloatArray
    loosened: NDArray[np.bool_]  #: Where the force comes from a loosening for good.


def back_off_columns(
    curves: CurveTable,
    back_offs: Sequence[BackOff],
    definition_of: Callable[[int], JointDefinition | None],
) -> BackOffColumns:
    """Columns of all back-offs of a set of n traces.

    Parameters
    ----------
    definition_of : callable
        Definition of the joint of a trace, by its row.
    """
    n = len(curves)
    stiffness, stiffness_u, friction, friction_u, force, force_u = (np.full(n, np.nan) for _ in range(6))
    loosened = np.zeros(n, np.bool_)
    for one in back_offs:
        value = back_off_value(one, definition_of(one.tightening_row))
        rows = list(one.rows)
        stiffness[rows], stiffness_u[rows] = (
            _or_nan(value.stiffness_n_per_deg),
            _or_nan(value.stiffness_uncertainty_n),
        )
        friction[rows], friction_u[rows] = _or_nan(value.friction), _or_nan(value.friction_uncertainty)
        for row in {turn.run.row for turn in one.turns if turn.forward}:
            force[row], force_u[row] = _final_force(curves, one, value, row)
            loosened[row] = not one.back_rows
    return BackOffColumns(stiffness, stiffness_u, friction, friction_u, force, force_u, loosened)


def _or_nan(value: float | None) -> float:
    return math.nan if value is None else value


def _final_force(curves: CurveTable, back_off: BackOff, value: BackOffValue, row: int) -> tuple[float, float]:
    """Clamp force at a trace's final point, kN, and its standard uncertainty."""
    torque = float(curves.final_torque_nm[row]) - _or_zero(back_off.prevailing_nm)
    if value.force_kn is None or value.force_uncertainty_kn is None or not torque > 0.0:
        return math.nan, math.nan
    turn = _turn_of(back_off, row, int(curves.final_index[row]))
    force = value.force_kn * torque / (back_off.end_torque_nm - _or_zero(back_off.prevailing_nm))
    share = value.force_uncertainty_kn / value.force_kn
    if turn is back_off.turns[0]:
        return force, force * share
    # With the stiffness known a tightening's own slope gives its own friction.
    assert value.stiffness_n_per_deg is not None
    assert value.stiffness_uncertainty_n is not None
    if turn.line is None or back_off.hysteresis:
        return force, force * math.hypot(share, OTHER_FRICTION)
    slope = abs(turn.line.slope)
    share = math.hypot(
        value.stiffness_uncertainty_n / value.stiffness_n_per_deg, turn.line.slope_uncertainty / slope
    )
    force = torque * value.stiffness_n_per_deg / 1000.0 / slope
    return force, force * share


def _turn_of(back_off: BackOff, row: int, sample: int) -> Turn:
    mine = [turn for turn in back_off.turns if turn.forward and turn.run.row == row]
    return next((turn for turn in mine if turn.run.start <= sample < turn.run.stop), mine[0])


def _or_zero(value: float) -> float:
    return value if math.isfinite(value) else 0.0


def value_sentences(value: BackOffValue) -> list[Said]:
    """Stiffness, friction, clamp force and what is left, for a colleague."""
    if value.stiffness_n_per_deg is None or value.force_kn is None:
        return [f"Not evaluated: {value.reason}."]
    rate = measured_text(value.stiffness_n_per_deg, Uncertainty(value.stiffness_uncertainty_n), "N/deg")
    force = measured_text(value.force_kn, Uncertainty(value.force_uncertainty_kn), "kN")
    lines: list[Said] = [f"Stiffness π (slope on - slope back)/P: {rate}, whatever the friction."]
    if value.unloading_n_per_deg is not None:
        lines.append(
            f"In unloading {value.unloading_n_per_deg:.0f} N/deg: loading and unloading differ, two fits."
        )
    if value.friction is None:
        lines.append(f"Friction: not evaluated: {value.friction_reason}.")
    else:
        mu = measured_text(value.friction, Uncertainty(value.friction_uncertainty), "")
        lines.append(f"Friction, one coefficient for thread and head: {mu}.")
        lower = 100.0 * (value.helix - 1.0)
        lines.append(
            f"The exact inclined plane would make stiffness and clamp force {lower:.1f} % lower than the "
            "long form does; half of it is within the uncertainty."
        )
    rest = Uncertainty(width=value.force_uncertainty_kn)
    left = "" if value.left_kn is None else f"; {measured_text(value.left_kn, rest, 'kN')} was left after it"
    return [*lines, f"Clamp force when it was turned back: {force}{left}."]
