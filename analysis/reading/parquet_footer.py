"""How many numbers a Parquet file claims to hold, read from its footer before anything is decoded.

The library's own access to the metadata of a column ends the process on some damaged footers (an exception
that crosses the border between its two languages), and decoding first would let a small file ask for any
amount of memory. The few fields that are needed are therefore read here.

References
----------
Apache Parquet format, ``parquet.thrift``: FileMetaData.row_groups (4), RowGroup.columns (1),
ColumnChunk.meta_data (3), ColumnMetaData.path_in_schema (3), num_values (5), total_uncompressed_size (6).
Apache Thrift, compact protocol.
"""

from __future__ import annotations

import os
from typing import Any

MAGIC = b"PAR1"
#: Structures within each other that a footer may have; the format itself needs fewer than ten.
_LARGEST_DEPTH = 32

_TRUE, _FALSE, _BYTE, _I16, _I32, _I64, _DOUBLE, _BINARY, _LIST, _SET, _MAP, _STRUCT, _UUID = range(1, 14)

#: Which fields are kept, as a tree of field numbers.
_Wanted = dict[int, Any]
_NUM_VALUES, _UNPACKED_BYTES = 5, 6
_WANTED: _Wanted = {4: {1: {3: {3: {}, _NUM_VALUES: {}, _UNPACKED_BYTES: {}}}}}


def claimed_numbers(path: str) -> list[dict[str, int]]:
    """For each row group the number of values of each column, by the first part of the column's path.

    Raises
    ------
    ValueError
        Where the footer is damaged.
    OSError
        Where the file cannot be read.
    """
    return _by_group(path, _NUM_VALUES)


def claimed_bytes(path: str) -> list[dict[str, int]]:
    """The same of the bytes that each column has when it is unpacked. Raises ValueError or OSError."""
    return _by_group(path, _UNPACKED_BYTES)


def _by_group(path: str, wanted: int) -> list[dict[str, int]]:
    footer = _Compact(_footer(path)).struct(_WANTED)
    try:
        return [_claims(group, wanted) for group in footer.get(4, [])]
    except (AttributeError, TypeError, LookupError):  # a number where a table belongs
        raise ValueError("the footer holds something else than it should") from None


def _claims(group: dict[int, Any], wanted: int) -> dict[str, int]:
    columns: dict[str, int] = {}
    for chunk in group.get(1, []):
        column = chunk.get(3, {})
        parts = column.get(3, [])
        if not parts or wanted not in column:
            raise ValueError("the footer lacks a column's path or length")
        name = parts[0].decode("utf-8")
        columns[name] = columns.get(name, 0) + max(int(column[wanted]), 0)
    return columns


def _footer(path: str) -> bytes:
    with open(path, "rb") as stream:
        size = stream.seek(0, os.SEEK_END)
        stream.seek(max(size - 8, 0))
        length, magic = int.from_bytes(stream.read(4), "little"), stream.read(4)
        if magic != MAGIC or length > size - 12:
            raise ValueError("the file has no footer; it may have been cut short")
        stream.seek(size - 8 - length)
        return stream.read(length)


class _Compact:
    """A reader of Thrift's compact protocol that keeps the wanted fields and passes over all others."""

    def __init__(self, data: bytes) -> None:
        self._data = data
        self._place = 0

    def struct(self, wanted: _Wanted, depth: int = 0) -> dict[int, Any]:
        """The wanted fields of the structure that begins here."""
        if depth > _LARGEST_DEPTH:
            raise ValueError("the footer is nested too deep")
        kept: dict[int, Any] = {}
        field = 0
        while head := self._byte():
            field = field + (head >> 4) if head >> 4 else self._signed()
            kind = head & 15
            value = kind == _TRUE if kind in (_TRUE, _FALSE) else self._value(kind, wanted.get(field), depth)
            if field in wanted:
                kept[field] = value
        return kept

    def _value(self, kind: int, wanted: _Wanted | None, depth: int) -> Any:
        match kind:
            case 1 | 2 | 3:  # in lists a truth value takes a byte
                return self._byte()
            case 4 | 5 | 6:
                return self._signed()
            case 7:
                return self._bytes(8)
            case 8:
                return self._bytes(self._unsigned())
            case 9 | 10:
                return self._list(wanted, depth)
            case 11:
                return self._map(depth)
            case 12:
                return self.struct(wanted or {}, depth + 1)
            case 13:
                return self._bytes(16)
        raise ValueError(f"the footer holds a value of unknown kind {kind}")

    def _list(self, wanted: _Wanted | None, depth: int) -> list[Any]:
        head = self._byte()
        n = head >> 4 if head >> 4 != 15 else self._unsigned()
        if n > len(self._data) - self._place:
            raise ValueError(f"the footer claims a list of {n}")
        values = [self._value(head & 15, wanted, depth + 1) for _ in range(n)]
        return values if wanted is not None else []

    def _map(self, depth: int) -> None:
        n = self._unsigned()
        if n > len(self._data) - self._place:
            raise ValueError(f"the footer claims a map of {n}")
        kinds = self._byte() if n else 0
        for _ in range(n):
            self._value(kinds >> 4, None, depth + 1)
            self._value(kinds & 15, None, depth + 1)

    def _byte(self) -> int:
        if self._place >= len(self._data):
            raise ValueError("the footer is cut short")
        self._place += 1
        return self._data[self._place - 1]

    def _bytes(self, n: int) -> bytes:
        if n > len(self._data) - self._place:
            raise ValueError("the footer is cut short")
        self._place += n
        return self._data[self._place - n : self._place]

    def _unsigned(self) -> int:
        value = shift = 0
        while True:
            byte = self._byte()
            value |= (byte & 127) << shift
            if byte < 128:
                return value
            shift += 7
            if shift > 63:
                raise ValueError("the footer holds a number that is too long")

    def _signed(self) -> int:
        value = self._unsigned()
        return (value >> 1) ^ -(value & 1)
