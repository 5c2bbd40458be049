"""One row a sample: rows with the same trace_id are one trace, also where those of several stand by turns."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import pyarrow as pa
from numpy.typing import NDArray

from analysis.arrays import IntArray
from analysis.errors import ReadError, ReadProblem
from analysis.reading.batch import Batch, one_file_batch
from analysis.reading.claims import without_codes
from analysis.reading.columns import Column
from analysis.reading.constant_columns import constant_in_traces, not_constant
from analysis.reading.list_columns import is_number, numbers
from analysis.reading.source_file import SourceFile
from analysis.reading.tables import sound_table
from analysis.reading.torn_rows import begin_anew, put_together, run_starts
from analysis.traces.arrow_arrays import ArrowArray, buffer_of, number_array, text_array, valid_mask
from analysis.traces.schema import ATTRIBUTE_TYPES

#: From so many traces on, all of one sample, a table is no recording but a list of final values (own choice).
LEAST_LIST = 100


def long_batch(file: SourceFile, plan: Sequence[Column], table: pa.Table, *, first_line: int) -> Batch:
    """Traces from a table with one row a sample.

    Parameters
    ----------
    table : pyarrow.Table
        Columns named by `Column.key`. Its references are given up column by column, so that no more than one
        column is held twice.
    first_line : int
        Line (or row) of the first sample.

    Notes
    -----
    A channel is one number a sample. Any other column that is constant within every trace is an attribute;
    one that is not becomes a list per trace. Rows of one trace that are torn apart are put together where
    they go on (`torn_rows`), and are two traces with the same id where not.

    Raises
    ------
    ReadError
        Where no trace has more than one sample: a list of results, which names torque and angle too.
    """
    id_column = next(column for column in plan if column.kind == "id")
    codes, ids = _coded(table.column(id_column.key))
    table = table.drop_columns([id_column.key])
    channels: dict[str, NDArray[np.float64]] = {}
    others: list[Column] = []
    for column in plan:
        if column.kind == "channel" and is_number(table.column(column.key).type):
            channels[column.target] = flat(table.column(column.key), column.factor)
            table = table.drop_columns([column.key])
        elif column.kind != "id":
            others.append(column)
    starts = begin_anew(run_starts(codes), channels.get("time_s"), channels.get("torque_nm"))
    rows = first_rows = starts
    recording = put_together(codes, starts, channels.get("time_s"))
    if recording is not None:
        of_row = np.repeat(recording, np.diff(np.append(starts, len(codes))))
        order = np.argsort(of_row, kind="stable")
        table, codes = table.take(number_array(order)), codes[order]
        channels = {name: values[order] for name, values in channels.items()}
        rows = run_starts(of_row[order])
        first_rows = order[rows]
    offsets = np.concatenate((rows, [len(codes)])).astype(np.int64)
    if len(rows) == len(codes) >= LEAST_LIST:
        found = f"{len(rows)} traces of one sample each"
        advice = "this is a list of results, one row a trace: export the recorded curves"
        raise ReadError(file.problem(first_line, found, "many samples a trace", advice))
    names = [ids[code] for code in codes[rows].tolist()]
    del codes
    attributes: dict[str, Any] = {"trace_id": text_array(names)}
    notes: list[ReadProblem] = []
    for column in others:
        values = table.column(column.key)
        table = table.drop_columns([column.key])
        attributes[column.target], several = per_trace(column.target, values, offsets, file)
        notes += not_constant(file, column.target, first_rows[several] + first_line)
    batch = one_file_batch(channels, offsets, sound_table(attributes), file, first_rows + first_line)
    batch.problems += notes
    return batch


def flat(values: ArrowArray, factor: float = 1.0) -> NDArray[np.float64]:
    """A column of numbers as one float64 array in internal units; nulls become NaN."""
    target = np.empty(len(values))
    place = 0
    for chunk in values.chunks:
        target[place : place + len(chunk)] = numbers(chunk)
        place += len(chunk)
    if factor != 1.0:
        target *= factor
    return target


def _coded(values: ArrowArray) -> tuple[NDArray[Any], list[Any]]:
    """A column as codes into a list of its different values; null has a code of its own."""
    if not pa.types.is_dictionary(values.type):
        values = values.dictionary_encode(null_encoding="encode")
    values = values.unify_dictionaries()
    if values.num_chunks == 0:
        return np.empty(0, np.int32), []
    ids = values.chunk(0).dictionary.to_pylist()
    parts = [_codes(chunk.indices, len(ids)) for chunk in values.chunks]
    ids = [None if value is None else str(value) for value in ids]
    return np.concatenate(parts), [*ids, None]


def _codes(indices: ArrowArray, null_code: int) -> NDArray[Any]:
    codes = buffer_of(indices)
    return np.where(valid_mask(indices), codes, null_code) if indices.null_count else codes


def per_trace(
    name: str, values: ArrowArray, offsets: IntArray, file: SourceFile | None = None
) -> tuple[ArrowArray, IntArray]:
    """One value a trace where every trace holds one value only; a list a trace where not.

    What a trace has once by its meaning, such as its joint, is no list: traces with several have none, and
    are told beside it.
    """
    if pa.types.is_floating(values.type):
        constant = _constant(_bits(flat(values)), offsets)
    else:
        constant = not pa.types.is_nested(values.type) and _constant(_coded(values)[0], offsets)
    none = np.empty(0, np.int64)
    if constant:
        values = values.take(number_array(offsets[:-1]))
        return (values if file is None else without_codes(file, values)), none
    if name in ATTRIBUTE_TYPES and not pa.types.is_nested(values.type):
        values, several = constant_in_traces(values, *_coded(values), offsets)
        return (values if file is None else without_codes(file, values)), several
    values = values if file is None else without_codes(file, values)
    whole = values.combine_chunks()
    if isinstance(whole, pa.ChunkedArray):
        whole = pa.concat_arrays(whole.chunks)
    bounds = number_array(offsets.astype(np.int32))
    return pa.ListArray.from_arrays(bounds, whole), none


def _bits(values: NDArray[np.float64]) -> NDArray[np.int64]:
    """Numbers as bit patterns, so that NaN equals NaN."""
    return values.view(np.int64)


def _constant(codes: NDArray[Any], offsets: IntArray) -> bool:
    changes = np.flatnonzero(codes[1:] != codes[:-1]) + 1
    return bool(np.all(np.isin(changes, offsets)))
