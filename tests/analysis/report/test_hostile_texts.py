"""Hostile names in pages of a year and of parts, in workbooks and text files: shown, and nothing else."""

from __future__ import annotations

import csv
import json
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import openpyxl
import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.parquet as pq
import pytest

from analysis.plant.tool_care import ToolCare, care_of_tools
from analysis.plant.weekly import weeks_of
from analysis.plant.year import Event, Year, look_at_year
from analysis.plant.year_report import year_report
from analysis.plant.year_tables import write_year
from analysis.report import to_html
from analysis.report.plot_spec import Axis, Curve, LimitLine, Mark, Note, PlotSpec, Zone
from analysis.report.svg_plot import svg_plot
from analysis.report.workbook import write_workbook
from app.commands.command_line import main
from sample_traces.sample_paths import sample_parts_paths
from tests.helpers.hostile_texts import HOSTILE, LONG, STEERING, foreign_markup
from tests.world.plant_year import FIRST, YearPlan, make_year

AUDIT = sample_parts_paths()[0].with_name("audit")
NOW = datetime(2027, 1, 2, tzinfo=UTC)


def _hostile_year(text: str) -> tuple[Year, list[ToolCare], list[Event]]:
    """One spindle moves, so that its name and the events about it stand wherever they can."""
    made = make_year(1, YearPlan(joints=4, spindles_each=4, weeks=20, a_week=20, seeded=False))
    moved = np.where((made.spindle == 5) & (made.week >= 10), 1.02, 1.0)
    values = {name: one * (moved if name == "final_torque_nm" else 1.0) for name, one in made.values.items()}
    joints = tuple(f"{sign}{k}{text}" for k, sign in enumerate("=+-@"))
    spindles = tuple(f"={k}{text}" for k in range(len(made.spindles)))
    made = replace(made, values=values, joints=joints, spindles=spindles)
    day = FIRST + timedelta(weeks=9)
    events = [Event(day, spindles[5], f"={text}", text), Event(day, "", "", text)]
    year = look_at_year(weeks_of(made), events)
    assert year.changes
    return year, care_of_tools(year), events


@pytest.mark.parametrize("text", [HOSTILE, LONG])
def test_the_year_shows_hostile_names_and_events_and_no_more(text: str, tmp_path: Path) -> None:
    year, care, events = _hostile_year(text)
    reports = [year_report(year, care, f"={text}", NOW, events=events)]
    (tmp_path / "pages.html").write_text(to_html(reports), "utf-8")
    _look_at_page(tmp_path / "pages.html")
    write_workbook(reports, tmp_path / "pages.xlsx")
    _look_at_workbook(tmp_path / "pages.xlsx")
    for ending in (".csv", ".xlsx", ".parquet"):
        write_year(year, care, tmp_path / f"year{ending}")
    _look_at_workbook(tmp_path / "year.xlsx")
    _look_at_csv(tmp_path / "year.csv")


def _with_hostile_names(traces: Path, joints: Path, folder: Path, joint: str) -> list[str]:
    """Recordings of one joint with hostile names of all else, as words of a command."""
    table = pq.read_table(traces)
    table = table.filter(pc.equal(table.column("joint"), joint))
    for at, name in enumerate(table.column_names):
        if name in ("trace_id", "part", "position", "tool", "spindle"):
            hostile = [f"={HOSTILE}{one}" for one in table.column(name).to_pylist()]
            table = table.set_column(at, name, pa.array(hostile))
    pq.write_table(table, folder / "traces.parquet")
    title = json.dumps(f"={HOSTILE}").replace("\x7f", "")
    text = joints.read_text("utf-8").replace('"Drive unit to chassis, flange bolt"', title)
    (folder / "joints.toml").write_text(text, encoding="utf-8")
    return [str(folder / "traces.parquet"), "--joints", str(folder / "joints.toml")]


@pytest.mark.parametrize("ending", [".html", ".xlsx", ".csv"])
def test_parts_show_hostile_names_and_no_more(tmp_path: Path, ending: str) -> None:
    out = tmp_path / f"out{ending}"
    words = _with_hostile_names(*sample_parts_paths(), tmp_path, "drive-unit")
    assert main(["parts", *words, "--out", str(out)]) in (0, 1, 2)
    _LOOK[ending](out)


@pytest.mark.parametrize("command", ["report .html", "report .xlsx", "analyse .csv", "analyse .xlsx"])
def test_audits_show_hostile_names_and_no_more(tmp_path: Path, command: str) -> None:
    name, ending = command.split()
    out = tmp_path / f"out{ending}"
    words = _with_hostile_names(
        *(AUDIT.with_suffix(one) for one in (".parquet", ".toml")), tmp_path, "drive-unit"
    )
    option = "--out" if name == "report" else "--results"
    assert main([name, *words, option, str(out)]) in (0, 1, 2)
    _LOOK[ending](out)


def test_names_at_every_place_of_a_picture_are_texts() -> None:
    names = ((0.5, HOSTILE), (1.5, HOSTILE))
    axis = Axis(HOSTILE, HOSTILE, 0.0, 2.0, names)
    one, two = np.array([0.5, 1.5]), np.array([0.2, 1.8])
    spec = PlotSpec(
        HOSTILE, HOSTILE, HOSTILE, axis, axis, 100.0,
        zones=(Zone(0.0, 2.0, "ok", HOSTILE[:20]),), curves=(Curve(one, two, "crowd", 1.0, label=HOSTILE),),
        marks=(Mark(1.0, 1.0, "circle", "ok", HOSTILE),), notes=(Note(1.0, 1.0, HOSTILE),),
        limits=(LimitLine("x", 1.0, HOSTILE, "event"),),
    )  # fmt: skip
    assert "<img" not in svg_plot(spec, 600.0)


def _look_at_page(file: Path) -> None:
    page = file.read_text("utf-8")
    assert foreign_markup(page) == []
    assert not set(STEERING) & set(page)
    assert "&lt;img" in page or "=x=x" in page, "the names are there, or this proves nothing"


def _look_at_workbook(file: Path) -> None:
    book = openpyxl.load_workbook(file)
    cells = [cell for sheet in book for row in sheet.iter_rows() for cell in row if cell.value is not None]
    assert {cell.data_type for cell in cells} <= {"s", "n", "b", "d"}, "a formula"
    assert not any(cell.hyperlink for cell in cells)
    assert any(str(cell.value).startswith("=") for cell in cells)


def _look_at_csv(file: Path) -> None:
    with file.open(encoding="utf-8", newline="") as stream:
        cells = [cell for row in csv.reader(stream) for cell in row]
    assert not [cell for cell in cells if cell.startswith(("=", "@"))]
    assert any(cell.startswith("'=") for cell in cells)


_LOOK = {".html": _look_at_page, ".xlsx": _look_at_workbook, ".csv": _look_at_csv}
