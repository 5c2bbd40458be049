"""From traces to verdicts: the order of things, decisions, references, and what is said of them."""

from __future__ import annotations

import importlib
from dataclasses import replace
from functools import cache

import numpy as np
import pyarrow as pa
import pytest

from analysis.catalogue.rules import RULES
from analysis.catalogue.verdicts import VERDICTS
from analysis.errors import CallError, CancelledError
from analysis.joint import joints_from_text
from analysis.pipeline import Analysis, analyse, find_what_is_shared, pin_reference
from analysis.shift.reference import load_references, save_references
from analysis.traces import TraceSet
from analysis.verdict.decision import Decision, Decisions
from tests.speed.analysing import STEPS
from tests.world import evaluation_joints_toml, make_shift

JOINTS = joints_from_text(evaluation_joints_toml())


@cache
def shift(good: int = 60, each_fault: int = 1, seed: int = 4) -> tuple[TraceSet, pa.Table]:
    return make_shift(seed, good=good, each_fault=each_fault)


@cache
def analysis_of(good: int = 60, each_fault: int = 1, seed: int = 4) -> Analysis:
    return analyse(shift(good, each_fault, seed)[0], JOINTS)


def first_ok(analysis: Analysis) -> int:
    return int(np.flatnonzero(analysis.verdict == VERDICTS.index("ok"))[0])


def test_one_verdict_for_each_trace() -> None:
    analysis = analysis_of()
    assert len(analysis) == len(analysis.verdict) == len(analysis.traces)
    assert set(analysis.verdict.tolist()) <= set(range(len(VERDICTS)))
    for row in range(0, len(analysis), 7):
        assert analysis.sentence(row)
        assert len(analysis.checks(row)) == len(RULES) - 3  # those of audits and of pulses are not asked
        present = set(analysis.judgement.findings_of(row))
        assert {finding.name for finding in analysis.findings(row)} == present


def test_order_of_traces_is_irrelevant() -> None:
    analysis = analysis_of()
    order = np.random.default_rng(1).permutation(len(analysis))
    turned = analyse(analysis.traces.take(order), JOINTS)
    assert turned.verdict.tolist() == analysis.verdict[order].tolist()
    assert turned.causes.likeliest.tolist() == analysis.causes.likeliest[order].tolist()
    np.testing.assert_allclose(turned.outliers.score, analysis.outliers.score[order], rtol=1e-9)


def test_no_traces_at_all() -> None:
    analysis = analyse(TraceSet.empty(), JOINTS)
    assert len(analysis) == 0
    assert analysis.results().num_rows == 0


def test_traces_that_name_no_joint_are_not_evaluated_and_a_default_is_taken() -> None:
    traces, _ = shift()
    bare = replace(traces, attributes=traces.attributes.drop_columns(["joint"]))
    one = {"flange": JOINTS["flange"]}
    analysis = analyse(bare, one)
    assert {VERDICTS[code] for code in analysis.verdict} == {"not evaluated"}
    assert "the recording names no joint" in analysis.results()["not_evaluated_reason"][0].as_py()
    assert analyse(bare, one, default_joint="flange").joint_rows.name_of(0) == "flange"


def test_few_traces_have_no_score_but_their_limits() -> None:
    analysis = analyse(shift()[0].take(np.arange(12)), JOINTS)
    assert np.isnan(analysis.outliers.score).all()
    assert all("too few" in population.note for population in analysis.outliers.populations.values())
    assert "torque" in {check.rule.name for check in analysis.checks(0) if check.status in ("met", "broken")}


def test_cancelled_work_stops() -> None:
    with pytest.raises(CancelledError):
        analyse(shift()[0], JOINTS, cancelled=lambda: True)


def test_limits_of_a_person_lie_over_the_file() -> None:
    analysis = analysis_of()
    row = first_ok(analysis)
    name = str(analysis.joint_rows.name_of(row))
    tight = Decisions(limits={name: {"torque_limits_nm": (1.0, 2.0)}})
    changed = analyse(analysis.traces, JOINTS, decisions=tight)
    assert VERDICTS[changed.verdict[row]] == "not ok"
    assert changed.judgement.findings_of(row)[0] == "torque-high"
    with pytest.raises(CallError, match="no limit 'colour'"):
        analyse(analysis.traces, JOINTS, decisions=Decisions(limits={name: {"colour": (1.0, 2.0)}}))


