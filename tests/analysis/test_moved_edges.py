"""Zone edges that a person moved: verdict, figures, files and report follow; taking back restores."""

from __future__ import annotations

import csv
from dataclasses import replace

import numpy as np
import pyarrow.parquet as pq
import pytest

from analysis.joint import joints_from_text
from analysis.pipeline import analyse
from analysis.report import build_report
from analysis.report.html import to_html
from analysis.results import write_results
from analysis.verdict.decision import Decision, Decisions
from analysis.verdict.moved_drawdown import prevailing_before
from tests.world import evaluation_joints_toml, make_shift


@pytest.fixture(scope="module")
def plain():
    traces = make_shift(3, good=25, each_fault=0)[0]
    return analyse(traces, joints())


def joints():
    known = joints_from_text(evaluation_joints_toml())
    # From snug to final a usual flange bolt of this shift turns some 30 to 45 deg.
    return {name: replace(joint, angle_limits_deg=(20.0, 120.0)) for name, joint in known.items()}


def moved(plain, **edges):
    trace_id = trace_of(plain)
    return analyse(plain.traces, joints(), decisions=Decisions({trace_id: Decision(trace_id, edges)}))


def trace_of(plain) -> str:
    return next(
        row["trace_id"]
        for row in plain.results().to_pylist()
        if row["joint"] == "locknut" and row["verdict"] == "ok"
    )


def row_of(analysis, plain):
    return next(row for row in analysis.results().to_pylist() if row["trace_id"] == trace_of(plain))


def test_a_moved_snug_point_changes_the_angle_and_breaks_its_limit(plain):
    before = row_of(plain, plain)
    edge = before["final_angle_deg"] - 10.0
    after = row_of(moved(plain, snug=edge), plain)
    assert (before["verdict"], after["verdict"]) == ("ok", "not ok")
    assert after["findings"][0] == "angle-low"
    assert after["deciding"] == "angle-low"
    assert after["snug_angle_deg"] == edge
    assert after["joint_rate_deg"] == pytest.approx(10.0)
    assert after["angle_margin_deg"] == pytest.approx(-10.0)
    assert after["hardness"] == "hard"
    assert after["drawdown_deg"] == pytest.approx(edge - before["drawdown_angle_deg"])
    assert after["snug_angle_uncertainty_deg"] is None
    assert after["prevailing_torque_nm"] == before["prevailing_torque_nm"]


def test_a_moved_drawdown_start_takes_prevailing_torque_and_clamp_force_along(plain):
    before = row_of(plain, plain)
    # Far back to where the locking element has not been reached: next to no torque there.
    edge = 450.0
    after = row_of(moved(plain, drawdown=edge), plain)
    assert before["prevailing_torque_nm"] > 3.0
    assert after["prevailing_torque_nm"] < 1.0
    assert after["drawdown_angle_deg"] == edge
    assert after["rundown_deg"] == pytest.approx(
        edge - (before["drawdown_angle_deg"] - before["rundown_deg"])
    )
    assert after["elastic_origin_deg"] < before["elastic_origin_deg"]
    gain = after["clamp_force_kn"] / before["clamp_force_kn"]
    joint_part = before["final_torque_nm"] - before["prevailing_torque_nm"]
    assert gain == pytest.approx(
        (before["final_torque_nm"] - after["prevailing_torque_nm"]) / joint_part, rel=0.02
    )
    assert "prevailing-low" in after["findings"]
    assert after["verdict"] == "not ok"


def test_a_moved_yield_onset_breaks_the_rule_that_forbids_it(plain):
    before = row_of(plain, plain)
    edge = before["final_angle_deg"] - 5.0
    after = row_of(moved(plain, **{"yield": edge}), plain)
    assert (before["yielded"], after["yielded"]) == (False, True)
    assert after["yield_angle_deg"] == edge
    assert "yield-unwanted" in after["findings"]


def test_taking_it_back_restores_every_figure(plain):
    back = analyse(plain.traces, joints(), decisions=Decisions({trace_of(plain): Decision(trace_of(plain))}))
    assert back.results().equals(plain.results())


def test_other_traces_keep_their_points(plain):
    changed = moved(plain, snug=1000.0)
    others = np.array(plain.traces.trace_ids) != trace_of(plain)
    for name in ("snug_angle_deg", "prevailing_torque_nm", "drawdown_angle_deg"):
        np.testing.assert_array_equal(
            getattr(changed.curves, name)[others], getattr(plain.curves, name)[others]
        )


def test_a_drawdown_start_moved_to_where_it_was_changes_nothing_that_counts(plain):
    """The readable reading of the level agrees with the estimator's to a third of its uncertainty's size."""
    curves = plain.curves
    checked = 0
    for row in range(0, len(curves), 3):
        if not np.isfinite(curves.prevailing_torque_nm[row]):
            continue
        again = prevailing_before(
            plain.traces[row], int(curves.final_index[row]), float(curves.drawdown_angle_deg[row])
        )
        scale = 0.003 * curves.final_torque_nm[row]
        assert again["prevailing_torque_nm"] == pytest.approx(curves.prevailing_torque_nm[row], abs=scale)
        assert again["prevailing_from_deg"] == pytest.approx(curves.prevailing_from_deg[row], abs=0.5)
        checked += 1
    assert checked >= 20


def test_a_drawdown_start_before_the_recording_leaves_no_prevailing_torque(plain):
    after = row_of(moved(plain, drawdown=-5.0), plain)
    assert after["prevailing_torque_nm"] is None
    assert after["elastic_origin_deg"] is None
    assert "prevailing not evaluated" in after["not_evaluated_reason"]


@pytest.mark.parametrize("ending", ["csv", "parquet"])
def test_the_results_file_holds_the_moved_edge(plain, tmp_path, ending):
    edge = row_of(plain, plain)["final_angle_deg"] - 10.0
    target = tmp_path / f"results.{ending}"
    write_results(moved(plain, snug=edge), target)
    if ending == "csv":
        with target.open(encoding="utf-8", newline="") as file:
            rows = list(csv.DictReader(file))
    else:
        rows = pq.read_table(target).to_pylist()
    written = next(row for row in rows if row["trace_id"] == trace_of(plain))
    assert float(written["snug_angle_deg"]) == edge
    assert written["verdict"] == "not ok"


def test_the_report_shows_the_moved_edge_and_who_moved_it(plain):
    edge = round(row_of(plain, plain)["final_angle_deg"] - 10.0, 1)
    trace_id = trace_of(plain)
    decisions = Decisions({trace_id: Decision(trace_id, {"snug": edge}, note="seen on paper", by="Tester")})
    changed = analyse(plain.traces, joints(), decisions=decisions)
    text = to_html([build_report(changed, "locknut", decisions=decisions.traces)])
    assert f"snug point to {edge:.1f} deg" in text
    assert f"{edge:.1f} deg" in text
    assert "seen on paper" in text
    assert trace_id in text
