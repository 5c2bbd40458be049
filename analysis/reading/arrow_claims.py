"""How many bytes the compressed parts of an Arrow file claim to become, read before anything is unpacked.

The library unpacks whatever a part claims to be, so that a small file could ask for any amount of memory.
Each compressed buffer begins with its unpacked length; only these and the messages' heads are read here.

References
----------
Apache Arrow, columnar format: encapsulated message format, IPC file format, RecordBatch message and
compression; ``Message.fbs``: Message.header_type (1), header (2), bodyLength (3); RecordBatch.buffers (2),
compression (3); DictionaryBatch.data (1). FlatBuffers, binary format: tables, vtables, vectors of structures.
"""

from __future__ import annotations

import os
import struct
from dataclasses import dataclass
from typing import IO

FILE_MAGIC = b"ARROW1"
STREAM_MAGIC = b"\xff\xff\xff\xff"
_DICTIONARY_BATCH, _RECORD_BATCH = 2, 3
#: A head larger than this is damage: a table of ten thousand columns needs less (own choice).
_LARGEST_HEAD = 64 * 2**20


@dataclass(frozen=True)
class ArrowClaims:
    """What a file claims: the unpacked lengths of its compressed buffers together, and its record batches."""

    unpacked_bytes: int
    batches: int


def arrow_claims(path: str) -> ArrowClaims:
    """What a file or a stream claims, from the heads of its messages.

    Raises
    ------
    ValueError
        Where the file is damaged.
    OSError
        Where it cannot be read.
    """
    try:
        with open(path, "rb") as stream:
            if not stream.read(8).startswith(FILE_MAGIC):
                stream.seek(0)
            return _walk(stream)
    except struct.error:
        raise ValueError("a message that is cut short") from None


def _walk(stream: IO[bytes]) -> ArrowClaims:
    """From message to message until the mark of the end, or the end."""
    size = os.fstat(stream.fileno()).st_size
    total = batches = 0
    while True:
        start = stream.read(8)
        length = int.from_bytes(start[4:], "little", signed=True)
        if len(start) < 8 or not start.startswith(STREAM_MAGIC) or length == 0:
            return ArrowClaims(total, batches)  # the end, or the footer of a file
        if not 0 < length <= _LARGEST_HEAD:
            raise ValueError("a message whose head has no possible length")
        head = _Table.root(stream.read(length))
        body, body_length = stream.tell(), head.number(3)
        if not 0 <= body_length <= size - body:
            raise ValueError("a message that reaches beyond the end of the file")
        batches += head.byte(1) == _RECORD_BATCH
        for offset, packed in _compressed(head):
            if 8 <= packed <= body_length and 0 <= offset <= body_length - packed:
                stream.seek(body + offset)
                (unpacked,) = struct.unpack("<q", stream.read(8))
                total += max(unpacked, 0)  # -1: this one was left as it is
        stream.seek(body + body_length)


def _compressed(message: _Table) -> list[tuple[int, int]]:
    """Offset and length of the compressed buffers of a message."""
    kind, batch = message.byte(1), message.table(2)
    if kind == _DICTIONARY_BATCH and batch is not None:
        batch = batch.table(1)
    if kind not in (_DICTIONARY_BATCH, _RECORD_BATCH) or batch is None or batch.table(3) is None:
        return []
    return batch.pairs(2)


class _Table:
    """One table of a FlatBuffers message; fields that are absent have their default."""

    def __init__(self, data: bytes, place: int) -> None:
        self._data = data
        self._place = place
        (back,) = struct.unpack_from("<i", data, place)
        self._fields = place - back
        if not 0 <= self._fields <= len(data) - 4:
            raise ValueError("a message with a table out of its bounds")

    @classmethod
    def root(cls, data: bytes) -> _Table:
        """The table that a message begins with."""
        return cls(data, *struct.unpack_from("<I", data, 0))

    def number(self, field: int) -> int:
        """A field of 64 bits."""
        place = self._at(field)
        return 0 if place is None else int(struct.unpack_from("<q", self._data, place)[0])

    def byte(self, field: int) -> int:
        """A field of one byte."""
        place = self._at(field)
        return 0 if place is None else int(struct.unpack_from("<B", self._data, place)[0])

    def table(self, field: int) -> _Table | None:
        """A field that leads to another table."""
        place = self._at(field)
        if place is None:
            return None
        return _Table(self._data, place + struct.unpack_from("<I", self._data, place)[0])

    def pairs(self, field: int) -> list[tuple[int, int]]:
        """A field that leads to structures of two numbers of 64 bits."""
        place = self._at(field)
        if place is None:
            return []
        start = place + struct.unpack_from("<I", self._data, place)[0]
        (count,) = struct.unpack_from("<I", self._data, start)
        if count > len(self._data) // 16:
            raise ValueError("a message that claims more buffers than it has room for")
        return [struct.unpack_from("<qq", self._data, start + 4 + 16 * k) for k in range(count)]

    def _at(self, field: int) -> int | None:
        (size,) = struct.unpack_from("<H", self._data, self._fields)
        if 4 + 2 * field + 2 > size:
            return None
        (offset,) = struct.unpack_from("<H", self._data, self._fields + 4 + 2 * field)
        return self._place + offset if offset else None
