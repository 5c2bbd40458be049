"""The order of things: points, clamp force, rules, population, causes, verdict; nothing else knows it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from analysis.analysed import Analysis
from analysis.arrays import FloatArray
from analysis.audit.pairs import pair_with_dynamic
from analysis.audit.table import AuditTable
from analysis.catalogue.causes import CAUSE_INDEX, CAUSE_NAMES
from analysis.catalogue.findings import FINDING_INDEX, FINDING_NAMES, UNLIKE_DEFINITION
from analysis.catalogue.rules import RULES
from analysis.catalogue.verdicts import OK
from analysis.compared_features import compare_features
from analysis.curve.curve_table import CurveTable
from analysis.curve.reasons import PULSED_TORQUE, REASONS
from analysis.errors import CancelledError
from analysis.joint.back_off_values import back_off_columns
from analysis.joint.clamp_columns import bounds_left
from analysis.joint.clamp_force import fuse_clamp
from analysis.joint.clamp_routes import ClampRoutes, beyond_bend, by_angle_alone, clamp_routes
from analysis.joint.clamp_table import ClampTable
from analysis.joint.company import Company, RiseFactor, find_company
from analysis.joint.definition import JointDefinition
from analysis.joint.routes import calibrate
from analysis.measured import Look, Measured, SecondLook, look_again, measure
from analysis.operation.same_fastener import tightened_before
from analysis.references import (
    find_what_is_shared,
    outside_references,
    pin_reference,
    rise_spans,
    usual_by_reference,
)
from analysis.settings import Settings
from analysis.shift.outliers import OutlierTable, find_outliers
from analysis.shift.reference import ReferenceSet
from analysis.traces import TraceSet
from analysis.verdict.audit_rule import judge_audits
from analysis.verdict.causes import CauseTable, find_causes
from analysis.verdict.clamp_evidence import (
    ClampContradictions,
    find_contradictions,
    load_cell_route,
    lot_codes,
    seizing,
    share_of_friction,
    without_breakaway,
    without_force,
)
from analysis.verdict.decision import DecisionsLike, apply_limits, assigned_joints
from analysis.verdict.evidence import CauseEvidence
from analysis.verdict.expectation import trusted_traces
from analysis.verdict.features import SCALES
from analysis.verdict.joint_rows import JointRows, find_joint_rows
from analysis.verdict.judgement import judge
from analysis.verdict.rise_signs import RiseScan, ToothMeasure, measure_teeth_by, rise_signs
from analysis.verdict.rules import (
    RuleTable,
    evaluate_rules,
    judge_clamp,
    keeps_limits,
    withhold_again,
    withhold_cut,
    withhold_pulsed,
)

__all__ = ["Analysis", "analyse", "find_what_is_shared", "outside_references", "pin_reference"]

Progress = Callable[[int, int, str], None]
Cancelled = Callable[[], bool]


def analyse(
    traces: TraceSet,
    joints: Mapping[str, JointDefinition],
    settings: Settings | None = None,
    *,
    default_joint: str | None = None,
    reference: Mapping[str, ReferenceSet] | None = None,
    decisions: DecisionsLike | None = None,
    progress: Progress | None = None,
    cancelled: Cancelled | None = None,
) -> Analysis:
    """Points, clamp force, verdict, oddity and cause of every trace.

    Parameters
    ----------
    default_joint : str, optional
        Joint of the recordings that name none.
    reference : Mapping of joint name to ReferenceSet, optional
        Pinned reference sets: what they say is usual goes before what the shift's own traces say.
    decisions : DecisionsLike, optional
        What a person decided: moved zone edges, joints given by hand, limits laid over the joints file.
    progress : callable (done, total, text), optional
    cancelled : callable, optional
        Asked now and then; True ends the work.

    Raises
    ------
    CancelledError
        Where `cancelled` said so.
    """
    settings = settings or Settings()
    joints = apply_limits(joints, decisions)
    if decisions is not None and not default_joint:
        default_joint = decisions.default_joint or None
    rows = find_joint_rows(traces, joints, default_joint, assigned_joints(decisions))
    measured = measure(
        traces, rows, settings.curve, decisions=decisions, progress=progress, cancelled=cancelled
    )
    _stop_if(cancelled)

    def look(by: ToothMeasure, span_deg: FloatArray) -> SecondLook:
        return look_again(traces, measured.curves, measured.scan, by, span_deg)

    analysis = judge_measured(
        measured, rows, joints, settings, look, reference=reference, decisions=decisions, cancelled=cancelled
    )
    if progress is not None:
        progress(len(traces), len(traces), "judged")
    return analysis


def spans_deg(
    scan: RiseScan,
    unsteady: NDArray[np.bool_],
    rows: JointRows,
    reference: Mapping[str, ReferenceSet] | None,
) -> FloatArray:
    """Degrees that the resampled rise of each trace reaches back; NaN where it is not compared."""
    span_deg = rise_spans(np.where(unsteady, np.nan, scan.climb_deg), rows, reference)
    return np.where(unsteady, np.nan, span_deg)


def judge_measured(
    measured: Measured,
    rows: JointRows,
    joints: Mapping[str, JointDefinition],
    settings: Settings,
    look: Look,
    *,
    reference: Mapping[str, ReferenceSet] | None = None,
    decisions: DecisionsLike | None = None,
    cancelled: Cancelled | None = None,
) -> Analysis:
    """Clamp force, verdict, oddity and cause of traces that were measured: what needs their company.

    Parameters
    ----------
    measured : Measured
        All traces that say together what is usual.
    joints : Mapping of name to JointDefinition
        With the limits that a person laid over them.
    look : callable
        Gives what has to be read off the samples once the company is known.
    reference, decisions, cancelled
        As in `analyse`.

    Raises
    ------
    CancelledError
        Where `cancelled` said so.
    """
    traces, curves, operations = measured.traces, measured.curves, measured.operations
    joints, rows, routes = _routes(measured, rows, joints)
    rules = withhold_pulsed(evaluate_rules(curves, rows, operations), operations.pulsed, operations.sparse)
    _stop_if(cancelled)
    by = measure_teeth_by(measured.scan, curves.final_torque_nm, rows.codes)
    span_deg = spans_deg(measured.scan, operations.unsteady, rows, reference)
    seen = look(by, span_deg)
    signs = rise_signs(measured.scan, curves, seen.teeth, by).without(operations.unsteady)
    trusted, notes = trusted_traces(curves, rules, rows, settings.population.smallest_population)
    _stop_if(cancelled)
    compared = compare_features(measured, rows, seen, signs, trusted)
    usual = usual_by_reference(reference, decisions, traces, compared.traces.features, settings)
    match = compared.match(span_deg, usual)
    routes = beyond_bend(routes, match.unbent_log, match.unbent_spread)
    company = find_company(routes, trusted & ~operations.apart, lot_codes(traces), operations.turned_on)
    outliers = find_outliers(compared.traces, SCALES, settings.population, usual, notes)
    outliers = outliers.without(operations.apart)
    evidence = compared.evidence(rules, outliers, match)
    broken = np.any([rules.broken(rule) for rule in range(len(RULES))], axis=0)
    causes = find_causes(evidence, outliers.flagged | broken | routes.nothing_in_common, operations)
    clamp = _clamp_force(measured, evidence, causes, routes, company)
    contradictions = find_contradictions(clamp, company)
    # Begun tight and known to be: the back-off says how tight, degrees from loose say nothing.
    contradictions = replace(contradictions, traces=contradictions.traces & ~operations.turned_on)
    curves = without_breakaway(curves, _found(causes, "already-tight") | operations.turned_on)
    rules = judge_clamp(
        _withheld(rules, causes, measured), rows, *bounds_left(clamp, rows.codes, rows.definitions)
    )
    audits = measured.audits.with_stiffness(routes.of_basis("stiffness_kn_per_deg"))
    audits = pair_with_dynamic(audits, traces, keeps_limits(rules), curves.final_torque_nm)
    rules = judge_audits(rules, audits, rows)
    judgement = judge(rules, *_oddities(outliers, causes, contradictions))
    # What is ok calls for no explanation: a weak sign within the usual scatter is no cause.
    causes = replace(causes, likeliest=np.where(judgement.verdict == OK, -1, causes.likeliest))
    return Analysis(
        traces=traces,
        joints=joints,
        settings=settings,
        joint_rows=rows,
        curves=curves,
        operations=operations,
        audits=audits,
        quantities=measured.quantities,
        evidence=evidence,
        clamp=clamp,
        company=company,
        rules=rules,
        outliers=outliers,
        causes=causes,
        judgement=judgement,
        rises=seen.rises,
        span_deg=span_deg,
        judged_rate_deg=measured.judged_rate_deg,
        reference=dict(reference or {}),
    )


def _routes(
    measured: Measured, rows: JointRows, joints: Mapping[str, JointDefinition]
) -> tuple[Mapping[str, JointDefinition], JointRows, ClampRoutes]:
    """The joints as back-offs calibrate them, and torque and angle as routes to the clamp force."""
    from analysis.joint.back_off_learning import calibrated_stiffness

    curves, operations = measured.curves, measured.operations
    joints = calibrate(joints, calibrated_stiffness(operations.back_offs, rows.name_of, joints))
    rows = replace(rows, definitions=tuple(joints.get(name) for name in rows.names))
    routes = clamp_routes(_with_ongoing(curves, measured.audits), rows.per_trace(), joints)
    return joints, rows, by_angle_alone(routes, curves, operations.pulsed)


def _found(causes: CauseTable, name: str) -> NDArray[np.bool_]:
    return causes.alarming[:, CAUSE_INDEX[name]]


def _withheld(rules: RuleTable, causes: CauseTable, measured: Measured) -> RuleTable:
    """The rules, not evaluated where the recording is cut or the fastener was tight or tightened before."""
    operations = measured.operations
    tight = _found(causes, "already-tight") | operations.turned_on
    again = tightened_before(
        measured.traces, tight, back=operations.unscrewed, tightened=operations.tightened
    )
    return withhold_again(withhold_cut(rules, _found(causes, "incomplete-recording"), tight), again)


def _clamp_force(
    measured: Measured, evidence: CauseEvidence, causes: CauseTable, routes: ClampRoutes, company: Company
) -> ClampTable:
    """All routes fused, less what the operation or a cause forbids to say."""
    from analysis.joint.back_off_learning import measured_routes

    operations = measured.operations
    backed = back_off_columns(measured.curves, operations.back_offs, evidence.rows.definition_of)
    further = [*measured_routes(backed), *load_cell_route(measured.traces, measured.curves)]
    match = evidence.match
    rise = None if match is None else RiseFactor(match.friction_log, match.spread)
    clamp = fuse_clamp(routes, company, share_of_friction(evidence, causes), further, seizing(causes), rise)
    refused = zip(
        _untold_force(operations.pulsed & ~routes.angle.known, measured.audits),
        without_force(causes, routes),
        strict=True,
    )
    return clamp.below_pulses(operations.pulsed).without([one or two for one, two in refused])


def _with_ongoing(curves: CurveTable, audits: AuditTable) -> CurveTable:
    """The curves as the clamp force of audits is read from: the moving fastener's torque is what holds it."""
    if not len(audits.rows):
        return curves
    torque = curves.final_torque_nm.copy()
    torque[audits.rows] = audits.ongoing_nm[audits.rows]
    return replace(curves, final_torque_nm=torque)


