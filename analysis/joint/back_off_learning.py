"""What back-offs teach the rest of a joint: routes to clamp force, stiffness, and what more would gain."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from analysis.arrays import FloatArray, IntArray
from analysis.curve.curve_table import CurveTable
from analysis.joint.back_off_values import BackOffColumns, back_off_value
from analysis.joint.clamp_basis import clamp_basis, joint_ring
from analysis.joint.definition import JointDefinition
from analysis.joint.routes import BACK_OFF, COVERAGE, LOOSENING, CalibratedStiffness, Route
from analysis.joint.stiffness import joint_stiffness
from analysis.operation.back_off_ratio import LEAST_UNCERTAINTY, BackOff

#: What the plan asks for: degrees back, numbers of bolts to choose from, and what of the degrees the play of
#: the tool and the breakaway take (own choice).
PLAN_DEG, PLAN_BOLTS, PLAN_LOST_DEG = 20.0, (3, 5, 8, 12), 6.0
#: A plan goes on to more bolts until the uncertainty falls to this share, or no further (own choice).
HALVED = 0.55
#: Scatter of stiffness from bolt to bolt, as a share: common practice, no source.
BOLT_TO_BOLT = 0.03


def measured_routes(columns: BackOffColumns) -> list[Route]:
    """Clamp force of the traces that were backed off or loosened, as routes beside torque and angle."""
    with np.errstate(divide="ignore", invalid="ignore"):
        value = np.log(columns.force_kn)
        spread = columns.force_uncertainty_kn / columns.force_kn
    routes = []
    for name, rows in ((BACK_OFF, ~columns.loosened), (LOOSENING, columns.loosened)):
        if np.isfinite(value[rows]).any():
            routes.append(Route(name, np.where(rows, value, np.nan), np.where(rows, spread, np.nan)))
    return routes


def calibrated_stiffness(
    back_offs: Sequence[BackOff],
    name_of: Callable[[int], str | None],
    joints: Mapping[str, JointDefinition],
) -> dict[str, CalibratedStiffness]:
    """Stiffness of each joint from the back-offs of its own bolts: weighted mean, widened by their scatter.

    Parameters
    ----------
    name_of : callable
        Joint of a trace, by its row.
    """
    found: dict[str, list[tuple[float, float]]] = {}
    for one in back_offs:
        name = name_of(one.tightening_row)
        value = back_off_value(one, joints.get(name or ""))
        if name is not None and value.stiffness_n_per_deg and value.stiffness_uncertainty_n:
            found.setdefault(name, []).append((value.stiffness_n_per_deg, value.stiffness_uncertainty_n))
    measured = {name: _mean_of(np.array(values)) for name, values in found.items()}
    return {name: one for name, one in measured.items() if _better(one, joints[name])}


def _better(measured: CalibratedStiffness, definition: JointDefinition) -> bool:
    """Whether it is known more closely than the definition states it."""
    ring = joint_ring(definition)
    stated = joint_stiffness(definition, None if isinstance(ring, str) else ring)
    share = COVERAGE * measured.uncertainty_n / measured.force_per_degree_n
    return isinstance(stated, str) or share < stated.scatter


def _mean_of(values: FloatArray) -> CalibratedStiffness:
    # One bolt is not the joint: each differs from the mean by its own scatter too.
    n, spread = len(values), np.hypot(values[:, 1], BOLT_TO_BOLT * values[:, 0])
    weight = 1.0 / spread**2
    mean = float(values[:, 0] @ weight / weight.sum())
    birge = max(1.0, float(weight @ (values[:, 0] - mean) ** 2) / max(n - 1, 1))
    source = f"measured by {'the back-off of one bolt' if n == 1 else f'back-offs of {n} bolts'}"
    # What it is used for is another bolt, which differs from the mean as these do.
    spread_of_mean = math.sqrt(birge / float(weight.sum()))
    return CalibratedStiffness(mean, math.hypot(spread_of_mean, BOLT_TO_BOLT * mean), source)


@dataclass(frozen=True)
class BackOffPlan:
    """What backing off some bolts of a joint would gain."""

    bolts: int
    #: Two standard uncertainties of the clamp force of one of the joint's traces, as shares.
    before: float
    after: float

    @property
    def sentence(self) -> str:
        """The plan for a colleague."""
        told = (
            f"Back off {PLAN_DEG:.0f} deg on {self.bolts} bolts: the uncertainty of this joint's clamp force "
        )
        ends = f"from ±{100.0 * self.before:.0f} % to ±{100.0 * self.after:.0f} %"
        if self.after <= HALVED * self.before:
            return f"{told}halves, {ends}."
        return f"{told}falls {ends}."


def plan_back_offs(curves: CurveTable, rows: IntArray, definition: JointDefinition) -> BackOffPlan | str:
    """The plan for a joint from the noise and density of its own recordings, or why there is none.

    Notes
    -----
    Of one back-off u(k)/k = hypot(u_on, u_off)/(slope_on - slope_off), u of a slope = s sqrt(12/n)/L for n
    samples of scatter s over L degrees; slope_on - slope_off = slope_on P/(pi lambda). The mean of several
    bolts takes the place of the stated stiffness in the angle route, s_A; with the torque route, s_T, it is
    1/sqrt(1/s_T^2 + 1/s_A^2).
    """
    basis = clamp_basis(definition)
    if isinstance(basis, str):
        return basis
    usable = rows[np.isfinite(curves.elastic_slope_nm_per_deg[rows]) & (curves.yielded[rows] == 0)]
    if not len(usable):
        return "no trace shows a straight stretch"
    slope, noise, density = (
        float(np.nanmedian(column[usable]))
        for column in (curves.elastic_slope_nm_per_deg, curves.torque_noise_nm, curves.samples_per_deg)
    )
    turned = curves.final_angle_deg[usable] - curves.elastic_origin_deg[usable]
    origin = float(np.nanmedian(curves.elastic_origin_uncertainty_deg[usable] / turned))
    by_torque = math.log(basis.lever_high_mm / basis.lever_low_mm) / (2.0 * COVERAGE)
    stated = math.inf if basis.stiffness is None else basis.stiffness.scatter / COVERAGE
    length = PLAN_DEG - PLAN_LOST_DEG
    of_slope = math.hypot(
        noise * math.sqrt(12.0 / max(length * density, 4.0)) / length, LEAST_UNCERTAINTY * slope
    )
    difference = slope * basis.thread.pitch_mm / (math.pi * basis.lever_middle_mm)
    of_one = math.hypot(math.sqrt(2.0) * of_slope / difference, BOLT_TO_BOLT)
    before = _together(by_torque, math.hypot(stated, origin))
    plans = []
    for bolts in PLAN_BOLTS:
        learnt = math.hypot(of_one / math.sqrt(bolts), BOLT_TO_BOLT, origin)
        plans.append(BackOffPlan(bolts, COVERAGE * before, COVERAGE * _together(by_torque, learnt)))
    enough = [plan for plan in plans if plan.after <= HALVED * plan.before]
    plan = enough[0] if enough else plans[1]
    return plan if plan.after < plan.before else "the stiffness is known as well as back-offs would tell it"


def plan_sentences(curves: CurveTable, rows: IntArray, definition: JointDefinition | None) -> list[str]:
    """The plan as a sentence; none where back-offs would gain nothing, or where too little is known."""
    plan = "" if definition is None else plan_back_offs(curves, rows, definition)
    return [plan.sentence] if isinstance(plan, BackOffPlan) else []


def _together(one: float, other: float) -> float:
    return 1.0 / math.sqrt(1.0 / one**2 + 1.0 / other**2)
