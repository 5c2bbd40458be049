"""When recordings were made: moments that a clock can tell; others stay as text, so that nothing is lost."""

from __future__ import annotations

from datetime import UTC, datetime, tzinfo
from typing import Any

import pyarrow as pa
import pyarrow.compute as pc

from analysis.traces.arrow_arrays import ArrowArray, moment_array
from analysis.traces.schema import ATTRIBUTE_TYPES

#: From then on, and before then, a recording can have been made (own choice): clocks that were never set tell
#: the year 1 or 1601.
EARLIEST, LATEST = datetime(1900, 1, 1, tzinfo=UTC), datetime(2200, 1, 1, tzinfo=UTC)
_PER_SECOND = {"s": 1, "ms": 10**3, "us": 10**6, "ns": 10**9}


def moments(array: ArrowArray, zone: tzinfo) -> tuple[ArrowArray, list[str | None]]:
    """Moments in UTC, those without a zone taken in `zone`, and the text of what is none."""
    wanted = ATTRIBUTE_TYPES["started_at"]
    rest: list[str | None] = []
    if pa.types.is_timestamp(array.type):
        array, rest = _tellable(array)
        if array.type.tz is not None or zone == UTC:
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
    ticks: Any = array.cast(pa.int64())
    low, high = (pa.scalar(int(one.timestamp()) * _PER_SECOND[array.type.unit]) for one in (EARLIEST, LATEST))
    within: Any = pc.and_(pc.greater_equal(ticks, low), pc.less(ticks, high))
    if pc.all(within, min_count=0).as_py():
        return array, []
    texts = pc.if_else(within, pa.scalar(None, pa.string()), array.cast(pa.string())).to_pylist()
    return pc.if_else(within, array, pa.scalar(None, array.type)), texts


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
    if not pa.types.is_temporal(kind) or pa.types.is_interval(kind):
        return array
    number = pa.int32() if kind.bit_width == 32 else pa.int64()
    extremes: Any = pc.min_max(array.cast(number)).as_py()
    try:
        for one in extremes.values():
            pa.scalar(one, number).cast(kind).as_py()
    except (OverflowError, ValueError):
        return array.cast(pa.string())
    return array
