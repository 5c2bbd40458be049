"""Audits among other recordings: recognised, judged by their own limits, paired with the tightening."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pyarrow.parquet as pq
import pytest

from analysis.analysed import Analysis
from analysis.catalogue.reasons import AUDIT_LIMITS_NOT_GIVEN, NOT_MOVED
from analysis.errors import JointDefinitionError
from analysis.joint.joints_file import joints_from_text
from analysis.pipeline import analyse
from analysis.reading.write import write_parquet
from analysis.traces import TraceSet
from analysis.verdict.audit_rule import RESIDUAL
from app.commands.command_line import main
from tests.world.audits import AuditCase, audit_traces, draw_audit

JOINT = """
[joints.hub]
target_torque_nm = 50.0
torque_limits_nm = [47.0, 53.0]
thread = "M10x1.5"
head = "hex"
hole = "medium"
property_class = "10.9"
friction = [0.10, 0.16]
clamp_length_mm = 35.0
parts_diameter_mm = 50.0
parts_modulus_gpa = 205.0
"""
LIMITS = "[joints.hub.audit]\nlimits_nm = [45.0, 60.0]\n"
SOUND = AuditCase(52.0, 1.1, 1.5, 3.0)


def judged(
    cases: list[AuditCase], text: str = JOINT + LIMITS, *, timed: bool = True, **attributes: list[object]
) -> Analysis:
    traces = audit_traces(
        cases, np.random.default_rng(5), {"joint": ["hub"] * len(cases), **attributes}, timed=timed
    )
    return analyse(traces, joints_from_text(text))


@pytest.mark.parametrize(
    ("timed", "attributes"),
    [
        (True, {}),
        (False, {"tool": ["torque wrench"]}),
        (False, {"spindle": ["A"], "tool": ["Wrench 7"]}),
        (True, {"spindle": ["A"], "tool": ["7"]}),
        (True, {"operation": ["Audit"]}),
    ],
)
def test_audits_are_recognised_with_and_without_being_named(
    timed: bool, attributes: dict[str, list[object]]
) -> None:
    rng = np.random.default_rng(11)
    cases = [draw_audit(rng) for _ in range(60)]
    found = judged(cases, timed=timed, **{name: values * 60 for name, values in attributes.items()})
    assert found.operations.audited.mean() >= 0.98
    assert not (found.curves.yielded == 1).any()
    assert set(found.results().column("cause").to_pylist()) == {None}


@pytest.mark.parametrize(
    "attributes", [{"operation": ["tightening"]}, {"spindle": ["A"], "tool": ["7"]}, {"tool": ["7"]}, {}]
)
def test_without_time_and_wrench_or_by_another_name_it_is_none(attributes: dict[str, list[object]]) -> None:
    assert not judged([SOUND], timed=False, **attributes).operations.audited.any()


def test_a_machine_that_hits_a_tight_joint_again_is_none() -> None:
    assert not judged([AuditCase(52.0, 1.1, 1.5, 3.0, speed_deg_per_s=90.0)]).operations.audited.any()


def slow_tool(hit_deg_per_s: float, tools: list[object]) -> TraceSet:
    """Four tightenings that end at 24 deg/s, and a bolt that is turned on once more."""
    angle = np.arange(0.0, 440.0, 0.5)
    torque = 0.5 + np.maximum(1.6 * (angle - 400.0), 0.0)
    begun = np.arange(0.0, 14.0, 0.25)
    again = np.minimum(8.0 * begun, 64.0 + 1.6 * (begun - 8.0))
    return TraceSet.from_lists(
        [f"t{k}" for k in range(5)], [*[angle] * 4, begun], [*[torque] * 4, again],
        {"joint": ["hub"] * 5, "tool": tools}, time_s=[*[angle / 24.0] * 4, begun / hit_deg_per_s],
    )  # fmt: skip


@pytest.mark.parametrize(
    ("hit_deg_per_s", "tools", "audit"),
    [
        (24.0, ["spindle 3"] * 5, False),
        (8.0, ["spindle 3"] * 5, True),
        (24.0, [*["spindle 3"] * 4, "wrench"], True),
        (24.0, [*["spindle 3"] * 4, "7"], True),
        (24.0, [None] * 5, True),
    ],
)
def test_a_slow_tool_that_turns_as_fast_as_it_tightens_does_not_audit(
    hit_deg_per_s: float, tools: list[object], audit: bool
) -> None:
    found = analyse(slow_tool(hit_deg_per_s, tools), joints_from_text(JOINT + LIMITS))
    assert found.operations.audited.tolist() == [False] * 4 + [audit]


def test_no_tightening_of_the_sample_shift_is_one() -> None:
    from analysis.reading import read_paths
    from sample_traces.sample_paths import sample_paths

    traces = read_paths([sample_paths().traces]).traces
    from analysis.curve import find_points
    from analysis.operation.hand_wrench import find_audits
    from analysis.settings import CurveSettings

    # The already tight ones of hub and drive unit were hit by the machine: tight, and no audit.
    assert not find_audits(traces, find_points(traces, CurveSettings())).any()


def test_an_audit_is_judged_by_its_own_limits_alone() -> None:
    cases = [
        SOUND,
        AuditCase(42.0, 1.1, 1.2, 3.0),
        AuditCase(64.0, 1.05, 1.8, 4.0),
        AuditCase(50.0, 1.1, 1.5, 3.0, moves=False),
    ]
    found = judged(cases)
    table = found.results()
    assert table.column("verdict").to_pylist() == ["ok", "not ok", "not ok", "not evaluated"]
    assert table.column("findings").to_pylist() == [[], ["residual-low"], ["residual-high"], []]
    assert found.rules.reason[3, RESIDUAL] == NOT_MOVED
    assert [check.rule.name for check in found.checks(0)] == ["residual"]
    # 52 N·m lies above none of the audit's limits, and is not asked to lie within those of the tightening.
    assert table.column("final_torque_nm").to_pylist() == [None] * 4


def test_unmoved_above_the_upper_limit_breaks_it() -> None:
    found = judged([AuditCase(90.0, 1.1, 2.0, 5.0, moves=False, stopped_share=0.9)])
    assert found.results().column("findings").to_pylist() == [["residual-high"]]


def test_without_limits_of_its_own_it_is_not_evaluated() -> None:
    found = judged([SOUND], JOINT)
    assert found.results().column("verdict").to_pylist() == ["not evaluated"]
    assert found.rules.reason[0, RESIDUAL] == AUDIT_LIMITS_NOT_GIVEN


def test_clamp_force_comes_from_the_ongoing_torque_whatever_the_definition() -> None:
    plain = judged([SOUND])
    peak = judged([SOUND], JOINT + LIMITS + 'definition = "peak"\n')
    assert (
        peak.results().column("residual_torque_nm")[0].as_py()
        > plain.results().column("residual_torque_nm")[0].as_py()
    )
    assert peak.clamp.clamp_force_kn[0] == plain.clamp.clamp_force_kn[0]
    assert plain.clamp.route[0] == "torque"
    # Derived: T/lambda at the middle friction 0.13 of M10 is 52 N·m over 1.757 N·m/kN.
    assert plain.clamp.clamp_force_kn[0] == pytest.approx(52.0 / 1.757, rel=0.03)
    assert plain.audits.raised_kn[0] > 0.0


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ('definition = "mean"', "expected one of ongoing, first-movement, dip, at-angle, peak"),
        ("limits_nm = [60.0, 45.0]", "the lowest, 60, is not below the highest, 45"),
        ("limits_nm = [45.0]", "expected two numbers"),
        ("max_turn_deg = -1", "expected above 0"),
        ("limit_nm = [1.0, 2.0]", "is not known"),
    ],
)
def test_a_wrong_table_is_told_by_key_and_value(line: str, words: str) -> None:
    with pytest.raises(JointDefinitionError, match=words) as caught:
        joints_from_text(JOINT + "[joints.hub.audit]\n" + line)
    assert caught.value.joint == "hub"


def test_the_command_writes_the_columns(tmp_path: Path) -> None:
    rng = np.random.default_rng(2)
    cases = [draw_audit(rng) for _ in range(20)]
    write_parquet(audit_traces(cases, rng, {"joint": ["hub"] * 20}), tmp_path / "round.parquet")
    (tmp_path / "joints.toml").write_text(JOINT, encoding="utf-8")
    out = tmp_path / "out.parquet"
    assert (
        main(
            [
                "analyse",
                str(tmp_path / "round.parquet"),
                "--joints",
                str(tmp_path / "joints.toml"),
                "--results",
                str(out),
            ]
        )
        == 2
    )
    table = pq.read_table(out)
    assert table.column("operation").to_pylist() == ["audit"] * 20
    found = table.column("residual_torque_nm").to_pylist()
    for case, one in zip(cases, found, strict=True):
        assert (one is not None) == case.moves
        if one is not None:
            assert one == pytest.approx(case.ongoing_nm, rel=0.08)


def tightened_then_audited() -> TraceSet:
    """Two positions of one part: a tightening each, and an audit; the second one before its tightening."""
    turned = np.concatenate((np.arange(0.0, 300.0, 2.0), 300.0 + np.arange(0.0, 40.0, 0.5)))
    torque = 0.5 + np.maximum(turned - 303.0, 0.0) * 50.0 / 36.5
    audits = audit_traces([SOUND, SOUND], np.random.default_rng(1))
    start = datetime(2024, 3, 12, 8, tzinfo=UTC)
    return TraceSet.from_lists(
        ["t1", "t2", "a1", "a2"],
        [turned, turned, *(audits[k].angle_deg for k in range(2))],
        [torque, torque, *(audits[k].torque_nm for k in range(2))],
        {
            "joint": ["hub"] * 4,
            "tool": ["spindle", "spindle", "wrench", "wrench"],
            "part": ["p"] * 4,
            "position": ["1", "2", "1", "2"],
            "started_at": [
                start,
                start + timedelta(hours=9),
                start + timedelta(hours=2),
                start + timedelta(hours=3),
            ],
        },
    )


def test_the_tightening_before_is_found_and_the_one_after_is_not() -> None:
    found = analyse(tightened_then_audited(), joints_from_text(JOINT + LIMITS))
    assert found.operations.audited.tolist() == [False, False, True, True]
    assert found.audits.dynamic_row.tolist()[2:] == [0, -1]
    assert found.audits.minutes_since[2] == pytest.approx(120.0)
    final = found.curves.final_torque_nm[0]
    assert found.audits.ratio_to_dynamic[2] == pytest.approx(found.audits.residual_torque_nm[2] / final)
    assert np.isnan(found.audits.ratio_to_dynamic[3])


def test_whether_audits_are_in_the_set_changes_nothing_of_the_tightenings() -> None:
    both = tightened_then_audited()
    alone = analyse(both.take([0, 1]), joints_from_text(JOINT + LIMITS))
    with_audits = analyse(both, joints_from_text(JOINT + LIMITS))
    assert alone.results().to_pylist() == with_audits.results().to_pylist()[:2]


def test_no_real_recording_of_a_tool_is_one(open_traces: Path) -> None:
    from analysis.curve import find_points
    from analysis.operation.hand_wrench import find_audits
    from analysis.reading import read_paths
    from analysis.settings import CurveSettings

    for name in ("thread_forming_plastic.parquet", "loosening_metal.parquet"):
        traces = read_paths([open_traces / name]).traces
        assert len(traces) > 300
        assert not find_audits(traces, find_points(traces, CurveSettings())).any()


def test_machines_that_turn_slowly_on_tight_joints_make_none() -> None:
    from analysis.curve import find_points
    from analysis.operation.hand_wrench import find_audits
    from analysis.settings import CurveSettings
    from tests.world.known_clamp import draw_joint, make_known_shift, sound_lot

    joints = [draw_joint(f"joint-{k}", 100 + k) for k in range(8)]
    rng = np.random.default_rng(3)
    traces, truth = make_known_shift(joints, [sound_lot(one, rng) for one in joints], 5, good=2, each_fault=4)
    assert "already-tight" in truth.column("cause").to_pylist()
    assert not find_audits(traces, find_points(traces, CurveSettings())).any()
