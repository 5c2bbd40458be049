"""The report as a spreadsheet: typed columns with units, frozen heads, a chart; no text ever becomes a
formula."""

from __future__ import annotations

import datetime
import io
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any

import pyarrow as pa

from analysis.report.content import (
    Bullets,
    Cell,
    Column,
    Heading,
    JointReport,
    Paragraph,
    Table,
    Value,
    single_blocks,
)
from analysis.report.palette import VERDICT_COLOURS
from analysis.results import COLUMN_OF
from analysis.traces.units import from_internal

#: Nothing that a recording says may be taken for a formula, a link or a number.
_OPTIONS = {
    "strings_to_formulas": False,
    "strings_to_urls": False,
    "strings_to_numbers": False,
    "remove_timezone": True,
    "nan_inf_to_errors": False,
    "in_memory": True,
}
_LONGEST_SHEET_NAME = 31
_FORBIDDEN_IN_SHEET_NAMES = str.maketrans(dict.fromkeys("[]:*?/\\", "-"))
#: Units of results columns that follow the display unit, with what stands behind the torque.
_TORQUE_UNITS = {"N·m": "", "N·m/deg": "/deg", "N·m/turn": "/turn"}


def write_workbook(reports: Sequence[JointReport], path: str | Path) -> None:
    """Write all reports as one .xlsx; the same reports give the same bytes.

    For each joint one sheet with the tables of its first pages, the verdict counts as a chart, and one sheet
    with every trace and all results columns.

    Raises
    ------
    ValueError
        Where there is no report.
    OSError
        Where the file cannot be written.
    """
    Path(path).write_bytes(workbook_bytes(reports))


def workbook_bytes(reports: Sequence[JointReport]) -> bytes:
    """The spreadsheet in memory; see `write_workbook`."""
    if not reports:
        raise ValueError("no report to write")
    import xlsxwriter

    out = io.BytesIO()
    book = xlsxwriter.Workbook(out, _OPTIONS)
    head = reports[0].head
    book.set_properties(
        {
            "title": " · ".join(dict.fromkeys(report.title for report in reports)),
            "author": head.organisation,
            "comments": f"Tautograph {head.version}",
            "created": head.made_at.astimezone(datetime.UTC).replace(tzinfo=None),
        }
    )
    formats = {
        "head": book.add_format({"bold": True, "text_wrap": True, "valign": "top", "bottom": 1}),
        "title": book.add_format({"bold": True, "font_size": 14}),
        "heading": book.add_format({"bold": True, "font_size": 11}),
        "wrap": book.add_format({"text_wrap": True, "valign": "top"}),
        "moment": book.add_format({"num_format": "yyyy-mm-dd hh:mm:ss"}),
        "share": book.add_format({"num_format": "0.0%"}),
    }
    taken: set[str] = set()
    for report in reports:
        name = report.joint or report.title
        _summary_sheet(book, book.add_worksheet(_sheet_name(name, "", taken)), report, formats)
        _traces_sheet(book.add_worksheet(_sheet_name(name, " traces", taken)), report, formats)
    book.close()
    return out.getvalue()


def _sheet_name(name: str, suffix: str, taken: set[str]) -> str:
    """A name that spreadsheets accept and that no other sheet has (they compare without regard to case)."""
    plain = name.translate(_FORBIDDEN_IN_SHEET_NAMES).strip("'") or "no joint"
    plain = "".join(character for character in plain if character.isprintable())
    for number in range(1, len(taken) + 2):
        mark = suffix if number == 1 else f" {number}{suffix}"
        candidate = plain[: _LONGEST_SHEET_NAME - len(mark)] + mark
        if candidate.lower() not in taken and candidate.lower() != "history":  # a reserved name
            break
    taken.add(candidate.lower())
    return candidate


def _summary_sheet(book: Any, sheet: Any, report: JointReport, formats: dict[str, Any]) -> None:
    """Title, then every table of the parts that are about the whole joint."""
    sheet.write_string(0, 0, report.title, formats["title"])
    sheet.write_string(1, 0, f"Tautograph {report.head.version}, {report.head.made_at_text}")
    sheet.freeze_panes(2, 1)
    sheet.set_column(0, 0, 30)
    sheet.set_column(1, 12, 13)
    row = 3
    for text in _texts(report):
        sheet.write_string(row, 0, text)
        row += 1
    row += 1
    for table in _tables(report):
        first = row + (1 if table.title else 0)
        row = _write_table(sheet, row, table, formats)
        if table.name == "Verdicts":
            _chart(book, sheet, first + 1, len(table.rows) - 1, first)


