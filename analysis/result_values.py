"""The values of the results table, column by column, from the parts of an analysis."""

from __future__ import annotations

from typing import Any

import numpy as np
import pyarrow as pa
from numpy.typing import NDArray

from analysis.curve.curve_table import CurveTable
from analysis.joint.clamp_columns import clamp_columns
from analysis.joint.clamp_table import ClampTable
from analysis.operation.table import OPERATIONS, OperationTable
from analysis.results import FURTHER_COLUMNS
from analysis.settings import CurveSettings
from analysis.traces import TraceSet
from analysis.traces.arrow_arrays import ArrowArray, coded_text_array, number_array, truth_array
from analysis.verdict.causes import CauseTable
from analysis.verdict.finding import CAUSES, VERDICTS
from analysis.verdict.joint_rows import JointRows
from analysis.verdict.judgement import FINDING_NAMES, Judgement
from analysis.verdict.quantities import Quantities
from analysis.verdict.rules import ANGLE, NOT_EVALUATED, PREVAILING, RULE_REASONS, RULES, TORQUE, RuleTable

FloatArray = NDArray[np.float64]

_ATTRIBUTES = ("tool", "spindle", "program", "part", "position")


def hardness(joint_rate_deg: FloatArray, settings: CurveSettings) -> ArrowArray:
    """hard, medium or soft by the joint rate; null where there is none."""
    codes = np.where(joint_rate_deg <= settings.hard_limit_deg, 0, 1)
    codes = np.where(joint_rate_deg >= settings.soft_limit_deg, 2, codes)
    return coded_text_array(np.where(np.isnan(joint_rate_deg), -1, codes), ("hard", "medium", "soft"))


def not_evaluated_reasons(rules: RuleTable, clamp: ClampTable) -> list[str | None]:
    """Why rules, then the clamp force, could not be evaluated; None where all were."""
    texts: dict[tuple[int, ...], str] = {}
    pending = np.where(rules.status == NOT_EVALUATED, rules.reason, 0)
    result: list[str | None] = []
    for codes, clamp_reason in zip(map(tuple, pending.tolist()), clamp.reason, strict=True):
        if codes not in texts:
            texts[codes] = "; ".join(
                f"{RULES[rule]} not evaluated: {RULE_REASONS[code]}"
                for rule, code in enumerate(codes)
                if code
            )
        parts = [texts[codes]] if texts[codes] else []
        if clamp_reason:
            parts.append(_clamp_reason(clamp_reason))
        result.append("; ".join(parts) or None)
    return result


def _clamp_reason(reason: str) -> str:
    if reason.startswith("clamp force"):
        return reason
    return (
        f"clamp force {reason}"
        if reason.startswith("not evaluated")
        else f"clamp force not evaluated: {reason}"
    )


def result_values(
    traces: TraceSet,
    joint_rows: JointRows,
    curves: CurveTable,
    operations: OperationTable,
    quantities: Quantities,
    clamp: ClampTable,
    rules: RuleTable,
    judgement: Judgement,
    causes: CauseTable,
    outlier_score: FloatArray,
    settings: CurveSettings,
) -> dict[str, Any]:
    """One array for each column of `analysis.results.COLUMNS`."""
    n = len(traces)
    deciding_margin = np.full(n, np.nan)
    decided = judgement.deciding >= 0
    deciding_margin[decided] = judgement.relative_margin[decided, judgement.deciding[decided]]
    values: dict[str, Any] = {
        "trace_id": traces.attributes.column("trace_id").combine_chunks(),
        "joint": coded_text_array(joint_rows.codes, joint_rows.names),
        "verdict": coded_text_array(judgement.verdict, VERDICTS),
        "deciding": coded_text_array(judgement.deciding, FINDING_NAMES),
        "findings": _finding_lists(judgement),
        "cause": coded_text_array(causes.likeliest, CAUSES),
        "hardness": hardness(curves.joint_rate_deg, settings),
        "yielded": truth_array([None if code < 0 else code == 1 for code in curves.yielded.tolist()]),
        "outlier_score": outlier_score,
        "not_evaluated_reason": not_evaluated_reasons(rules, clamp),
        "deciding_margin": deciding_margin,
        "torque_margin_nm": rules.margin[:, TORQUE],
        "angle_margin_deg": rules.margin[:, ANGLE],
        "prevailing_margin_nm": rules.margin[:, PREVAILING],
        "rundown_deg": quantities.rundown_deg,
        "drawdown_deg": quantities.drawdown_deg,
        "total_angle_deg": quantities.total_angle_deg,
        "utilisation": clamp.utilisation,
        "cause_weight": _likeliest_weight(causes),
    }
    values |= operation_values(operations)
    for name in ("clamp_force_kn", "clamp_force_low_kn", "clamp_force_high_kn"):
        values[name] = getattr(clamp, name)
    values |= clamp_columns(traces, curves, clamp, joint_rows.codes, joint_rows.definitions, joint_rows.names)
    values |= {name: _attribute(traces, name) for name in _ATTRIBUTES}
    values["started_at"] = _attribute(traces, "started_at")
    values["source"] = _sources(traces)
    return values | {name: getattr(curves, name) for name in _CURVE_COLUMNS}


