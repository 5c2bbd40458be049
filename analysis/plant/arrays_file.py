"""Named arrays in one file, read by mapping it into memory: only the rows that are looked at are loaded."""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from analysis.whole_file import whole_file

#: Arrays begin at multiples of so many bytes, as vector instructions like them.
_ALIGNED = 64


def write_arrays(path: Path, arrays: Mapping[str, NDArray[Any]], notes: Any = None) -> None:
    """Write arrays of plain numbers, with notes that JSON can hold; the whole file or nothing.

    Raises
    ------
    OSError
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
    """The notes alone.

    Raises
    ------
    OSError
    """
    with open(path, "rb") as stream:
        return _head(stream)["notes"]


def read_arrays(path: Path) -> dict[str, NDArray[Any]]:
    """The arrays, read-only, mapped into memory.

    Raises
    ------
    OSError
    """
    with open(path, "rb") as stream:
        places = _head(stream)["arrays"]
        begin = stream.tell()
    content = np.memmap(path, np.uint8, "r")
    found = {}
    for name, (kind, shape, at) in places.items():
        dtype = np.dtype(kind)
        stop = begin + at + dtype.itemsize * int(np.prod(shape))
        found[name] = np.asarray(content[begin + at : stop]).view(dtype).reshape(shape)
    return found


def _head(stream: Any) -> Any:
    return json.loads(stream.read(int.from_bytes(stream.read(8), "little")))
