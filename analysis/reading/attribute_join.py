"""Attribute tables of many files under each other, the same whatever files were read together."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pyarrow as pa
from numpy.typing import NDArray

from analysis.reading.attributes import typed
from analysis.traces.arrow_arrays import ArrowArray, number_array
from analysis.traces.schema import ATTRIBUTE_TYPES
from analysis.traces.trace_set import concatenate_tables


@dataclass(frozen=True)
class AttributePart:
    """The attributes of one batch."""

    table: pa.Table
    #: Decimal sign of numbers that are still text; empty where the file knows types and text is meant as
    #: text.
    decimal: str
    n_samples: NDArray[np.int64]  #: Shape (n_traces,).


def join_attributes(parts: Sequence[AttributePart]) -> pa.Table:
    """One table of all traces.

    Text of text files becomes numbers only here, so that the type of a column depends on all its values and
    not on which files were parsed together. Where a column varies within some trace, it is a list for every
    trace.
    """
    for name in {name for part in parts for name in part.table.column_names}:
        kinds = [part.table.schema.field(name).type for part in parts if name in part.table.column_names]
        if any(map(pa.types.is_list, kinds)) and not all(map(pa.types.is_list, kinds)):
            parts = [_as_list(part, name) for part in parts]
    joined = parts[0].table if len(parts) == 1 else concatenate_tables([part.table for part in parts])
    if len(parts) > 1:
        known = [name for name in ATTRIBUTE_TYPES if name in joined.column_names]
        joined = joined.select(known + sorted(name for name in joined.column_names if name not in known))
    for name in joined.column_names:
        decimals = {part.decimal for part in parts if name in part.table.column_names}
        if name not in ATTRIBUTE_TYPES and len(decimals) == 1 and (decimal := decimals.pop()):
            index = joined.column_names.index(name)
            joined = joined.set_column(index, name, _typed(joined.column(name), decimal))
    return joined


def _as_list(part: AttributePart, name: str) -> AttributePart:
    """The part with one value a sample where it has one value a trace."""
    if name not in part.table.column_names or not part.decimal:
        return part
    column = part.table.column(name)
    if pa.types.is_list(column.type):
        return part
    row_of_sample = number_array(np.repeat(np.arange(len(column)), part.n_samples))
    bounds = number_array(np.concatenate(([0], np.cumsum(part.n_samples))).astype(np.int32))
    values = column.take(row_of_sample)
    lists = pa.ListArray.from_arrays(bounds, _whole(values))
    index = part.table.column_names.index(name)
    return AttributePart(part.table.set_column(index, name, lists), part.decimal, part.n_samples)


def _typed(column: ArrowArray, decimal: str) -> ArrowArray:
    """Text as numbers where every value is spelled as one; in lists too."""
    if pa.types.is_string(column.type):
        return typed(column.to_pylist(), decimal)
    if pa.types.is_list(column.type) and pa.types.is_string(column.type.value_type):
        whole = _whole(column)
        return pa.ListArray.from_arrays(whole.offsets, typed(whole.values.to_pylist(), decimal))
    return column


def _whole(column: ArrowArray) -> ArrowArray:
    """A chunked column as one array."""
    whole = column.combine_chunks()
    if isinstance(whole, pa.ChunkedArray):
        whole = pa.concat_arrays(whole.chunks) if whole.num_chunks else pa.nulls(0, whole.type)
    return whole
