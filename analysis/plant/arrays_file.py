"""Named arrays in one file, read by mapping it into memory: only the rows that are looked at are loaded."""

from __future__ import annotations

import json
import math
import os
from collections.abc import Mapping
from pathlib import Path
from typing import Any, BinaryIO

import numpy as np
from numpy.typing import NDArray

from analysis.checked_text import UnusableTextError, decoded, json_data
from analysis.errors import TautographError
from analysis.whole_file import whole_file

#: Arrays begin at multiples of so many bytes, as vector instructions like them.
_ALIGNED = 64


class DamagedArraysError(TautographError):
    """A file that is not what was written."""

    def __init__(self, path: Path, why: str) -> None:
        super().__init__(f"{path}: is damaged ({why}); remove this file and run the command again")


def write_arrays(path: Path, arrays: Mapping[str, NDArray[Any]], notes: Any = None) -> None:
    """Write arrays of plain numbers, with notes that JSON can hold; the whole file or nothing.

    Raises OSError.
    """
    places, at = {}, 0
    for name, array in arrays.items():
        places[name] = (array.dtype.str, array.shape, at)
        at += -(-array.nbytes // _ALIGNED) * _ALIGNED
    head = json.dumps({"arrays": places, "notes": notes}).encode()
    head += b" " * (-(len(head) + 8) % _ALIGNED)
    with whole_file(path) as unfinished, open(unfinished, "wb") as stream:
        stream.write(len(head).to_bytes(8, "little") + head)
        for array in arrays.values():
            stream.write(np.ascontiguousarray(array).tobytes())
            stream.write(b"\0" * (-array.nbytes % _ALIGNED))


def read_notes(path: Path) -> Any:
    """The notes alone. Raises DamagedArraysError or OSError."""
    with open(path, "rb") as stream:
        return _head(stream, path)["notes"]


def read_arrays(path: Path) -> dict[str, NDArray[Any]]:
    """The arrays, read-only, mapped into memory. Raises DamagedArraysError or OSError."""
    with open(path, "rb") as stream:
        places = _head(stream, path)["arrays"]
        begin = stream.tell()
    content = np.memmap(path, np.uint8, "r")[begin:]
    found = {}
    try:
        for name, (kind, shape, at) in places.items():
            dtype = np.dtype(kind)
            stop = at + dtype.itemsize * math.prod(shape)
            if dtype.hasobject or min(at, *shape) < 0 or stop > len(content):
                raise DamagedArraysError(path, f"{name} is not within it")
            found[name] = np.asarray(content[at:stop]).view(dtype).reshape(shape)
    except (TypeError, ValueError, AttributeError, SyntaxError) as error:  # names of types are parsed
        raise DamagedArraysError(path, str(error)) from None
    return found


def _head(stream: BinaryIO, path: Path) -> dict[str, Any]:
    size = int.from_bytes(stream.read(8), "little")
    if size > os.fstat(stream.fileno()).st_size:
        raise DamagedArraysError(path, "it is cut short")
    try:
        head = json_data(decoded(stream.read(size)), constants=True)
    except UnusableTextError as error:
        raise DamagedArraysError(path, f"what it holds {error}") from None
    if not isinstance(head, dict) or not head.keys() >= {"arrays", "notes"}:
        raise DamagedArraysError(path, "it does not say what it holds")
    return head
