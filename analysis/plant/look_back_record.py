"""The record of a look-back: a table for machines, a page that is signed."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import Any

import pyarrow as pa

from analysis.catalogue.cautions import JUDGEMENT
from analysis.catalogue.figures import FINAL_TORQUE
from analysis.figure_text import ABSENT, number_text
from analysis.plant.look_back import COLUMNS, LookBack
from analysis.report.content import Block, Bullets, Cell, JointReport, Paragraph, ReportColumn, Section, Table
from analysis.report.head import head_of
from analysis.report.template import ReportTemplate, load_template
from analysis.results import to_csv
from analysis.spreadsheet import Book

CAUTION = (
    "A corrected torque is the reading over one plus the error that the calibration found, for all of the "
    "time that was asked for: when the error began, and whether it grew, only a comparison in between can "
    f"tell. {JUDGEMENT}"
)
#: Rows on the page; all of them stand in the table that is written with .xlsx, .csv or .parquet (own choice).
ROWS_SHOWN = 400
_SHOWN = (
    ("part", "Part", 1.2), ("position", "Position", 0.8), ("joint", "Joint", 1.0), ("trace_id", "Trace", 1.4),
    ("started_at", "Started (UTC)", 1.2), (FINAL_TORQUE.name, "Torque read", 0.8),
    ("true_torque_nm", "True torque", 0.8), ("verdict_before", "Before", 0.8), ("verdict_after", "Now", 0.8),
)  # fmt: skip


def write_table(found: LookBack, path: Path) -> None:
    """The record as .xlsx, .csv or .parquet by the ending. Raises OSError."""
    ending = path.suffix.lower()
    if ending == ".parquet":
        import pyarrow.parquet as pq

        told = {"tautograph": "; ".join(found.sentences())}
        pq.write_table(found.rows.replace_schema_metadata(told), path, compression="zstd")
    elif ending == ".csv":
        path.write_bytes(to_csv(found.rows).encode("utf-8"))
    else:
        book = Book(str(path), "Tautograph look-back")
        book.add_table("Found", [("What was found", found.sentences(), False)])
        for name, rows in (("To contain", found.contained), ("All touched", found.rows)):
            book.add_table(name, [(one, rows.column(one).to_pylist(), False) for one in COLUMNS])
        book.close()


def look_back_report(
    found: LookBack, archive: str, now: datetime, template: ReportTemplate | None
) -> JointReport:
    """The record as a page: what was asked, what was found, what to contain."""
    head = head_of(template or load_template(), f"Look-back: {found.touched.words()}", now)
    contained = found.contained
    blocks: list[Block] = [Paragraph(f"Archive {archive}. {found.sentences()[0]}.", "lead")]
    blocks.append(Bullets(tuple(found.sentences()[1:])))
    if contained.num_rows:
        blocks.append(_table(contained))
    blocks.append(Paragraph(CAUTION, "caution"))
    return JointReport("look-back", head, (Section("Look-back and containment", "look-back", tuple(blocks)),),
                       pa.table({}), "look-back")  # fmt: skip


def _table(rows: pa.Table) -> Table:
    columns = tuple(
        ReportColumn(title, "N·m" if name.endswith("_nm") else "", weight) for name, title, weight in _SHOWN
    )
    shown = rows.slice(0, ROWS_SHOWN).select([name for name, _, _ in _SHOWN]).to_pylist()
    left = rows.num_rows - len(shown)
    note = f"{left} further rows stand in the table (.xlsx, .csv, .parquet)." if left else ""
    cells = tuple(tuple(_cell(name, value) for name, value in row.items()) for row in shown)
    return Table("To contain", columns, cells, "To contain", note)


def _cell(name: str, value: Any) -> Cell:
    if value is None:
        return Cell(ABSENT)
    if name.startswith("verdict"):
        return Cell(value, value, verdict=value)
    if isinstance(value, float):
        return Cell(number_text(value, 2), value)
    if isinstance(value, datetime):
        return Cell(f"{value:%Y-%m-%d %H:%M}", value.isoformat())
    return Cell(str(value), str(value))
