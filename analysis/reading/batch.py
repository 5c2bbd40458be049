"""Traces as a reader hands them over, and how those of many files become one set."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import UTC, tzinfo
from typing import NamedTuple

import numpy as np
import pyarrow as pa

from analysis.arrays import FloatArray, IntArray
from analysis.errors import ReadProblem
from analysis.figure_text import plural
from analysis.reading.attribute_join import AttributePart, join_attributes
from analysis.reading.attributes import UNREAD, declared
from analysis.reading.sound_values import sound_values
from analysis.reading.source_file import SourceFile
from analysis.traces import Source, TraceSet
from analysis.traces.arrow_arrays import number_array
from analysis.traces.schema import CHANNELS
from analysis.traces.trace_set import concatenate_tables


@dataclass
class Batch:
    """Traces of one or more files."""

    #: Shape (n_samples_total,). Internal units; angle and torque always, the others where at least one trace
    #: has them.
    channels: dict[str, FloatArray]
    offsets: IntArray  #: Shape (n_traces + 1,).
    attributes: pa.Table  #: ``trace_id`` and what else is known, one row a trace; types as the file has them.
    file_index: IntArray  #: Shape (n_traces,). Which file each trace came from.
    #: Shape (n_traces,). Line (text) or row (tables), counted from 1, at which the trace starts.
    lines: IntArray
    decimal: str = ""  #: Decimal sign of attributes that are still text; empty where the file knows types.
    zone: tzinfo = UTC  #: Zone of moments that state none.
    problems: list[ReadProblem] = field(default_factory=list)

    def __len__(self) -> int:
        return len(self.offsets) - 1


def join_batches(batches: Sequence[Batch], files: Sequence[SourceFile]) -> tuple[TraceSet, list[ReadProblem]]:
    """One set of all traces, in order of the files; what cannot be kept is listed.

    Left out: traces without id or without samples, and the second of two traces with the same id.
    Kept and noted: traces with samples that are not numbers (they count as not evaluated later).
    """
    batches = [batch for batch in batches if len(batch)]
    problems = [problem for batch in batches for problem in batch.problems]
    if not batches:
        return TraceSet.empty(), problems
    batches = sorted(batches, key=lambda batch: int(batch.file_index[0]))
    tables = [declared(b.attributes, b.zone, from_text=bool(b.decimal)) for b in batches]
    for batch, table in zip(batches, tables, strict=True):
        problems += _untold_moments(batch, table, files)
    table = join_attributes(
        [
            AttributePart(table, b.decimal, np.diff(b.offsets))
            for b, table in zip(batches, tables, strict=True)
        ]
    )
    file_index = np.concatenate([batch.file_index for batch in batches])
    lines = np.concatenate([batch.lines for batch in batches])
    lengths = np.concatenate([np.diff(batch.offsets) for batch in batches])
    order = np.argsort(file_index, kind="stable")
    ids = table.column("trace_id").to_pylist()
    kept, listed = _choose(order, ids, lengths, places=_Places(files, file_index, lines))
    problems += listed
    if len(kept) < len(ids) or np.any(kept[1:] < kept[:-1]):
        table = take_rows(table, kept)
    offsets = np.concatenate(([0], np.cumsum(lengths[kept])))
    channels = _join_channels(batches, kept, offsets, len(ids))
    kept_ids = [str(one) for one in table.column("trace_id").to_pylist()]

    def note(row: int, found: str, expected: str, advice: str) -> ReadProblem:
        file: SourceFile = files[file_index[kept[row]]]
        return file.problem(int(lines[kept[row]]), found, expected, advice, fatal=False)

    problems += sound_values(channels, offsets, kept_ids, note)
    used, source_index = np.unique(file_index[kept], return_inverse=True)
    traces = TraceSet(
        offsets=offsets,
        attributes=table,
        sources=tuple(Source(files[i].shown_path, files[i].digest, files[i].layout) for i in used),
        source_index=source_index.astype(np.int64),
        **channels,
    )
    return traces, problems


def _untold_moments(batch: Batch, table: pa.Table, files: Sequence[SourceFile]) -> list[ReadProblem]:
    """A note for each file with start times that are none, at the first of them."""
    name = f"started_at{UNREAD}"
    if name not in table.column_names or name in batch.attributes.column_names:
        return []
    texts = table.column(name).to_pylist()
    rows: dict[int, list[int]] = {}
    for row, text in enumerate(texts):
        if text is not None:
            rows.setdefault(int(batch.file_index[row]), []).append(row)
    return [
        files[index].problem(
            int(batch.lines[untold[0]]),
            f"{plural(len(untold), 'start time')} that cannot be read, first {texts[untold[0]]!r}",
            "a moment such as 2026-03-02T06:00:00Z",
            "these traces are read without one, so that their order is unknown; export it in this form",
            fatal=False,
        )
        for index, untold in rows.items()
    ]  # fmt: skip


class _Places(NamedTuple):
    """File and line of each trace."""

    files: Sequence[SourceFile]
    file_index: IntArray
    lines: IntArray

    def of(self, row: int) -> tuple[SourceFile, int]:
        return self.files[self.file_index[row]], int(self.lines[row])


def _choose(
    order: IntArray,
    ids: Sequence[str | None],
    lengths: IntArray,
    places: _Places,
) -> tuple[IntArray, list[ReadProblem]]:
    """Rows to keep, in order, and the problems of the others."""
    problems: list[ReadProblem] = []
    first: dict[str, int] = {}
    kept: list[int] = []
    n_samples = lengths.tolist()
    for row in order.tolist():
        trace_id = ids[row]
        if trace_id and n_samples[row] and first.setdefault(trace_id, row) == row:
            kept.append(row)
            continue
        file, line = places.of(row)
        if not trace_id:
            problems.append(file.problem(line, "a trace without trace_id", "a text", "give each trace an id"))
        elif not n_samples[row]:
            problems.append(
                file.problem(line, f"trace {trace_id!r} without samples", "at least one", "record it again")
            )
        else:
            problems.append(_duplicate(file, line, trace_id, *places.of(first[trace_id])))
    return np.asarray(kept, np.int64), problems


def _duplicate(file: SourceFile, line: int, trace_id: str, other: SourceFile, other_line: int) -> ReadProblem:
    return file.problem(
        line,
        f"trace_id {trace_id!r} a second time (first in {other.shown_path}, line {other_line})",
        "every trace_id once",
        "rename one of the two; the first one was kept",
    )


def _join_channels(
    batches: Sequence[Batch], kept: IntArray, offsets: IntArray, n_rows: int
) -> dict[str, FloatArray]:
    """Flat channels of the kept rows. One batch kept whole gives its arrays away without a copy."""
    names = [name for name in CHANNELS if any(name in batch.channels for batch in batches)]
    whole = len(kept) == n_rows and bool(np.all(kept[1:] > kept[:-1]))
    if whole and len(batches) == 1:
        return {name: batches[0].channels[name] for name in names}
    joined: dict[str, FloatArray] = {}
    firsts = np.concatenate(([0], np.cumsum([len(batch) for batch in batches])))
    place = np.full(n_rows, -1, np.int64)
    place[kept] = np.arange(len(kept))
    for name in names:
        target = np.empty(int(offsets[-1]))
        for batch, first in zip(batches, firsts, strict=False):
            _copy_rows(batch, name, place[first : first + len(batch)], offsets, target)
            batch.channels.pop(name, None)
        joined[name] = target
    return joined


def _copy_rows(batch: Batch, name: str, place: IntArray, offsets: IntArray, target: FloatArray) -> None:
    """Copy a batch's traces to their places, runs of neighbours at once; NaN where it lacks the channel."""
    values = batch.channels.get(name)
    breaks = np.flatnonzero((np.diff(place) != 1) | (place[:-1] < 0)) + 1
    starts = [0, *breaks.tolist()]
    for start, stop in zip(starts, [*starts[1:], len(place)], strict=True):
        if place[start] < 0:
            continue
        to = slice(int(offsets[place[start]]), int(offsets[place[stop - 1] + 1]))
        if values is None:
            target[to] = np.nan
        else:
            target[to] = values[int(batch.offsets[start]) : int(batch.offsets[stop])]


