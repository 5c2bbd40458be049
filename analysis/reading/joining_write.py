"""Traces, and what was found in them, as joining results by OPC 40450-1 in JSON."""

from __future__ import annotations

import json
import math
import os
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

import numpy as np
import pyarrow as pa

from analysis.errors import CallError
from analysis.reading.columns import INTERNAL_UNIT
from analysis.reading.joining_codes import (
    EVALUATION_OF_VERDICT,
    NOT_OK,
    OK,
    QUANTITY_OF_CHANNEL,
    SINGLE,
    TAG_FINAL,
    TAG_OTHER,
    TAG_SNUG,
    TAG_YIELD,
    UNDEFINED,
    units_record,
)
from analysis.reading.joining_read import AS_IT_CAME
from analysis.traces import Trace, TraceSet

#: Column of the results table, the channel that it measures, its value tag, and its name for people.
_VALUES: tuple[tuple[str, str, int, str], ...] = (
    ("final_torque_nm", "torque_nm", TAG_FINAL, "Final torque"),
    ("final_angle_deg", "angle_deg", TAG_FINAL, "Final angle"),
    ("snug_torque_nm", "torque_nm", TAG_SNUG, "Snug torque"),
    ("snug_angle_deg", "angle_deg", TAG_SNUG, "Snug angle"),
    ("yield_torque_nm", "torque_nm", TAG_YIELD, "Yield torque"),
    ("yield_angle_deg", "angle_deg", TAG_YIELD, "Yield angle"),
    ("joint_rate_deg", "angle_deg", TAG_OTHER, "Snug to final"),
    ("prevailing_torque_nm", "torque_nm", TAG_OTHER, "Prevailing torque"),
    ("clamp_force_kn", "clamp_force_kn", TAG_OTHER, "Estimated clamp force"),
)


@dataclass(frozen=True)
class ValueLimits:
    """Limits and target of one value, in internal units; None where there is none."""

    low: float | None = None
    high: float | None = None
    target: float | None = None


#: Joint name to results column to limits.
Limits = Mapping[str, Mapping[str, ValueLimits]]


def write_joining_results(
    traces: TraceSet,
    path: str | os.PathLike[str],
    *,
    results: pa.Table | None = None,
    limits: Limits | None = None,
    compact: bool = False,
    further: Mapping[str, Mapping[str, Any]] | None = None,
) -> None:
    """Write an array of results, one a trace.

    Parameters
    ----------
    results : pyarrow.Table, optional
        The results table, a row for each trace in the same order: verdict, points and values are written with
        their tags. Without it the results say nothing about the joint ("undefined").
    limits : mapping, optional
        Limits by joint and results column.
    compact : bool
        Leave default values out, as the compact form does.
    further : mapping, optional
        Further fields of ResultMetaData by trace_id, such as its place in a sequence.

    Raises
    ------
    CallError
        Where the results are not those of these traces.
    OSError
        Where the file cannot be written.

    Notes
    -----
    Attributes are written as associated entities with their name; their entity type is left undefined. Clamp
    force is an estimate and named so.
    """
    if results is not None and results.column("trace_id").to_pylist() != list(traces.trace_ids):
        raise CallError("the results are not those of these traces")
    rows: list[dict[str, Any]] = [{}] * len(traces) if results is None else results.to_pylist()
    with open(path, "w", encoding="utf-8", newline="\n") as stream:
        stream.write("[")
        for index, (trace, row) in enumerate(zip(traces, rows, strict=True)):
            result = _result(trace, row, (limits or {}).get(trace.joint or "", {}))
            result["ResultMetaData"] |= (further or {}).get(trace.trace_id, {})
            stream.write(",\n" if index else "\n")
            json.dump(_shortened(result) if compact else result, stream, ensure_ascii=False, allow_nan=False)
        stream.write("\n]\n")


def _result(trace: Trace, row: Mapping[str, Any], limits: Mapping[str, ValueLimits]) -> dict[str, Any]:
    evaluation = EVALUATION_OF_VERDICT.get(row.get("verdict") or "", UNDEFINED)
    steps = list(_steps(trace))
    return {
        "ResultMetaData": _metadata(trace, evaluation),
        "ResultContent": [
            {
                "OverallResultValues": []
                if not row
                else list(_values(trace, row, limits, single=len(steps) == 1)),
                "StepResults": [
                    {"StepResultId": f"{trace.trace_id}/{k}", "ProgramStep": program_step}
                    for k, (_, _, program_step) in enumerate(steps, 1)
                    if program_step is not None
                ],
                "Trace": {
                    "TraceId": trace.trace_id,
                    "ResultId": trace.trace_id,
                    "StepTraces": [
                        _step_trace(trace, k, slice(start, stop))
                        for k, (start, stop, _) in enumerate(steps, 1)
                    ],
                },
            }
        ],
    }


