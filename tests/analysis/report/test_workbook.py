"""The spreadsheet: typed cells, units, frozen heads, a chart, and no text that is a formula."""

from __future__ import annotations

import datetime
import io
from typing import Any

import numpy as np
import openpyxl
import pytest

from analysis.catalogue.verdicts import VERDICTS
from analysis.joint import joints_from_text
from analysis.pipeline import Analysis, analyse
from analysis.report import build_comparison, build_reports, workbook_bytes
from analysis.traces import TraceSet
from analysis.traces.units import from_internal
from tests.helpers.judged_shift import judged_shift

NOW = datetime.datetime(2026, 3, 4, 5, 6, tzinfo=datetime.UTC)


def opened(data: bytes) -> Any:
    return openpyxl.load_workbook(io.BytesIO(data))


@pytest.fixture(scope="module")
def shift() -> Analysis:
    return judged_shift()


def test_each_joint_has_its_figures_a_chart_and_every_trace(shift: Analysis) -> None:
    book = opened(workbook_bytes(build_reports(shift, now=NOW, torque_unit="in·lbf")))
    assert len(book.sheetnames) == 2 * len(shift.joints)
    summary, traces = book["flange"], book["flange traces"]
    assert len(summary._charts) == 1
    assert traces.freeze_panes == "B2"
    head = [cell.value for cell in traces[1]]
    column = head.index("Final torque (in·lbf)")
    ids = [row[0].value for row in traces.iter_rows(min_row=2)]
    assert len(ids) == sum(joint == "flange" for joint in shift.traces.column("joint"))
    for row in list(traces.iter_rows(min_row=2))[:20]:
        k = shift.traces.row_of(row[0].value)
        assert row[column].data_type == "n"
        expected = from_internal(float(shift.curves.final_torque_nm[k]), "in·lbf")
        assert row[column].value == pytest.approx(expected, rel=1e-12)
    started = head.index("Started at")
    assert isinstance(traces.cell(2, started + 1).value, datetime.datetime)


def test_a_column_shows_four_digits_keeps_all_and_is_as_wide_as_its_head(shift: Analysis) -> None:
    traces = opened(workbook_bytes(build_reports(shift, now=NOW)))["flange traces"]
    head = [cell.value for cell in traces[1]]
    torque = traces.cell(2, head.index("Final torque (N·m)") + 1)
    slope = traces.cell(2, head.index("Elastic slope (N·m/deg)") + 1)
    assert torque.number_format == "0.00"  # some 20 N·m
    assert slope.number_format == "0.0000"
    assert slope.value != round(slope.value, 4)
    for column in traces.columns:
        width = traces.column_dimensions[column[0].column_letter].width
        assert width >= max(map(len, str(column[0].value).split()))


def test_the_same_report_gives_the_same_bytes(shift: Analysis) -> None:
    assert workbook_bytes(build_reports(shift, now=NOW)) == workbook_bytes(build_reports(shift, now=NOW))


def test_no_text_becomes_a_formula_a_link_or_a_number() -> None:
    ids = ["=1+1", "+cmd|' /C calc'!A0", "@SUM(A1)", "-2+3", "http://example.org", "007"]
    joints = joints_from_text(
        "[joints.'=HYPERLINK(0)']\ntitle = '=2+2'\ntarget_torque_nm = 6.0\ntorque_limits_nm = [5.0, 7.0]\n"
    )
    angle = np.linspace(0, 400, 300)
    torque = np.maximum(0.2, (angle - 300) * 0.1)
    traces = TraceSet.from_lists(
        ids, [angle] * len(ids), [torque] * len(ids), {"joint": ["=HYPERLINK(0)"] * len(ids), "lot": ids}
    )
    book = opened(workbook_bytes(build_reports(analyse(traces, joints), now=NOW)))
    seen = []
    for sheet in book:
        for row in sheet.iter_rows():
            for cell in row:
                assert cell.data_type != "f"
                assert cell.hyperlink is None
                seen.append(cell.value)
    for trace_id in ids:
        assert trace_id in seen


def test_joints_with_long_alike_and_forbidden_names_get_sheets_of_their_own() -> None:
    names = ["a" * 40 + "1", "a" * 40 + "2", "x/y:z", "X/Y:Z", "history"]
    text = "".join(f"[joints.'{n}']\ntarget_torque_nm = 6.0\ntorque_limits_nm = [5.0, 7.0]\n" for n in names)
    angle = np.linspace(0, 400, 300)
    torque = np.maximum(0.2, (angle - 300) * 0.1)
    traces = TraceSet.from_lists(names, [angle] * 5, [torque] * 5, {"joint": names})
    book = opened(workbook_bytes(build_reports(analyse(traces, joints_from_text(text)), now=NOW)))
    assert len({name.lower() for name in book.sheetnames}) == 10
    assert all(len(name) <= 31 for name in book.sheetnames)


def test_the_chart_counts_every_verdict_of_one_set_or_of_two(shift: Analysis) -> None:
    rows = np.flatnonzero(np.array(shift.traces.column("joint")) == "flange")
    two = build_comparison(shift, rows[::2], rows[1::2], ("even", "odd"), now=NOW)
    for report, sets in ((build_reports(shift, now=NOW)[0], 1), (two, 2)):
        sheet = opened(workbook_bytes([report])).worksheets[0]
        (chart,) = sheet._charts
        assert len(chart.series) == sets
        counts = report.records.column("verdict").to_pylist()
        total = 0
        for series in chart.series:
            reference = series.val.numRef.f.rpartition("!")[2].replace("$", "")
            cells = [cell.value for row in sheet[reference] for cell in row]
            assert len(cells) == len(VERDICTS)
            total += sum(cells)
        assert total == len(counts)


def test_nothing_to_report_is_refused() -> None:
    with pytest.raises(ValueError, match="no report"):
        workbook_bytes([])
