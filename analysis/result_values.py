"""The values of the results table: what the catalogue says where to read, and what is worked out here."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from operator import attrgetter
from typing import Any

import numpy as np
import pyarrow as pa

from analysis.arrays import FloatArray
from analysis.catalogue.causes import CAUSE_NAMES
from analysis.catalogue.figures import FIGURES
from analysis.catalogue.findings import FINDING_NAMES
from analysis.catalogue.reasons import REASONS
from analysis.catalogue.rules import RULES
from analysis.catalogue.verdicts import VERDICTS
from analysis.curve.hardness import HARDNESS, hardness_codes
from analysis.facts import Facts
from analysis.joint.back_off_values import back_off_columns
from analysis.joint.clamp_columns import clamp_columns
from analysis.operation.table import OPERATIONS, OperationTable
from analysis.traces import TraceSet
from analysis.traces.arrow_arrays import ArrowArray, coded_text_array, number_array, truth_array
from analysis.verdict.rules import NOT_EVALUATED


def result_values(facts: Facts) -> dict[str, Any]:
    """One array for each of `analysis.catalogue.figures.FIGURES`."""
    values = {one.name: attrgetter(one.read)(facts) for one in FIGURES if one.read}
    values |= {rule.margin: facts.rules.margin[:, k] for k, rule in enumerate(RULES) if rule.margin}
    values |= {name: work_out(facts) for name, work_out in COMPUTED.items()}
    values |= operation_values(facts.operations)
    rows = facts.joint_rows
    backed = back_off_columns(facts.curves, facts.operations.back_offs, rows.definition_of)
    values |= {
        "measured_stiffness_n_per_deg": backed.stiffness_n_per_deg,
        "measured_stiffness_uncertainty_n_per_deg": backed.stiffness_uncertainty_n,
        "measured_friction": backed.friction,
        "measured_friction_uncertainty": backed.friction_uncertainty,
    }
    return values | clamp_columns(
        facts.traces,
        facts.curves,
        facts.clamp,
        codes=rows.codes,
        definitions=rows.definitions,
        names=rows.names,
    )


def _hardness(facts: Facts) -> ArrowArray:
    return coded_text_array(hardness_codes(facts.judged_rate_deg, facts.settings.curve), HARDNESS)


def _hardness_basis(facts: Facts) -> ArrowArray:
    return coded_text_array(np.zeros(len(facts), np.int64), (facts.settings.curve.hardness_basis,))


def not_evaluated_reasons(facts: Facts) -> ArrowArray:
    """Why rules, then the clamp force, could not be evaluated; null where all were."""
    pending = np.where(facts.rules.status == NOT_EVALUATED, facts.rules.reason, 0).astype(np.int64)
    known: dict[tuple[bytes, str], int] = {}  # few differ, whatever the number of traces
    whole_rows = np.ascontiguousarray(pending).view(f"V{pending.shape[1] * pending.itemsize}")[:, 0]
    pairs = zip(whole_rows.tolist(), facts.clamp.reason, strict=True)
    codes = np.array([known.setdefault(pair, len(known)) for pair in pairs], np.int64)
    texts = [_not_evaluated(np.frombuffer(row, np.int64).tolist(), reason) for row, reason in known]
    empty = np.array([not text for text in texts], bool)
    return coded_text_array(np.where(empty[codes], -1, codes), texts)


def _not_evaluated(codes: Sequence[int], clamp_reason: str) -> str:
    """Of one trace: the reasons of its rules, by code, and that of its clamp force."""
    reasons = [
        f"{rule.name} not evaluated: {REASONS[code]}" for rule, code in zip(RULES, codes, strict=True) if code
    ]
    return "; ".join([*reasons, *([_clamp_reason(clamp_reason)] if clamp_reason else [])])


def _clamp_reason(reason: str) -> str:
    if reason.startswith("clamp force"):
        return reason
    return f"clamp force {'' if reason.startswith('not evaluated') else 'not evaluated: '}{reason}"


def _deciding_margin(facts: Facts) -> FloatArray:
    judged = facts.judgement
    margin = np.full(len(facts), np.nan)
    decided = judged.deciding >= 0
    margin[decided] = judged.relative_margin[decided, judged.deciding[decided]]
    return margin


def _finding_lists(facts: Facts) -> pa.Array[Any]:
    present = facts.judgement.present
    rows, columns = np.nonzero(present)
    stops = number_array(np.searchsorted(rows, np.arange(len(present) + 1)).astype(np.int32))
    lists: pa.Array[Any] = pa.ListArray.from_arrays(stops, coded_text_array(columns, FINDING_NAMES))
    return lists


def _likeliest_weight(facts: Facts) -> FloatArray:
    causes = facts.causes
    weight = causes.weights[np.arange(len(facts)), np.maximum(causes.likeliest, 0)]
    return np.where(causes.likeliest >= 0, weight, np.nan)


def _attribute(name: str) -> Callable[[Facts], pa.Array[Any]]:
    def recorded(facts: Facts) -> pa.Array[Any]:
        traces: TraceSet = facts.traces
        if name not in traces.attributes.column_names:
            return pa.nulls(len(traces))
        column = traces.attributes.column(name)
        return pa.concat_arrays(column.chunks) if column.num_chunks else pa.nulls(0)

    return recorded


#: What no table holds as it stands in the results, by the name of the figure.
COMPUTED: dict[str, Callable[[Facts], Any]] = {
    "joint": lambda facts: coded_text_array(facts.joint_rows.codes, facts.joint_rows.names),
    "verdict": lambda facts: coded_text_array(facts.verdict, VERDICTS),
    "deciding": lambda facts: coded_text_array(facts.judgement.deciding, FINDING_NAMES),
    "findings": _finding_lists,
    "cause": lambda facts: coded_text_array(facts.causes.likeliest, CAUSE_NAMES),
    "hardness": _hardness,
    "hardness_basis": _hardness_basis,
    "yielded": lambda facts: truth_array(
        [None if code < 0 else code == 1 for code in facts.curves.yielded.tolist()]
    ),
    "not_evaluated_reason": not_evaluated_reasons,
    "deciding_margin": _deciding_margin,
    "cause_weight": _likeliest_weight,
    "source": lambda facts: coded_text_array(
        facts.traces.source_index, tuple(source.path for source in facts.traces.sources)
    ),
    **{
        name: _attribute(name)
        for name in ("trace_id", "tool", "spindle", "program", "part", "position", "started_at")
    },
}


def operation_values(operations: OperationTable) -> dict[str, Any]:
    """Figures of what was done in each trace: its kind, the last stop, the blows, the slip."""
    stages, loosenings, pulses = operations.stages, operations.loosenings, operations.pulses
    last = stages.last_stop()
    stopped = np.flatnonzero(last >= 0)
    entry = last[stopped]
    values: dict[str, Any] = {
        "operation": coded_text_array(operations.operation, OPERATIONS),
        "stages": number_array(stages.count.astype(np.int64), stages.count > 0),
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
