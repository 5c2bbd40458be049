"""What a year shows as tables: changes, care of tools, weeks; for a workbook or a data tool."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa

from analysis.plant.calibration import Standing
from analysis.plant.tool_care import ToolCare
from analysis.plant.year import Year
from analysis.results import to_csv
from analysis.spread import Z95
from analysis.spreadsheet import Book

_KINDS: dict[str, Any] = (
    {
        "whose": pa.string(), "name": pa.string(), "figure": pa.string(), "kind": pa.string(),
        "from_day": pa.date32(), "size": pa.float64(), "size_low": pa.float64(), "size_high": pa.float64(),
        "event": pa.string(), "sentence": pa.string(),
    }
)  # fmt: skip


def changes_table(year: Year) -> pa.Table:
    """One row a change, surest first; sizes as shares of ratios, of drifts per week, with 95 % intervals."""
    rows = [
        {
            "whose": one.whose,
            "name": one.name,
            "figure": one.followed.figure.name,
            "kind": one.change.kind,
            "from_day": one.day,
            "size": one.change.size,
            "size_low": one.change.size - Z95 * one.change.error,
            "size_high": one.change.size + Z95 * one.change.error,
            "event": None if one.event is None else one.event.words,
            "sentence": one.sentence(),
        }
        for one in year.changes
    ]
    return pa.Table.from_pylist(rows, pa.schema(_KINDS))


def weeks_table(year: Year) -> pa.Table:
    """One row for each figure, joint, spindle and week: its mean with a 95 % interval, in its unit."""
    parts = []
    for weekly in year.weeks.of:
        stream, week = np.nonzero(np.isfinite(weekly.mean))
        mean, half = weekly.mean[stream, week], Z95 * weekly.error[stream, week]
        ends = [mean, mean - half, mean + half]
        if weekly.followed.scale == "ratio":
            ends = [np.exp(one) for one in ends]
        columns: dict[str, Any] = {
            "figure": _texts([weekly.followed.figure.name] * len(stream)),
            "joint": _texts([year.weeks.joints[code] for code in weekly.joint[stream].tolist()]),
            "spindle": _texts([year.weeks.spindles[code] for code in weekly.spindle[stream].tolist()]),
            "week_from": pa.array([year.weeks.monday(k) for k in week.tolist()], pa.date32()),
            "n": weekly.count[stream, week],
            **{
                name: pa.array(one, from_pandas=True)  # no interval where nothing scatters: absent, not NaN
                for name, one in zip(("mean", "mean_low", "mean_high"), ends, strict=True)
            },
        }
        parts.append(pa.table(columns))
    return pa.concat_tables(parts)


def _texts(values: list[str]) -> pa.Array[pa.StringScalar]:
    return pa.array(values, pa.string())


def care_table(care: list[ToolCare]) -> pa.Table:
    """One row a tool, the one that needs care first at the head."""
    kinds: dict[str, Any] = dict.fromkeys(ToolCare.__dataclass_fields__, pa.float64())
    kinds |= {"name": pa.string(), "sign": pa.string(), "cycles": pa.int64(), "weeks": pa.int64()}
    return pa.Table.from_pylist([asdict(one) for one in care], pa.schema(kinds))


def calibrations_table(calibrations: Sequence[Standing]) -> pa.Table:
    """One row a tool, the one that is due first at the head."""
    kinds: dict[str, Any] = {
        "tool": pa.string(), "standing": pa.string(), "calibrated": pa.date32(),
        "as_found_percent": pa.float64(), "tolerance_percent": pa.float64(), "interval_days": pa.float64(),
        "due": pa.date32(), "look_back_since": pa.date32(), "sentence": pa.string(),
    }  # fmt: skip
    rows = []
    for one in calibrations:
        row: dict[str, Any] = {"tool": one.tool, "standing": one.word, "sentence": one.words}
        if (plan := one.plan) is not None:
            row |= {
                "calibrated": plan.last.day,
                "as_found_percent": plan.last.as_found_percent,
                "tolerance_percent": plan.last.tolerance_percent,
                "interval_days": plan.interval_days,
                "due": plan.due,
                "look_back_since": plan.last_good if plan.last.share > 1.0 else None,
            }
        rows.append(row)
    return pa.Table.from_pylist(rows, pa.schema(kinds))


def write_year(year: Year, care: list[ToolCare], path: Path, calibrations: Sequence[Standing] = ()) -> None:
    """The year as .xlsx; as .csv or .parquet its weeks alone. Raises OSError."""
    ending = path.suffix.lower()
    weeks = weeks_table(year)
    if ending == ".csv":
        path.write_bytes(to_csv(weeks).encode("utf-8"))
    elif ending == ".parquet":
        import pyarrow.parquet as pq

        pq.write_table(weeks, path, compression="zstd")
    else:
        book = Book(str(path), "Tautograph year")
        book.add_table("Said", [("How changes are told", [year.control_sentence()], False)])
        for name, table in (
            ("Changes", changes_table(year)),
            ("Tools", care_table(care)),
            ("Calibrations", calibrations_table(calibrations)),
            ("Weeks", weeks),
        ):
            book.add_table(name, [(one, table.column(one).to_pylist(), False) for one in table.column_names])
        book.close()
