"""A table in an Arrow file, read by mapping it into memory."""

from __future__ import annotations

from pathlib import Path

import pyarrow as pa

from analysis.whole_file import whole_file


def write_table(path: Path, table: pa.Table) -> None:
    """Keep a table as an Arrow file; the whole of it or nothing. Raises OSError."""
    with (
        whole_file(path) as unfinished,
        pa.OSFile(str(unfinished), "wb") as stream,
        pa.ipc.new_file(stream, table.schema) as writer,
    ):
        writer.write_table(table)


def read_table(path: Path) -> pa.Table:
    """A table that `write_table` kept. Raises OSError."""
    with pa.memory_map(str(path)) as stream:
        return pa.ipc.open_file(stream).read_all()
