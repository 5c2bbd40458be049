"""What the two table layouts share: which one a schema shows, and the batch made of it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

import pyarrow as pa

from analysis.errors import ReadProblem, UnfamiliarLayoutError
from analysis.reading.batch import Batch, one_file_batch, take_rows
from analysis.reading.columns import Column, UnclearColumnsError, claimed_channel, names_curve, plan_columns
from analysis.reading.list_columns import ListChannel, align, is_list, is_number
from analysis.reading.source_file import SourceFile
from analysis.traces.schema import REQUIRED_CHANNELS

Plan = tuple[Column, ...]
Planner = Callable[[SourceFile, pa.Schema], Plan]


def is_list_layout(schema: pa.Schema) -> bool:
    """True where angle and torque are named and every one of them holds lists."""
    return names_curve(schema.names) and all(map(is_list, _curve_types(schema)))


def different_kinds(file: SourceFile) -> ReadProblem:
    """The problem of a table that has angle as lists and torque as plain numbers, or the other way round."""
    return file.problem(
        None, "angle and torque of different kinds", "both as lists, or both as plain numbers",
        "export it again with one row a trace",
    )  # fmt: skip


def is_long_layout(schema: pa.Schema) -> bool:
    """True where angle and torque are named and every one of them holds plain numbers."""
    return names_curve(schema.names) and all(map(is_number, _curve_types(schema)))


def _curve_types(schema: pa.Schema) -> list[pa.DataType]:
    return [field.type for field in schema if claimed_channel(field.name) in REQUIRED_CHANNELS]


def plan_table(file: SourceFile, schema: pa.Schema) -> Plan:
    """What each column becomes.

    Raises
    ------
    UnfamiliarLayoutError
        Where names or units are unclear, or there is no trace_id.
    """
    try:
        plan = plan_columns(schema.names)
    except UnclearColumnsError as error:
        raise unfamiliar(file, None, error.found, error.expected) from None
    if not any(column.kind == "id" for column in plan):
        raise unfamiliar(file, None, f"columns {', '.join(schema.names[:12])}", "a column trace_id")
    return plan


def unfamiliar(file: SourceFile, line: int | None, found: str, expected: str) -> UnfamiliarLayoutError:
    """The error that asks for an import mapping."""
    return UnfamiliarLayoutError(
        file.problem(line, found, expected, "state the columns and units in an import mapping")
    )


def list_batch(
    file: SourceFile, plan: Plan, channels: Mapping[str, ListChannel], attributes: Mapping[str, Any]
) -> Batch:
    """One row a trace: channels of one length, in internal units, attributes as they came."""
    table = sound_table(attributes)
    ids = table.column("trace_id").to_pylist()
    flat, offsets, kept, problems = align(channels, file, ids)
    for column in plan:
        if column.target in flat and column.factor != 1.0:
            flat[column.target] = flat[column.target] * column.factor
    if len(kept) < len(ids):
        table = take_rows(table, kept)
    batch = one_file_batch(flat, offsets, table, file, kept + 1)
    batch.problems += problems
    return batch


def sound_table(columns: Mapping[str, Any]) -> pa.Table:
    """A table whose texts are texts and whose codes lead somewhere.

    Raises
    ------
    pyarrow.ArrowInvalid
        Where damaged bytes would come to light only when a value is looked at.
    """
    table = pa.table(dict(columns))
    table.validate(full=True)
    return table


def list_columns(plan: Plan, schema: pa.Schema) -> tuple[list[Column], list[Column]]:
    """Columns that hold samples, and the others. A channel's name without lists makes an attribute."""
    samples = [c for c in plan if c.kind == "channel" and is_list(schema.field(c.position).type)]
    return samples, [c for c in plan if c not in samples]