def _untold_force(pulsed: NDArray[np.bool_], audits: AuditTable) -> list[str]:
    """Why what was done says nothing of the clamp force: blows, audits without a residual torque."""
    code = np.where(pulsed, PULSED_TORQUE, np.where(np.isnan(audits.ongoing_nm), audits.reason, 0))
    return [f"not evaluated: {REASONS[one]}" if one else "" for one in code.tolist()]


def _stop_if(cancelled: Cancelled | None) -> None:
    if cancelled is not None and cancelled():
        raise CancelledError("the analysis was cancelled")


def _oddities(
    outliers: OutlierTable, causes: CauseTable, contradictions: ClampContradictions
) -> tuple[NDArray[np.bool_], FloatArray]:
    """Which findings each trace has beside broken limits, and how far each is beyond its threshold."""
    odd = np.zeros((len(outliers.score), len(FINDING_NAMES)), np.bool_)
    margin = np.full(odd.shape, np.nan)
    found = {
        "outlier": (outliers.flagged, 1.0 - outliers.score),
        "clamp-disagreement": (contradictions.traces, -contradictions.apart),
        UNLIKE_DEFINITION: (contradictions.joints, -contradictions.beyond),
    } | {name: (causes.alarming[:, k], 1.0 - causes.strength[:, k]) for k, name in enumerate(CAUSE_NAMES)}
    for name, (present, beyond) in found.items():
        odd[:, FINDING_INDEX[name]], margin[:, FINDING_INDEX[name]] = present, beyond
    return odd, margin
