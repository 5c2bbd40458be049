"""Two sets held against each other: what differs is said, what does not is not."""

from __future__ import annotations

import datetime

import numpy as np
import pytest

from analysis.errors import CallError
from analysis.joint import joints_from_text
from analysis.pipeline import Analysis, analyse
from analysis.report import build_comparison, to_html
from analysis.report.content import Paragraph, Plots, Table
from analysis.traces import TraceSet
from tests.helpers.judged_shift import judged_shift
from tests.world import evaluation_joints_toml, make_shift

NOW = datetime.datetime(2026, 3, 4, tzinfo=datetime.UTC)


@pytest.fixture(scope="module")
def shift() -> Analysis:
    return judged_shift()


def rows_of(shift: Analysis, joint: str) -> np.ndarray:
    good = np.array(shift.results().column("verdict").to_pylist()) == "ok"
    return np.flatnonzero((np.array(shift.traces.column("joint")) == joint) & good)


def figures(report: object) -> dict[str, tuple[float, str]]:
    table = next(b for b in report.sections[0].blocks if isinstance(b, Table) and b.name == "Figures")  # type: ignore[attr-defined]
    return {str(row[0].value): (float(row[8].value), row[9].text) for row in table.rows}  # type: ignore[arg-type]


def test_a_known_shift_of_torque_is_found_with_its_size() -> None:
    traces, _ = make_shift(7, good=60, each_fault=0)
    own = np.flatnonzero(np.array(traces.column("joint")) == "flange")
    traces = traces.take(own)
    raised = np.repeat(np.arange(len(traces)) >= len(traces) // 2, traces.n_samples)
    more = TraceSet(
        traces.angle_deg,
        np.where(raised, traces.torque_nm * 1.03, traces.torque_nm),
        traces.offsets,
        traces.attributes,
    )
    judged = analyse(more, joints_from_text(evaluation_joints_toml()))
    half = len(traces) // 2
    report = build_comparison(judged, range(half), range(half, len(traces)), ("before", "after"), now=NOW)
    difference, interval = figures(report)["Final torque"]
    assert difference == pytest.approx(0.03 * 26.2, rel=0.15)
    assert not interval.startswith("−")
    text = to_html([report])
    assert "before" in text
    assert "after" in text


def test_two_halves_of_one_population_do_not_differ_in_torque(shift: Analysis) -> None:
    rows = rows_of(shift, "flange")
    rows = rows[np.argsort(shift.curves.final_torque_nm[rows])]
    report = build_comparison(shift, rows[::2], rows[1::2], now=NOW)  # every other value of the sorted ones
    _, interval = figures(report)["Final torque"]
    low, high = (float(edge.replace("−", "-")) for edge in interval.split(" to "))
    assert low <= 0.0 <= high
    assert report.records.num_rows == len(rows)


def test_small_sets_are_compared_without_bands_and_say_so(shift: Analysis) -> None:
    rows = rows_of(shift, "nut") if len(rows_of(shift, "nut")) else rows_of(shift, "flange")
    report = build_comparison(shift, rows[:3], rows[3:6], now=NOW)
    blocks = report.sections[0].blocks
    assert not any(isinstance(block, Plots) for block in blocks)
    assert any(isinstance(block, Paragraph) and "not compared" in block.text for block in blocks)


def test_sets_that_cannot_be_compared_are_refused(shift: Analysis) -> None:
    rows = rows_of(shift, "flange")
    other = np.flatnonzero(np.array(shift.traces.column("joint")) == "cover")
    for first, second in (([], rows), (rows, rows), (rows[:5], other[:5])):
        with pytest.raises(CallError):
            build_comparison(shift, first, second, now=NOW)
