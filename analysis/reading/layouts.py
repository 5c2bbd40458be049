"""The registry: every layout that the program reads, in the order in which they are tried."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass

from analysis.errors import ReadError, ReadProblem
from analysis.reading import arrow_ipc, csv_layouts, excel, hdf5, joining_read, mdf, parquet, tdms
from analysis.reading.batch import Batch
from analysis.reading.source_file import SourceFile
from analysis.reading.tables import unfamiliar
from analysis.reading.text_form import decode, find_encoding, lines_of

TEXT_ENDINGS = (".csv", ".txt", ".tsv", ".asc", ".dat")


#: A file whose first bytes up to here are text was meant to be one (own choice: shorter than any header).
_LEAST_TEXT_BYTES = 16


@dataclass(frozen=True)
class Layout:
    """One layout."""

    name: str  #: For people, and for `Source.layout`.
    #: Files below a folder are looked at when they end so; a named file is looked at whatever its ending.
    endings: tuple[str, ...]
    #: True where the file's beginning shows this layout. Cheap; reads no samples.
    sniff: Callable[[SourceFile], bool]
    read: Callable[[SourceFile], Batch]  #: The traces. Called only where `sniff` said True.


CSV_TRACE = Layout("CSV, one file a trace", TEXT_ENDINGS, csv_layouts.sniff_trace, csv_layouts.read_trace)

LAYOUTS: tuple[Layout, ...] = (
    Layout("Parquet, one row a trace", (".parquet", ".pq"), parquet.sniff_lists, parquet.read_lists),
    Layout("Parquet, one row a sample", (".parquet", ".pq"), parquet.sniff_long, parquet.read_long),
    Layout(
        "Arrow, one row a trace", (".arrow", ".feather", ".ipc"), arrow_ipc.sniff_lists, arrow_ipc.read_lists
    ),
    Layout(
        "Arrow, one row a sample", (".arrow", ".feather", ".ipc"), arrow_ipc.sniff_long, arrow_ipc.read_long
    ),
    Layout("Joining results, OPC 40450-1 JSON", (".json", ".jsonl"), joining_read.sniff, joining_read.read),
    Layout("TDMS", (".tdms",), tdms.FORMAT.sniff, tdms.FORMAT.read),
    Layout("HDF5", (".h5", ".hdf5", ".hdf"), hdf5.FORMAT.sniff, hdf5.FORMAT.read),
    Layout("ASAM MDF", (".mf4", ".mdf", ".dat"), mdf.FORMAT.sniff, mdf.FORMAT.read),
    Layout("Excel", (".xlsx", ".xlsm"), excel.sniff, excel.read),
    Layout("CSV, one row a sample", TEXT_ENDINGS, csv_layouts.sniff_long, csv_layouts.read_long),
    CSV_TRACE,
)


def endings() -> frozenset[str]:
    """Endings that a folder is searched for."""
    return frozenset(ending for layout in LAYOUTS for ending in layout.endings)


def choose_layout(file: SourceFile) -> Layout:
    """The first layout that recognises the file.

    Raises
    ------
    UnfamiliarLayoutError
        Where it is a table, but none of the project's own: an import mapping can help.
    ReadError
        Where it is nothing that can be read.
    """
    if file.size == 0:
        raise ReadError(file.problem(None, "an empty file", "a recording", "record or export it again"))
    for layout in LAYOUTS:
        if layout.sniff(file):
            return layout
    return _refuse(file)


def _no_text(file: SourceFile) -> ReadProblem:
    """The problem of bytes that are no text; what begins as text has probably been torn on the disk."""
    strange = re.search(rb"[\x00-\x08\x0e-\x1f]", file.head)
    place = strange.start() if strange else 0
    if place >= _LEAST_TEXT_BYTES and find_encoding(file.head[:place]) is not None:
        line = file.head.count(b"\n", 0, place) + 1
        return file.problem(
            line, f"text, and then bytes that are none ({file.head[place : place + 8].hex(' ')} ...)",
            "text to the end", "the file was not written whole; record or export it again",
        )  # fmt: skip
    return file.problem(
        None, f"bytes that no layout knows ({file.head[:8].hex(' ')} ...)",
        "Parquet, Arrow or text", "export the recording in one of these",
    )  # fmt: skip


def _refuse(file: SourceFile) -> Layout:
    if parquet.is_parquet(file):
        parquet.read_other(file)
    if arrow_ipc.is_arrow(file):
        arrow_ipc.read_other(file)
    encoding = find_encoding(file.head)
    if encoding is None:
        raise ReadError(_no_text(file))
    first = next((line for line in lines_of(decode(file.head, encoding)) if line.strip()), "")
    raise unfamiliar(
        file, 1, f"text beginning {first[:60]!r}", "a header with angle and torque and their units"
    )
