"""The spreadsheet opened by an office program without a window: what it computes with is what was written."""

from __future__ import annotations

import csv
import datetime
import shutil
import subprocess
from pathlib import Path

import pytest

from analysis.report import build_report, write_workbook
from tests.helpers.judged_shift import judged_shift

NOW = datetime.datetime(2026, 3, 4, 5, 6, tzinfo=datetime.UTC)
#: The second sheet as text: comma, double quotes, UTF-8, from line 1, values as they are stored.
TRACES_AS_TEXT = "csv:Text - txt - csv (StarCalc):44,34,76,1,,0,false,false,false,false,false,2"


@pytest.fixture(scope="module")
def office() -> str:
    found = shutil.which("soffice")
    if found is None:
        pytest.skip("no office program is installed (Debian package libreoffice-calc)")
    return found


def convert(office: str, book: Path, into: str) -> None:
    folder = book.parent
    subprocess.run(
        [office, "--headless", f"-env:UserInstallation={(folder / 'profile').as_uri()}", "--convert-to", into,
         "--outdir", str(folder), str(book)],
        check=True, capture_output=True, timeout=200,
    )  # fmt: skip


def test_every_trace_with_its_figures_is_in_the_second_sheet(office: str, tmp_path: Path) -> None:
    report = build_report(judged_shift(), "flange", now=NOW)
    book = tmp_path / "report.xlsx"
    write_workbook([report], book)
    convert(office, book, TRACES_AS_TEXT)
    (text,) = tmp_path.glob("*.csv")
    head, *rows = csv.reader(text.read_text("utf-8").splitlines())
    assert head[0] == "Trace"
    records = report.records
    assert [row[0] for row in rows] == records.column("trace_id").to_pylist()
    place = head.index("Final torque (N·m)")
    shown = [float(row[place]) for row in rows]
    assert shown == pytest.approx(records.column("final_torque_nm").to_pylist(), rel=1e-9)
    assert not any("Err:" in cell or cell.startswith("#") for row in rows for cell in row)