def test_moved_edge_is_followed_and_taking_it_back_restores() -> None:
    analysis = analysis_of()
    row = first_ok(analysis)
    name, trace_id = str(analysis.joint_rows.name_of(row)), analysis.traces.trace_ids[row]
    final = float(analysis.curves.final_angle_deg[row])
    limits = {name: {"angle_limits_deg": (0.0, 2.0 * float(analysis.curves.joint_rate_deg[row]))}}
    moved = Decisions({trace_id: Decision(trace_id, {"snug": final - 300.0})}, limits)
    changed = analyse(analysis.traces, JOINTS, decisions=moved)
    assert changed.curves.joint_rate_deg[row] == pytest.approx(300.0)
    assert "angle-high" in changed.judgement.findings_of(row)
    others = np.arange(len(analysis)) != row
    np.testing.assert_array_equal(
        changed.curves.joint_rate_deg[others], analysis.curves.joint_rate_deg[others]
    )
    bounds = changed.curves.zone_bounds[row]
    assert (np.diff(bounds) >= 0).all()
    assert (bounds[0], bounds[-1]) == (0, changed.curves.n_samples[row])
    restored = analyse(analysis.traces, JOINTS, decisions=Decisions(limits=limits))
    assert restored.curves.joint_rate_deg[row] == analysis.curves.joint_rate_deg[row]
    with pytest.raises(CallError, match="no zone edge"):
        analyse(analysis.traces, JOINTS, decisions=Decisions({trace_id: Decision(trace_id, {"end": 1.0})}))


def test_joint_given_by_hand() -> None:
    traces, _ = shift()
    bare = replace(traces, attributes=traces.attributes.drop_columns(["joint"]))
    trace_id = traces.trace_ids[5]
    analysis = analyse(bare, JOINTS, decisions=Decisions({trace_id: Decision(trace_id, joint="flange")}))
    assert analysis.joint_rows.per_trace() == [None] * 5 + ["flange"] + [None] * (len(bare) - 6)


def test_mostly_bad_shift_does_not_pass_beside_a_pinned_reference(tmp_path: object) -> None:
    good = analysis_of()
    chosen = [r for r in range(len(good)) if good.joint_rows.name_of(r) == "flange" and good.verdict[r] == 0]
    pinned = pin_reference(good, chosen, "week 11", "2024-03-11")
    assert (pinned.n, pinned.joint) == (len(chosen), "flange")
    path = f"{tmp_path}/references.json"
    save_references([pinned], path)
    reference = load_references(path)
    np.testing.assert_array_equal(reference["flange"].centre, pinned.centre)

    bad, truth = make_shift(9, good=10, each_fault=50, faults=("low-friction",))
    of_flange = np.array([name == "flange" for name in truth["joint"].to_pylist()])
    seeded = of_flange & np.array([cause is not None for cause in truth["cause"].to_pylist()])
    judged = analyse(bad, JOINTS, reference=reference)
    assert (judged.verdict[seeded] != 0).mean() > 0.95
    assert (judged.verdict[of_flange & ~seeded] != 0).mean() < 0.2
    population = judged.outliers.populations["flange"]
    assert "week 11" in population.basis
    assert "2024-03-11" in population.basis
    assert "several groups" in population.note


def test_expectation_of_the_joint_tells_which_of_two_groups_is_usual() -> None:
    bad, truth = make_shift(5, good=40, each_fault=60, faults=("low-friction",))
    of_nut = np.array([name == "locknut" for name in truth["joint"].to_pylist()])
    seeded = of_nut & np.array([cause is not None for cause in truth["cause"].to_pylist()])
    judged = analyse(bad, JOINTS)
    assert (judged.verdict[seeded] != 0).all()
    assert (judged.verdict[of_nut & ~seeded] == 0).all()
    assert "two groups" in judged.outliers.populations["locknut"].note


def test_a_reference_needs_one_joint_and_enough_traces() -> None:
    analysis = analysis_of()
    rows = [r for r in range(len(analysis)) if analysis.joint_rows.name_of(r) == "cover"][:5]
    with pytest.raises(CallError, match="too few"):
        pin_reference(analysis, rows, "x", "2024-03-11")
    with pytest.raises(CallError, match="one joint"):
        pin_reference(analysis, range(60), "x", "2024-03-11")


def test_sharing_over_the_recordings_attributes() -> None:
    analysis = analysis_of()
    spindles = analysis.traces.column("spindle")
    chosen = np.array([spindle == "flange-2" for spindle in spindles])
    first = find_what_is_shared(analysis, chosen)[0]
    assert (first.attribute, first.value) == ("spindle", "flange-2")
    assert first.chosen_with == first.chosen == int(chosen.sum())
    assert first.others_with == 0


@pytest.mark.parametrize("name", [name for names in STEPS.values() for name in names])
def test_the_steps_that_are_timed_are_steps_of_it(name: str) -> None:
    module, _, function = name.rpartition(".")
    assert callable(getattr(importlib.import_module(module), function))
