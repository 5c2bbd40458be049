"""Arrow arrays from numpy arrays and texts, without pandas.

`pyarrow.array` and `pyarrow.scalar` import pandas at their first call, which costs a fifth to a third of a
second at the start of the program; so does `to_pylist` of moments, and `cast` imports all compute functions.
Arrays made from buffers, and numbers read from them, do not.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np
import pyarrow as pa
from numpy.typing import NDArray

_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_KINDS: dict[str, Any] = {"i8": pa.int64(), "i4": pa.int32(), "f8": pa.float64()}
#: Arrow's plain numbers as numpy knows them.
PLAIN_NUMBERS: dict[pa.DataType, Any] = {
    pa.float64(): np.float64, pa.float32(): np.float32, pa.float16(): np.float16,
    pa.int8(): np.int8, pa.int16(): np.int16, pa.int32(): np.int32, pa.int64(): np.int64,
    pa.uint8(): np.uint8, pa.uint16(): np.uint16, pa.uint32(): np.uint32, pa.uint64(): np.uint64,
}  # fmt: skip
#: Ticks of Arrow's moments in a second, by unit.
TICKS_A_SECOND = {"s": 1, "ms": 1_000, "us": 1_000_000, "ns": 1_000_000_000}

ArrowArray = Any
"""A `pyarrow.Array`; the published stubs describe it only in part."""


def _buffer(values: Any) -> pa.Buffer:
    return pa.py_buffer(values)


def _valid_bits(valid: NDArray[np.bool_] | None) -> pa.Buffer | None:
    if valid is None or valid.all():
        return None
    return pa.py_buffer(np.packbits(valid, bitorder="little").tobytes())


def number_array(values: NDArray[Any], valid: NDArray[np.bool_] | None = None) -> ArrowArray:
    """Integers (32 or 64 bits) or float64, null where `valid` is False; no copy where contiguous.

    Examples
    --------
    >>> number_array(np.array([1.5, 2.0]), np.array([True, False])).to_pylist()
    [1.5, None]
    """
    values = np.ascontiguousarray(values)
    kind = _KINDS[f"{values.dtype.kind}{values.dtype.itemsize}"]
    return pa.Array.from_buffers(kind, len(values), [_valid_bits(valid), _buffer(values)])


def text_array(texts: Sequence[str | None]) -> ArrowArray:
    """Texts, null where None.

    Examples
    --------
    >>> text_array(["left", None, "größer"]).to_pylist()
    ['left', None, 'größer']
    """
    # A text may hold half a surrogate pair where a file was damaged; Arrow takes valid UTF-8 only.
    parts = [b"" if text is None else text.encode("utf-8", "replace") for text in texts]
    ends = np.zeros(len(parts) + 1, np.int32)
    np.cumsum([len(part) for part in parts], out=ends[1:], dtype=np.int32)
    valid = np.array([text is not None for text in texts], bool)
    buffers = [_valid_bits(valid), _buffer(ends), pa.py_buffer(b"".join(parts))]
    return pa.Array.from_buffers(pa.string(), len(parts), buffers)


def coded_text_array(codes: NDArray[np.integer], names: Sequence[str]) -> ArrowArray:
    """Texts by code, null where the code is negative.

    Examples
    --------
    >>> coded_text_array(np.array([1, -1, 0]), ["left", "right"]).to_pylist()
    ['right', None, 'left']
    """
    parts = [*(name.encode("utf-8", "replace") for name in names), b""]
    valid = codes >= 0
    chosen = np.where(valid, codes, len(names))
    ends = np.zeros(len(codes) + 1, np.int32)
    np.cumsum(np.array([len(part) for part in parts])[chosen], out=ends[1:], dtype=np.int32)
    data = b"".join([parts[code] for code in chosen.tolist()])
    buffers = [_valid_bits(valid), _buffer(ends), pa.py_buffer(data)]
    return pa.Array.from_buffers(pa.string(), len(codes), buffers)


def truth_array(values: Sequence[bool | None]) -> ArrowArray:
    """Truth values, null where None."""
    valid = np.array([value is not None for value in values], bool)
    bits = np.packbits(np.array([bool(value) for value in values], bool), bitorder="little").tobytes()
    return pa.Array.from_buffers(pa.bool_(), len(values), [_valid_bits(valid), pa.py_buffer(bits)])


def moment_array(moments: Sequence[datetime | None]) -> ArrowArray:
    """Moments with a zone as UTC microseconds, null where None."""
    valid = np.array([moment is not None for moment in moments], bool)
    ticks = np.array([0 if m is None else _microseconds(m) for m in moments], np.int64)
    kind = pa.timestamp("us", tz="UTC")
    return pa.Array.from_buffers(kind, len(moments), [_valid_bits(valid), _buffer(ticks)])


def plain_value(scalar: Any) -> Any:
    """One value as Python has it; Arrow's own way loads pandas for the zone of a moment.

    Examples
    --------
    >>> plain_value(moment_array([datetime(2024, 3, 12, 6, tzinfo=UTC)])[0]).isoformat()
    '2024-03-12T06:00:00+00:00'
    """
    if scalar.type == pa.timestamp("us", tz="UTC"):
        return _EPOCH + timedelta(microseconds=scalar.value) if scalar.is_valid else None
    return scalar.as_py()


def plain_values(column: Any) -> list[Any]:
    """A column as Python has it, see `plain_value`."""
    if column.type == pa.timestamp("us", tz="UTC"):
        column = _in_one_piece(column)
        ticks, valid = _as_numpy(column, np.int64).tolist(), valid_mask(column).tolist()
        return [
            _EPOCH + timedelta(microseconds=tick) if known else None
            for tick, known in zip(ticks, valid, strict=True)
        ]
    return list(column.to_pylist())


def _microseconds(moment: datetime) -> int:
    since = moment - _EPOCH
    return (since.days * 86_400 + since.seconds) * 1_000_000 + since.microseconds


def valid_mask(array: ArrowArray) -> NDArray[np.bool_]:
    """False where the array (not chunked) is null."""
    bitmap = array.buffers()[0]
    if bitmap is None or array.null_count == 0:
        return np.ones(len(array), bool)
    bits = np.unpackbits(np.frombuffer(bitmap, np.uint8), bitorder="little")
    return bits[array.offset : array.offset + len(array)].astype(bool)


def buffer_of(values: ArrowArray) -> NDArray[Any]:
    """What stands in the memory of an Arrow array (not chunked) of plain numbers, null or not; no copy."""
    return _as_numpy(values, PLAIN_NUMBERS[values.type])


def _as_numpy(values: ArrowArray, kind: Any) -> NDArray[Any]:
    dtype = np.dtype(kind)
    buffer = values.buffers()[1]
    if buffer is None or len(values) == 0:
        return np.empty(0, dtype)
    return np.frombuffer(buffer, dtype, len(values), values.offset * dtype.itemsize)


def _in_one_piece(array: ArrowArray) -> ArrowArray:
    if not isinstance(array, pa.ChunkedArray):
        return array
    return pa.concat_arrays(array.chunks) if array.num_chunks else pa.nulls(0, array.type)


def real_values(array: ArrowArray) -> NDArray[np.float64]:
    """Numbers of any kind as float64, NaN where null; the array may be chunked.

    Examples
    --------
    >>> real_values(number_array(np.array([1, 2]), np.array([True, False]))).tolist()
    [1.0, nan]
    """
    array = _in_one_piece(array)
    if array.null_count == len(array):
        return np.full(len(array), np.nan)
    if array.type not in PLAIN_NUMBERS:
        array = array.cast(pa.float64(), safe=False)
    values = buffer_of(array).astype(np.float64)
    values[~valid_mask(array)] = np.nan
    return values


def moment_seconds(array: ArrowArray) -> NDArray[np.float64]:
    """Moments as seconds since 1970 UTC, NaN where null; moments without a zone are taken as UTC.

    Examples
    --------
    >>> moment_seconds(moment_array([datetime(1970, 1, 2, tzinfo=UTC), None])).tolist()
    [86400.0, nan]
    """
    array = _in_one_piece(array)
    if array.null_count == len(array):
        return np.full(len(array), np.nan)
    seconds = _as_numpy(array, np.int64) / TICKS_A_SECOND[array.type.unit]
    seconds[~valid_mask(array)] = np.nan
    return seconds