#: Columns that stand in the curve table under the same name.
_CURVE_COLUMNS = (
    "n_samples",
    "final_torque_nm",
    "final_angle_deg",
    "snug_angle_deg",
    "snug_torque_nm",
    "snug_angle_uncertainty_deg",
    "joint_rate_deg",
    "prevailing_torque_nm",
    "drawdown_angle_deg",
    "elastic_slope_nm_per_deg",
    "elastic_origin_deg",
    "yield_angle_deg",
    "yield_torque_nm",
    *(column.name for column in FURTHER_COLUMNS if column.name in CurveTable.__dataclass_fields__),
)


def operation_values(operations: OperationTable) -> dict[str, Any]:
    """Columns of what was done in each trace: its kind, the last stop, the blows, the breakaway."""
    stages, loosenings, pulses = operations.stages, operations.loosenings, operations.pulses
    last = stages.last_stop()
    stopped = np.flatnonzero(last >= 0)
    entry = last[stopped]
    values: dict[str, Any] = {
        "operation": coded_text_array(operations.operation, OPERATIONS),
        "stages": number_array(stages.count.astype(np.int64), stages.count > 0),
        "breakaway_torque_nm": loosenings.breakaway_torque_nm,
        "breakaway_angle_deg": loosenings.breakaway_angle_deg,
        "slip_pitch_deg": np.where(loosenings.slipped, loosenings.pitch_deg, np.nan),
    }
    n = len(operations.operation)
    for name, rows, found in (
        ("pause_torque_nm", stopped, stages.end_torque_nm[entry]),
        ("pause_s", stopped, stages.pause_s[entry]),
        ("pause_torque_lost_nm", stopped, stages.torque_lost_nm[entry]),
        ("restart_overshoot_nm", stopped, stages.overshoot_nm[entry]),
        ("pulse_rate_per_s", pulses.rows, pulses.rate_per_s),
    ):
        values[name] = np.full(n, np.nan)
        values[name][rows] = found
    count = np.zeros(n, np.int64)
    count[pulses.rows] = pulses.count
    values["pulses"] = number_array(count, count > 0)
    return values


def _finding_lists(judgement: Judgement) -> pa.Array[Any]:
    rows, columns = np.nonzero(judgement.present)
    stops = number_array(np.searchsorted(rows, np.arange(len(judgement.present) + 1)).astype(np.int32))
    lists: pa.Array[Any] = pa.ListArray.from_arrays(stops, coded_text_array(columns, FINDING_NAMES))
    return lists


def _likeliest_weight(causes: CauseTable) -> FloatArray:
    chosen = np.maximum(causes.likeliest, 0)
    weight = causes.weights[np.arange(len(chosen)), chosen]
    return np.where(causes.likeliest >= 0, weight, np.nan)


def _attribute(traces: TraceSet, name: str) -> pa.Array[Any]:
    if name not in traces.attributes.column_names:
        return pa.nulls(len(traces))
    column = traces.attributes.column(name)
    return pa.concat_arrays(column.chunks) if column.num_chunks else pa.nulls(0)


def _sources(traces: TraceSet) -> ArrowArray:
    return coded_text_array(traces.source_index, tuple(source.path for source in traces.sources))
