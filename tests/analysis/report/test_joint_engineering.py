"""The joint's engineering in the report: facts on a trace's page, and a section for tests with a load
cell."""

from __future__ import annotations

import datetime
from pathlib import Path

import pytest

from analysis.joint import load_joints
from analysis.joint.calculation import CAUTION
from analysis.pipeline import Analysis, analyse
from analysis.reading import read_paths
from analysis.report import build_report
from analysis.report.content import JointReport, NamedValues, Paragraph, Plots, Section, Table, single_blocks
from analysis.report.html import to_html
from analysis.traces.units import from_internal
from sample_traces.sample_paths import sample_paths
from tests.helpers.laboratory_files import write_laboratory

NOW = datetime.datetime(2026, 3, 2, 6, 0, tzinfo=datetime.UTC)


@pytest.fixture(scope="module")
def analysis(tmp_path_factory: pytest.TempPathFactory) -> Analysis:
    traces, joints = write_laboratory(tmp_path_factory.mktemp("laboratory"))
    return analyse(read_paths([str(traces)]).traces, load_joints(joints))


def _report(analysis: Analysis, unit: str = "N·m") -> JointReport:
    row = analysis.traces.row_of("locknut-lab-0000")
    return build_report(analysis, "locknut", chosen_rows=[row], now=NOW, torque_unit=unit)


def _laboratory(report: JointReport) -> Section:
    return next(section for section in report.sections if section.title == "Measured clamp force")


def _tables(section: Section) -> dict[str, Table]:
    return {block.name: block for block in single_blocks(section.blocks) if isinstance(block, Table)}


def test_tests_and_pairs_of_the_joint_stand_in_tables(analysis: Analysis) -> None:
    tables = _tables(_laboratory(_report(analysis)))
    tests, pairs = tables["Laboratory"], tables["Pairs"]
    assert [row[0].value for row in tests.rows] == [
        "locknut-lab-0000",
        "locknut-lab-0001",
        "locknut-lab-0002",
    ]
    assert all("outside the scope of ISO 16047" in row[-1].text for row in tests.rows)
    known = [row for row in tests.rows if row[3].value is not None]
    assert known
    assert all(0.05 < float(str(row[3].value)) < 0.3 for row in known)
    assert [row[0].value for row in pairs.rows] == ["locknut-lab-0000"]
    cautions = [
        b.text for b in single_blocks(_laboratory(_report(analysis)).blocks) if isinstance(b, Paragraph)
    ]
    assert CAUTION in cautions
    assert "Tests with a load cell" in to_html([_report(analysis)])


def test_the_measured_forces_are_drawn_where_they_become_straight(analysis: Analysis) -> None:
    (plots,) = [b for b in single_blocks(_laboratory(_report(analysis)).blocks) if isinstance(b, Plots)]
    (plot,) = plots.plots
    assert len(plot.curves) == 3
    circles = [mark for mark in plot.marks if mark.shape == "circle"]
    assert [mark.x for mark in circles] == [0.0] * 3
    assert all(mark.x < 0.0 for mark in plot.marks if mark.shape == "cross")
    for curve in plot.curves:
        assert plot.x.low <= curve.x.min() < 0.0 < curve.x.max() <= plot.x.high
        assert plot.y.low <= curve.y.min() < curve.y.max() <= plot.y.high
    assert "load cell" in to_html([_report(analysis)])


def test_a_traces_page_tells_where_the_torque_went_and_what_is_left(analysis: Analysis) -> None:
    page = next(section for section in _report(analysis).sections if section.title == "locknut-lab-0000")
    facts = dict(pair for b in single_blocks(page.blocks) if isinstance(b, NamedValues) for pair in b.pairs)
    shares = [float(part.split()[-1]) for part in facts["Torque split"].removesuffix(" %").split(", ")]
    assert sum(shares) == pytest.approx(100.0, abs=2.0)
    assert "kN measured; straight from" in facts["Load cell"]
    assert "N·m/deg" in facts["Expected slope"]
    assert "Left after embedding" not in facts, "the joint does not state its surfaces"


@pytest.mark.parametrize("unit", ["ft·lbf", "in·lbf", "kgf·cm"])
def test_the_tables_mean_the_same_in_every_unit(analysis: Analysis, unit: str) -> None:
    plain, other = (_tables(_laboratory(_report(analysis, u))) for u in ("N·m", unit))
    for name, columns in (("Laboratory", (2,)), ("Pairs", (2, 3))):
        for row, same in zip(plain[name].rows, other[name].rows, strict=True):
            for index, (cell, shown) in enumerate(zip(row, same, strict=True)):
                if index in columns and cell.value is not None:
                    assert shown.value == pytest.approx(from_internal(float(str(cell.value)), unit))
                    assert float(shown.text.replace("\u202f", "")) == pytest.approx(
                        float(str(shown.value)), rel=2e-3
                    )
                else:
                    assert shown.value == cell.value
        assert [c.unit for c in other[name].columns if c.unit.endswith(unit)] == [unit] * len(columns)


def test_a_joint_without_a_load_cell_has_no_such_section(analysis: Analysis, tmp_path: Path) -> None:
    from sample_traces.sample_paths import sample_paths

    paths = sample_paths()
    traces = read_paths([paths.traces]).traces
    some = traces.take([row for row, joint in enumerate(traces.column("joint")) if joint == "wheel-hub"][:12])
    report = build_report(analyse(some, load_joints(paths.joints)), "wheel-hub", chosen_rows=[0], now=NOW)
    assert not any(section.title == "Measured clamp force" for section in report.sections)
    page = next(section for section in report.sections if section.title == some.trace_ids[0])
    facts = dict(pair for b in single_blocks(page.blocks) if isinstance(b, NamedValues) for pair in b.pairs)
    assert "estimated" in facts["Left after embedding"]


def test_the_report_shows_back_offs_runs_and_the_plan() -> None:
    """The trial plate of the sample shift, six bolts, among other bolts of its joint."""
    paths = sample_paths()
    traces = read_paths([paths.traces]).traces
    own = [row for row, name in enumerate(traces.column("joint")) if name == "drive-unit"][:60]
    analysis = analyse(traces.take(own), load_joints(paths.joints))
    page = str(to_html([build_report(analysis, "drive-unit", chosen_rows=[0], now=NOW)]))
    told = (
        "Stiffness measured by back-offs of 6 bolts",
        "over that of the first run",
        "Runs of the fastener",
    )
    for words in ("Backed off", "drive-unit-trial-6", *told):
        assert words in page, words


def test_routes_of_a_trace_stand_on_one_axis_on_its_page(analysis: Analysis) -> None:
    report = _report(analysis)
    plots = [
        plot
        for section in report.sections
        for block in single_blocks(section.blocks)
        if isinstance(block, Plots)
        for plot in block.plots
        if plot.name.endswith("-routes")
    ]
    assert len(plots) == 1
    assert {"torque", "result"} <= {name for _, name in plots[0].y.names}
    page = to_html([report])
    assert all(note.text in page for note in plots[0].notes)
    assert "data-names=" in page
