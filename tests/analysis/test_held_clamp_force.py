"""What the sample shift says of its clamp force as a whole, against its truth file."""

from __future__ import annotations

import numpy as np
import pyarrow.parquet as pq
import pytest

from analysis.account.holding import tail_sentences
from analysis.joint.force_population import force_population
from analysis.report import build_comparison, build_reports, to_html
from sample_traces.sample_paths import sample_paths
from tests.helpers.judged_sample import judged_sample


def rows_of(joint: str) -> np.ndarray:
    rows = judged_sample().joint_rows
    return np.flatnonzero(rows.codes == rows.names.index(joint))


def true_kn() -> np.ndarray:
    truth = pq.read_table(sample_paths().truth)
    known = dict(zip(*(truth[name].to_pylist() for name in ("trace_id", "clamp_force_kn")), strict=True))
    return np.array([known[name] for name in judged_sample().traces.trace_ids], np.float64)


@pytest.mark.parametrize("joint", ["drive-unit", "wheel-hub", "mast-nut", "gearbox-cover"])
def test_scatter_of_sound_tightenings_is_nearly_the_true_one(joint: str) -> None:
    rows = rows_of(joint)
    words = np.array(judged_sample().results().column("verdict").to_pylist())
    rows = rows[(words[rows] == "ok") & np.isfinite(judged_sample().clamp.clamp_force_kn[rows])]
    found = force_population(judged_sample().clamp, rows)
    assert found is not None
    true = true_kn()[rows]
    assert found.scatter_share == pytest.approx(true.std() / true.mean(), rel=0.2)


def test_what_surely_holds_is_said_first_and_counted_by_the_bounds() -> None:
    account = judged_sample().diagnosis("drive-unit")
    first = account.sentences[0].text()
    assert first == account.held[0].text()
    checks = [
        next(check for check in judged_sample().checks(int(row)) if check.rule.name == "clamp")
        for row in rows_of("drive-unit")
        if not judged_sample().operations.loosenings.is_loosening[row]
    ]
    met, broken = (sum(check.status == status for check in checks) for status in ("met", "broken"))
    assert first.startswith(f"{met} of {len(checks)} surely hold 22 kN, {broken} surely do")
    assert f"the other {len(checks) - met - broken} " in first
    assert "P(F < 22 kN after embedding)" in " ".join(map(str, account.held))


def test_joint_that_contradicts_its_definition_has_counts_but_no_chance() -> None:
    account = judged_sample().diagnosis("fork-carriage")
    words = " ".join(map(str, account.held))
    assert account.sentences[0] == account.unlike[0]
    assert "No probability is stated" in words
    assert "P(F" not in words


def test_joint_without_a_thread_says_nothing_of_clamp_force() -> None:
    assert all(
        "P(F" not in str(one) and "surely" not in str(one)
        for one in judged_sample().diagnosis("battery-clip").held
    )


def test_oily_lot_is_told_by_its_tail() -> None:
    rows = rows_of("wheel-hub")
    oily = np.array(judged_sample().traces.column("lot"), object)[rows] == "W-121"
    sets, labels = (rows[oily], rows[~oily]), ("A", "B")
    force = judged_sample().clamp.clamp_force_kn
    proof_kn = 830.0 * 84.3 / 1000.0  # ISO 898-1, M12 class 10.9: 70.0 kN
    above = [int(np.sum(force[own] > proof_kn)) for own in sets]
    known = [int(np.sum(np.isfinite(force[own]))) for own in sets]
    text = tail_sentences(judged_sample(), "wheel-hub", sets, labels)[0].text()
    assert f" {above[0]} of {known[0]} of A" in text
    assert f" {above[1]} of {known[1]} of B" in text
    assert above[0] > 5 * above[1]
    report = to_html([build_comparison(judged_sample(), *sets, labels)])
    assert "Above proof load" in report
    assert "edian of pairwise differences" in report


def test_page_one_of_the_report_says_how_many_hold() -> None:
    (report,) = build_reports(judged_sample(), ["drive-unit"])
    assert "surely hold 22 kN" in to_html([report])
