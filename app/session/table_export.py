"""The table to a file or the clipboard: all, filtered or selected, in the units that are shown; no Qt."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from analysis.catalogue.units import DisplayUnits
from analysis.errors import CallError
from analysis.figure_text import titled
from analysis.listener import NOBODY, Listener
from analysis.spreadsheet import Book, no_formula
from app.display.columns import Column, ColumnSet, time_words

ENDINGS = (".csv", ".xlsx", ".parquet")


@dataclass(frozen=True, eq=False)
class TableExport:
    """What is written: which rows, which columns, in which units."""

    columns: ColumnSet
    rows: NDArray[np.int64]
    units: DisplayUnits

    def titles(self) -> list[str]:
        """Names with the unit that is shown; a name that ends in another unit loses that ending."""
        return [export_title(column, self.units) for column in self.columns]

    def cells(self) -> list[list[Any]]:
        """Row by row; absent values are None, times are text (ISO 8601, UTC)."""
        values = [_values(column, self.rows, self.units) for column in self.columns]
        return [list(row) for row in zip(*values, strict=True)]


def export_title(column: Column, units: DisplayUnits) -> str:
    """The head of a column in an export.

    Examples
    --------
    >>> from app.display.columns import number_column
    >>> torque = number_column("final_torque_nm", [1.0], "N·m", "Final torque")
    >>> export_title(torque, DisplayUnits("N·m")), export_title(torque, DisplayUnits("ft·lbf"))
    ('Final torque (N·m)', 'Final torque (ft·lbf)')
    """
    return titled(column.title, units.symbol(column.unit))


def _values(column: Column, rows: NDArray[np.int64], units: DisplayUnits) -> list[Any]:
    chosen = column.values[rows]
    if column.kind == "text":
        return [str(value) or None for value in chosen.tolist()]
    if column.kind == "time":
        return [
            None if np.isnan(value) else time_words(value).replace(" ", "T") + "Z"
            for value in chosen.tolist()
        ]
    factor = units.factor(column.unit)
    return [None if np.isnan(value) else value * factor for value in chosen.tolist()]


def write_table(export: TableExport, file: Path, listener: Listener = NOBODY) -> None:
    """Write as the ending says.

    Raises
    ------
    CallError
        Where the ending is not one of `ENDINGS`.
    OSError
        Where the file cannot be written.
    CancelledError
        Where the listener no longer wants it.
    """
    ending = file.suffix.lower()
    if ending == ".csv":
        file.write_text(as_csv(export, listener), encoding="utf-8-sig", newline="")
    elif ending == ".xlsx":
        _write_xlsx(export, file, listener)
    elif ending == ".parquet":
        _write_parquet(export, file)
    else:
        raise CallError(f"a table is written as {', '.join(ENDINGS)}, not {ending or 'without ending'}")


def as_csv(export: TableExport, listener: Listener = NOBODY) -> str:
    """Comma-separated text with a line of titles."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerow(export.titles())
    writer.writerows([_plain(cell) for cell in row] for row in _told(export, listener))
    return text.getvalue()


def _plain(cell: Any) -> Any:
    if isinstance(cell, str):
        return no_formula(cell)
    return "" if cell is None else cell


def _told(export: TableExport, listener: Listener) -> Iterator[list[Any]]:
    """Row by row; the listener hears of each."""
    total = len(export.rows)
    for done, row in enumerate(export.cells()):
        listener(done, total, f"row {done + 1} of {total}")
        yield row


def _write_xlsx(export: TableExport, file: Path, listener: Listener) -> None:
    columns = list(zip(*_told(export, listener), strict=True)) or [()] * len(export.titles())
    book = Book(str(file), "Traces")
    book.add_table(
        "Traces", [(head, cells, False) for head, cells in zip(export.titles(), columns, strict=True)]
    )
    book.close()


def _write_parquet(export: TableExport, file: Path) -> None:
    import pyarrow as pa
    import pyarrow.parquet as pq

    names, arrays = [], []
    for column in export.columns:
        kind = pa.float64() if column.kind == "number" else pa.string()
        names.append(export_title(column, export.units))
        arrays.append(pa.array(_values(column, export.rows, export.units), kind))
    pq.write_table(pa.Table.from_arrays(arrays, names=names), file, compression="zstd")
