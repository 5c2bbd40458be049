"""Many traces as flat arrays, offsets and one attribute table."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import numpy as np
import pyarrow as pa
from numpy.typing import ArrayLike, NDArray

from analysis.arrays import FloatArray, IntArray
from analysis.errors import CallError
from analysis.traces.arrow_arrays import number_array, plain_value, plain_values, text_array
from analysis.traces.schema import ATTRIBUTE_TYPES, CHANNELS, OPTIONAL_CHANNELS
from analysis.traces.trace import Trace


@dataclass(frozen=True)
class Source:
    """One file that traces came from."""

    path: str  #: As the user named it, or as found below the folder that the user named.
    digest: str  #: ``sha256:`` and the hexadecimal digest of the file's bytes; empty where there was no file.
    layout: str  #: Name of the reader's layout.


def _frozen(values: ArrayLike, dtype: Any = np.float64) -> NDArray[Any]:
    array = np.ascontiguousarray(values, dtype=dtype)
    if array.flags.writeable:
        array = array.view()
        array.flags.writeable = False
    return array


@dataclass(frozen=True, eq=False)
class TraceSet:
    """Traces in columns: trace ``i`` is the samples ``offsets[i]:offsets[i + 1]`` of every channel.

    Examples
    --------
    >>> ts = TraceSet.from_lists(["a", "b"], [[0, 1, 2], [0, 1]], [[0.0, 0.5, 1.0], [0.0, 2.0]])
    >>> len(ts), ts[1].trace_id, ts[1].torque_nm.tolist()
    (2, 'b', [0.0, 2.0])
    """

    #: Shape (n_samples_total,).
    angle_deg: FloatArray
    torque_nm: FloatArray
    offsets: IntArray  #: Shape (n_traces + 1,).
    #: n_traces rows: ``trace_id`` is unique and has no null; columns named in `schema.ATTRIBUTE_TYPES` have
    #: that type.
    attributes: pa.Table
    #: Flat like the angle; NaN where a trace (or a sample) has no value.
    time_s: FloatArray | None = None
    step: FloatArray | None = None
    speed_rpm: FloatArray | None = None
    clamp_force_kn: FloatArray | None = None
    sources: tuple[Source, ...] = ()
    #: Shape (n_traces,). Which source each trace came from; -1 for none.
    source_index: IntArray = field(default_factory=lambda: np.empty(0, np.int64))

    def __post_init__(self) -> None:
        for name in CHANNELS:
            values = getattr(self, name)
            if values is not None:
                object.__setattr__(self, name, _frozen(values))
        object.__setattr__(self, "offsets", _frozen(self.offsets, np.int64))
        n = len(self.offsets) - 1
        index = self.source_index if len(self.source_index) else np.full(n, 0 if self.sources else -1)
        object.__setattr__(self, "source_index", _frozen(index, np.int64))
        self._check(n)

    def _check(self, n: int) -> None:
        total = len(self.angle_deg)
        if n < 0 or self.offsets[0] != 0 or self.offsets[-1] != total or np.any(np.diff(self.offsets) < 0):
            raise CallError(f"offsets must rise from 0 to the {total} samples")
        for name in CHANNELS:
            values = getattr(self, name)
            if values is not None and values.shape != (total,):
                raise CallError(f"{name} has shape {values.shape}, the angle has ({total},)")
        if self.attributes.num_rows != n or self.source_index.shape != (n,):
            raise CallError(f"{self.attributes.num_rows} attribute rows for {n} traces")
        if "trace_id" not in self.attributes.column_names:
            raise CallError("the attribute table has no trace_id")
        if len(self._row_of) != n:
            raise CallError("trace_id is not unique, or null")

    @classmethod
    def from_lists(
        cls,
        trace_ids: Sequence[str],
        angle_deg: Sequence[ArrayLike],
        torque_nm: Sequence[ArrayLike],
        attributes: Mapping[str, Sequence[Any]] | None = None,
        *,
        sources: tuple[Source, ...] = (),
        source_index: ArrayLike = (),
        **channels: Sequence[ArrayLike] | None,
    ) -> TraceSet:
        """Build a set from one sequence per trace (degrees, N·m); for tests, scripts and small files.

        Raises
        ------
        CallError
            Where lengths disagree, a channel is unknown, or a `trace_id` occurs twice.
        """
        lengths = [len(np.atleast_1d(np.asarray(a))) for a in angle_deg]
        flat: dict[str, FloatArray] = {}
        for name, lists in (("angle_deg", angle_deg), ("torque_nm", torque_nm), *channels.items()):
            if lists is None:
                continue
            if name not in CHANNELS:
                raise CallError(f"unknown channel {name}")
            parts = [np.atleast_1d(np.asarray(values, np.float64)) for values in lists]
            if [len(part) for part in parts] != lengths:
                raise CallError(f"{name}: a trace's samples differ in number from its angles")
            flat[name] = np.concatenate(parts) if parts else np.empty(0)
        offsets = np.concatenate(([0], np.cumsum(np.asarray(lengths, np.int64)))).astype(np.int64)
        table = attribute_table({"trace_id": list(trace_ids), **(attributes or {})})
        return cls(
            offsets=offsets,
            attributes=table,
            sources=sources,
            source_index=np.asarray(source_index, np.int64),
            **flat,
        )

    @classmethod
    def empty(cls) -> TraceSet:
        """A set with no trace."""
        return cls.from_lists([], [], [])

    @cached_property
    def _row_of(self) -> dict[str, int]:
        ids = self.attributes.column("trace_id").to_pylist()
        return {trace_id: row for row, trace_id in enumerate(ids) if trace_id is not None}

    @cached_property
    def trace_ids(self) -> tuple[str, ...]:
        """The ids in order."""
        return tuple(self._row_of)

    @cached_property
    def n_samples(self) -> IntArray:
        """Samples of each trace, shape (n_traces,)."""
        return np.diff(self.offsets)

    def row_of(self, trace_id: str) -> int:
        """Row of the trace with this id.

        Raises
        ------
        CallError
            Where there is none.
        """
        try:
            return self._row_of[trace_id]
        except KeyError:
            raise CallError(f"no trace {trace_id!r} in this set") from None

    def column(self, name: str) -> list[Any]:
        """The values of an attribute, one a trace; all None where no trace has it."""
        if name not in self.attributes.column_names:
            return [None] * len(self)
        return plain_values(self.attributes.column(name))

    def take(self, rows: ArrayLike) -> TraceSet:
        """The traces of these rows (integers), in that order, samples copied."""
        chosen = np.asarray(rows, np.int64)
        lengths = self.n_samples[chosen]
        offsets = np.concatenate(([0], np.cumsum(lengths))).astype(np.int64)
        index = np.repeat(self.offsets[chosen] - offsets[:-1], lengths) + np.arange(offsets[-1])
        flat = {name: getattr(self, name)[index] for name in CHANNELS if getattr(self, name) is not None}
        return TraceSet(
            offsets=offsets,
            attributes=self.attributes.take(number_array(chosen)),
            sources=self.sources,
            source_index=self.source_index[chosen],
            **flat,
        )

    @classmethod
    def concatenate(cls, sets: Sequence[TraceSet]) -> TraceSet:
        """One set of all traces in order; channels and attributes that some lack become NaN and null.

        Raises
        ------
        CallError
            Where a `trace_id` occurs twice.
        """
        sets = [s for s in sets if len(s)]
        if len(sets) <= 1:
            return sets[0] if sets else cls.empty()
        flat: dict[str, FloatArray] = {
            "angle_deg": np.concatenate([s.angle_deg for s in sets]),
            "torque_nm": np.concatenate([s.torque_nm for s in sets]),
        }
        for name in OPTIONAL_CHANNELS:
            if any(getattr(s, name) is not None for s in sets):
                parts = [getattr(s, name) for s in sets]
                flat[name] = np.concatenate(
                    [
                        np.full(len(s.angle_deg), np.nan) if p is None else p
                        for s, p in zip(sets, parts, strict=True)
                    ]
                )
        starts = np.cumsum([0, *(len(s.angle_deg) for s in sets)])
        offsets = np.concatenate(
            [[0], *(s.offsets[1:] + start for s, start in zip(sets, starts, strict=False))]
        )
        first_source = np.cumsum([0, *(len(s.sources) for s in sets)])
        index = [
            np.where(s.source_index < 0, -1, s.source_index + k)
            for s, k in zip(sets, first_source, strict=False)
        ]
        return cls(
            offsets=offsets,
            attributes=concatenate_tables([s.attributes for s in sets]),
            sources=tuple(source for s in sets for source in s.sources),
            source_index=np.concatenate(index),
            **flat,
        )

    def __len__(self) -> int:
        return len(self.offsets) - 1

    def __getitem__(self, row: int) -> Trace:
        n = len(self)
        if not -n <= row < n:
            raise IndexError(row)
        row %= n
        part = slice(int(self.offsets[row]), int(self.offsets[row + 1]))
        optional = {
            name: None if getattr(self, name) is None else getattr(self, name)[part]
            for name in OPTIONAL_CHANNELS
        }
        attributes = {
            name: plain_value(self.attributes.column(name)[row]) for name in self.attributes.column_names
        }
        return Trace(
            trace_id=attributes["trace_id"],
            angle_deg=self.angle_deg[part],
            torque_nm=self.torque_nm[part],
            attributes=attributes,
            **optional,
        )

    def __iter__(self) -> Iterator[Trace]:
        return (self[row] for row in range(len(self)))


def attribute_table(columns: Mapping[str, Sequence[Any]]) -> pa.Table:
    """An attribute table with the declared types; text is stored as text even where it looks like a number.

    Raises
    ------
    CallError
        Where a column cannot be given its declared type.
    """
    arrays: dict[str, Any] = {}
    for name, values in columns.items():
        declared = ATTRIBUTE_TYPES.get(name)
        try:
            if declared is not None and pa.types.is_string(declared):
                arrays[name] = text_array([None if v is None else str(v) for v in values])
            else:
                arrays[name] = pa.array(values, declared)
        except (pa.ArrowInvalid, pa.ArrowTypeError):
            if declared is not None and not pa.types.is_string(declared):
                raise CallError(f"attribute {name} is not of type {declared}") from None
            arrays[name] = text_array([None if v is None else str(v) for v in values])
    return pa.table(arrays)


def concatenate_tables(tables: Sequence[pa.Table]) -> pa.Table:
    """Tables under each other; where a column has two types, both become text so that nothing is lost."""
    try:
        return pa.concat_tables(tables, promote_options="permissive").combine_chunks()
    except (pa.ArrowInvalid, pa.ArrowTypeError):
        names = dict.fromkeys(name for table in tables for name in table.column_names)
        columns: dict[str, list[Any]] = {}
        for name in names:
            columns[name] = [
                value
                for table in tables
                for value in (
                    table.column(name).to_pylist() if name in table.column_names else [None] * table.num_rows
                )
            ]
        return attribute_table(columns)
