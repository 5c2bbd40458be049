"""The order of things: points, clamp force, rules, population, causes, verdict; nothing else knows it."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
import pyarrow as pa
from numpy.typing import NDArray

from analysis.curve.curve_table import CurveTable
from analysis.errors import CallError, CancelledError
from analysis.joint.clamp_table import ClampTable
from analysis.joint.definition import JointDefinition
from analysis.joint_diagnosis import JointDiagnosis, diagnose_joint
from analysis.result_values import result_values
from analysis.results import build_table
from analysis.settings import Settings
from analysis.shift.outliers import OutlierTable, Usual, find_outliers, usual_of
from analysis.shift.reference import ReferenceSet, build_reference
from analysis.shift.sharing import Shared, find_shared
from analysis.traces import TraceSet
from analysis.verdict.case import Compared, TraceCase
from analysis.verdict.cause_words import causes_of
from analysis.verdict.causes import CauseTable, find_causes
from analysis.verdict.decision import DecisionsLike, apply_limits, apply_moved_edges, assigned_joints
from analysis.verdict.evidence import Evidence
from analysis.verdict.expectation import trusted_traces
from analysis.verdict.features import (
    END_STATE,
    FEATURE_NAMES,
    FEATURES,
    LEAST_SPREADS,
    SCORED,
    feature_doubt,
    from_compared_scale,
    measure_features,
    to_compared_scale,
    typical_features,
)
from analysis.verdict.finding import CAUSES, Cause, Finding, RuleCheck
from analysis.verdict.finding_words import findings_of, verdict_sentence
from analysis.verdict.joint_rows import JointRows, find_joint_rows
from analysis.verdict.judgement import FINDING_INDEX, FINDING_NAMES, Judgement, judge
from analysis.verdict.quantities import Quantities, measure_quantities
from analysis.verdict.rise_signs import RISE_SPAN, RiseSigns, find_rise_signs, joint_medians, resample_rises
from analysis.verdict.rules import RULES, RuleTable, evaluate_rules

FloatArray = NDArray[np.float64]
Progress = Callable[[int, int, str], None]
Cancelled = Callable[[], bool]


@dataclass(frozen=True, eq=False)
class Analysis:
    """Everything that was found about a set of traces; facts only, explanations are made when asked for.

    Attributes
    ----------
    traces : TraceSet
    joints : Mapping of name to JointDefinition
        With the limits that a person laid over them.
    settings : Settings
    joint_rows : JointRows
        Which joint each trace belongs to.
    curves : CurveTable
        With the zone edges that a person moved.
    quantities : Quantities
    evidence : Evidence
        What the causes were judged by.
    clamp : ClampTable
    rules : RuleTable
    outliers : OutlierTable
    causes : CauseTable
    judgement : Judgement
    rises : ndarray, shape (n, points)
        Torque at even steps of angle back from the final point, the same steps within a joint.
    span_deg : ndarray, shape (n,)
        Degrees that they reach back.
    reference : Mapping of joint name to ReferenceSet
        What was judged by.
    """

    traces: TraceSet
    joints: Mapping[str, JointDefinition]
    settings: Settings
    joint_rows: JointRows
    curves: CurveTable
    quantities: Quantities
    evidence: Evidence
    clamp: ClampTable
    rules: RuleTable
    outliers: OutlierTable
    causes: CauseTable
    judgement: Judgement
    rises: FloatArray
    span_deg: FloatArray
    reference: Mapping[str, ReferenceSet]

    @property
    def verdict(self) -> NDArray[np.int8]:
        """Index into `analysis.verdict.finding.VERDICTS` for each trace."""
        return self.judgement.verdict

    def __len__(self) -> int:
        return len(self.traces)

    def results(self) -> pa.Table:
        """The results table: columns as in `analysis.results.COLUMNS`, one row a trace."""
        return self._results

    @cached_property
    def _results(self) -> pa.Table:
        values = result_values(
            self.traces,
            self.joint_rows,
            self.curves,
            self.quantities,
            self.clamp,
            self.rules,
            self.judgement,
            self.causes,
            self.outliers.score,
            self.settings.curve,
        )
        return build_table(values, settings=self.settings, sources=self.traces.sources)

    def checks(self, row: int) -> list[RuleCheck]:
        """Every rule of the joint on one trace: measured, limit, margin, place."""
        return self.rules.checks(row)

    def findings(self, row: int) -> list[Finding]:
        """Broken limits and oddities of one trace, worst first."""
        return findings_of(self._case(row))

    def causes_of(self, row: int) -> list[Cause]:
        """Explanations of one trace, likeliest first, with evidence for and against."""
        return causes_of(self._case(row))

    def sentence(self, row: int) -> str:
        """The verdict as a sentence for a colleague."""
        return verdict_sentence(self._case(row))

    def diagnosis(self, joint: str) -> JointDiagnosis:
        """What the shift says about one joint: numbers, causes, what the odd ones share, steps over time.

        Raises
        ------
        CallError
            Where no trace belongs to this joint.
        """
        if joint not in self.joint_rows.names:
            raise CallError(f"no trace belongs to joint {joint!r}")
        return diagnose_joint(
            joint,
            np.flatnonzero(self.joint_rows.codes == self.joint_rows.names.index(joint)),
            self.verdict,
            self.causes.likeliest,
            attribute_values(self.traces),
            [
                (feature.words, feature.unit, self.evidence.features[:, index])
                for index, feature in enumerate(FEATURES)
                if feature.scored
            ],
            self.outliers.populations[joint],
        )

    def _case(self, row: int) -> TraceCase:
        n = len(self)
        if not -n <= row < n:
            raise IndexError(row)
        row %= n
        joint = self.joint_rows.name_of(row)
        population = self.outliers.populations.get(joint) if joint is not None else None
        return TraceCase(
            row=row,
            trace_id=self.traces.trace_ids[row],
            joint=joint,
            definition=self.joint_rows.definition_of(row),
            curves=self.curves,
            quantities=self.quantities,
            signs=self.evidence.signs,
            rules=self.rules,
            judgement=self.judgement,
            causes=self.causes,
            compared=_compared(self.evidence, row),
            outlier_score=float(self.outliers.score[row]),
            outlier_limit=float(self.outliers.limit[row]),
            population_note=population.note if population is not None else "",
        )


def _compared(evidence: Evidence, row: int) -> tuple[Compared, ...]:
    usual_nm = float(evidence.typical_of("final_torque_nm")[row])
    return tuple(
        Compared(
            name=feature.words,
            unit=feature.unit,
            value=float(evidence.features[row, index]),
            centre=float(evidence.typical[row, index]),
            low=from_compared_scale(
                float(evidence.centre[row, index] - evidence.spread[row, index]), index, usual_nm
            ),
            high=from_compared_scale(
                float(evidence.centre[row, index] + evidence.spread[row, index]), index, usual_nm
            ),
            z=float(evidence.z[row, index]),
        )
        for index, feature in enumerate(FEATURES)
    )


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
    traces : TraceSet
    joints : Mapping of name to JointDefinition
    settings : Settings, optional
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
    from analysis.curve import find_points
    from analysis.joint import estimate_clamp

    settings = settings or Settings()
    joints = apply_limits(joints, decisions)
    if decisions is not None and not default_joint:
        default_joint = decisions.default_joint or None
    rows = find_joint_rows(traces, joints, default_joint, assigned_joints(decisions))
    curves = find_points(traces, settings.curve, progress=progress, cancelled=cancelled)
    curves = apply_moved_edges(traces, curves, decisions)
    _stop_if(cancelled)
    clamp = estimate_clamp(traces, curves, rows.per_trace(), joints, settings)
    rules = evaluate_rules(curves, rows)
    quantities = measure_quantities(traces, curves)
    _stop_if(cancelled)
    signs = find_rise_signs(traces, curves, rows.codes)
    features = measure_features(curves, quantities, signs)
    usual_nm = scale_torques(curves, rows)
    compared = to_compared_scale(features, usual_nm)
    span_deg = rise_spans(signs, rows, reference)
    rises = resample_rises(traces, curves, span_deg)
    trusted, notes = trusted_traces(curves, rules, rows, settings.population.smallest_population)
    _stop_if(cancelled)
    outliers = find_outliers(
        compared,
        feature_doubt(curves, features),
        FEATURE_NAMES,
        rises,
        rows.codes,
        rows.names,
        trusted,
        LEAST_SPREADS,
        END_STATE,
        SCORED,
        settings.population,
        usual_by_reference(reference, decisions, traces, compared, settings),
        notes,
    )
    evidence = Evidence(
        curves=curves,
        quantities=quantities,
        signs=signs,
        rules=rules,
        rows=rows,
        features=features,
        compared=compared,
        z=outliers.z,
        centre=outliers.centre,
        spread=outliers.spread,
        typical=typical_features(outliers.centre, usual_nm),
        limit=outliers.limit,
    )
    broken = np.any([rules.broken(rule) for rule in range(len(RULES))], axis=0)
    causes = find_causes(evidence, outliers.flagged | broken)
    judgement = judge(rules, *_oddities(outliers, causes))
    if progress is not None:
        progress(len(traces), len(traces), "judged")
    return Analysis(
        traces=traces,
        joints=joints,
        settings=settings,
        joint_rows=rows,
        curves=curves,
        quantities=quantities,
        evidence=evidence,
        clamp=clamp,
        rules=rules,
        outliers=outliers,
        causes=causes,
        judgement=judgement,
        rises=rises,
        span_deg=span_deg,
        reference=dict(reference or {}),
    )


def scale_torques(curves: CurveTable, rows: JointRows) -> FloatArray:
    """Target torque of each trace's joint, the joint's median final torque where no target is known;
    shape (n,)."""
    targets = np.array([np.nan if d is None else d.target_torque_nm for d in rows.definitions] + [np.nan])
    target_nm = targets[rows.codes]
    return np.where(np.isnan(target_nm), joint_medians(curves.final_torque_nm, rows.codes), target_nm)


def usual_by_reference(
    reference: Mapping[str, ReferenceSet] | None,
    decisions: DecisionsLike | None,
    traces: TraceSet,
    compared: FloatArray,
    settings: Settings,
) -> dict[str, Usual]:
    """What pinned references say is usual, by joint: sets given as such, then members that a person pinned.

    Members count where enough of them are among the traces; a set of its own goes first.
    """
    usual: dict[str, Usual] = {}
    row_of = {trace_id: row for row, trace_id in enumerate(traces.trace_ids)} if decisions is not None else {}
    for joint, pinned in getattr(decisions, "references", {}).items():
        members = np.array([row_of[one] for one in pinned.trace_ids if one in row_of], np.int64)
        if len(members) >= settings.population.smallest_population:
            words = f"the reference {pinned.name or joint!r} ({len(members)} traces, pinned on "
            f"{pinned.pinned_at})"
            usual[joint] = usual_of(compared[members], words)
    return usual | {joint: pinned.usual() for joint, pinned in (reference or {}).items()}


def rise_spans(signs: RiseSigns, rows: JointRows, reference: Mapping[str, ReferenceSet] | None) -> FloatArray:
    """Degrees that the resampled rises of each trace's joint reach back; a reference brings its own."""
    span_deg = RISE_SPAN * joint_medians(signs.climb_deg, rows.codes)
    for code, name in enumerate(rows.names):
        if reference and name in reference:
            span_deg[rows.codes == code] = -reference[name].angle_deg[0]
    return span_deg


