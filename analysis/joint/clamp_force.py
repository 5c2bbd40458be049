"""Clamp force of every trace: one estimate from all its routes, with bounds that mean what they say."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from analysis.arrays import BoolArray, FloatArray
from analysis.joint.clamp_routes import ClampRoutes
from analysis.joint.clamp_table import ClampTable
from analysis.joint.company import LEAST_COMMON, Company, RiseFactor, Shared, share_out
from analysis.joint.routes import ANGLE, BOTH, COVERAGE, NO_ROUTE, TORQUE, Fused, Route, fuse, stacked
from analysis.joint.torque import total_friction
from analysis.joint.utilisation import torsion_factor

#: Where surfaces seize and no angle tells, friction may be as many times what is stated (own choice).
MOST_SEIZED = 3.0


def fuse_clamp(
    routes: ClampRoutes,
    company: Company | None = None,
    friction_share: FloatArray | None = None,
    further: Sequence[Route] = (),
    seizing: BoolArray | None = None,
    rise: RiseFactor | None = None,
) -> ClampTable:
    """One clamp force of each trace from all its routes.

    Torque and angle are fused as stated where a joint has too few traces, else among the joint's others
    (`share_out`). Where the joint contradicts its definition, or the routes of a trace each other and nothing
    decides, there is no best value and the bounds are the hull of both. Routes that rest on neither the
    stated friction nor the stated stiffness are fused with what is left, and carry the value alone where the
    rest contradicts itself or them.

    Parameters
    ----------
    friction_share, rise : optional
        As `share_out` takes them; unknown where not given.
    further : sequence of Route
        Back-off, loosening, load cell.
    seizing : ndarray of bool, shape (n,), optional
        Surfaces seize: their friction is above what is stated, by no one knows how much.
    """
    n = len(routes.codes)
    alone = fuse(*stacked([routes.torque, routes.angle], n))
    shared = None
    if company is not None:
        chance = np.full(n, np.nan) if friction_share is None else friction_share
        shared = share_out(routes, company, chance, rise)
    two = alone if shared is None or company is None else _among_others(alone, shared, company)
    by_angle = routes.angle.known
    alone_names = np.where(by_angle, ANGLE, NO_ROUTE)
    name = np.where(routes.torque.known, np.where(by_angle, BOTH, TORQUE), alone_names).astype(object)
    if shared is not None:
        name[shared.undecided] = BOTH
        name[~two.contradicted & shared.friction] = ANGLE
        name[~two.contradicted & shared.stiffness] = TORQUE
    seized = np.zeros(n, np.bool_) if seizing is None else seizing & routes.torque.known
    if company is not None:
        seized &= ~company.unlike
    if seized.any():
        name[seized & by_angle] = BOTH
        two = _where_surfaces_seize(two, routes, shared, seized)
    fused, name = _with_further(two, name, [one for one in further if one.known.any()])
    factor = None if company is None else np.where(company.unlike, company.slope_factor, np.nan)
    common = _common_spread(routes, shared, two, fused)
    table = _table(routes, fused, name, shared=shared, factor=factor, seized=seized, further=tuple(further))
    return replace(table, common_spread=common)


def _common_spread(routes: ClampRoutes, shared: Shared | None, two: Fused, fused: Fused) -> FloatArray:
    """What all traces of a joint have in common of each one's uncertainty.

    Where no company tells, the stated range counts as scatter from one bolt to the next but for the least
    common part of it. What rests on neither friction nor stiffness as stated has the less of it, the more
    it weighs.
    """
    common = LEAST_COMMON * routes.friction_spread
    if shared is not None:
        common = np.where(np.isfinite(shared.log_force), shared.common, common)
    return np.nan_to_num(common * (fused.spread / two.spread) ** 2)


def _among_others(alone: Fused, shared: Shared, company: Company) -> Fused:
    """What the joint's other traces make of it, where there are enough of them."""
    known = np.isfinite(shared.log_force)
    hull = np.where(known, shared.undecided | company.unlike, alone.contradicted)
    held = known & ~hull
    reach = COVERAGE * shared.spread
    hull_low = np.where(shared.undecided, np.fmin(alone.hull_low, shared.hull_low), alone.hull_low)
    hull_high = np.where(shared.undecided, np.fmax(alone.hull_high, shared.hull_high), alone.hull_high)
    return Fused(
        np.where(hull, np.nan, np.where(held, shared.log_force, alone.log_force)),
        np.where(hull, np.nan, np.where(held, shared.spread, alone.spread)),
        np.where(held, shared.log_force - reach, np.where(hull, hull_low, alone.log_low)),
        np.where(held, shared.log_force + reach, np.where(hull, hull_high, alone.log_high)),
        hull_low,
        hull_high,
        alone.apart,
        np.asarray(hull),
    )


