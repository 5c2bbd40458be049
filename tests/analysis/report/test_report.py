"""The report says what the results table says, for every joint, with reasons, limits and sources."""

from __future__ import annotations

import datetime
import math
import re
from collections import Counter
from dataclasses import replace

import numpy as np
import pyarrow as pa
import pytest

from analysis.catalogue.findings import in_words
from analysis.catalogue.verdicts import VERDICTS
from analysis.joint import joints_from_text
from analysis.pipeline import Analysis, analyse
from analysis.report import ReportTemplate, build_report, build_reports
from analysis.report.content import Bullets, JointReport, NamedValues, Paragraph, Plots, Table, single_blocks
from analysis.report.palette import ROLE_COLOURS
from analysis.spread import wilson_interval
from analysis.traces import TraceSet
from analysis.traces.units import from_internal
from analysis.verdict.decision import Decision
from app.session.state import Change, Decisions, TraceDecision
from tests.helpers.judged_shift import judged_shift
from tests.world import EVALUATION_JOINTS, evaluation_joints_toml, make_shift

FEW = ReportTemplate(most_evidence_pages=0)
NOW = datetime.datetime(2026, 3, 4, 5, 6, tzinfo=datetime.UTC)


@pytest.fixture(scope="module")
def shift() -> Analysis:
    return judged_shift()


@pytest.fixture(scope="module")
def reports(shift: Analysis) -> tuple[JointReport, ...]:
    return build_reports(shift, now=NOW, template=ReportTemplate(most_evidence_pages=200))


def tables_of(report: JointReport, name: str) -> list[Table]:
    return [
        block
        for section in report.sections
        for block in single_blocks(section.blocks)
        if isinstance(block, Table) and block.name == name
    ]


def all_text(report: JointReport) -> str:
    parts = []
    for section in report.sections:
        parts.append(section.title)
        for block in single_blocks(section.blocks):
            match block:
                case Paragraph():
                    parts.append(block.text)
                case Bullets():
                    parts += block.items
                case NamedValues():
                    parts += [f"{name} {value}" for name, value in block.pairs]
                case Table():
                    parts += [block.title, block.note, *(cell.text for row in block.rows for cell in row)]
                case Plots():
                    parts += [spec.title + spec.caption + spec.x.label + spec.y.label for spec in block.plots]
    return "\n".join(parts)


def test_there_is_a_report_for_each_joint_and_every_trace_is_in_one(
    shift: Analysis, reports: tuple[JointReport, ...]
) -> None:
    assert [report.joint for report in reports] == list(shift.joints)
    ids = [trace for report in reports for trace in report.records.column("trace_id").to_pylist()]
    assert sorted(ids) == sorted(shift.traces.trace_ids)


def test_verdict_counts_and_intervals_are_those_of_the_results(reports: tuple[JointReport, ...]) -> None:
    for report in reports:
        counted = Counter(report.records.column("verdict").to_pylist())
        n = report.records.num_rows
        (table,) = tables_of(report, "Verdicts")
        shown = {row[0].text: row for row in table.rows}
        assert shown["all"][1].value == n
        for verdict in VERDICTS:
            _, count, share, interval = shown[verdict]
            assert count.value == counted.get(verdict, 0)
            assert share.value == pytest.approx(counted.get(verdict, 0) / n)
            low, high = wilson_interval(counted.get(verdict, 0), n)
            assert interval.text == f"{100 * low:.1f}–{100 * high:.1f}\u00a0%"


def test_figures_are_those_of_the_results_and_count_what_lies_outside(
    reports: tuple[JointReport, ...],
) -> None:
    for report in reports:
        (table,) = tables_of(report, "Figures")
        row = next(row for row in table.rows if row[0].text == "Final torque")
        torque = np.array(report.records.column("final_torque_nm").to_pylist(), float)
        assert row[2].value == len(torque)
        assert row[3].value == pytest.approx(np.median(torque))
        assert row[5].value == pytest.approx(torque.std(ddof=1))
        found = report.records.column("findings").to_pylist()
        outside = sum(bool({"torque-low", "torque-high"} & set(names or [])) for names in found)
        # What a cut recording seems to fall short of is counted, and no finding.
        cut = report.records.column("cause").to_pylist().count("incomplete-recording")
        assert outside <= row[11].value <= outside + cut


