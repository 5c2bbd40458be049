"""The results table, a column for each figure of the catalogue, and the files it is written to."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Mapping, Sequence
from datetime import datetime
from pathlib import Path
from typing import Any, Protocol

import numpy as np
import pyarrow as pa

from analysis import __version__
from analysis.catalogue.figures import FIGURE_OF, FIGURES, Kind
from analysis.errors import CallError
from analysis.settings import Settings
from analysis.spreadsheet import Book, no_formula
from analysis.traces import Source
from analysis.traces.arrow_arrays import number_array, plain_values, text_array

_TYPES: dict[Kind, pa.DataType] = {
    "text": pa.string(),
    "texts": pa.list_(pa.string()),
    "number": pa.float64(),
    "count": pa.int64(),
    "flag": pa.bool_(),
    "time": pa.timestamp("us", tz="UTC"),
}

#: Endings that `write_results` knows.
RESULT_ENDINGS = (".parquet", ".csv", ".xlsx")


class HasResults(Protocol):
    """Anything that gives a results table, such as an `analysis.pipeline.Analysis`."""

    def results(self) -> pa.Table:
        """The results table, a column for each of `FIGURES`."""


def results_schema() -> pa.Schema:
    """Names and types of all columns; units and titles stand in the fields' metadata."""
    return pa.schema(
        [
            pa.field(one.name, _TYPES[one.kind], metadata={"unit": one.unit, "title": one.title})
            for one in FIGURES
        ]
    )


def build_table(values: Mapping[str, Any], *, settings: Settings, sources: Sequence[Source] = ()) -> pa.Table:
    """The results table from one array per column; where the values came from stands in its metadata.

    The metadata holds the program's version, the settings and the sources with their digests as JSON under
    ``tautograph``, and nothing that changes between two runs on the same input.

    Raises
    ------
    CallError
        Where a column is missing, or one is given that is not declared.
    """
    names = list(FIGURE_OF)
    if set(values) != set(names):
        raise CallError(f"columns differ from the declared ones: {sorted(set(values) ^ set(names))}")
    provenance = {
        "version": __version__,
        "settings": settings.as_dict(),
        "sources": [{"path": s.path, "digest": s.digest, "layout": s.layout} for s in sources],
    }
    schema = results_schema().with_metadata(
        {"tautograph": json.dumps(provenance, sort_keys=True, ensure_ascii=False)}
    )
    arrays = [_as_array(values[one.name], _TYPES[one.kind]) for one in FIGURES]
    return pa.Table.from_arrays(arrays, schema=schema)


def _of_kind(array: Any, kind: pa.DataType) -> Any:
    if pa.types.is_null(array.type):
        nulls: Any = pa.nulls  # the published stubs name single kinds only
        return nulls(len(array), kind)
    return array if array.type.equals(kind) else array.cast(kind)  # a cast loads all compute functions


def _as_array(values: Any, kind: pa.DataType) -> Any:
    if isinstance(values, pa.Array):
        return _of_kind(values, kind)
    if pa.types.is_floating(kind):
        # Missing is null, not NaN; and an endless uncertainty is no figure that a table could hold.
        reals = np.asarray(values, np.float64)
        return _of_kind(number_array(reals, np.isfinite(reals)), kind)
    if pa.types.is_integer(kind) and isinstance(values, np.ndarray):
        return _of_kind(number_array(np.asarray(values, np.int64)), kind)
    if pa.types.is_string(kind):
        return text_array(list(values))
    return pa.array(values, kind)


def write_results(analysis: HasResults, path: str | Path) -> None:
    """Write the results table; the ending says as what (.parquet, .csv, .xlsx). Same table, same bytes.

    In CSV and XLSX several findings stand in one cell, separated by ``; ``; absent values are empty cells.
    Columns have the same names in each; a second sheet of the workbook tells what they are.

    Raises
    ------
    CallError
        Where the ending is none of `RESULT_ENDINGS`.
    OSError
        Where the file cannot be written.
    """
    target = Path(path)
    ending = target.suffix.lower()
    if ending not in RESULT_ENDINGS:
        raise CallError(
            f"results are written as {', '.join(RESULT_ENDINGS)}, not {ending or 'without ending'}"
        )
    table = analysis.results()
    if ending == ".parquet":
        _write_parquet(table, target)
    elif ending == ".csv":
        target.write_bytes(to_csv(table).encode("utf-8"))
    else:
        _write_xlsx(table, target)


def _write_parquet(table: pa.Table, target: Path) -> None:
    import pyarrow.parquet as pq

    pq.write_table(table, target, compression="zstd")


def to_csv(table: pa.Table) -> str:
    """The table as comma-separated text with a header line; times as ISO 8601 in UTC."""
    text = _Lines()
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerow(table.column_names)
    columns = [[_as_text(value) for value in plain_values(column)] for column in table.columns]
    writer.writerows(zip(*columns, strict=True))
    return text.getvalue()


class _Lines(io.StringIO):
    """Lines with a plain end, of a writer that quotes whatever a line could end with, ``\\r`` too."""

    def write(self, line: str) -> int:
        return super().write(line.removesuffix("\r\n") + "\n")


def _as_text(value: Any) -> Any:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, list):
        return no_formula("; ".join(value))
    if isinstance(value, str):
        return no_formula(value)
    if isinstance(value, datetime):
        return value.isoformat().replace("+00:00", "Z")
    return value


def _write_xlsx(table: pa.Table, target: Path) -> None:
    book = Book(str(target), "Tautograph results")
    names = table.column_names
    book.add_table("Results", [(name, plain_values(table.column(name)), False) for name in names])
    figures = [FIGURE_OF[name] for name in names]
    told = {"Column": names, "Title": [one.title for one in figures], "Unit": [one.unit for one in figures],
            "What it is": [one.help for one in figures]}  # fmt: skip
    book.add_table("Columns", [(head, texts, False) for head, texts in told.items()])
    book.close()
