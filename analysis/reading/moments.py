"""When recordings were made: moments that a clock can tell; others stay as text, so that nothing is lost."""

from __future__ import annotations

from datetime import UTC, datetime, tzinfo
from typing import Any

import numpy as np
import pyarrow as pa

from analysis.arrays import FloatArray
from analysis.traces.arrow_arrays import TICKS_A_SECOND, ArrowArray, moment_array, real_values
from analysis.traces.schema import ATTRIBUTE_TYPES

#: From then on, and before then, a recording can have been made (own choice): clocks that were never set tell
#: the year 1 or 1601.
EARLIEST, LATEST = datetime(1900, 1, 1, tzinfo=UTC), datetime(2200, 1, 1, tzinfo=UTC)


def moments(array: ArrowArray, zone: tzinfo) -> tuple[ArrowArray, list[str | None]]:
    """Moments in UTC, those without a zone taken in `zone`, and the text of what is none."""
    wanted = ATTRIBUTE_TYPES["started_at"]
    rest: list[str | None] = []
    if pa.types.is_timestamp(array.type):
        array, rest = _tellable(array)
        if array.type.tz is not None or zone == UTC:
            if array.type == wanted:
                return array, rest
            try:
                return array.cast(wanted), rest
            except pa.ArrowInvalid:  # nanoseconds that are no whole microseconds: below what is kept
                return array.cast(wanted, safe=False), rest
    values = array.to_pylist()
    found = [_moment(value, zone) for value in values]
    unread = [
        None if moment is not None or value is None or value == "" else str(value)
        for moment, value in zip(found, values, strict=True)
    ]
    return moment_array(found), rest or unread


def _tellable(array: ArrowArray) -> tuple[ArrowArray, list[str | None]]:
    """Moments within the range, and the text of the others; an empty list where there is none."""
    low, high = (one.timestamp() * TICKS_A_SECOND[array.type.unit] for one in (EARLIEST, LATEST))
    ticks = _ticks(array)
    outside = (ticks < low) | (ticks >= high)
    if not outside.any():
        return array, []
    # Loaded late: it takes a tenth of a second, and few recordings have such moments.
    import pyarrow.compute as pc

    texts = pc.if_else(outside, array.cast(pa.string()), pa.scalar(None, pa.string())).to_pylist()
    return pc.if_else(outside, pa.scalar(None, array.type), array), texts


def _ticks(array: ArrowArray) -> FloatArray:
    """Times as numbers in their unit, NaN where there is none."""
    number = pa.int32() if array.type.bit_width == 32 else pa.int64()
    chunks = array.chunks if isinstance(array, pa.ChunkedArray) else [array]
    return np.concatenate([np.empty(0), *(real_values(chunk.view(number)) for chunk in chunks)])


def _moment(value: Any, zone: tzinfo) -> datetime | None:
    try:
        value = datetime.fromisoformat(value.strip()) if isinstance(value, str) else value
        if not isinstance(value, datetime):
            return None
        found = (value if value.tzinfo is not None else value.replace(tzinfo=zone)).astimezone(UTC)
    except (OverflowError, ValueError):
        return None
    return found if EARLIEST <= found < LATEST else None


def readable(array: ArrowArray) -> ArrowArray:
    """A column of times as it is, or as text where one of them is none that a program can show."""
    kind = array.type
    if not pa.types.is_temporal(kind) or pa.types.is_interval(kind) or getattr(kind, "unit", "") == "ns":
        return array  # in 64 bits of nanoseconds there are no years that cannot be shown
    ticks = _ticks(array)
    known = ticks[np.isfinite(ticks)]
    number = pa.int32() if kind.bit_width == 32 else pa.int64()
    try:
        for one in (known.min(), known.max()) if len(known) else ():
            pa.scalar(int(one), number).cast(kind).as_py()
    except (OverflowError, ValueError):
        return array.cast(pa.string())
    return array
