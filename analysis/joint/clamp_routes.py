"""The two routes that every trace has: clamp force by its torque, and by its angle."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from analysis.arrays import BoolArray, FloatArray
from analysis.catalogue.reasons import (
    LOOSENING,
    NO_FORWARD_ROTATION,
    NO_RISE,
    NOT_FINITE,
    OPPOSITE_SIGN,
    REASONS,
    TOO_FEW_SAMPLES,
)
from analysis.curve.curve_table import CurveTable
from analysis.joint.clamp_basis import ClampBasis, clamp_basis
from analysis.joint.definition import JointDefinition
from analysis.joint.routes import ANGLE, COVERAGE, TORQUE, Route

IntArray = NDArray[np.int64]

#: Reasons of the curve with which the final torque does not stand for a tightened joint.
_NO_TIGHTENING = (TOO_FEW_SAMPLES, NO_FORWARD_ROTATION, NO_RISE, LOOSENING, NOT_FINITE, OPPOSITE_SIGN)
BY_PULSES = (
    "by the angle alone: the height of the pulses only bounds it from above, and where the bolt yields it "
    "is less"
)
STILL_BENDING = (
    "the joint's rises are still bending where they end: the force by the angle is taken less, and wider"
)
NOT_BELOW_PREVAILING = "the final torque does not exceed the prevailing torque"
#: Standard uncertainty of a recorded torque, as a share: common practice, no source.
TORQUE_UNCERTAINTY = 0.01
#: Shank, socket and tool twist under the torque: of the degrees that a force takes, this share goes with the
#: torque per force (own choice; of an M10 bolt clamping 30 mm at friction 0.12 the shank's is 3 %, derived:
#: thread torque over G I_p/l).
TWIST_SHARE = 0.1


@dataclass(frozen=True, eq=False)
class ClampRoutes:
    """Clamp force of n traces by torque and by angle, each as the joint's definition gives it."""

    bases: tuple[ClampBasis | None, ...]  #: One a joint; None where the definition does not say enough.
    codes: IntArray  #: Shape (n,). Index into `bases`; negative where there is no joint.
    #: Shape (n,). Final torque less prevailing torque, and what was taken off.
    net_nm: FloatArray
    prevailing_taken_nm: FloatArray
    #: The stated range of friction is two standard uncertainties to each side, so is the stated scatter of
    #: stiffness; that of the elastic origin is added.
    torque: Route
    angle: Route
    #: Shape (n,). By torque alone at the highest and the lowest friction.
    torque_low_kn: FloatArray
    torque_high_kn: FloatArray
    #: Shape (n,). Standard uncertainty of lever and stiffness as stated, as shares.
    friction_spread: FloatArray
    stiffness_spread: FloatArray
    #: Shape (n,). Standard uncertainty of the elastic slope as read, as a share: that of `log_ratio` by
    #: reading. A level read too high takes as much off the torque as off the angle beyond the origin.
    slope_spread: FloatArray
    #: Shape (n,). Why there is no route at all; what was assumed.
    reason: NDArray[np.object_]
    note: NDArray[np.object_]

    def of_basis(self, name: str) -> FloatArray:
        """One attribute of each trace's basis; NaN where there is none."""
        values = [None if basis is None else getattr(basis, name) for basis in self.bases]
        table = np.array([np.nan if value is None else value for value in [*values, None]], np.float64)
        return np.asarray(table[self.codes])

    @property
    def log_ratio(self) -> FloatArray:
        """ln(force by angle / force by torque): 0 where friction and stiffness are as stated."""
        return np.asarray(self.angle.log_force - self.torque.log_force)

    @property
    def stated_spread(self) -> FloatArray:
        """Standard uncertainty of `log_ratio` by friction and stiffness as stated."""
        return np.hypot(self.friction_spread, self.stiffness_spread)

    @property
    def nothing_in_common(self) -> BoolArray:
        """Whether the bounds by torque and by angle have no force in common."""
        return np.asarray(np.abs(self.log_ratio) > COVERAGE * (self.torque.spread + self.angle.spread))


