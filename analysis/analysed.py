"""Everything that was found about a set of traces, and the words for it when they are asked for."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
import pyarrow as pa
from numpy.typing import NDArray

from analysis.curve.curve_table import CurveTable
from analysis.errors import CallError
from analysis.joint.clamp_table import ClampTable
from analysis.joint.definition import JointDefinition
from analysis.joint_diagnosis import JointDiagnosis, diagnose_joint
from analysis.operation.table import OperationTable
from analysis.result_values import result_values
from analysis.results import build_table
from analysis.settings import Settings
from analysis.shift.outliers import OutlierTable
from analysis.shift.reference import ReferenceSet
from analysis.traces import TraceSet
from analysis.verdict.case import Compared, TraceCase
from analysis.verdict.cause_words import causes_of
from analysis.verdict.causes import CauseTable
from analysis.verdict.evidence import Evidence
from analysis.verdict.features import FEATURES, from_compared_scale
from analysis.verdict.finding import Cause, Finding, RuleCheck
from analysis.verdict.finding_words import findings_of, verdict_sentence
from analysis.verdict.joint_rows import JointRows
from analysis.verdict.judgement import Judgement
from analysis.verdict.quantities import Quantities
from analysis.verdict.rules import RuleTable

FloatArray = NDArray[np.float64]


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
    operations : OperationTable
        What was done in each trace: steady tightening with its stages, blows, loosening.
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
    operations: OperationTable
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
            self.operations,
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
        reference = self.reference.get(joint) if joint is not None else None
        return TraceCase(
            row=row,
            trace_id=self.traces.trace_ids[row],
            joint=joint,
            definition=self.joint_rows.definition_of(row),
            curves=self.curves,
            operations=self.operations,
            quantities=self.quantities,
            signs=self.evidence.signs,
            rules=self.rules,
            judgement=self.judgement,
            causes=self.causes,
            clamp=self.clamp,
            compared=_compared(self.evidence, row),
            outlier_score=float(self.outliers.score[row]),
            outlier_limit=float(self.outliers.limit[row]),
            population_note=population.note if population is not None else "",
            reference_words=reference.words() if reference is not None else "",
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


def attribute_values(traces: TraceSet) -> dict[str, list[Any]]:
    """Every attribute but the id and the joint, one value a trace."""
    left_out = ("trace_id", "joint")
    return {name: traces.column(name) for name in traces.attributes.column_names if name not in left_out}