def _metadata(trace: Trace, evaluation: int) -> dict[str, Any]:
    entities = [
        {
            "Name": name,
            "EntityId": value.isoformat() if isinstance(value, datetime) else str(value),
            "EntityType": 0,
        }
        for name, value in trace.attributes.items()
        if value is not None and name not in ("trace_id", "started_at", AS_IT_CAME)
    ]
    metadata: dict[str, Any] = {
        "ResultId": trace.trace_id,
        "ResultEvaluation": evaluation,
        "Classification": SINGLE,
        "JoiningTechnology": "Tightening",
        "AssociatedEntities": entities,
    }
    if trace.attributes.get("part") is not None:
        metadata["PartId"] = str(trace.attributes["part"])
    started = trace.attributes.get("started_at")
    if isinstance(started, datetime):
        lasted = (
            0.0 if trace.time_s is None or not len(trace) else float(np.nanmax(trace.time_s, initial=0.0))
        )
        ended = started + timedelta(seconds=min(max(lasted, 0.0), 86_400.0))
        metadata["ProcessingTimes"] = {"StartTime": _moment(started), "EndTime": _moment(ended)}
    return metadata


def _moment(moment: datetime) -> str:
    return moment.isoformat(timespec="microseconds").replace("+00:00", "Z")


def _steps(trace: Trace) -> Iterator[tuple[int, int, str | None]]:
    """Ranges of samples with one program step, and that step as text; one range where there are no steps."""
    if trace.step is None or not len(trace):
        yield 0, len(trace), None
        return
    same = (trace.step[1:] == trace.step[:-1]) | (np.isnan(trace.step[1:]) & np.isnan(trace.step[:-1]))
    starts = [0, *(np.flatnonzero(~same) + 1).tolist()]
    for start, stop in zip(starts, [*starts[1:], len(trace)], strict=True):
        yield start, stop, repr(float(trace.step[start]))


def _step_trace(trace: Trace, number: int, part: slice) -> dict[str, Any]:
    contents = []
    for channel, unit in INTERNAL_UNIT.items():
        values = getattr(trace, channel)
        if values is None:
            continue
        contents.append(
            {
                "Name": channel,
                "PhysicalQuantity": QUANTITY_OF_CHANNEL[channel],
                "EngineeringUnits": units_record(unit),
                "Values": [
                    value if math.isfinite(value) else _spelled(value) for value in values[part].tolist()
                ],
            }
        )
    return {
        "StepTraceId": f"{trace.trace_id}/{number}",
        "StepResultId": f"{trace.trace_id}/{number}",
        "NumberOfTracePoints": part.stop - part.start,
        "StepTraceContent": contents,
    }


def _spelled(value: float) -> str:
    """A Double that JSON numbers lack, as OPC 10000-6 spells it."""
    return "NaN" if math.isnan(value) else "Infinity" if value > 0 else "-Infinity"


def _values(
    trace: Trace, row: Mapping[str, Any], limits: Mapping[str, ValueLimits], *, single: bool
) -> Iterator[dict[str, Any]]:
    for column, channel, tag, name in _VALUES:
        value = row.get(column)
        if value is None or not math.isfinite(value):
            continue
        limit = limits.get(column, ValueLimits())
        record: dict[str, Any] = {
            "Name": name,
            "MeasuredValue": value,
            "ValueId": column,
            "ValueTag": tag,
            "ResultEvaluation": _evaluation(value, limit),
            "PhysicalQuantity": QUANTITY_OF_CHANNEL[channel],
            "EngineeringUnits": units_record(INTERNAL_UNIT[channel]),
        }
        for key, number in (
            ("LowLimit", limit.low),
            ("HighLimit", limit.high),
            ("TargetValue", limit.target),
        ):
            if number is not None:
                record[key] = number
        index = _point(trace, row, tag) if single else None
        if index is not None:
            record["TracePointIndex"] = index
        yield record


def _evaluation(value: float, limit: ValueLimits) -> int:
    if limit.low is None and limit.high is None:
        return UNDEFINED
    below = limit.low is not None and value < limit.low
    above = limit.high is not None and value > limit.high
    return NOT_OK if below or above else OK


def _point(trace: Trace, row: Mapping[str, Any], tag: int) -> int | None:
    """Sample of a tagged point: the first that reaches its angle, up to the final point."""
    column = {TAG_FINAL: "final_angle_deg", TAG_SNUG: "snug_angle_deg", TAG_YIELD: "yield_angle_deg"}.get(tag)
    angle = row.get(column) if column is not None else None
    if angle is None or not math.isfinite(angle) or not len(trace) or np.isnan(trace.torque_nm).all():
        return None
    final = len(trace) - 1 - int(np.nanargmax(trace.torque_nm[::-1]))
    if tag == TAG_FINAL:
        return final
    reached = np.flatnonzero(trace.angle_deg[: final + 1] >= angle)
    return int(reached[0]) if len(reached) else None


def _shortened(value: Any) -> Any:
    """The compact form: no field that holds its type's default value."""
    if isinstance(value, dict):
        short = {key: _shortened(item) for key, item in value.items()}
        return {
            key: item for key, item in short.items() if item not in (0, "", None, [], {}) or item is False
        }
    if isinstance(value, list):
        return [_shortened(item) for item in value]
    return value
