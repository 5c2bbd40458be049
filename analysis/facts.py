"""Everything that was found about a set of traces: tables of facts, one row a trace, and no words."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from operator import attrgetter
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from analysis.arrays import FloatArray
from analysis.catalogue.figure_uncertainty import known_by
from analysis.catalogue.figures import FIGURE_OF, Figure
from analysis.figure_text import Uncertainty

if TYPE_CHECKING:
    from analysis.audit.table import AuditTable
    from analysis.curve.curve_table import CurveTable
    from analysis.joint.clamp_table import ClampTable
    from analysis.joint.company import Company
    from analysis.joint.definition import JointDefinition
    from analysis.operation.table import OperationTable
    from analysis.settings import Settings
    from analysis.shift.outliers import OutlierTable
    from analysis.shift.reference import ReferenceSet
    from analysis.traces import TraceSet
    from analysis.traces.recorded_step import RecordedSteps
    from analysis.verdict.causes import CauseTable
    from analysis.verdict.evidence import CauseEvidence
    from analysis.verdict.joint_rows import JointRows
    from analysis.verdict.judgement import Judgement
    from analysis.verdict.quantities import Quantities
    from analysis.verdict.rules import RuleTable


@dataclass(frozen=True, eq=False)
class Facts:
    """The tables of an analysis; `analysis.catalogue.figures` says what is read from where."""

    traces: TraceSet
    #: By name: with the limits that a person laid over them.
    joints: Mapping[str, JointDefinition]
    settings: Settings
    joint_rows: JointRows  #: Which joint each trace belongs to.
    curves: CurveTable  #: With the zone edges that a person moved.
    #: What was done in each trace: steady tightening with its stages, blows, loosening.
    operations: OperationTable
    audits: AuditTable  #: Residual torque of joints that a hand wrench turned again.
    quantities: Quantities
    evidence: CauseEvidence  #: What the causes were judged by.
    clamp: ClampTable
    company: Company  #: Each joint against its stated friction and stiffness.
    rules: RuleTable
    outliers: OutlierTable
    causes: CauseTable
    judgement: Judgement
    #: Shape (n, points). Torque at even steps of angle back from the final point, the same steps within a
    #: joint.
    rises: FloatArray
    span_deg: FloatArray  #: Shape (n,). Degrees that they reach back.
    judged_rate_deg: FloatArray  #: Shape (n,). Joint rate of the basis that hardness is judged on.
    reference: Mapping[str, ReferenceSet]  #: By joint: what was judged by.

    @property
    def verdict(self) -> NDArray[np.int8]:
        """Index into `analysis.catalogue.verdicts.VERDICTS` for each trace."""
        return self.judgement.verdict

    @cached_property
    def steps(self) -> RecordedSteps:
        """Steps of the recordings."""
        from analysis.traces.recorded_step import RecordedSteps

        return RecordedSteps(self.traces)

    def known(self, row: int, figure: Figure | None, unit: str = "") -> Uncertainty:
        """How well a figure of one trace is known; None for what was read from its samples, in `unit`."""
        return known_by(
            figure, figure.unit if figure else unit, self.steps, row, lambda name: self._value(name, row)
        )

    def _value(self, name: str, row: int) -> float:
        figure = FIGURE_OF[name]
        return float(attrgetter(figure.read)(self)[row]) if figure.read else math.nan

    def __len__(self) -> int:
        return len(self.traces)


def attribute_values(traces: TraceSet) -> dict[str, list[Any]]:
    """Every attribute but the id and the joint, one value a trace."""
    left_out = ("trace_id", "joint")
    return {name: traces.column(name) for name in traces.attributes.column_names if name not in left_out}