def test_each_flagged_trace_is_listed_worst_first_with_a_page_and_its_reason(
    shift: Analysis, reports: tuple[JointReport, ...]
) -> None:
    for report in reports:
        verdicts = dict(
            zip(
                report.records.column("trace_id").to_pylist(),
                report.records.column("verdict").to_pylist(),
                strict=True,
            )
        )
        flagged = {trace for trace, verdict in verdicts.items() if verdict != "ok"}
        (table,) = tables_of(report, "Flagged")
        listed = [row[0].text for row in table.rows]
        assert set(listed) == flagged
        assert len(listed) == len(flagged)
        # What nobody judged comes first, then "not ok" before "suspect".
        order = [verdicts[trace] for trace in listed]
        assert order == sorted(order)
        anchors = {section.anchor: section for section in report.sections}
        for row in table.rows:
            page = anchors[row[0].link]
            assert page.title == row[0].text
            assert page.verdict == verdicts[page.title]
            assert row[5].text, "no reason given"
            sentence = shift.sentence(shift.traces.row_of(page.title)).text()
            assert page.blocks[0] == Paragraph(sentence, "strong")


def test_a_page_shows_every_rule_with_measured_limit_and_margin(
    shift: Analysis, reports: tuple[JointReport, ...]
) -> None:
    report = reports[0]
    page = next(section for section in report.sections if section.level == 2)
    row = shift.traces.row_of(page.title)
    table = next(block for block in page.blocks if isinstance(block, Table) and block.name == "Rules")
    checks = shift.checks(row)
    assert len(table.rows) == len(checks)
    for cells, check in zip(table.rows, checks, strict=True):
        assert [cell.value for cell in cells[2:6]] == [check.measured, check.low, check.high, check.margin]
        assert check.status in cells[7].text
        assert check.reason in cells[7].text


def test_plots_name_known_roles_hold_finite_numbers_and_have_unique_names(
    reports: tuple[JointReport, ...],
) -> None:
    names = []
    for report in reports:
        for section in report.sections:
            for block in single_blocks(section.blocks):
                if not isinstance(block, Plots):
                    continue
                for spec in block.plots:
                    names.append(spec.name)
                    assert spec.x.low < spec.x.high
                    assert spec.y.low < spec.y.high
                    for curve in spec.curves:
                        assert np.isfinite(curve.x).all()
                        assert np.isfinite(curve.y).all()
                    roles = [thing.role for thing in (*spec.curves, *spec.bands, *spec.zones, *spec.marks)]
                    roles += [role for role, _, _ in spec.key]
                    assert set(roles) <= set(ROLE_COLOURS)
    assert len(set(names)) == len(names)


def test_anchors_are_unique_over_all_reports(reports: tuple[JointReport, ...]) -> None:
    anchors = [section.anchor for report in reports for section in report.sections]
    assert len(set(anchors)) == len(anchors)


def test_histogram_bars_hold_every_value(reports: tuple[JointReport, ...]) -> None:
    for report in reports:
        for section in report.sections[:2]:
            for block in single_blocks(section.blocks):
                for spec in block.plots if isinstance(block, Plots) else ():
                    if spec.bars is None:
                        continue
                    column = {
                        "Final torque": "final_torque_nm",
                        "Angle from snug to final": "joint_rate_deg",
                        "Prevailing torque": "prevailing_torque_nm",
                        "Elastic slope": "elastic_slope_nm_per_deg",
                    }[spec.x.title]
                    present = len(report.records) - report.records.column(column).null_count
                    assert spec.bars.counts.sum() == present


def test_sources_settings_versions_and_cautions_are_stated(shift: Analysis) -> None:
    report = build_report(shift, "flange", now=NOW)
    text = all_text(report)
    for word in ("curve.snug_slope_ratio", "population.outlier_share", "tautograph", "numpy"):
        assert word in text
    assert "never replace" in text
    assert "estimated" in text
    assert "licensed practice prevail" in text


def test_the_display_unit_is_used_everywhere(shift: Analysis) -> None:
    report = build_report(shift, "flange", now=NOW, torque_unit="ft·lbf")
    (figures,) = tables_of(report, "Figures")
    torque = np.array(report.records.column("final_torque_nm").to_pylist(), float)
    assert figures.rows[0][3].value == pytest.approx(from_internal(float(np.median(torque)), "ft·lbf"))
    definition = tables_of(report, "Definition")[0]
    outside_definition = all_text(report)
    for row in definition.rows:
        outside_definition = outside_definition.replace(row[1].text, "")
    assert " N·m " not in outside_definition.replace("(N·m, deg, mm)", "")
    for section in report.sections:
        for block in single_blocks(section.blocks):
            for spec in block.plots if isinstance(block, Plots) else ():
                assert "N·m" not in spec.x.label + spec.y.label


