"""What was measured of a piece of traces, kept in a file until the company of each trace is known."""

from __future__ import annotations

import types
import typing
from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass, fields, is_dataclass, replace
from pathlib import Path
from typing import Any, TypeVar

import numpy as np
import pyarrow as pa
from numpy.typing import NDArray

from analysis.audit.table import measure_audits
from analysis.audit.turned_back import samples_needed
from analysis.curve.curve_table import CurveTable
from analysis.measured import Measured, SecondLook, without_samples
from analysis.operation.back_off_ratio import BackOff, Turn
from analysis.operation.impulse import Pulses
from analysis.operation.loosening_runs import LooseningTable
from analysis.operation.pulse_course import PulseCourse
from analysis.operation.stages import StageTable
from analysis.operation.straight_line import StraightLine
from analysis.operation.table import OperationTable
from analysis.operation.turning_runs import Run
from analysis.plant.arrays_file import read_arrays, read_notes, write_arrays
from analysis.plant.table_file import read_table, write_table
from analysis.shift.band_depth import ranked_points
from analysis.traces import Source, TraceSet
from analysis.traces.schema import CHANNELS
from analysis.verdict.joint_rows import JointRows
from analysis.verdict.quantities import Quantities
from analysis.verdict.rise_signs import RISE_POINTS, RiseScan

Record = TypeVar("Record")
Arrays = Mapping[str, NDArray[Any]]

#: Tables with one entry a trace in every array, by the name that their arrays bear in the file.
ROW_TABLES: dict[str, Any] = {
    "curves": CurveTable,
    "quantities": Quantities,
    "scan": RiseScan,
    "loosenings": LooseningTable,
    "course": PulseCourse,
}
#: What a record in the notes may be made of, beside plain values.
_RECORDS = {one.__name__: one for one in (BackOff, Turn, Run, StraightLine, np.ndarray)}


@dataclass(frozen=True)
class RowRange:
    """Neighbouring rows of one piece."""

    folder: str  #: Where the piece's files lie.
    start: int
    stop: int

    @property
    def rows(self) -> slice:
        """As an index."""
        return slice(self.start, self.stop)


def measured_path(folder: str | Path) -> Path:
    """The file whose presence says that a piece was measured."""
    return Path(folder) / "measured"


def seen_path(folder: str | Path) -> Path:
    """The file with the second look."""
    return Path(folder) / "seen"


def _attributes_path(folder: str | Path) -> Path:
    return Path(folder) / "attributes"


def save_measured(folder: Path, measured: Measured, order: NDArray[np.int64], notes: Any) -> None:
    """Keep what was measured, without samples, and notes; `order` is the place of each trace in the piece.

    Raises OSError.
    """
    operations = measured.operations
    needed = operations.audited | samples_needed(measured.traces, operations.turned_back)
    traces = without_samples(measured.traces, needed)
    arrays: dict[str, NDArray[Any]] = {"order": order, "judged_rate_deg": measured.judged_rate_deg}
    tables = {name: getattr(measured, name) for name in ("curves", "quantities", "scan")}
    for name, table in (tables | _operation_tables(operations)).items():
        arrays |= {f"{name}.{one.name}": getattr(table, one.name) for one in fields(table)}
    arrays["operation"] = operations.operation
    names = ("offsets", "source_index", *(one for one in CHANNELS if getattr(traces, one) is not None))
    arrays |= {f"traces.{name}": getattr(traces, name) for name in names}
    folder.mkdir(parents=True, exist_ok=True)
    write_table(_attributes_path(folder), traces.attributes)
    kept = {
        "sources": [asdict(source) for source in traces.sources],
        "back_offs": [_plain(one) for one in operations.back_offs],
        "story": notes,
    }
    write_arrays(measured_path(folder), arrays, kept)


def load_story(folder: str | Path) -> Any:
    """The notes that were given to `save_measured`."""
    return read_notes(measured_path(folder))["story"]


def load_sources(folder: str | Path) -> tuple[Source, ...]:
    """The files that the piece's traces came from."""
    return tuple(Source(**one) for one in read_notes(measured_path(folder))["sources"])


def load_attributes(folder: str | Path) -> pa.Table:
    """The attributes of a piece's traces."""
    return read_table(_attributes_path(folder))