def _where_surfaces_seize(two: Fused, routes: ClampRoutes, shared: Shared | None, seized: BoolArray) -> Fused:
    """No best value; no more than torque allows at the friction that is stated, no less than the angle says.

    Friction that climbs with the force makes rise and angle say more than there is or less; where no angle
    tells, the lowest is a third of what the torque allows at least.
    """
    reach = COVERAGE * routes.torque.spread
    least, highest = routes.torque.log_force - reach, routes.torque.log_force + reach
    lowest = routes.angle.log_force - COVERAGE * routes.angle.spread
    if shared is not None:
        lowest = np.fmin(lowest, shared.hull_low)
    lowest = np.fmin(np.where(np.isnan(lowest), least - np.log(MOST_SEIZED), lowest), least)
    nan = np.full(len(highest), np.nan)
    columns = {"log_force": nan, "spread": nan, "log_low": lowest, "log_high": highest}
    columns = {name: np.where(seized, new, getattr(two, name)) for name, new in columns.items()}
    return replace(two, **columns, contradicted=two.contradicted | seized)


def _with_further(
    two: Fused, name: NDArray[np.object_], further: Sequence[Route]
) -> tuple[Fused, NDArray[np.object_]]:
    """Torque and angle with the routes that rest on neither friction nor stiffness as stated."""
    if not further:
        return two, name
    direct = fuse(*stacked(further, len(name)))
    told = np.isfinite(direct.log_low)
    every = fuse(
        *stacked(
            [Route("", two.log_force, two.spread), Route("", direct.log_force, direct.spread)], len(name)
        )
    )
    rest = told & (two.contradicted | every.contradicted | ~np.isfinite(two.log_force))
    one = told & ~rest
    name = name.copy()
    for route in further:
        name[told & route.known] = route.name
    fields = ("log_force", "spread", "log_low", "log_high", "hull_low", "hull_high", "contradicted")
    columns = {
        field: np.where(
            rest, getattr(direct, field), np.where(one, getattr(every, field), getattr(two, field))
        )
        for field in fields
    }
    return Fused(**columns, apart=two.apart), name


def _table(
    routes: ClampRoutes,
    fused: Fused,
    name: NDArray[np.object_],
    *,
    shared: Shared | None,
    factor: FloatArray | None,
    seized: BoolArray,
    further: tuple[Route, ...],
) -> ClampTable:
    # Torque alone keeps the stated range of friction to the letter, unless surfaces seize.
    only = (name == TORQUE) & ~routes.angle.known & ~seized
    low = np.where(only, routes.torque_low_kn, np.exp(fused.log_low))
    high = np.where(only, routes.torque_high_kn, np.exp(fused.log_high))
    force = np.clip(np.exp(fused.log_force), low, high)
    used = [_utilisation(routes, one) for one in (low, force, high)]
    none = np.zeros(len(force), np.bool_)
    angle = routes.angle
    return ClampTable(
        clamp_force_kn=force,
        clamp_force_low_kn=low,
        clamp_force_high_kn=high,
        utilisation=used[1],
        reason=tuple(routes.reason.tolist()),
        route=tuple(name.tolist()),
        torque_force_kn=routes.torque.force_kn,
        torque_force_low_kn=routes.torque_low_kn,
        torque_force_high_kn=routes.torque_high_kn,
        angle_force_kn=angle.force_kn,
        angle_force_low_kn=angle.bound_kn(-1),
        angle_force_high_kn=angle.bound_kn(1),
        disagreement=routes.nothing_in_common,
        undecided=fused.contradicted,
        friction_off=none if shared is None else shared.friction,
        stiffness_off=none if shared is None else shared.stiffness,
        seized=seized,
        definition_factor=np.full(len(force), np.nan) if factor is None else factor,
        implied_friction=_implied_friction(routes, angle.force_kn),
        prevailing_taken_nm=routes.prevailing_taken_nm,
        utilisation_low=np.fmin.reduce(used),
        utilisation_high=np.fmax.reduce(used),
        note=tuple(routes.note.tolist()),
        further=further,
    )


def _implied_friction(routes: ClampRoutes, force_kn: FloatArray) -> FloatArray:
    """The one coefficient that makes torque and angle agree; NaN where none does."""
    mu = np.full(len(force_kn), np.nan)
    for code, basis in enumerate(routes.bases):
        rows = routes.codes == code
        if basis is not None and basis.ring is not None:
            ring = basis.ring.friction_diameter_mm
            mu[rows] = total_friction(basis.thread, ring, routes.net_nm[rows], force_kn[rows])
    # More force than even a frictionless bolt would give: no coefficient makes the two agree.
    return np.where(mu > 0.0, mu, np.nan)


def _utilisation(routes: ClampRoutes, force_kn: FloatArray) -> FloatArray:
    """Combined stress over yield at a force and the friction that goes with it: the torque is known.

    A lever off the middle is put down to thread and bearing face alike.
    """
    used = np.full(len(force_kn), np.nan)
    for code, basis in enumerate(routes.bases):
        if basis is None or basis.yield_mpa is None or basis.mu_thread_middle is None:
            continue
        rows: BoolArray = routes.codes == code
        off = (
            routes.net_nm[rows] / np.maximum(force_kn[rows], np.finfo(np.float64).tiny)
            - basis.lever_middle_mm
        )
        mu = np.maximum(basis.mu_thread_middle + off / (basis.friction_arm_mm or np.inf), 0.0)
        per_kn = 1000.0 / basis.thread.stress_area_mm2 / basis.yield_mpa
        used[rows] = np.where(
            force_kn[rows] > 0.0, per_kn * force_kn[rows] * torsion_factor(basis.thread, mu), np.nan
        )
    return used