def test_pages_and_rows_that_are_cut_are_stated(shift: Analysis) -> None:
    template = ReportTemplate(most_evidence_pages=2, most_listed=3)
    report = build_report(shift, "flange", now=NOW, template=template)
    pages = [section for section in report.sections if section.level == 2]
    (table,) = tables_of(report, "Flagged")
    assert len(pages) == 2
    assert len(table.rows) == 3
    flagged = sum(v != "ok" for v in report.records.column("verdict").to_pylist())
    assert f"3 of {flagged} flagged traces are listed" in table.note
    assert f"2 of {flagged} have a page" in table.note


def test_chosen_traces_get_the_pages_with_what_was_decided(shift: Analysis) -> None:
    row = int(np.flatnonzero(np.array(shift.traces.column("joint")) == "flange")[0])
    trace_id = shift.traces.trace_ids[row]
    decision = Decision(
        trace_id, disposition="to investigate", note="washer looks bent", by="second shift", at=NOW
    )
    report = build_report(shift, "flange", chosen_rows=[row], decisions={trace_id: decision}, now=NOW)
    pages = [section for section in report.sections if section.level == 2]
    assert [page.title for page in pages] == [trace_id]
    text = all_text(replace(report, sections=tuple(pages)))
    for word in ("to investigate", "washer looks bent", "second shift", "2026-03-04 05:06 UTC"):
        assert word in text


def test_every_change_is_told_with_its_time_and_name(shift: Analysis) -> None:
    row = int(np.flatnonzero(np.array(shift.traces.column("joint")) == "flange")[0])
    changes = (
        Change("2026-03-04T05:06:07+00:00", "second shift", "note: washer looks bent"),
        Change("2026-03-04T07:00:00+00:00", "", "joint given: flange"),
    )
    decision = TraceDecision(note="washer looks bent", joint="flange", changes=changes)
    decisions = Decisions(traces={shift.traces.trace_ids[row]: decision})
    report = build_report(shift, "flange", chosen_rows=[row], decisions=decisions, now=NOW)
    text = all_text(report)
    assert "2026-03-04 05:06 UTC, second shift: note: washer looks bent" in text
    assert "2026-03-04 07:00 UTC, name not given: joint given: flange" in text
    assert "Joint given by hand flange" in text


def test_a_step_of_the_prevailing_torque_is_said_with_its_place_and_time() -> None:
    traces, _ = make_shift(11, EVALUATION_JOINTS[:1], good=80, each_fault=0)
    order = np.argsort(np.array(traces.column("started_at")), kind="stable")
    traces = traces.take(order)
    later = np.repeat(np.arange(len(traces)) >= 50, traces.n_samples)
    stepped = replace(traces, torque_nm=np.where(later, traces.torque_nm + 0.5, traces.torque_nm))
    joints = joints_from_text(evaluation_joints_toml())
    text = all_text(build_report(analyse(stepped, joints), "flange", now=NOW))
    found = re.search(
        r"Prevailing torque steps from (\S+) to (\S+) N·m at (\d{4}-\d\d-\d\d \d\d:\d\d) UTC \((\S+), ", text
    )
    assert found, text[:1500]
    assert float(found[2]) - float(found[1]) == pytest.approx(0.5, abs=0.1)
    assert abs(traces.trace_ids.index(found[4]) - 50) <= 3
    steady = all_text(build_report(analyse(traces, joints), "flange", now=NOW))
    assert "neither step nor drift" in steady
    few = all_text(build_report(analyse(traces.take(range(5)), joints), "flange", now=NOW))
    assert "neither step" not in few  # of what is not known nothing is said
    assert "8 tightenings or more that keep their limits; here are fewer" in few


def test_limits_set_by_hand_are_said_on_the_first_page_and_in_the_definition(shift: Analysis) -> None:
    decisions = Decisions().with_limits("flange", "torque_limits_nm", (20.0, 30.0))
    report = build_report(shift, "flange", decisions=decisions, now=NOW)
    (figures,) = tables_of(report, "Figures")
    assert "Limits set by hand, over the joints file: torque." in figures.note
    (definition,) = tables_of(report, "Definition")
    marked = [row[0].text for row in definition.rows if "set by hand" in row[1].text]
    assert marked == ["torque_limits_nm"]
    assert "set by hand" not in all_text(build_report(shift, "flange", now=NOW))


def test_the_first_page_counts_what_is_wrong_with_the_flagged_traces(
    shift: Analysis, reports: tuple[JointReport, ...]
) -> None:
    """Each kind of broken limit, and what is unusual, with the number of traces that carry it."""
    results = shift.results()
    flagged = [verdict in ("not ok", "suspect") for verdict in results["verdict"].to_pylist()]
    for report in reports:
        of = [name == report.joint for name in results["joint"].to_pylist()]
        findings = results["findings"].filter(pa.array([a and b for a, b in zip(of, flagged, strict=True)]))
        count = sum("outlier" in (names or ()) for names in findings.to_pylist())
        words = in_words("outlier")
        line = f"{words[0].upper()}{words[1:]}: {count} trace{'' if count == 1 else 's'}."
        assert (line in all_text(report)) == (count > 0)