def load_measured(
    ranges: Sequence[RowRange], rows_of: Callable[[TraceSet], JointRows]
) -> tuple[Measured, JointRows, NDArray[np.int64]]:
    """What was measured of the traces of some ranges, under each other, their joints, and their places.

    Audits are few and short: they are read anew from their samples, which are kept.
    """
    parts = [_load_range(one) for one in ranges]
    firsts = np.cumsum([0, *(one.stop - one.start for one in ranges)]).tolist()
    operations = OperationTable(
        np.concatenate([part.operations.operation for part, _ in parts]),
        _join_pulses([part.operations.pulses for part, _ in parts], firsts),
        _join_rows(LooseningTable, [part.operations.loosenings for part, _ in parts]),
        _join_stages([part.operations.stages for part, _ in parts]),
        _join_rows(PulseCourse, [part.operations.course for part, _ in parts]),
        tuple(
            _moved(one, first)
            for (part, _), first in zip(parts, firsts, strict=False)
            for one in part.operations.back_offs
        ),
    )
    traces = TraceSet.concatenate([part.traces for part, _ in parts])
    rows = rows_of(traces)
    measured = Measured(
        traces,
        _join_rows(CurveTable, [part.curves for part, _ in parts]),
        operations,
        measure_audits(traces, operations.audited, operations.turned_back, rows),
        _join_rows(Quantities, [part.quantities for part, _ in parts]),
        _join_rows(RiseScan, [part.scan for part, _ in parts]),
        np.concatenate([part.judged_rate_deg for part, _ in parts]),
    )
    return measured, rows, np.concatenate([order for _, order in parts])


def save_seen(folder: Path, seen: SecondLook) -> None:
    """Keep a second look at a piece. Raises OSError."""
    write_arrays(seen_path(folder), {one.name: getattr(seen, one.name) for one in fields(seen)})


def load_seen(ranges: Sequence[RowRange], *, ranked_only: bool = False) -> SecondLook:
    """The second looks at some ranges, under each other.

    Parameters
    ----------
    ranked_only : bool
        Of the rises only the points that many curves are compared by: a quarter of the memory.
    """

    def joined(name: str, take: Callable[[NDArray[Any]], NDArray[Any]]) -> NDArray[Any]:
        # File after file: what is mapped counts as memory in use until it is let go.
        return np.concatenate([take(read_arrays(seen_path(one.folder))[name][one.rows]) for one in ranges])

    points = slice(None)
    if ranked_only:
        known = joined("rises", lambda rises: np.isfinite(rises.sum(axis=1)))
        points = ranked_points(int(known.sum()), RISE_POINTS)
    return SecondLook(
        teeth=joined("teeth", np.array), rises=joined("rises", lambda rises: np.array(rises[:, points]))
    )


def _operation_tables(operations: OperationTable) -> dict[str, Any]:
    return {name: getattr(operations, name) for name in ("loosenings", "stages", "course", "pulses")}


def row_table(kind: type[Record], name: str, arrays: Arrays, rows: slice) -> Record:
    """Some rows of one of `ROW_TABLES`, copied."""
    return kind(**{one.name: np.array(arrays[f"{name}.{one.name}"][rows]) for one in fields(kind)})  # type: ignore[arg-type]


@dataclass(frozen=True, eq=False)
class _Part:
    """What is kept of one range."""

    traces: TraceSet
    curves: CurveTable
    operations: OperationTable
    quantities: Quantities
    scan: RiseScan
    judged_rate_deg: NDArray[np.float64]


def _load_range(one: RowRange) -> tuple[_Part, NDArray[np.int64]]:
    arrays, notes = read_arrays(measured_path(one.folder)), read_notes(measured_path(one.folder))
    tables = {name: row_table(kind, name, arrays, one.rows) for name, kind in ROW_TABLES.items()}
    back_offs = [_rebuilt(BackOff, plain) for plain in notes["back_offs"]]
    operations = OperationTable(
        np.array(arrays["operation"][one.rows]),
        _some_pulses(arrays, one),
        tables.pop("loosenings"),
        _some_stages(arrays, one),
        tables.pop("course"),
        tuple(
            _moved(found, -one.start)
            for found in back_offs
            if all(one.start <= row < one.stop for row in found.rows)
        ),
    )
    part = _Part(
        _some_traces(arrays, notes, one),
        operations=operations,
        judged_rate_deg=np.array(arrays["judged_rate_deg"][one.rows]),
        **tables,
    )
    return part, np.array(arrays["order"][one.rows])


