"""Arrow IPC files and streams (Feather version 2), one row a trace or one row a sample."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

import numpy as np
import pyarrow as pa
import pyarrow.ipc
from numpy.typing import NDArray

from analysis.errors import ReadError
from analysis.reading.arrow_claims import FILE_MAGIC, STREAM_MAGIC, arrow_claims
from analysis.reading.batch import Batch
from analysis.reading.claims import check_claimed_bytes
from analysis.reading.columns import Column
from analysis.reading.list_columns import ListChannel, lists
from analysis.reading.long_rows import long_batch
from analysis.reading.source_file import SourceFile
from analysis.reading.tables import (
    Planner,
    different_kinds,
    is_list_layout,
    is_long_layout,
    list_batch,
    list_columns,
    plan_table,
)
from analysis.traces.arrow_arrays import ArrowArray


def is_arrow(file: SourceFile) -> bool:
    """True for files and streams of Arrow record batches."""
    return file.head.startswith((FILE_MAGIC, STREAM_MAGIC))


def sniff_lists(file: SourceFile) -> bool:
    """Arrow whose angle and torque are lists."""
    return is_arrow(file) and is_list_layout(schema_of(file))


def sniff_long(file: SourceFile) -> bool:
    """Arrow whose angle and torque are plain numbers."""
    return is_arrow(file) and is_long_layout(schema_of(file))


@contextmanager
def _batches(file: SourceFile) -> Iterator[tuple[pa.Schema, Iterator[pa.RecordBatch]]]:
    claims = arrow_claims(file.path)
    check_claimed_bytes(file, claims.unpacked_bytes)
    # Read, not mapped: a mapped file that another process cuts short would kill this one.
    with pa.OSFile(file.path, "rb") as source:
        if file.head.startswith(FILE_MAGIC):
            with pa.ipc.open_file(source) as reader:
                if reader.num_record_batches > claims.batches:  # one batch could be named a million times
                    raise ValueError("the footer names more batches than there are")
                batches = (reader.get_batch(index) for index in range(reader.num_record_batches))
                yield reader.schema, batches
        else:
            with pa.ipc.open_stream(source) as stream:
                yield stream.schema, iter(stream)


def schema_of(file: SourceFile) -> pa.Schema:
    """The schema, read once."""
    known = file.__dict__.get("table")
    if known is None:
        with _batches(file) as (schema, _):
            known = file.__dict__["table"] = schema
    return known


def read_lists(file: SourceFile, planner: Planner = plan_table) -> Batch:
    """One row a trace; `planner` says what the columns become."""
    with _batches(file) as (schema, batches):
        plan = planner(file, schema)
        samples, others = list_columns(plan, schema)
        pieces: dict[str, list[tuple[NDArray[np.int64], NDArray[np.generic]]]] = {
            c.target: [] for c in samples
        }
        rest: list[pa.RecordBatch] = []
        for batch in batches:
            batch.validate(full=True)
            for column in samples:
                pieces[column.target].append(lists(batch.column(column.position)))
            rest.append(batch.select([column.position for column in others]))
        channels = {}
        for name in list(pieces):
            channels[name] = _channel(pieces.pop(name))
        attributes = _attributes(rest, others, schema)
    return list_batch(file, plan, channels, attributes)


def _channel(pieces: list[tuple[NDArray[np.int64], NDArray[np.generic]]]) -> ListChannel:
    lengths = np.concatenate([np.empty(0, np.int64), *(piece[0] for piece in pieces)])
    values = np.empty(sum(len(piece[1]) for piece in pieces))
    place = 0
    for _, numbers in pieces:
        values[place : place + len(numbers)] = numbers
        place += len(numbers)
    filled = np.maximum(lengths, 0)
    return ListChannel(values, np.cumsum(filled) - filled, lengths)


def _attributes(rest: list[pa.RecordBatch], others: list[Column], schema: pa.Schema) -> dict[str, ArrowArray]:
    table = pa.Table.from_batches(rest, pa.schema([schema.field(column.position) for column in others]))
    return {column.target: table.column(index) for index, column in enumerate(others)}


def read_long(file: SourceFile, planner: Planner = plan_table) -> Batch:
    """One row a sample; `planner` says what the columns become."""
    with _batches(file) as (schema, batches):
        plan = planner(file, schema)
        chosen = []
        for batch in batches:
            batch.validate(full=True)
            chosen.append(batch.select([column.position for column in plan]))
        wanted = pa.schema([schema.field(column.position) for column in plan])
        table = pa.Table.from_batches(chosen, wanted)
    table = table.rename_columns([column.key for column in plan])
    return long_batch(file, plan, table, first_line=1)


def read_other(file: SourceFile) -> Batch:
    """Columns of other names: says which ones are missing.

    Raises
    ------
    UnfamiliarLayoutError
        Where names or units are unclear.
    """
    plan_table(file, schema_of(file))
    raise ReadError(different_kinds(file))