def clamp_routes(
    curves: CurveTable, joint_names: Sequence[str | None], joints: Mapping[str, JointDefinition]
) -> ClampRoutes:
    """Both routes of every trace.

    ln F_T = ln((T - T_prevailing)/lever), ln F_A = ln(k angle beyond the elastic origin). Beyond yield the
    angle is the one at which the elastic line, drawn on, has the final torque: the bolt would spring back
    along that line.
    """
    names = list(dict.fromkeys(name for name in joint_names if name is not None))
    index = {name: code for code, name in enumerate(names)}
    codes = np.array([-1 if name is None else index[name] for name in joint_names], np.int64)
    known = [joints.get(name) for name in names]
    found = [None if one is None else clamp_basis(one) for one in known]
    bases = tuple(one if isinstance(one, ClampBasis) else None for one in found)
    reason = _reasons(curves, codes, names, found)
    prevailing, least, most, note = _prevailing(curves, codes, known)
    final = curves.final_torque_nm
    usable = reason == ""
    below = usable & ~(final - prevailing > 0.0)
    reason[below] = f"not evaluated: {NOT_BELOW_PREVAILING}"
    usable &= ~below
    note[~usable] = ""
    net = np.where(usable, final - prevailing, np.nan)
    blank = np.full(len(codes), np.nan)
    routes = ClampRoutes(
        bases, codes, net, np.where(usable, prevailing, np.nan), *(Route(TORQUE, blank, blank),) * 2,
        blank, blank, blank, blank, blank, reason, note,
    )  # fmt: skip
    low, high = (routes.of_basis(f"lever_{which}_mm") for which in ("low", "high"))
    friction = np.hypot(np.log(high / low) / (2.0 * COVERAGE), TORQUE_UNCERTAINTY)
    read = np.nan_to_num(curves.prevailing_uncertainty_nm) + (most - least) / (2.0 * COVERAGE)
    torque = Route(
        TORQUE, np.log(net / routes.of_basis("lever_middle_mm")), np.hypot(friction, np.abs(read / net))
    )
    stiffness = routes.of_basis("stiffness_spread")
    return ClampRoutes(
        bases,
        codes,
        net,
        routes.prevailing_taken_nm,
        torque,
        _by_angle(curves, net, routes.of_basis("stiffness_kn_per_deg"), stiffness, torque.log_force),
        np.where(usable, np.maximum(final - most, 0.0), np.nan) / high,
        np.where(usable, final - least, np.nan) / low,
        friction,
        stiffness,
        _slope_scatter(curves),
        reason,
        note,
    )


def by_angle_alone(routes: ClampRoutes, curves: CurveTable, pulsed: BoolArray) -> ClampRoutes:
    """The routes with no torque where it came in pulses: their height says no more than an upper bound.

    What the fastener turned beyond the elastic origin carries the force, whatever the pulses' heights; where
    the bolt yields, which pulses do not tell, it is less.
    """
    if not pulsed.any():
        return routes
    turned = curves.final_angle_deg - curves.elastic_origin_deg
    turned = np.where(pulsed & (turned > 0.0), turned, np.nan)
    own = np.hypot(
        routes.of_basis("stiffness_spread"), np.nan_to_num(curves.elastic_origin_uncertainty_deg) / turned
    )
    angle, torque, note = routes.angle, routes.torque, routes.note.copy()
    note[pulsed & (routes.reason == "")] = BY_PULSES
    force = np.log(routes.of_basis("stiffness_kn_per_deg") * turned)
    return replace(
        routes,
        torque=replace(torque, log_force=np.where(pulsed, np.nan, torque.log_force)),
        angle=Route(ANGLE, np.where(pulsed, force, angle.log_force), np.where(pulsed, own, angle.spread)),
        net_nm=np.where(pulsed, np.nan, routes.net_nm),
        note=note,
    )