def test_a_joint_whose_traces_cannot_be_evaluated_is_not_called_good() -> None:
    angle = np.linspace(0.0, 90.0, 200)
    traces = TraceSet.from_lists(["a", "b"], [angle, angle], [angle * 0.2, angle * 0.2])
    report = build_report(analyse(traces, {}), "", now=NOW)
    assert report.title == "Traces without a joint"
    lead = next(b for b in report.sections[0].blocks if isinstance(b, Paragraph) and b.style == "lead")
    assert lead.text.startswith("Cannot be told")


def test_a_joint_without_traces_and_a_shift_without_traces() -> None:
    joints = joints_from_text("[joints.hub]\ntarget_torque_nm = 65.0\ntorque_limits_nm = [58.0, 72.0]\n")
    empty = analyse(TraceSet.empty(), joints)
    assert build_reports(empty, now=NOW) == ()
    report = build_report(empty, "hub", now=NOW)
    assert "there is no tightening" in all_text(report)


def test_hostile_recordings_still_give_a_report() -> None:
    joints = joints_from_text("[joints.hub]\ntarget_torque_nm = 65.0\ntorque_limits_nm = [58.0, 72.0]\n")
    nan = float("nan")
    angles = [[], [0.0], [0.0, 0.0, 0.0], [nan, nan], [0.0, 10.0, 20.0], [5.0] * 50, list(range(100))]
    torques = [
        [],
        [1.0],
        [1.0, 2.0, 3.0],
        [nan, nan],
        [0.0, nan, 60.0],
        [60.0] * 50,
        [0.6 * k for k in range(100)],
    ]
    ids = [f"t{k}" for k in range(len(angles))]
    traces = TraceSet.from_lists(ids, angles, torques, {"joint": ["hub"] * len(ids)})
    judged = analyse(traces, joints)
    report = build_report(judged, "hub", now=NOW, chosen_rows=range(len(ids)))
    assert sum(section.level == 2 for section in report.sections) == len(ids)


def test_what_people_decided_is_listed_for_traces_that_have_no_page(shift: Analysis) -> None:
    flange, ok = np.array(shift.traces.column("joint")) == "flange", VERDICTS.index("ok")
    trace_id = shift.traces.trace_ids[int(np.flatnonzero(flange & (shift.verdict == ok))[0])]
    changes = (Change("2026-03-04T05:06:07+00:00", "second shift", "note: washer looks bent"),)
    decision = TraceDecision(
        disposition="to investigate", note="washer looks bent", edges={"snug": 12.34}, changes=changes
    )
    report = build_report(shift, "flange", decisions=Decisions(traces={trace_id: decision}), now=NOW)
    assert trace_id not in [section.title for section in report.sections if section.level == 2]
    (table,) = tables_of(report, "Decided")
    (line,) = table.rows
    assert [cell.text for cell in line] == [
        trace_id, "ok", "to investigate", "snug point to 12.3 deg as recorded", "washer looks bent",
        "2026-03-04 05:06 UTC, second shift: note: washer looks bent",
    ]  # fmt: skip
    assert not tables_of(build_report(shift, "flange", now=NOW), "Decided")


def test_class_a_comes_first_in_whatever_order_joints_are_asked_for(shift: Analysis) -> None:
    names = [name for name in shift.joints if name in shift.results().column("joint").to_pylist()]
    last = shift.joints[names[-1]]
    risky = replace(last, parts={**last.parts, "risk_class": "A"})
    classed = replace(shift, joints={**shift.joints, last.name: risky})
    for asked in (None, names):
        shown = [one.joint for one in build_reports(classed, asked, now=NOW, template=FEW)]
        assert shown == [names[-1], *names[:-1]]


def test_limits_on_one_side_alone_are_drawn_and_said_as_such(shift: Analysis) -> None:
    open_ended = {
        name: replace(
            one, torque_limits_nm=(one.torque_limits_nm[0], math.inf), angle_limits_deg=(-math.inf, 70.0)
        )
        for name, one in shift.joints.items()
        if one.torque_limits_nm is not None
    }
    for report in build_reports(replace(shift, joints={**shift.joints, **open_ended}), now=NOW, template=FEW):
        if report.joint in open_ended:
            low = open_ended[report.joint].torque_limits_nm[0]
            text = all_text(report)
            assert f"≥ {low:g}" in text
            assert "≤ 70" in text
            assert not re.search(r"\binf\b", text)