def _some_traces(arrays: Arrays, notes: Any, one: RowRange) -> TraceSet:
    offsets = arrays["traces.offsets"][one.start : one.stop + 1]
    samples = slice(int(offsets[0]), int(offsets[-1]))
    index = np.array(arrays["traces.source_index"][one.rows])
    used = np.unique(index[index >= 0])
    sources = [Source(**notes["sources"][k]) for k in used.tolist()]
    return TraceSet(
        offsets=offsets - offsets[0],
        attributes=load_attributes(one.folder).slice(one.start, one.stop - one.start),
        sources=tuple(sources),
        source_index=np.where(index < 0, -1, np.searchsorted(used, index)),
        **{
            name: np.array(arrays[f"traces.{name}"][samples])
            for name in CHANNELS
            if f"traces.{name}" in arrays
        },
    )


def _some_stages(arrays: Arrays, one: RowRange) -> StageTable:
    offsets = arrays["stages.offsets"][one.start : one.stop + 1]
    entries = slice(int(offsets[0]), int(offsets[-1]))
    kept = {f.name: np.array(arrays[f"stages.{f.name}"][entries]) for f in fields(StageTable)}
    return StageTable(**(kept | {"offsets": offsets - offsets[0]}))


def _some_pulses(arrays: Arrays, one: RowRange) -> Pulses:
    first, last = np.searchsorted(arrays["pulses.rows"], (one.start, one.stop)).tolist()
    offsets = arrays["pulses.offsets"][first : last + 1]
    points = slice(int(offsets[0]), int(offsets[-1]))
    kept = {
        f.name: np.array(arrays[f"pulses.{f.name}"][points if f.name in _OF_POINTS else slice(first, last)])
        for f in fields(Pulses)
    }
    return Pulses(**(kept | {"offsets": offsets - offsets[0], "rows": kept["rows"] - one.start}))


#: Arrays of `Pulses` that hold an entry a point, not one a trace.
_OF_POINTS = ("sample", "angle_deg", "torque_nm")


def _join_rows(kind: type[Record], tables: Sequence[Record]) -> Record:
    return kind(**{one.name: np.concatenate([getattr(t, one.name) for t in tables]) for one in fields(kind)})  # type: ignore[arg-type]


def _join_offsets(tables: Sequence[Any]) -> NDArray[np.int64]:
    firsts = np.cumsum([0, *(int(table.offsets[-1]) for table in tables)])
    shifted = [table.offsets[1:] + first for table, first in zip(tables, firsts, strict=False)]
    return np.concatenate([np.zeros(1, np.int64), *shifted])


def _join_stages(tables: Sequence[StageTable]) -> StageTable:
    return replace(_join_rows(StageTable, tables), offsets=_join_offsets(tables))


def _join_pulses(tables: Sequence[Pulses], firsts: Sequence[int]) -> Pulses:
    rows = [table.rows + first for table, first in zip(tables, firsts, strict=False)]
    return replace(_join_rows(Pulses, tables), rows=np.concatenate(rows), offsets=_join_offsets(tables))


def _moved(found: BackOff, by: int) -> BackOff:
    """The same back-off where its recordings bear other row numbers."""
    turns = [replace(turn, run=replace(turn.run, row=turn.run.row + by)) for turn in found.turns]
    return replace(found, rows=tuple(row + by for row in found.rows), turns=tuple(turns))


def _plain(value: Any) -> Any:
    """A frozen record as what JSON can hold."""
    if is_dataclass(value):
        return {one.name: _plain(getattr(value, one.name)) for one in fields(value)}
    if isinstance(value, tuple | list):
        return [_plain(one) for one in value]
    return value.tolist() if isinstance(value, np.ndarray | np.generic) else value


def _rebuilt(kind: Any, plain: Any) -> Any:
    """The record, or value, of a declared kind from what `_plain` made of it."""
    if typing.get_origin(kind) in (typing.Union, types.UnionType):
        return None if plain is None else _rebuilt(typing.get_args(kind)[0], plain)
    if typing.get_origin(kind) is tuple:
        inner = typing.get_args(kind)
        kinds = [inner[0]] * len(plain) if inner[-1] is Ellipsis else inner
        return tuple(_rebuilt(one, value) for one, value in zip(kinds, plain, strict=True))
    if is_dataclass(kind):
        hints = typing.get_type_hints(kind, localns=_RECORDS)
        return kind(**{name: _rebuilt(hints[name], value) for name, value in plain.items()})  # type: ignore[operator]
    return np.array(plain) if typing.get_origin(kind) is np.ndarray else plain
