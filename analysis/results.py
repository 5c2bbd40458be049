"""The results table: every column declared once, and the files it is written to."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any, Protocol

import numpy as np
import pyarrow as pa

from analysis import __version__
from analysis.errors import CallError
from analysis.settings import Settings
from analysis.spreadsheet import close_workbook
from analysis.traces import Source
from analysis.traces.arrow_arrays import number_array, text_array


@dataclass(frozen=True)
class Column:
    """One column of the results table.

    Attributes
    ----------
    name : str
    type : pyarrow.DataType
    unit : str
        Internal unit; empty for text, counts and ratios.
    title : str
        Heading for people, without the unit.
    help : str
        One sentence: what it is, on which basis.
    """

    name: str
    type: pa.DataType
    unit: str
    title: str
    help: str


_TEXT, _REAL, _COUNT, _FLAG = pa.string(), pa.float64(), pa.int64(), pa.bool_()
_AXIS = "on the trace's own angle axis"

#: The contract's columns in the contract's order.
CONTRACT_COLUMNS: tuple[Column, ...] = (
    Column("trace_id", _TEXT, "", "Trace", "Name of the recording, unique within a set."),
    Column("joint", _TEXT, "", "Joint", "Name of the joint in the joints file; empty where none is known."),
    Column("verdict", _TEXT, "", "Verdict", "ok, suspect, not ok or not evaluated."),
    Column("deciding", _TEXT, "", "Deciding", "The finding with the worst margin."),
    Column("findings", pa.list_(_TEXT), "", "Findings", "Every broken limit and oddity."),
    Column("cause", _TEXT, "", "Cause", "The likeliest cause, where one is called for."),
    Column("n_samples", _COUNT, "", "Samples", "Number of samples of the recording."),
    Column("final_torque_nm", _REAL, "N·m", "Final torque", "The highest torque."),
    Column("final_angle_deg", _REAL, "deg", "Final angle", f"Angle of the final point, {_AXIS}."),
    Column("snug_angle_deg", _REAL, "deg", "Snug angle", f"Where the straight rise begins, {_AXIS}."),
    Column("snug_torque_nm", _REAL, "N·m", "Snug torque", "Torque at the snug point."),
    Column(
        "snug_angle_uncertainty_deg",
        _REAL,
        "deg",
        "Snug uncertainty",
        "Standard uncertainty of the snug angle.",
    ),
    Column("joint_rate_deg", _REAL, "deg", "Joint rate", "Degrees from snug point to final point."),
    Column("hardness", _TEXT, "", "Hardness", "hard, medium or soft, from the joint rate."),
    Column(
        "prevailing_torque_nm",
        _REAL,
        "N·m",
        "Prevailing torque",
        "Level just ahead of the drawdown, last half turn.",
    ),
    Column(
        "drawdown_angle_deg", _REAL, "deg", "Drawdown start", f"Where the torque leaves that level, {_AXIS}."
    ),
    Column("elastic_slope_nm_per_deg", _REAL, "N·m/deg", "Elastic slope", "Slope of the straight stretch."),
    Column(
        "elastic_origin_deg",
        _REAL,
        "deg",
        "Elastic origin",
        f"Elastic line at the prevailing torque, {_AXIS}.",
    ),
    Column(
        "yielded", _FLAG, "", "Yielded", "Whether the slope fell to the yield level before the final point."
    ),
    Column("yield_angle_deg", _REAL, "deg", "Yield angle", f"Yield onset, {_AXIS}."),
    Column("yield_torque_nm", _REAL, "N·m", "Yield torque", "Torque at the yield onset."),
    Column(
        "clamp_force_kn",
        _REAL,
        "kN",
        "Clamp force, estimated",
        "Estimated, not measured: middle of the friction range.",
    ),
    Column(
        "clamp_force_low_kn", _REAL, "kN", "Clamp force, estimated low", "Estimated, at the highest friction."
    ),
    Column(
        "clamp_force_high_kn",
        _REAL,
        "kN",
        "Clamp force, estimated high",
        "Estimated, at the lowest friction.",
    ),
    Column(
        "outlier_score", _REAL, "", "Outlier score", "How odd among the joint's traces; 1 is the threshold."
    ),
    Column("not_evaluated_reason", _TEXT, "", "Reason", "Why a rule or an estimate could not be evaluated."),
)

#: Further columns.
FURTHER_COLUMNS: tuple[Column, ...] = (
    Column("deciding_margin", _REAL, "", "Margin", "Margin of the deciding finding over half its window."),
    Column(
        "torque_margin_nm", _REAL, "N·m", "Torque margin", "To the nearer torque limit; negative outside."
    ),
    Column("angle_margin_deg", _REAL, "deg", "Angle margin", "To the nearer angle limit; negative outside."),
    Column("prevailing_margin_nm", _REAL, "N·m", "Prevailing margin", "To the nearer prevailing limit."),
    Column("rundown_deg", _REAL, "deg", "Rundown", "Degrees from first sample to drawdown start."),
    Column("drawdown_deg", _REAL, "deg", "Drawdown", "Degrees from drawdown start to snug point."),
    Column("total_angle_deg", _REAL, "deg", "Total angle", "Degrees from first sample to final point."),
    Column(
        "joint_rate_line_deg", _REAL, "deg", "Joint rate, line", "From the line through 10-100 % of torque."
    ),
    Column(
        "elastic_slope_uncertainty_nm_per_deg", _REAL, "N·m/deg", "Slope uncertainty", "Standard uncertainty."
    ),
    Column("elastic_origin_uncertainty_deg", _REAL, "deg", "Origin uncertainty", "Standard uncertainty."),
    Column("yield_angle_uncertainty_deg", _REAL, "deg", "Yield uncertainty", "Standard uncertainty."),
    Column("drawdown_angle_uncertainty_deg", _REAL, "deg", "Drawdown uncertainty", "Standard uncertainty."),
    Column("prevailing_uncertainty_nm", _REAL, "N·m", "Prevailing uncertainty", "Standard uncertainty."),
    Column("prevailing_highest_nm", _REAL, "N·m", "Prevailing, highest", "Highest torque of the rundown."),
    Column("prevailing_trend_nm_per_turn", _REAL, "N·m/turn", "Prevailing trend", "Trend over the rundown."),
    Column("torque_noise_nm", _REAL, "N·m", "Torque noise", "Standard deviation about the local curve."),
    Column("samples_per_deg", _REAL, "1/deg", "Density", "Samples per degree in the last part of the rise."),
    Column(
        "utilisation",
        _REAL,
        "",
        "Utilisation, estimated",
        "Combined stress over minimum yield strength; estimated.",
    ),
    Column(
        "clamp_force_by_angle_kn",
        _REAL,
        "kN",
        "Clamp force by angle, estimated",
        "Estimated from the angle beyond the elastic origin and the joint's stiffness.",
    ),
    Column(
        "implied_friction", _REAL, "", "Implied friction", "Coefficient that makes torque and angle agree."
    ),
    Column(
        "embedding_loss_kn",
        _REAL,
        "kN",
        "Embedding loss, estimated",
        "Clamp force that embedding takes; estimated.",
    ),
    Column(
        "clamp_force_left_kn",
        _REAL,
        "kN",
        "Clamp force left, estimated",
        "Estimated clamp force less embedding loss.",
    ),
    Column(
        "clamp_force_left_low_kn",
        _REAL,
        "kN",
        "Clamp force left, estimated low",
        "The low bound less embedding loss.",
    ),
    Column(
        "measured_clamp_force_kn",
        _REAL,
        "kN",
        "Measured clamp force",
        "By the recording's load cell, at the final point.",
    ),
    Column("torque_coefficient", _REAL, "", "K", "Measured: T/(F d) at 75 % of the proof load."),
    Column(
        "friction_total",
        _REAL,
        "",
        "Friction, measured",
        "One coefficient for thread and head at 75 % of the proof load, in the manner of ISO 16047.",
    ),
    Column("cause_weight", _REAL, "", "Cause weight", "0 to 1, for ranking; not a probability."),
    Column("operation", _TEXT, "", "Operation", "tightening, impulse tightening or loosening."),
    Column("stages", _COUNT, "", "Stages", "Stages up to the final point, by the tool's steps and by stops."),
    Column(
        "pause_torque_nm", _REAL, "N·m", "Torque at the stop", "End torque of the stage before the last stop."
    ),
    Column(
        "pause_s", _REAL, "s", "Pause", "From the last stop to the moment at which the fastener turned on."
    ),
    Column(
        "pause_torque_lost_nm",
        _REAL,
        "N·m",
        "Lost in the pause",
        "Torque at the last stop less the lowest torque read during it: what the tool let go, not the joint.",
    ),
    Column(
        "restart_overshoot_nm",
        _REAL,
        "N·m",
        "Overshoot at restart",
        "Excess of the breakaway after the last stop over the torque at it.",
    ),
    Column("pulses", _COUNT, "", "Pulses", "Blows of an impulse tool up to the final point."),
    Column("pulse_rate_per_s", _REAL, "1/s", "Pulse rate", "Blows of an impulse tool a second, median."),
    Column(
        "breakaway_torque_nm",
        _REAL,
        "N·m",
        "Breakaway torque",
        "Largest torque of a loosening, positive; absent where the drive slipped.",
    ),
    Column("breakaway_angle_deg", _REAL, "deg", "Breakaway angle", f"Where a loosening broke away, {_AXIS}."),
    Column("slip_pitch_deg", _REAL, "deg", "Slip pitch", "Pitch of the drive that slipped while loosening."),
    Column("tool", _TEXT, "", "Tool", "As recorded."),
    Column("spindle", _TEXT, "", "Spindle", "As recorded."),
    Column("program", _TEXT, "", "Program", "As recorded."),
    Column("part", _TEXT, "", "Part", "As recorded."),
    Column("position", _TEXT, "", "Position", "As recorded."),
    Column("started_at", pa.timestamp("us", tz="UTC"), "", "Started at", "Start of the recording, UTC."),
    Column("source", _TEXT, "", "Source", "File that the trace came from."),
)

#: Every column, contract first.
COLUMNS: tuple[Column, ...] = CONTRACT_COLUMNS + FURTHER_COLUMNS
COLUMN_OF: dict[str, Column] = {column.name: column for column in COLUMNS}

#: Endings that `write_results` knows.
RESULT_ENDINGS = (".parquet", ".csv", ".xlsx")


class HasResults(Protocol):
    """Anything that gives a results table, such as an `analysis.pipeline.Analysis`."""

    def results(self) -> pa.Table:
        """The results table, columns as in `COLUMNS`."""


def results_schema() -> pa.Schema:
    """Names and types of all columns; units and titles stand in the fields' metadata."""
    return pa.schema(
        [
            pa.field(column.name, column.type, metadata={"unit": column.unit, "title": column.title})
            for column in COLUMNS
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
    names = [column.name for column in COLUMNS]
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
    arrays = [_as_array(values[column.name], column.type) for column in COLUMNS]
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
    if pa.types.is_string(kind) and isinstance(values, list):
        return text_array(values)
    return pa.array(values, kind)


def write_results(analysis: HasResults, path: str | Path) -> None:
    """Write the results table; the ending says as what (.parquet, .csv, .xlsx). Same table, same bytes.

    In CSV and XLSX several findings stand in one cell, separated by ``; ``; absent values are empty cells.

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
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(table.column_names)
    columns = [[_as_text(value) for value in column.to_pylist()] for column in table.columns]
    writer.writerows(zip(*columns, strict=True))
    return text.getvalue()


def _as_text(value: Any) -> Any:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, list):
        return "; ".join(value)
    if isinstance(value, datetime):
        return value.isoformat().replace("+00:00", "Z")
    return value


def _write_xlsx(table: pa.Table, target: Path) -> None:
    """One sheet, typed cells, frozen header; texts never become formulas or links."""
    import xlsxwriter

    options = {"strings_to_formulas": False, "strings_to_urls": False, "strings_to_numbers": False}
    book = xlsxwriter.Workbook(str(target), {**options, "remove_timezone": True})
    # A fixed date of creation: the same results give the same bytes.
    book.set_properties({"title": "Tautograph results", "created": datetime(2000, 1, 1)})
    head = book.add_format({"bold": True, "text_wrap": True, "valign": "top"})
    moment = book.add_format({"num_format": "yyyy-mm-dd hh:mm:ss"})
    sheet = book.add_worksheet("Results")
    for index, name in enumerate(table.column_names):
        column = COLUMN_OF[name]
        sheet.write_string(0, index, f"{column.title} [{column.unit}]" if column.unit else column.title, head)
        sheet.set_column(index, index, 14)
        _write_cells(sheet, index, table.column(name).to_pylist(), moment)
    sheet.freeze_panes(1, 1)
    if table.num_rows:
        sheet.autofilter(0, 0, table.num_rows, table.num_columns - 1)
    close_workbook(book)


def _write_cells(sheet: Any, index: int, values: list[Any], moment: Any) -> None:
    for row, value in enumerate(values, start=1):
        if value is None:
            continue
        if isinstance(value, bool):
            sheet.write_boolean(row, index, value)
        elif isinstance(value, (int, float)):
            sheet.write_number(row, index, value)
        elif isinstance(value, datetime):
            sheet.write_datetime(row, index, value, moment)
        else:
            sheet.write_string(row, index, "; ".join(value) if isinstance(value, list) else str(value))
