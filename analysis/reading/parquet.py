"""Parquet, one row a trace or one row a sample."""

from __future__ import annotations

from collections.abc import Container
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
from numpy.typing import NDArray

from analysis.errors import ReadError
from analysis.reading.batch import Batch
from analysis.reading.claims import check_claim, check_claimed_bytes, without_codes
from analysis.reading.columns import Column
from analysis.reading.list_columns import ListChannel, lists
from analysis.reading.long_rows import long_batch
from analysis.reading.parquet_footer import MAGIC, claimed_bytes, claimed_numbers
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
from analysis.traces import row_ranges
from analysis.traces.arrow_arrays import ArrowArray

#: Row groups decoded at the same time; measured best on two cores.
THREADS = 2
#: Samples of a channel unpacked at once, and bytes read at once (own choice: 8 MB of numbers).
SAMPLES_AT_ONCE, STREAM_BYTES = 1_000_000, 1_048_576


def is_parquet(file: SourceFile) -> bool:
    """True for Parquet files of any content."""
    return file.head.startswith(MAGIC)


def sniff_lists(file: SourceFile) -> bool:
    """Parquet whose angle and torque are lists."""
    return is_parquet(file) and is_list_layout(metadata_of(file).schema.to_arrow_schema())


def sniff_long(file: SourceFile) -> bool:
    """Parquet whose angle and torque are plain numbers."""
    return is_parquet(file) and is_long_layout(metadata_of(file).schema.to_arrow_schema())


def metadata_of(file: SourceFile) -> pq.FileMetaData:
    """The footer, read once."""
    known = file.__dict__.get("table")
    if known is None:
        known = file.__dict__["table"] = pq.read_metadata(file.path)
    return known


def read_lists(file: SourceFile, planner: Planner = plan_table) -> Batch:
    """One row a trace; `planner` says what the columns become."""
    metadata = metadata_of(file)
    schema = metadata.schema.to_arrow_schema()
    plan = planner(file, schema)
    samples, others = list_columns(plan, schema)
    with ThreadPoolExecutor(min(THREADS, row_ranges.most_threads)) as pool:
        channels = _read_channels(file, metadata, samples, pool)
        attributes = pool.submit(_read_attributes, file, metadata, others)
        return list_batch(file, plan, channels, attributes.result())


def _read_attributes(
    file: SourceFile, metadata: pq.FileMetaData, others: list[Column]
) -> dict[str, ArrowArray]:
    names = [column.name for column in others]
    table = _texts_packed(file, metadata, names).read(columns=names, use_threads=False)
    return {column.target: without_codes(file, table.column(column.name)) for column in others}


def _texts_packed(file: SourceFile, metadata: pq.FileMetaData, names: list[str]) -> pq.ParquetFile:
    """A reader that leaves texts as codes into their different values; refused where those claim too much."""
    groups = claimed_bytes(file.path)
    check_claimed_bytes(file, sum(n for group in groups for name, n in group.items() if name in names))
    schema = metadata.schema.to_arrow_schema()
    texts = [name for name in names if schema.field(name).type == pa.string()]
    return pq.ParquetFile(
        file.path, metadata=metadata, read_dictionary=texts, pre_buffer=False, buffer_size=STREAM_BYTES
    )


@dataclass
class _Piece:
    """One row group of one channel: where it goes in the flat array, and what came."""

    group: int
    start: int
    room: int
    lengths: NDArray[np.int64]


def _read_channels(
    file: SourceFile, metadata: pq.FileMetaData, samples: list[Column], pool: ThreadPoolExecutor
) -> dict[str, ListChannel]:
    claims = _checked_claims(file, metadata, [column.name for column in samples])
    pieces: dict[str, list[_Piece]] = {}
    values: dict[str, NDArray[np.float64]] = {}
    for column in samples:
        rooms = [group.get(column.name, 0) for group in claims]
        starts = np.concatenate(([0], np.cumsum(rooms, dtype=np.int64)))
        values[column.target] = np.empty(int(starts[-1]))
        pieces[column.target] = [
            _Piece(group, int(starts[group]), room, np.empty(0, np.int64)) for group, room in enumerate(rooms)
        ]
    # Neighbouring tasks read the same row group, so that both threads work on the same part of the file.
    tasks = [
        pool.submit(_fill, file, metadata, column.name, values[column.target], pieces[column.target][group])
        for group in range(metadata.num_row_groups)
        for column in samples
    ]
    for task in tasks:
        task.result()
    return {name: _channel(values[name], pieces[name]) for name in values}


def _checked_claims(
    file: SourceFile, metadata: pq.FileMetaData, names: Container[str]
) -> list[dict[str, int]]:
    """What the header claims, per row group and column; refused where no recording could hold as much.

    Counted are the columns of these names.

    An empty or absent list counts as one number.
    """
    claims = claimed_numbers(file.path)
    if len(claims) != metadata.num_row_groups:
        raise ValueError("the footer contradicts itself")
    check_claim(file, sum(count for group in claims for name, count in group.items() if name in names))
    return claims


def _fill(
    file: SourceFile, metadata: pq.FileMetaData, name: str, values: NDArray[np.float64], piece: _Piece
) -> None:
    reader = _streamed(file, metadata)
    lengths = [np.empty(0, np.int64)]
    place = piece.start
    n_rows = metadata.row_group(piece.group).num_rows
    rows = max(n_rows * SAMPLES_AT_ONCE // max(piece.room, 1), 1)
    for batch in reader.iter_batches(
        min(rows, max(n_rows, 1)), row_groups=[piece.group], columns=[name], use_threads=False
    ):
        chunk_lengths, numbers = lists(batch.column(0))
        lengths.append(chunk_lengths)
        if place + len(numbers) > piece.start + piece.room:
            raise ReadError(
                file.problem(None, "more samples than its header claims", "a sound file", "export it again")
            )
        values[place : place + len(numbers)] = numbers
        place += len(numbers)
    piece.lengths = np.concatenate(lengths)


def _streamed(file: SourceFile, metadata: pq.FileMetaData) -> pq.ParquetFile:
    """A reader that holds little of the packed bytes: many programs write all traces as one row group."""
    return pq.ParquetFile(file.path, metadata=metadata, pre_buffer=False, buffer_size=STREAM_BYTES)


def _channel(values: NDArray[np.float64], pieces: list[_Piece]) -> ListChannel:
    if not pieces:
        return ListChannel(values, np.empty(0, np.int64), np.empty(0, np.int64))
    starts = []
    for piece in pieces:
        filled = np.maximum(piece.lengths, 0)
        starts.append(piece.start + np.cumsum(filled) - filled)
    return ListChannel(values, np.concatenate(starts), np.concatenate([piece.lengths for piece in pieces]))


def read_long(file: SourceFile, planner: Planner = plan_table) -> Batch:
    """One row a sample; `planner` says what the columns become."""
    metadata = metadata_of(file)
    schema = metadata.schema.to_arrow_schema()
    plan = planner(file, schema)
    _checked_claims(file, metadata, [column.name for column in plan])
    names = [column.name for column in plan]
    table = _texts_packed(file, metadata, names).read(columns=names)
    table = table.rename_columns([column.key for column in plan])
    return long_batch(file, plan, table, first_line=1)


def read_other(file: SourceFile) -> Batch:
    """Columns of other names: says which ones are missing.

    Raises
    ------
    UnfamiliarLayoutError
        Always, unless names and units are clear after all.
    """
    schema = metadata_of(file).schema.to_arrow_schema()
    plan_table(file, schema)
    raise ReadError(different_kinds(file))
