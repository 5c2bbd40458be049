"""Arrow arrays from numpy arrays and texts, without pandas.

`pyarrow.array` and `pyarrow.scalar` import pandas at their first call, which costs a fifth to a third of a
second at the start of the program. Arrays made from buffers do not.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime
from typing import Any

import numpy as np
import pyarrow as pa
from numpy.typing import NDArray

_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_KINDS: dict[str, Any] = {"i8": pa.int64(), "i4": pa.int32(), "f8": pa.float64()}

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


def real_values(array: ArrowArray) -> NDArray[np.float64]:
    """Numbers of any kind as float64, NaN where null; the array may be chunked.

    Examples
    --------
    >>> real_values(number_array(np.array([1, 2]), np.array([True, False]))).tolist()
    [1.0, nan]
    """
    if isinstance(array, pa.ChunkedArray):
        array = pa.concat_arrays(array.chunks) if array.num_chunks else pa.nulls(0, array.type)
    reals = array.cast(pa.float64(), safe=False)
    buffer = reals.buffers()[1]
    if buffer is None:
        return np.full(len(reals), np.nan)
    values = np.frombuffer(buffer, np.float64)[reals.offset : reals.offset + len(reals)].copy()
    values[~valid_mask(reals)] = np.nan
    return values
