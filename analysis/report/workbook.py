"""The report as a spreadsheet: typed columns with units, frozen heads, a chart; no text ever becomes a
formula."""

from __future__ import annotations

import datetime
import io
from collections.abc import Iterable, Sequence
from functools import partial
from pathlib import Path
from typing import Any

import pyarrow as pa

from analysis.catalogue.figures import FIGURE_OF, Figure
from analysis.catalogue.units import DisplayUnits
from analysis.catalogue.verdicts import VERDICT_OF
from analysis.figure_text import titled
from analysis.listener import NOBODY, Listener
from analysis.report.content import (
    Bullets,
    Cell,
    Heading,
    JointReport,
    Paragraph,
    ReportColumn,
    Table,
    Value,
    single_blocks,
)
from analysis.report.palette import colour_of
from analysis.spreadsheet import EVERYWHERE, MOST_DECIMALS, Book, TableColumn

_LONGEST_SHEET_NAME = 31
#: Where the chart stands beside the verdicts, and the rows that it takes (220 pixels at 20 a row).
_CHART_COLUMN, _CHART_ROWS = 5, 12
#: A text that is longer than a column is wide is broken, unless it stands in the last column (own choice).
_WIDE_TEXT = 16
_FORBIDDEN_IN_SHEET_NAMES = str.maketrans(dict.fromkeys("[]:*?/\\", "-"))


def write_workbook(reports: Sequence[JointReport], path: str | Path, listener: Listener = NOBODY) -> None:
    """Write all reports as one .xlsx; the same reports give the same bytes.

    For each joint one sheet with the tables of its first pages, the verdict counts as a chart, and one sheet
    with every trace and all results columns.

    Raises
    ------
    ValueError
        Where there is no report.
    OSError
        Where the file cannot be written.
    CancelledError
        Where the listener, who hears of every column of the traces, no longer wants it.
    """
    Path(path).write_bytes(workbook_bytes(reports, listener))


def workbook_bytes(reports: Sequence[JointReport], listener: Listener = NOBODY) -> bytes:
    """The spreadsheet in memory; see `write_workbook`."""
    if not reports:
        raise ValueError("no report to write")
    out, head = io.BytesIO(), reports[0].head
    workbook = Book(
        out,
        " · ".join(dict.fromkeys(report.title for report in reports)),
        author=head.organisation,
        comments=f"Tautograph {head.version}",
        created=head.made_at.astimezone(datetime.UTC).replace(tzinfo=None),
    )
    book = workbook.book
    formats = {
        "head": book.add_format({"bold": True, "text_wrap": True, "valign": "top", "bottom": 1}),
        "title": book.add_format({"bold": True, "font_size": 14}),
        "heading": book.add_format({"bold": True, "font_size": 11}),
        "wrap": book.add_format({"text_wrap": True, "valign": "top"}),
        "share": book.add_format({"num_format": "0.0%"}),
    }
    for decimals in range(MOST_DECIMALS + 1):
        shown = "0." + "0" * decimals if decimals else "0"
        formats[f"decimals {decimals}"] = book.add_format({"num_format": shown})
    taken: set[str] = set()
    for number, report in enumerate(reports):
        name = report.joint or report.title
        sheet = book.add_worksheet(_sheet_name(name, "", taken))
        sheet.ignore_errors({"number_stored_as_text": EVERYWHERE})
        _summary_sheet(workbook, sheet, report, formats)
        if not report.records.num_columns:
            continue
        still_wanted = partial(listener, number, len(reports), f"traces of {name}")
        workbook.add_table(_sheet_name(name, " traces", taken), _trace_columns(report), still_wanted)
    listener(len(reports), len(reports), "packing the sheets")
    workbook.close()
    listener(len(reports), len(reports), "packed")
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


def _summary_sheet(book: Book, sheet: Any, report: JointReport, formats: dict[str, Any]) -> None:
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
        row = _write_table(book, sheet, row, table, formats)
        if table.name == "Verdicts":
            _chart(book.book, sheet, table, first)
            row = max(row, first + _CHART_ROWS)


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


def _write_table(book: Book, sheet: Any, row: int, table: Table, formats: dict[str, Any]) -> int:
    """Write one table below `row`; gives the row after it and an empty one."""
    if table.title:
        sheet.write_string(row, 0, table.title, formats["heading"])
        row += 1
    for index, column in enumerate(table.columns):
        sheet.write_string(row, index, titled(column.title, column.unit), formats["head"])
    for cells in table.rows:
        row += 1
        for index, (cell, column) in enumerate(zip(cells, table.columns, strict=True)):
            last = index == len(cells) - 1
            style = _style(cell, column, last, formats)
            book.write(sheet, row, index, _typed(cell), style)
    if table.note:
        row += 1
        sheet.write_string(row, 0, table.note)
    return row + 2


def _style(cell: Cell, column: ReportColumn, last: bool, formats: dict[str, Any]) -> Any:
    """Decimals as on paper, per cent for shares, broken lines for long texts; the value stays whole."""
    value = _typed(cell)
    if column.title == "Share":
        return formats["share"]
    if isinstance(value, float):
        decimals = len(cell.text.partition(".")[2]) if "." in cell.text else 0
        return formats[f"decimals {min(decimals, MOST_DECIMALS)}"]
    return formats["wrap"] if isinstance(value, str) and len(value) > _WIDE_TEXT and not last else None


def _typed(cell: Cell) -> Value:
    """The typed value; the text where there is none and the text says more than a dash."""
    return cell.value if cell.value is not None else cell.text


def _chart(book: Any, sheet: Any, table: Table, head_row: int) -> None:
    """Counts of the four verdicts as bars: each in its colour, or each of two sets in its own."""
    chart = book.add_chart({"type": "bar"})
    names = [row[0].verdict for row in table.rows if row[0].verdict]
    first, last = head_row + 1, head_row + len(names)
    counted = [k for k, column in enumerate(table.columns) if "traces" in (column.unit, column.title.lower())]
    for index, role in zip(counted, ("first set", "second set"), strict=False):
        series: dict[str, Any] = {
            "name": table.columns[index].title,
            "categories": [sheet.name, first, 0, last, 0],
            "values": [sheet.name, first, index, last, index],
            "gap": 60,
        }
        if len(counted) == 1:
            series["points"] = [{"fill": {"color": VERDICT_OF[name].colour}} for name in names]
        else:
            series["fill"] = {"color": colour_of(role)}
        chart.add_series(series)
    chart.set_title({"name": "Verdicts", "name_font": {"size": 11}})
    chart.set_legend({"none": True} if len(counted) == 1 else {"position": "bottom"})
    chart.set_y_axis({"reverse": True})
    chart.set_x_axis({"name": "Traces"})
    chart.set_size({"width": 460, "height": 220})
    sheet.insert_chart(head_row, max(_CHART_COLUMN, len(table.columns) + 1), chart)


def _trace_columns(report: JointReport) -> Iterable[TableColumn]:
    """Every trace with all results columns, torque in the report's unit."""
    table, units = report.records, DisplayUnits(report.torque_unit)
    for name in table.column_names:
        figure = FIGURE_OF.get(name) or Figure(name, name)
        values, is_real = table.column(name).to_pylist(), pa.types.is_floating(table.schema.field(name).type)
        factor = units.factor(figure.unit)
        if is_real and factor != 1.0:
            values = [None if value is None else value * factor for value in values]
        yield titled(figure.title, units.symbol(figure.unit)), values, is_real
