"""One trace with all that is known about it, from which its explanations are worded."""

from __future__ import annotations

from dataclasses import dataclass

from analysis.curve.curve_table import CurveTable
from analysis.joint.clamp_table import ClampTable
from analysis.joint.definition import JointDefinition
from analysis.operation.table import OperationTable
from analysis.verdict.causes import CauseTable
from analysis.verdict.judgement import Judgement
from analysis.verdict.quantities import Quantities
from analysis.verdict.rise_signs import RiseSigns
from analysis.verdict.rules import RuleTable


@dataclass(frozen=True)
class Compared:
    """One quantity of a trace beside what is usual in its joint.

    Attributes
    ----------
    name, unit : str
    value, centre : float
    low, high : float
        One robust standard deviation below and above what is usual.
    z : float
        In standard deviations, on the scale on which the quantity was compared.
    """

    name: str
    unit: str
    value: float
    centre: float
    low: float
    high: float
    z: float


@dataclass(frozen=True, eq=False)
class TraceCase:
    """Row `row` of every table, and the trace's comparison with its joint.

    `reference_words` name the pinned reference that it was compared with; empty: the joint's own traces.
    """

    row: int
    trace_id: str
    joint: str | None
    definition: JointDefinition | None
    curves: CurveTable
    operations: OperationTable
    quantities: Quantities
    signs: RiseSigns
    rules: RuleTable
    judgement: Judgement
    causes: CauseTable
    clamp: ClampTable
    compared: tuple[Compared, ...]
    outlier_score: float
    outlier_limit: float
    population_note: str
    reference_words: str = ""
