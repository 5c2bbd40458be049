"""Traces to files in the project's own layouts; what is written reads back equal."""

from __future__ import annotations

import json
import os
from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.ipc
import pyarrow.parquet as pq
from pyarrow import csv

from analysis.errors import CallError
from analysis.traces import TraceSet
from analysis.traces.arrow_arrays import number_array, text_array
from analysis.traces.schema import CHANNELS

#: Samples per row group: large enough to compress well, small enough for two threads to share a shift
#: (own choice, measured on shifts of fifteen million samples).
SAMPLES_PER_GROUP = 1_000_000

# A dictionary pays on ids and other text only, not on samples; the published stubs know only True and False
# here.
_ID: Any = ["trace_id"]

Path = str | os.PathLike[str]


def write_parquet(traces: TraceSet, path: Path) -> None:
    """Write one row a trace, zstd, row groups of about a million samples that hold whole traces.

    Raises
    ------
    OSError
        Where the file cannot be written.
    """
    schema = _list_schema(traces)
    with pq.ParquetWriter(
        os.fspath(path),
        schema,
        compression="zstd",
        use_dictionary=_ID,
        write_statistics=_ID,
    ) as writer:
        for start, stop in _groups(traces):
            writer.write_table(_list_rows(traces, start, stop, schema), row_group_size=max(stop - start, 1))


def write_arrow(traces: TraceSet, path: Path) -> None:
    """Write one row a trace as an Arrow IPC file (Feather version 2), not compressed: quickest to read."""
    schema = _list_schema(traces)
    with pa.OSFile(os.fspath(path), "wb") as sink, pa.ipc.new_file(sink, schema) as writer:
        for start, stop in _groups(traces):
            writer.write_table(_list_rows(traces, start, stop, schema))


def write_csv(traces: TraceSet, path: Path) -> None:
    """Write one row a sample, UTF-8, comma, decimal point; numbers with all digits, absent values empty.

    Raises
    ------
    CallError
        Where an attribute holds lists: text has no place for them.
    """
    nested = [field.name for field in traces.attributes.schema if pa.types.is_nested(field.type)]
    if nested:
        raise CallError(f"attributes {', '.join(nested)} hold lists, which CSV cannot; write Parquet instead")
    names = _attribute_names(traces)
    with open(path, "wb") as stream:
        header = ["trace_id", *_present(traces), *names]
        stream.write((",".join(map(_quoted, header)) + "\n").encode())
        for start, stop in _groups(traces):
            table = _sample_rows(traces, start, stop, names)
            csv.write_csv(
                table, stream, csv.WriteOptions(include_header=False, quoting_style="needed")
            )  # fmt: skip


def _quoted(name: str) -> str:
    return json.dumps(name, ensure_ascii=False) if any(mark in name for mark in ',"\n') else name


def _present(traces: TraceSet) -> list[str]:
    return [name for name in CHANNELS if getattr(traces, name) is not None]


def _attribute_names(traces: TraceSet) -> list[str]:
    return [name for name in traces.attributes.column_names if name != "trace_id"]


def _list_schema(traces: TraceSet) -> pa.Schema:
    """Id and attributes first, then the channels; an attribute that bears a channel's name is refused."""
    clash = set(traces.attributes.column_names) & set(_present(traces))
    if clash:
        raise CallError(f"attribute and channel share the name {', '.join(sorted(clash))}")
    fields: list[Any] = [pa.field("trace_id", pa.string())]
    fields += [traces.attributes.schema.field(name) for name in _attribute_names(traces)]
    fields += [pa.field(name, pa.list_(pa.float64())) for name in _present(traces)]
    return pa.schema(fields)


def _groups(traces: TraceSet) -> Iterator[tuple[int, int]]:
    """Ranges of whole traces with about `SAMPLES_PER_GROUP` samples each."""
    start = 0
    while start < len(traces):
        limit = traces.offsets[start] + SAMPLES_PER_GROUP
        stop = max(int(np.searchsorted(traces.offsets, limit, side="right")) - 1, start + 1)
        yield start, stop
        start = stop


def _list_rows(traces: TraceSet, start: int, stop: int, schema: pa.Schema) -> pa.Table:
    first, last = int(traces.offsets[start]), int(traces.offsets[stop])
    bounds = number_array((traces.offsets[start : stop + 1] - first).astype(np.int32))
    part = traces.attributes.slice(start, stop - start)
    columns: list[Any] = [part.column(name) for name in ("trace_id", *_attribute_names(traces))]
    for name in _present(traces):
        columns.append(pa.ListArray.from_arrays(bounds, number_array(getattr(traces, name)[first:last])))
    return pa.Table.from_arrays(columns, schema=schema)


def _sample_rows(traces: TraceSet, start: int, stop: int, names: Sequence[str]) -> pa.Table:
    first, last = int(traces.offsets[start]), int(traces.offsets[stop])
    row_of_sample = number_array(np.repeat(np.arange(start, stop), traces.n_samples[start:stop]))
    columns: dict[str, Any] = {"trace_id": traces.attributes.column("trace_id").take(row_of_sample)}
    for name in _present(traces):
        values = getattr(traces, name)[first:last]
        columns[name] = number_array(values, ~np.isnan(values))
    for name in names:
        column: Any = traces.attributes.column(name)
        if pa.types.is_timestamp(column.type):
            column = text_array([None if v is None else v.isoformat() for v in column.to_pylist()])
        columns[name] = column.take(row_of_sample)
    return pa.table(columns)