def beyond_bend(routes: ClampRoutes, unbent_log: FloatArray, spread: FloatArray) -> ClampRoutes:
    """The routes of joints whose rises end before their parts are pulled together: less force by the angle.

    Parameters
    ----------
    unbent_log, spread : ndarray, shape (n,)
        ln of the slope as read over that of parts pulled together, 0 where they are; standard uncertainty.
    """
    if not unbent_log.any():
        return routes
    angle, note = routes.angle, routes.note.copy()
    bent = (unbent_log < 0.0) & angle.known
    note[bent & (note == "")] = STILL_BENDING
    return replace(
        routes,
        angle=Route(ANGLE, angle.log_force + unbent_log, np.hypot(angle.spread, spread)),
        stiffness_spread=np.hypot(routes.stiffness_spread, spread),
        note=note,
    )


def _slope(curves: CurveTable) -> FloatArray:
    """Elastic slope; NaN where the line is level."""
    return np.where(curves.elastic_slope_nm_per_deg > 0.0, curves.elastic_slope_nm_per_deg, np.nan)


def _slope_scatter(curves: CurveTable) -> FloatArray:
    """Uncertainty of the elastic slope over it."""
    return np.asarray(curves.elastic_slope_uncertainty_nm_per_deg / _slope(curves))


def _by_angle(
    curves: CurveTable,
    net_nm: FloatArray,
    kn_per_deg: FloatArray,
    scatter: FloatArray,
    by_torque: FloatArray,
) -> Route:
    turned = curves.final_angle_deg - curves.elastic_origin_deg
    on_line = net_nm / _slope(curves)
    # Where yielding cannot be excluded only the elastic line is safe; where it starts does not matter then.
    elastic = curves.yielded == 0
    angle = np.where(elastic, turned, on_line)
    angle = np.where(np.isfinite(net_nm) & (angle > 0.0), angle, np.nan)
    origin = np.nan_to_num(curves.elastic_origin_uncertainty_deg, posinf=np.inf) / angle
    slope = np.nan_to_num(_slope_scatter(curves))
    force = np.log(kn_per_deg * angle)
    twist = TWIST_SHARE * np.nan_to_num(np.abs(force - by_torque))
    return Route(ANGLE, force, np.hypot(np.hypot(scatter, twist), np.where(elastic, origin, slope)))


def _reasons(
    curves: CurveTable,
    codes: IntArray,
    names: Sequence[str],
    found: Sequence[ClampBasis | str | None],
) -> NDArray[np.object_]:
    """Why a trace has no route: its joint, or its curve; empty where it has one."""
    by_joint = [
        f'not evaluated: the joint "{name}" is not defined'
        if basis is None
        else (f"not evaluated: {basis}" if isinstance(basis, str) else "")
        for name, basis in zip(names, found, strict=True)
    ]
    reason = np.array([*by_joint, "not evaluated: no joint assigned"], object)[codes]
    for code in _NO_TIGHTENING:
        reason[(reason == "") & (curves.slope_reason == code)] = f"not evaluated: {REASONS[code]}"
    reason[(reason == "") & ~np.isfinite(curves.final_torque_nm)] = "not evaluated: no final torque"
    return reason


def _prevailing(
    curves: CurveTable, codes: IntArray, known: Sequence[JointDefinition | None]
) -> tuple[FloatArray, FloatArray, FloatArray, NDArray[np.object_]]:
    """What to take off each final torque: best value, least, most, and a note where it was not read."""
    limits = [(0.0, 0.0) if one is None else one.prevailing_limits_nm or (0.0, 0.0) for one in known]
    table = np.maximum(np.array([*limits, (0.0, 0.0)], np.float64), 0.0)
    table[:, 1] = np.where(
        np.isinf(table[:, 1]), table[:, 0], table[:, 1]
    )  # at least so much: no more is known
    best = np.where(table[:, 0] > 0.0, table.mean(axis=1), 0.0)
    words = [
        "prevailing torque not read from the recording, "
        + (f"taken as {one:g} N·m, the middle of the joint's limits" if one > 0.0 else "none taken off")
        for one in best.tolist()
    ]
    read = curves.prevailing_torque_nm
    absent = ~np.isfinite(read)
    note = np.where(absent, np.array(words, object)[codes], "")
    low, high = table[codes, 0], table[codes, 1]
    return (
        np.where(absent, best[codes], read),
        np.where(absent, low, read),
        np.where(absent, high, read),
        note,
    )
