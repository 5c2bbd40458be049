"""What curve and company say of a clamp force: contradictions, and whether there is any."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from analysis.arrays import BoolArray, FloatArray
from analysis.catalogue.causes import CAUSE_INDEX, CAUSES
from analysis.catalogue.reasons import BROKE_AWAY
from analysis.curve.curve_table import ZONES, CurveTable
from analysis.joint.clamp_routes import ClampRoutes
from analysis.joint.clamp_table import ClampTable
from analysis.joint.company import UNLIKE, Company
from analysis.joint.force_zones import force_rows
from analysis.joint.routes import LOAD_CELL, Route
from analysis.traces import TraceSet
from analysis.verdict.causes import NAMED_IF_FLAGGED, CauseTable
from analysis.verdict.evidence import CauseEvidence
from analysis.verdict.friction_stiffness import friction_share

#: Standard uncertainty of a load cell's reading, as a share: common practice, no source.
LOAD_CELL_UNCERTAINTY = 0.01
#: Attribute that names the lot.
LOT = "lot"


@dataclass(frozen=True, eq=False)
class ClampContradictions:
    """Traces and joints whose clamp force by torque and by angle contradict each other; shape (n,)."""

    traces: BoolArray  #: Of single traces, whose joint as a whole does not contradict.
    #: Width between the two ranges over the nearer bound by torque; NaN where they have a force in common.
    apart: FloatArray
    joints: BoolArray  #: Traces of a joint, or of a lot, that contradicts its definition as a whole.
    beyond: FloatArray  #: How far it is beyond the threshold, as a share of it.


def find_contradictions(clamp: ClampTable, company: Company) -> ClampContradictions:
    """Sort contradictions into those of single traces and those of whole joints."""
    joints = company.unlike
    best, low, high = clamp.clamp_force_kn, clamp.torque_force_low_kn, clamp.torque_force_high_kn
    unstated = clamp.friction_off & ((best < low) | (best > high))
    traces = (clamp.disagreement | clamp.undecided | unstated) & ~joints & (np.array(clamp.route) != "none")
    below = clamp.torque_force_low_kn - clamp.angle_force_high_kn
    above = clamp.angle_force_low_kn - clamp.torque_force_high_kn
    bound = np.where(below > 0, clamp.torque_force_low_kn, clamp.torque_force_high_kn)
    gap = np.fmax(below, above)
    apart = np.where(traces, np.fmax(gap / bound, 0.0), np.nan)
    return ClampContradictions(traces, apart, joints, np.where(joints, company.apart / UNLIKE - 1.0, np.nan))


def lot_codes(traces: TraceSet) -> NDArray[np.int64] | None:
    """Number of each trace's lot, negative where none is recorded; None where the set records none."""
    if LOT not in traces.attributes.column_names:
        return None
    given = traces.column(LOT)
    code_of = {lot: code for code, lot in enumerate(dict.fromkeys(one for one in given if one is not None))}
    return np.array([-1 if one is None else code_of[one] for one in given], np.int64)


def load_cell_route(traces: TraceSet, curves: CurveTable) -> list[Route]:
    """What a load cell read at each final point, as a route; empty where none was recorded."""
    rows = force_rows(traces)
    if not rows or traces.clamp_force_kn is None:
        return []
    force = np.full(len(traces), np.nan)
    for row in rows:
        if curves.final_index[row] >= 0:
            force[row] = traces.clamp_force_kn[int(traces.offsets[row]) + int(curves.final_index[row])]
    value = np.log(np.where(force > 0.0, force, np.nan))
    return [Route(LOAD_CELL, value, np.where(np.isnan(value), np.nan, LOAD_CELL_UNCERTAINTY))]


def share_of_friction(evidence: CauseEvidence, causes: CauseTable) -> FloatArray:
    """Probability that it is the friction that has changed, not the stiffness, by the drawdown.

    Unknown where the torque rises in a saw-tooth, and where the bolt yields before the rise has shown what it
    is: neither drawdown nor slope is what it would be.
    """
    matched = evidence.match is not None and np.isfinite(evidence.match.friction_log)
    yielded = (evidence.curves.yielded == 1) & ~matched
    return np.where(seizing(causes) | yielded, np.nan, friction_share(evidence))


def seizing(causes: CauseTable) -> BoolArray:
    """Where the torque rises in a saw-tooth: surfaces seize, and their friction is higher than stated."""
    return np.asarray(causes.strength[:, CAUSE_INDEX["galling"]] >= 1.0)


def without_breakaway(curves: CurveTable, tight: BoolArray) -> CurveTable:
    """The curves with no yield where the joint was tight before: it breaks away, nothing is plastic."""
    rows = np.flatnonzero(tight & (curves.yielded == 1))
    if not len(rows):
        return curves
    names = ("yielded", "yield_index", "yield_angle_deg", "yield_torque_nm", "yield_angle_uncertainty_deg")
    changed = {name: getattr(curves, name).copy() for name in (*names, "yield_reason", "zone_bounds")}
    for name, value in zip(names, (-1, -1, np.nan, np.nan, np.nan), strict=True):
        changed[name][rows] = value
    changed["yield_reason"][rows] = BROKE_AWAY
    onset = ZONES.index("plastic")
    changed["zone_bounds"][rows, onset] = changed["zone_bounds"][rows, onset + 1]
    return replace(curves, **changed)


def without_force(causes: CauseTable, routes: ClampRoutes) -> list[str]:
    """Why the torque of each trace was not turned into clamp force; empty where it was."""
    refusing = np.array([bool(cause.no_force) for cause in CAUSES])
    believed = np.array([cause.refuses_from for cause in CAUSES])
    signs = (causes.strength >= believed) & (causes.weights >= NAMED_IF_FLAGGED) & refusing
    signs[np.arange(len(signs)), causes.likeliest] |= (causes.likeliest >= 0) & refusing[causes.likeliest]
    strongest = np.where(signs, causes.weights, -1.0).argmax(axis=1)
    there = signs.any(axis=1) & (routes.reason == "")
    return [
        f"not evaluated: {CAUSES[cause].no_force}" if found else ""
        for cause, found in zip(strongest.tolist(), there.tolist(), strict=True)
    ]
