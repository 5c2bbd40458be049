"""Joining results with traces by OPC 40450-1 as JSON, and its predecessor of 2021."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pyarrow as pa

from analysis.checked_text import NotJsonError, UnusableTextError, decoded, json_data
from analysis.errors import ReadError, ReadProblem
from analysis.reading.batch import Batch
from analysis.reading.joining_codes import code, record, records, text
from analysis.reading.joining_steps import Stitched, UnsoundTraceError, stitch
from analysis.reading.source_file import SourceFile
from analysis.traces.arrow_arrays import text_array
from analysis.traces.schema import ATTRIBUTE_TYPES, CHANNELS

_MARKS = (b'"ResultMetaData"', b'"ResultContent"')
#: ResultMetaData fields that have an attribute of the program's own.
_OWN = {"PartId": "part", "InternalRecipeId": "program"}
#: Kept as attributes under these names.
_KEPT = {
    "Name": "result_name", "Description": "description",
    "SequenceNumber": "sequence_number", "JobId": "job_id",
    "ProductId": "product_id",
    "ExternalRecipeId": "external_recipe_id", "StepId": "step_id",
    "ExternalConfigurationId": "external_configuration_id",
    "InternalConfigurationId": "internal_configuration_id", "ResultEvaluation": "result_evaluation",
    "ResultEvaluationCode": "result_evaluation_code", "ResultEvaluationDetails": "result_evaluation_details",
    "ResultState": "result_state", "Classification": "classification", "OperationMode": "operation_mode",
    "AssemblyType": "assembly_type", "InterventionType": "intervention_type", "IsSimulated": "is_simulated",
    "IsPartial": "is_partial", "JoiningTechnology": "joining_technology",
}  # fmt: skip
_CODES = frozenset(
    {"ResultEvaluation", "ResultState", "Classification", "OperationMode", "AssemblyType", "InterventionType"}
)
#: Attribute that holds everything of a result but its trace, as it came.
AS_IT_CAME = "joining_result"


def sniff(file: SourceFile) -> bool:
    """JSON that names result metadata or result content."""
    head = file.head.removeprefix(b"\xef\xbb\xbf").lstrip()
    return head[:1] in (b"{", b"[") and any(mark in head for mark in _MARKS)


@dataclass
class _Found:
    """The traces of a file so far."""

    ids: list[str] = field(default_factory=list)
    traces: list[Stitched] = field(default_factory=list)
    attributes: list[dict[str, str]] = field(default_factory=list)
    numbers: list[int] = field(default_factory=list)
    problems: list[ReadProblem] = field(default_factory=list)


def read(file: SourceFile) -> Batch:
    """The traces of all results in a file: one result, an array of them, or one a line.

    Raises
    ------
    ReadError
        Where it is no JSON.
    """
    found = _Found()
    for number, result in enumerate(_results(file), 1):
        _read_result(file, number, result, found)
    lengths = [len(trace.channels["angle_deg"]) for trace in found.traces]
    channels = {}
    for name in CHANNELS:
        if any(name in trace.channels for trace in found.traces):
            parts = [
                trace.channels.get(name, np.full(length, np.nan))
                for trace, length in zip(found.traces, lengths, strict=True)
            ]
            channels[name] = np.concatenate(parts)
    return Batch(
        channels,
        np.concatenate(([0], np.cumsum(lengths))).astype(np.int64),
        _attribute_table(found),
        np.full(len(lengths), file.index, np.int64),
        np.asarray(found.numbers, np.int64),
        decimal=".",
        problems=found.problems,
    )


def _attribute_table(found: _Found) -> pa.Table:
    names = dict.fromkeys(name for attributes in found.attributes for name in attributes)
    columns: dict[str, Any] = {"trace_id": text_array(found.ids)}
    for name in names:
        columns[name] = text_array([attributes.get(name) for attributes in found.attributes])
    return pa.table(columns)


def _results(file: SourceFile) -> Iterator[dict[str, Any]]:
    try:
        content = decoded(file.data)
    except UnusableTextError as error:
        raise ReadError(_no_json(file, None, str(error))) from None
    try:
        yield from records(json_data(content, constants=True))
        return
    except NotJsonError as error:
        if error.found != "Extra data" or error.line == 1:
            raise ReadError(_no_json(file, error.line, error.found)) from None
    except UnusableTextError as error:
        raise ReadError(_no_json(file, None, str(error))) from None
    for number, line in enumerate(content.split("\n"), 1):
        if line.strip():
            try:
                yield from records(json_data(line, constants=True))
            except UnusableTextError as error:
                found = error.found if isinstance(error, NotJsonError) else str(error)
                raise ReadError(_no_json(file, number, found)) from None


def _no_json(file: SourceFile, line: int | None, found: str) -> ReadProblem:
    return file.problem(
        line, f"no JSON that can be used ({found})", "a joining result", "export the file again"
    )


def _read_result(file: SourceFile, number: int, result: dict[str, Any], found: _Found) -> None:
    metadata = record(result.get("ResultMetaData"))
    contents = records(result.get("ResultContent"))
    result_id = text(metadata.get("ResultId"))
    with_trace = [content for content in contents if record(content.get("Trace"))]
    if not with_trace:
        found.problems.append(
            file.problem(
                number, f"result {result_id!r} without a trace", "a trace", "export it with its trace"
            )
        )
    for index, content in enumerate(with_trace, 1):
        trace_id = result_id if len(with_trace) == 1 else f"{result_id}-{index}"
        trace = record(content.get("Trace"))
        try:
            stitched = stitch(trace, records(content.get("StepResults")), in_seconds=is_predecessor(content))
        except UnsoundTraceError as error:
            found.problems.append(
                file.problem(number, f"result {trace_id!r}: {error.found}", error.expected, "export it again")
            )
            continue
        found.ids.append(trace_id or text(trace.get("TraceId")))
        found.traces.append(stitched)
        found.attributes.append(_attributes(metadata, content))
        found.numbers.append(number)
        found.problems += [
            file.problem(
                number, f"result {trace_id!r}: {note}", "one axis, known channels", "check it", fatal=False
            )
            for note in stitched.notes
        ]


def is_predecessor(content: dict[str, Any]) -> bool:
    """True for a result by OPC 40451-1 of 2021: values are called Value, and intervals are seconds."""
    values = records(content.get("OverallResultValues"))
    for step in records(content.get("StepResults")):
        values += records(step.get("StepResultValues"))
    return any("Value" in value and "MeasuredValue" not in value for value in values)


def _attributes(metadata: dict[str, Any], content: dict[str, Any]) -> dict[str, str]:
    attributes: dict[str, str] = {}
    for entity in records(metadata.get("AssociatedEntities")):
        name = text(entity.get("Name"))
        if name and name not in (*CHANNELS, "trace_id"):
            attributes[name.lower() if name.lower() in ATTRIBUTE_TYPES else name] = text(
                entity.get("EntityId")
            )
    for key, name in {**_OWN, **_KEPT}.items():
        if metadata.get(key) is not None:
            value = code(metadata[key]) if key in _CODES else text(metadata[key])
            attributes.setdefault(name, str(value))
    times = record(metadata.get("ProcessingTimes"))
    started = text(times.get("StartTime")) or text(metadata.get("CreationTime"))
    if started and not started.startswith("0001-"):  # the least moment stands for none
        attributes["started_at"] = started
    rest = {key: value for key, value in content.items() if key != "Trace"}
    attributes[AS_IT_CAME] = json.dumps(
        {"ResultMetaData": metadata, **rest}, ensure_ascii=False, sort_keys=True
    )
    return attributes
