"""List columns of Arrow tables as flat float64 arrays, without a detour over Python objects."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import pyarrow as pa
from numpy.typing import NDArray

from analysis.errors import ReadProblem
from analysis.figure_text import plural
from analysis.reading.source_file import SourceFile
from analysis.traces.arrow_arrays import PLAIN_NUMBERS, ArrowArray, buffer_of, valid_mask
from analysis.traces.schema import REQUIRED_CHANNELS

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


def is_list(kind: Any) -> bool:
    """True for every Arrow type that holds a sequence of numbers per row."""
    lists = (
        pa.types.is_list, pa.types.is_large_list, pa.types.is_fixed_size_list,
        pa.types.is_list_view, pa.types.is_large_list_view,
    )  # fmt: skip
    return any(test(kind) for test in lists) and is_number(kind.value_type)


def is_number(kind: pa.DataType) -> bool:
    """True for every Arrow type that casts to float64 without losing its meaning."""
    return kind in PLAIN_NUMBERS or pa.types.is_decimal(kind) or pa.types.is_null(kind)


def numbers(values: ArrowArray) -> NDArray[Any]:
    """An Arrow array of numbers as a numpy array; nulls become NaN. No copy where there is no null."""
    if values.null_count or values.type not in PLAIN_NUMBERS:
        values = values.cast(pa.float64(), safe=False)
    if values.null_count:
        return np.where(valid_mask(values), buffer_of(values), np.nan)
    return buffer_of(values)


def lists(chunk: ArrowArray) -> tuple[IntArray, NDArray[Any]]:
    """Lengths (-1 for null) and the numbers of all lists behind each other."""
    kind = chunk.type
    if pa.types.is_list_view(kind) or pa.types.is_large_list_view(kind):
        lengths = np.where(valid_mask(chunk), buffer_of(chunk.sizes), -1)
        return lengths.astype(np.int64), numbers(chunk.flatten())
    if not (pa.types.is_list(kind) or pa.types.is_large_list(kind)):
        chunk = chunk.cast(pa.list_(kind.value_type))
        kind = chunk.type
    if len(chunk) == 0:
        return np.empty(0, np.int64), np.empty(0)
    if chunk.null_count:
        counts = chunk.value_lengths()
        lengths = np.where(valid_mask(counts), buffer_of(counts), -1)
        return lengths.astype(np.int64), numbers(chunk.flatten())
    dtype = np.dtype(np.int64 if pa.types.is_large_list(kind) else np.int32)
    bounds = np.frombuffer(chunk.buffers()[1], dtype, len(chunk) + 1, chunk.offset * dtype.itemsize)
    first, last = int(bounds[0]), int(bounds[-1])
    return np.diff(bounds).astype(np.int64), numbers(chunk.values.slice(first, last - first))


@dataclass
class ListChannel:
    """One channel of many traces: trace ``i`` is ``values[starts[i] : starts[i] + lengths[i]]``."""

    values: FloatArray
    starts: IntArray
    lengths: IntArray

    def is_packed(self) -> bool:
        """True where the traces follow each other without a gap and none is null."""
        return bool(np.all(self.lengths >= 0)) and int(self.lengths.sum()) == len(self.values)


def align(
    channels: Mapping[str, ListChannel], file: SourceFile, ids: list[Any]
) -> tuple[dict[str, FloatArray], IntArray, IntArray, list[ReadProblem]]:
    """Channels that share their offsets.

    Returns
    -------
    flat : dict of ndarray
    offsets : ndarray
    kept : ndarray of row numbers
    problems : list of ReadProblem
        One for each trace whose channels differ in length. A trace that lacks an optional channel has NaN
        there.
    """
    angle = channels["angle_deg"].lengths
    same = all(np.array_equal(channel.lengths, angle) for channel in channels.values())
    if same and all(channel.is_packed() for channel in channels.values()):
        offsets = np.concatenate(([0], np.cumsum(angle)))
        return (
            {name: channel.values for name, channel in channels.items()},
            offsets,
            np.arange(len(angle)),
            [],
        )
    wrong = np.zeros(len(angle), bool)
    problems: list[ReadProblem] = []
    n_samples = np.maximum(angle, 0)
    for name, channel in channels.items():
        absent = channel.lengths <= 0 if name not in REQUIRED_CHANNELS else np.zeros(len(angle), bool)
        differs = (np.maximum(channel.lengths, 0) != n_samples) & ~absent & ~wrong
        problems += [
            _mismatch(
                file, row, f"trace {ids[row]!r}", name, (int(channel.lengths[row]), int(n_samples[row]))
            )
            for row in np.flatnonzero(differs).tolist()
        ]
        wrong |= differs
    kept = np.flatnonzero(~wrong)
    offsets = np.concatenate(([0], np.cumsum(n_samples[kept])))
    flat = {name: _gather(channel, kept, offsets) for name, channel in channels.items()}
    return flat, offsets, kept, problems


def _mismatch(file: SourceFile, row: int, trace: str, name: str, samples: tuple[int, int]) -> ReadProblem:
    return file.problem(
        int(row) + 1,
        f"{trace} with {plural(max(samples[0], 0), 'sample')} of {name} and {samples[1]} of angle_deg",
        "the same number in every channel",
        "the trace was left out; export it again",
    )


def _gather(channel: ListChannel, kept: IntArray, offsets: IntArray) -> FloatArray:
    target = np.full(int(offsets[-1]), np.nan)
    starts, lengths = channel.starts.tolist(), channel.lengths.tolist()
    for place, row in enumerate(kept.tolist()):
        if lengths[row] > 0:
            target[offsets[place] : offsets[place + 1]] = channel.values[
                starts[row] : starts[row] + lengths[row]
            ]
    return target
