"""Arrays, numbers, texts and lists as bytes, and back: data only, so that nothing in a message can run
code."""

from __future__ import annotations

import base64
import io
import json
from datetime import UTC, date, datetime
from typing import Any

import numpy as np

#: Marks the few kinds that JSON does not know; a group of this name in a recording is escaped by `_packed`.
_KIND = "\0kind"


def to_bytes(value: Any) -> bytes:
    """A message of None, bool, int, float, str, bytes, dates, numpy arrays and scalars, and lists and dicts
    of these.

    What is none of these becomes its text: a format's own types (references, handles) mean nothing elsewhere.
    """
    arrays: list[bytes] = []
    head = json.dumps(_packed(value, arrays)).encode()
    lengths = [len(head), *map(len, arrays)]
    return b"".join([np.array([len(lengths), *lengths], "<u8").tobytes(), head, *arrays])


def from_bytes(data: bytes) -> Any:
    """What `to_bytes` was given; tuples come back as lists, scalars of numpy as Python's own."""
    count = int(np.frombuffer(data, "<u8", 1)[0])
    ends = np.frombuffer(data, "<u8", count, 8).cumsum() + 8 * (count + 1)
    starts = [8 * (count + 1), *ends[:-1].tolist()]
    parts = [data[start:end] for start, end in zip(starts, ends.tolist(), strict=True)]
    return _unpacked(json.loads(parts[0]), parts[1:])


def _packed(value: Any, arrays: list[bytes]) -> Any:
    if isinstance(value, np.ndarray):
        return _packed_array(value, arrays)
    if isinstance(value, np.datetime64 | np.timedelta64):
        return _packed_array(np.asarray(value), arrays)  # its unit would be lost in a scalar of Python's own
    if isinstance(value, np.generic):
        value = value.item()
    if value is None or isinstance(value, bool | int | float | str):
        return value
    if isinstance(value, bytes):
        return {_KIND: "bytes", "value": base64.b64encode(value).decode()}
    if isinstance(value, datetime | date):
        kind = "datetime" if isinstance(value, datetime) else "date"
        return {_KIND: kind, "value": value.isoformat()}
    if isinstance(value, dict):
        items = [[str(key), _packed(item, arrays)] for key, item in value.items()]
        return {_KIND: "dict", "value": items}
    if isinstance(value, list | tuple):
        return [_packed(item, arrays) for item in value]
    return str(value)


def _packed_array(value: np.ndarray[Any, Any], arrays: list[bytes]) -> Any:
    if value.dtype.hasobject:
        return {_KIND: "objects", "value": [_packed(item, arrays) for item in value.tolist()]}
    stream = io.BytesIO()
    np.save(stream, value)  # holds no object, so nothing is pickled
    arrays.append(stream.getvalue())
    return {_KIND: "array", "value": len(arrays) - 1}


def _unpacked(value: Any, arrays: list[bytes]) -> Any:
    if isinstance(value, list):
        return [_unpacked(item, arrays) for item in value]
    if not isinstance(value, dict):
        return value
    content = value["value"]
    match value[_KIND]:
        case "array":
            return np.load(io.BytesIO(arrays[content]))
        case "objects":
            out = np.empty(len(content), object)
            out[:] = [_unpacked(item, arrays) for item in content]
            return out
        case "bytes":
            return base64.b64decode(content)
        case "datetime":
            moment = datetime.fromisoformat(content)
            return moment.astimezone(UTC) if moment.tzinfo else moment
        case "date":
            return date.fromisoformat(content)
        case _:
            return {key: _unpacked(item, arrays) for key, item in content}