def _texts(report: JointReport) -> Iterable[str]:
    for block in single_blocks(report.sections[0].blocks):
        if isinstance(block, Paragraph | Heading):
            yield block.text
        elif isinstance(block, Bullets):
            yield from (f"• {item}" for item in block.items)


def _tables(report: JointReport) -> Iterable[Table]:
    return (
        block
        for section in report.sections
        if section.level == 1
        for block in single_blocks(section.blocks)
        if isinstance(block, Table)
    )


def _write_table(sheet: Any, row: int, table: Table, formats: dict[str, Any]) -> int:
    """Write one table below `row`; gives the row after it and an empty one."""
    if table.title:
        sheet.write_string(row, 0, table.title, formats["heading"])
        row += 1
    for index, column in enumerate(table.columns):
        sheet.write_string(row, index, _column_head(column), formats["head"])
    for cells in table.rows:
        row += 1
        for index, (cell, column) in enumerate(zip(cells, table.columns, strict=True)):
            share = column.title == "Share"
            _write_value(sheet, row, index, _typed(cell), formats, formats["share"] if share else None)
    if table.note:
        row += 1
        sheet.write_string(row, 0, table.note)
    return row + 2


def _column_head(column: Column) -> str:
    return f"{column.title} [{column.unit}]" if column.unit else column.title


def _typed(cell: Cell) -> Value:
    """The typed value; the text where there is none and the text says more than a dash."""
    return cell.value if cell.value is not None else cell.text


def _write_value(
    sheet: Any, row: int, column: int, value: Any, formats: dict[str, Any], style: Any = None
) -> None:
    if value is None or value == "":
        return
    if isinstance(value, bool):
        sheet.write_boolean(row, column, value)
    elif isinstance(value, int | float):
        sheet.write_number(row, column, value, style)
    elif isinstance(value, datetime.datetime):
        sheet.write_datetime(row, column, value, formats["moment"])
    else:
        sheet.write_string(row, column, str(value), style)


def _chart(book: Any, sheet: Any, first_row: int, count: int, at_row: int) -> None:
    """Counts of the four verdicts as bars, each with its colour."""
    chart = book.add_chart({"type": "bar"})
    last = first_row + count - 1
    names = ("not ok", "suspect", "not evaluated", "ok")
    chart.add_series(
        {
            "name": "Traces",
            "categories": [sheet.name, first_row, 0, last, 0],
            "values": [sheet.name, first_row, 1, last, 1],
            "points": [{"fill": {"color": VERDICT_COLOURS[name]}} for name in names],
            "data_labels": {"value": True},
            "gap": 60,
        }
    )
    chart.set_title({"name": "Verdicts", "name_font": {"size": 11}})
    chart.set_legend({"none": True})
    chart.set_y_axis({"reverse": True})
    chart.set_x_axis({"name": "Traces"})
    chart.set_size({"width": 460, "height": 220})
    sheet.insert_chart(at_row, 14, chart)


def _traces_sheet(sheet: Any, report: JointReport, formats: dict[str, Any]) -> None:
    """Every trace with all results columns, torque in the report's unit."""
    table = report.records
    sheet.freeze_panes(1, 1)
    for index, name in enumerate(table.column_names):
        declared = COLUMN_OF.get(name)
        title, unit = (declared.title, declared.unit) if declared else (name, "")
        factor = 1.0
        if unit in _TORQUE_UNITS:
            factor = from_internal(1.0, report.torque_unit)
            unit = report.torque_unit + _TORQUE_UNITS[unit]
        sheet.write_string(0, index, f"{title} [{unit}]" if unit else title, formats["head"])
        sheet.set_column(index, index, 13)
        values = table.column(name).to_pylist()
        if pa.types.is_floating(table.schema.field(name).type):
            _write_numbers(sheet, index, values, factor)
            continue
        for row, value in enumerate(values, start=1):
            text = "; ".join(value) if isinstance(value, list) else value
            _write_value(sheet, row, index, text, formats)
    if table.num_rows:
        sheet.autofilter(0, 0, table.num_rows, table.num_columns - 1)


def _write_numbers(sheet: Any, column: int, values: Sequence[float | None], factor: float) -> None:
    """A column of figures below its head; half of a large sheet's time is saved by not asking what each one
    is."""
    write = sheet.write_number
    for row, value in enumerate(values, start=1):
        if value is not None:
            write(row, column, value * factor)