def stack_batches(batches: Sequence[Batch]) -> Batch:
    """Several batches of the same kind of content as one; NaN where one lacks a channel of another."""
    if len(batches) == 1:
        return batches[0]
    lengths = [int(batch.offsets[-1]) for batch in batches]
    channels = {}
    for name in CHANNELS:
        if any(name in batch.channels for batch in batches):
            parts = [
                batch.channels.get(name, np.full(length, np.nan))
                for batch, length in zip(batches, lengths, strict=True)
            ]
            channels[name] = np.concatenate(parts)
    return Batch(
        channels,
        np.concatenate(([0], np.cumsum(np.concatenate([np.diff(batch.offsets) for batch in batches])))),
        concatenate_tables([batch.attributes for batch in batches]),
        np.concatenate([batch.file_index for batch in batches]),
        np.concatenate([batch.lines for batch in batches]),
        batches[0].decimal,
        batches[0].zone,
        [problem for batch in batches for problem in batch.problems],
    )


def one_file_batch(
    channels: dict[str, FloatArray],
    offsets: IntArray,
    attributes: pa.Table,
    file: SourceFile,
    lines: IntArray,
) -> Batch:
    """A batch whose traces all come from one file."""
    n = len(offsets) - 1
    return Batch(channels, offsets, attributes, np.full(n, file.index, np.int64), lines)


def take_rows(table: pa.Table, rows: IntArray) -> pa.Table:
    """The rows of these numbers, in that order."""
    return table.take(number_array(rows))
