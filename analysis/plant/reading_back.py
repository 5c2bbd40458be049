"""What an archive holds: rows of traces and of days, and events that were written down beside them."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pyarrow as pa

from analysis.errors import TautographError
from analysis.plant.day_rows import NEW_QUANTITIES, day_schema
from analysis.plant.names import DAYS, INPUTS, LEVER
from analysis.reading.moments import EARLIEST, LATEST
from analysis.traces.schema import ATTRIBUTE_TYPES

#: Columns of the events file; `tool` may be empty: then it concerns all.
EVENT_COLUMNS = ("time", "tool", "kind", "text")
#: Columns that calibrations may have: error as found, and what is allowed, % of the reading.
CALIBRATION_COLUMNS = ("as_found_percent", "tolerance_percent")
#: Data tools that read the whole folder pass over names that begin with a stroke.
_EVENTS_NAMES = ("_events.parquet", "_events.csv", "events.parquet", "events.csv")
#: What reading a damaged file ends in; names of its columns may be no text.
_DAMAGE = (pa.ArrowException, OSError, KeyError, MemoryError, UnicodeDecodeError)
_MOMENT = pa.timestamp("us", tz="UTC")
_PARTITIONS = pa.schema([("year", pa.string()), ("month", pa.string()), ("joint", pa.string())])


class ArchiveError(TautographError):
    """A folder that is no archive, or an events file that cannot be used."""


def is_archive(folder: Path) -> bool:
    """Whether recordings were ever added to it."""
    return (folder / INPUTS).is_dir()


def read_rows(folder: Path, columns: Sequence[str], where: Any = None) -> pa.Table:
    """Rows of traces: these columns, in no fixed order; `where` is a filter of `pyarrow.compute`.

    Raises ArchiveError.
    """
    import pyarrow.dataset as ds

    _check(folder)
    names = sorted(str(file) for file in folder.glob("year=*/**/*.parquet"))
    with _damage_told(folder):
        files = ds.dataset(
            names,
            format="parquet",
            partitioning=ds.partitioning(_PARTITIONS, flavor="hive"),
            partition_base_dir=str(folder),
        )
        return _sound(files.to_table(columns=list(columns), filter=where))


def read_days(folder: Path, columns: Sequence[str] | None = None) -> pa.Table:
    """Day rows, see `analysis.plant.day_rows`: few whatever the number of traces; all columns or these.

    Raises ArchiveError.
    """
    from pyarrow.parquet import ParquetFile

    _check(folder)
    schema = day_schema()
    names = schema.names if columns is None else list(columns)
    tables = [schema.empty_table().select(names)]
    with _damage_told(folder):
        for file in sorted((folder / DAYS).glob("*.parquet")):
            # Files of a few hundred rows: threads for each would take longer than the reading.
            found = ParquetFile(str(file)).read(names, use_threads=False).replace_schema_metadata()
            tables.append(_with_new(found, schema).select(names))
        return _sound(pa.concat_tables(tables).combine_chunks())


def _with_new(days: pa.Table, schema: pa.Schema) -> pa.Table:
    """Day rows with empty columns for what an earlier version did not sum up."""
    for field in schema:
        if field.name not in days.column_names and field.name.startswith(NEW_QUANTITIES):
            days = days.append_column(field, pa.nulls(days.num_rows, field.type))
    return days


def read_events(folder: Path) -> pa.Table:
    """Events beside the archive (_events.csv or _events.parquet: time, tool, kind, text), or of a file, in
    order of time.

    Raises
    ------
    ArchiveError
        Where the file has other columns, or a time that is none.
    """
    kinds: dict[str, Any] = {name: pa.string() for name in EVENT_COLUMNS}
    kinds |= dict.fromkeys(CALIBRATION_COLUMNS, pa.float64())
    schema = pa.schema(kinds | {"time": _MOMENT})
    names = (folder,) if folder.is_file() else [folder / name for name in _EVENTS_NAMES]
    file = next((name for name in names if name.is_file()), None)
    if file is None:
        return schema.empty_table()
    try:
        if file.suffix == ".csv":
            from pyarrow.csv import read_csv

            given: pa.Table = read_csv(str(file))
        else:
            from pyarrow.parquet import ParquetFile

            given = ParquetFile(file).read()
        for name in CALIBRATION_COLUMNS:
            if name not in given.column_names:
                given = given.append_column(name, pa.nulls(given.num_rows, pa.float64()))
        table = _sound(given.select(schema.names).cast(schema).sort_by("time"))
        if table.column("time").null_count:
            raise pa.ArrowInvalid("an event without a time")
        for name, above in zip(CALIBRATION_COLUMNS, (-math.inf, 0.0), strict=True):
            values: list[Any] = table.column(name).drop_null().to_pylist()
            if not all(above < one < math.inf for one in values):
                raise pa.ArrowInvalid(f"{name} that is no error, or no tolerance above zero")
        return table
    except _DAMAGE as error:
        if isinstance(error, OSError) and error.errno:
            raise
        found = (str(error).splitlines() or ["damage"])[0]
        raise ArchiveError(
            f"{file}: found {found}; expected the columns {', '.join(EVENT_COLUMNS)}, "
            "times as 2026-03-14T06:00Z"
        ) from None


def _sound(table: pa.Table) -> pa.Table:
    """The table, its columns in the types of results; a time that no recording can have is damage."""
    import pyarrow.compute as pc

    from analysis.results import results_schema

    kinds = {one.name: one.type for one in results_schema()} | ATTRIBUTE_TYPES | {LEVER: pa.float64()}
    for k, name in enumerate(table.column_names):
        column = table.column(k)
        if column.type != kinds.get(name, column.type):
            column = column.cast(kinds[name])
            table = table.set_column(k, name, column)
        if pa.types.is_timestamp(column.type) or pa.types.is_date32(column.type):
            low, high = (pa.scalar(one, _MOMENT).cast(column.type) for one in (EARLIEST, LATEST))
            if not pc.all(pc.and_(pc.greater_equal(column, low), pc.less(column, high)), min_count=0).as_py():
                raise pa.ArrowInvalid(f"a time in {name} that no recording can have")
    table.validate(full=True)  # bytes that are no text are told here, not where somebody reads them
    return table


@contextmanager
def _damage_told(folder: Path) -> Iterator[None]:
    try:
        yield
    except _DAMAGE as error:
        if isinstance(error, OSError) and error.errno:  # the system's own
            raise
        why = (str(error).splitlines() or [type(error).__name__])[0]
        raise ArchiveError(f"{folder}: holds a file that cannot be read ({why}); put back a copy") from None


def _check(folder: Path) -> None:
    if not is_archive(folder):
        raise ArchiveError(f"{folder}: is no archive; make one with: analyse ... --results {folder}/")
