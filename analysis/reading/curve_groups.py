"""Named groups of channels become traces: each group with angle and torque is one."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import UTC, date, datetime
from typing import Any

import numpy as np
from numpy.typing import NDArray

from analysis.errors import ReadProblem, UnfamiliarLayoutError
from analysis.reading.batch import Batch
from analysis.reading.channel_groups import CurveGroup, GroupedContent
from analysis.reading.columns import Column, UnclearColumnsError, names_curve, plan_columns
from analysis.reading.source_file import SourceFile
from analysis.reading.tables import unfamiliar
from analysis.traces.arrow_arrays import ArrowArray, text_array
from analysis.traces.schema import ATTRIBUTE_TYPES, CHANNELS
from analysis.traces.trace_set import attribute_table

_Curve = tuple[str, dict[str, NDArray[np.float64]], dict[str, Any]]
GroupPlanner = Callable[[SourceFile, Sequence[str], Sequence[str]], tuple[Column, ...]]


def plan_group(file: SourceFile, names: Sequence[str], units: Sequence[str]) -> tuple[Column, ...]:
    """What the channels become by the project's own names.

    Raises
    ------
    UnfamiliarLayoutError
        Where names or units are unclear.
    """
    try:
        return plan_columns(names, units)
    except UnclearColumnsError as error:
        raise unfamiliar(file, None, error.found, error.expected) from None


def group_batch(file: SourceFile, content: GroupedContent, planner: GroupPlanner = plan_group) -> Batch:
    """The traces of a file's groups; groups without angle and torque are noted where others have them.

    Raises
    ------
    UnfamiliarLayoutError
        Where no group is a curve, or one that names angle and torque is unclear.
    """
    problems = [file.problem(None, said, "a sound file", "check it", fatal=False) for said in content.said]
    planned: list[tuple[CurveGroup, tuple[Column, ...]]] = []
    refused: UnfamiliarLayoutError | None = None
    for group in content.groups:
        try:
            planned.append((group, planner(file, list(group.columns), group.stated_units())))
        except UnfamiliarLayoutError as error:
            if planner is plan_group and names_curve(list(group.columns)):
                raise
            refused = refused or (error if group.columns else None)
            if group.columns:
                problems.append(_no_curve(file, group))
    if not planned:
        raise refused or unfamiliar(file, None, "no channels", "angle and torque with units")
    traces: list[_Curve] = []
    for number, (group, columns) in enumerate(planned, 1):
        channels, attributes = _take_apart(group, columns)
        lengths = {name: len(values) for name, values in channels.items()}
        if len(set(lengths.values())) > 1:
            found = f"group {group.name!r} with {lengths}"
            problems.append(file.problem(number, found, "one length", "export it again"))
            continue
        traces.append((_id_of(file, group, attributes, len(planned)), channels, attributes))
    batch = _batch(file, traces)
    batch.problems += problems
    return batch


def _no_curve(file: SourceFile, group: CurveGroup) -> ReadProblem:
    found = f"group {group.name!r} without angle and torque"
    return file.problem(None, found, "a curve", "it was left out", fatal=False)


def _id_of(file: SourceFile, group: CurveGroup, attributes: dict[str, Any], n_curves: int) -> str:
    named = attributes.pop("trace_id", None)
    if named is not None:
        return str(named)
    return f"{file.stem}-{group.name}" if n_curves > 1 else file.stem


def _take_apart(
    group: CurveGroup, columns: Sequence[Column]
) -> tuple[dict[str, NDArray[np.float64]], dict[str, Any]]:
    channels: dict[str, NDArray[np.float64]] = {}
    attributes = {name: plain(value) for name, value in group.attributes.items() if name not in CHANNELS}
    for column in columns:
        values = group.columns[column.name]
        if column.kind == "channel":
            channels[column.target] = np.asarray(values, np.float64) * column.factor
        elif len(values):
            constant = bool(np.all(values == values[0]))
            attributes[column.target] = plain(values[0]) if constant else [plain(value) for value in values]
    return channels, attributes


def _batch(file: SourceFile, traces: Sequence[_Curve]) -> Batch:
    lengths = [len(channels["angle_deg"]) for _, channels, _ in traces]
    flat = {}
    for name in CHANNELS:
        if any(name in channels for _, channels, _ in traces):
            parts = [
                channels.get(name, np.full(length, np.nan))
                for (_, channels, _), length in zip(traces, lengths, strict=True)
            ]
            flat[name] = np.concatenate(parts)
    table = attribute_table({"trace_id": [trace_id for trace_id, _, _ in traces]})
    names = dict.fromkeys(name for _, _, attributes in traces for name in attributes)
    for name in names:
        values = [attributes.get(name) for _, _, attributes in traces]
        table = table.append_column(name, _as_it_came(name, values))
    return Batch(
        flat,
        np.concatenate(([0], np.cumsum(lengths))).astype(np.int64),
        table,
        np.full(len(traces), file.index, np.int64),
        np.arange(1, len(traces) + 1),
    )


def _as_it_came(name: str, values: list[Any]) -> ArrowArray:
    """One attribute; a moment as text, since it gets its type and its zone where all files are joined."""
    if any(isinstance(value, date) for value in values) or name in ATTRIBUTE_TYPES:
        return text_array(
            [v.isoformat() if isinstance(v, date) else None if v is None else str(v) for v in values]
        )
    return attribute_table({name: values}).column(0)


def plain(value: Any) -> Any:
    """A value of a format library as a plain Python value; what has no plain form becomes text."""
    if isinstance(value, bytes):
        return value.decode("utf-8", "replace")
    if isinstance(value, np.datetime64):
        return None if np.isnat(value) else value.astype("datetime64[us]").item().replace(tzinfo=UTC)
    if isinstance(value, np.ndarray):
        return (
            [plain(item) for item in value.ravel()]
            if value.size > 1
            else plain(value.ravel()[0])
            if value.size
            else None
        )
    if isinstance(value, np.generic):
        return plain(value.item())
    if value is None or isinstance(value, str | int | float | bool | datetime):
        return value
    return str(value)
