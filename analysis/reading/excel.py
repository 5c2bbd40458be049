"""Excel workbooks: each sheet is read as a text table would be (optional package openpyxl)."""

from __future__ import annotations

import zipfile
from collections.abc import Iterable, Sequence
from datetime import date, time
from typing import Any

import numpy as np

from analysis.errors import ReadError, UnfamiliarLayoutError
from analysis.reading import csv_layouts
from analysis.reading.batch import Batch, stack_batches
from analysis.reading.channel_groups import CurveGroup, GroupedContent
from analysis.reading.claims import check_claim
from analysis.reading.extras import import_extra, library_errors, require_extra
from analysis.reading.isolated import read_groups_apart
from analysis.reading.source_file import HEAD_BYTES, SourceFile
from analysis.reading.tables import unfamiliar

KIND = "Excel"
#: Loaded before a file has its budget.
LIBRARY = "openpyxl"
#: Compressed content may grow by this factor, beyond a first allowance (own choice; workbooks grow about
#: tenfold).
LARGEST_GROWTH = 100
ALLOWED_BYTES = 50_000_000
#: Empty rows one after the other: more come from a cell that was put far below by mistake (own choice).
MOST_EMPTY_ROWS = 10_000


def sniff(file: SourceFile) -> bool:
    """A zip archive that begins as the parts of a workbook do."""
    return file.head.startswith(b"PK\x03\x04") and (
        b"[Content_Types].xml" in file.head or b"xl/" in file.head
    )


class SheetFile(SourceFile):
    """One sheet as the text file that it would be with tabs between its cells."""

    def __init__(self, file: SourceFile, name: str, data: bytes) -> None:
        super().__init__(file.path, file.index)
        self.sheet = name
        self._stem = file.stem
        self.__dict__.update(data=data, size=len(data), head=data[:HEAD_BYTES], digest=file.digest)

    @property
    def stem(self) -> str:
        """Name of the workbook; with the sheet's where several hold curves."""
        return self._stem

    def name_by_sheet(self) -> None:
        """From now on the sheet's name is part of the stem."""
        self._stem = f"{self._stem}-{self.sheet}"

    @property
    def is_small(self) -> bool:
        """All of it is in memory already."""
        return True


def _cell(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float):
        return repr(value)
    if isinstance(value, date | time):
        return value.isoformat()
    text = " ".join(str(value).split())
    return '"' + text.replace('"', '""') + '"' if '"' in text else text


def sheets(file: SourceFile) -> list[SheetFile]:
    """The sheets that hold anything.

    Raises
    ------
    ReadError
        Where the file is damaged, would grow beyond measure, or the package is missing.
    """
    require_extra(file, "openpyxl", "openpyxl", KIND)
    found = [
        SheetFile(file, group.name, group.columns["text"].tobytes())
        for group in read_groups_apart(file, __name__).groups
    ]
    return [sheet for sheet in found if sheet.data.strip()]


def groups_here(file: SourceFile) -> GroupedContent:
    """Each sheet as the bytes of its text, in this process."""
    openpyxl = import_extra(file, "openpyxl", "openpyxl", KIND)
    with library_errors(file, KIND, "openpyxl") as said:
        with zipfile.ZipFile(file.path) as archive:
            grown = sum(part.file_size for part in archive.infolist())
        if grown > ALLOWED_BYTES + LARGEST_GROWTH * file.size:
            found = f"an archive of {file.size} bytes that claims {grown}"
            raise ReadError(file.problem(None, found, "a workbook", "the file is damaged; export it again"))
        book = openpyxl.load_workbook(file.path, read_only=True, data_only=True, keep_links=False)
        try:
            made = []
            for sheet in book.worksheets:
                sheet.reset_dimensions()  # what a sheet claims to measure is not trusted
                data = _as_text(file, sheet.title, sheet.iter_rows(values_only=True))
                made.append(CurveGroup(sheet.title, {"text": np.frombuffer(data, np.uint8)}))
        finally:
            book.close()
    return GroupedContent(made, said)


def _as_text(file: SourceFile, name: str, rows: Iterable[Sequence[Any]]) -> bytes:
    """The rows as lines; cells are counted while they come, empty ones too."""
    lines: list[str] = []
    cells = empty = 0
    for row in rows:
        cells += len(row) + 1
        check_claim(file, cells)
        line = "\t".join(map(_cell, row))
        empty = 0 if line.strip() else empty + 1
        if empty > MOST_EMPTY_ROWS:
            found = f"sheet {name!r} with more than {MOST_EMPTY_ROWS} empty rows one after the other"
            raise ReadError(file.problem(len(lines), found, "a curve", "remove what stands far below"))
        lines.append(line if line.strip() else "")
    return "".join(f"{line}\n" for line in lines).encode()


def read(file: SourceFile) -> Batch:
    """The traces of all sheets that name angle and torque; the others are noted.

    Raises
    ------
    UnfamiliarLayoutError
        Where no sheet does, or one is unclear.
    """
    found = sheets(file)
    curves = [sheet for sheet in found if csv_layouts.form_of(sheet) is not None]
    if not curves:
        names = ", ".join(sheet.sheet for sheet in found) or "none"
        raise unfamiliar(file, None, f"sheets {names} without such a header", "angle and torque with units")
    if len(curves) > 1:
        for sheet in curves:
            sheet.name_by_sheet()
    batch = stack_batches([_read_sheet(sheet) for sheet in curves])
    batch.problems += [
        file.problem(
            None, f"sheet {sheet.sheet!r} without angle and torque", "a curve", "left out", fatal=False
        )
        for sheet in found
        if sheet not in curves
    ]
    return batch


def _read_sheet(sheet: SheetFile) -> Batch:
    return csv_layouts.read_long(sheet) if csv_layouts.sniff_long(sheet) else csv_layouts.read_trace(sheet)


def choose_sheet(file: SourceFile, name: str) -> SheetFile:
    """The sheet of this name, or the first that holds anything where the name is empty.

    Raises
    ------
    UnfamiliarLayoutError
        Where there is none.
    """
    found = sheets(file)
    for sheet in found:
        if name in ("", sheet.sheet):
            return sheet
    names = ", ".join(sheet.sheet for sheet in found) or "none"
    raise UnfamiliarLayoutError(
        file.problem(None, f"sheets {names}", f"a sheet {name!r}", "name the sheet in the import mapping")
    )