def pin_reference(analysis: Analysis, chosen: Sequence[int], name: str, pinned_on: str) -> ReferenceSet:
    """Pin traces of one joint as what is usual from now on.

    Parameters
    ----------
    chosen : sequence of int
        Rows of the analysis.
    name : str
        For people ("week 12, good ones").
    pinned_on : str
        Date, ISO 8601.

    Raises
    ------
    CallError
        Where the rows belong to several joints or to none, or are fewer than the smallest population.
    """
    picked = np.asarray(chosen, np.int64)
    joints = {analysis.joint_rows.name_of(int(row)) for row in picked}
    if len(joints) != 1 or None in joints:
        raise CallError("a reference set is pinned from traces of one joint")
    return build_reference(
        joint=str(joints.pop()),
        name=name,
        pinned_on=pinned_on,
        trace_ids=[analysis.traces.trace_ids[row] for row in picked],
        feature_names=FEATURE_NAMES,
        features=analysis.evidence.compared[picked],
        rises=analysis.rises[picked],
        span_deg=float(analysis.span_deg[picked[0]]),
        smallest=analysis.settings.population.smallest_population,
    )


def find_what_is_shared(
    analysis: Analysis, chosen: NDArray[np.bool_], within: NDArray[np.bool_] | None = None
) -> list[Shared]:
    """Attribute values that the chosen traces share and the others do not; see `analysis.shift.sharing`."""
    return find_shared(attribute_values(analysis.traces), chosen, within)


def attribute_values(traces: TraceSet) -> dict[str, list[Any]]:
    """Every attribute but the id and the joint, one value a trace."""
    left_out = ("trace_id", "joint")
    return {name: traces.column(name) for name in traces.attributes.column_names if name not in left_out}


def _stop_if(cancelled: Cancelled | None) -> None:
    if cancelled is not None and cancelled():
        raise CancelledError("the analysis was cancelled")


def _oddities(outliers: OutlierTable, causes: CauseTable) -> tuple[NDArray[np.bool_], FloatArray]:
    n = len(outliers.score)
    odd = np.zeros((n, len(FINDING_NAMES)), np.bool_)
    margin = np.full((n, len(FINDING_NAMES)), np.nan)
    column = FINDING_INDEX["outlier"]
    odd[:, column] = outliers.flagged
    margin[:, column] = 1.0 - outliers.score
    first = FINDING_INDEX[CAUSES[0]]
    odd[:, first:] = causes.alarming
    margin[:, first:] = 1.0 - causes.strength
    return odd, margin
