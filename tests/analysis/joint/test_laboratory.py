"""Friction from traces with a load cell, pairs of tightening and loosening, standard prevailing torque."""

import numpy as np
import pytest

from analysis.errors import CallError
from analysis.joint.clamp_force import fuse_clamp
from analysis.joint.clamp_routes import clamp_routes
from analysis.joint.definition import JointDefinition
from analysis.joint.laboratory import evaluate_laboratory
from analysis.joint.laboratory_table import evaluate_series
from analysis.joint.pair_force import estimate_force_from_pair
from analysis.joint.prevailing_limits import check_prevailing, prevailing_intent, standard_limits
from analysis.joint.thread import parse_thread
from analysis.joint.torque import lever_mm
from analysis.operation.loosening_runs import loosening_figures
from analysis.spread import spread_of
from analysis.traces import Trace, TraceSet
from tests.analysis.joint import published
from tests.analysis.joint.curves import make_curves, make_traces
from tests.analysis.joint.levers import loosening_torque_nm

M10 = parse_thread("M10")
JOINT = JointDefinition("lab", 48.0, thread="M10", property_class="8.8", head="hex", hole="medium")
RATE_KN_PER_DEG = 0.931


def _test_trace(
    mu_thread: float, mu_bearing: float, *, prevailing_nm: float = 0.0, top_kn: float = 31.0
) -> Trace:
    """A test of an M10 bolt: rundown of a turn, then force straight over angle."""
    angle = np.arange(0.0, 360.0 + top_kn / RATE_KN_PER_DEG, 0.1)
    force = np.maximum(angle - 360.0, 0.0) * RATE_KN_PER_DEG
    torque = prevailing_nm + force * float(lever_mm(M10, 12.815, mu_thread, mu_bearing))
    return TraceSet.from_lists(["lab"], [angle], [torque], clamp_force_kn=[force])[0]


def test_friction_at_three_quarters_of_the_proof_load() -> None:
    trace = _test_trace(0.10, 0.14)
    assert trace.clamp_force_kn is not None
    shank = trace.clamp_force_kn * float(lever_mm(M10, 12.815, 0.10, 0.0))
    result = evaluate_laboratory(trace, JOINT, thread_torque_nm=shank)
    # ISO 898-1: proof load of M10 8.8 is 33.7 kN.
    assert result.reference_force_kn == pytest.approx(0.75 * 33.7, rel=0.005)
    assert (result.mu_thread, result.mu_bearing) == pytest.approx((0.10, 0.14), rel=1e-9)
    assert result.mu_total is not None
    assert 0.10 < result.mu_total < 0.14
    assert result.torque_coefficient == pytest.approx(
        float(lever_mm(M10, 12.815, 0.10, 0.14)) / 10.0, rel=1e-9
    )
    assert result.angle_deg == pytest.approx(360.0 + result.reference_force_kn / RATE_KN_PER_DEG, abs=1e-6)
    assert result.force_per_degree_n == pytest.approx(931.0, rel=1e-6)
    assert result.final_force_kn == pytest.approx(31.0, abs=0.1)
    assert "does not cover thread-forming or self-locking" in result.scope
    assert result.reason == ""


def test_the_force_per_degree_is_that_from_half_of_the_reference_on() -> None:
    """Parts that seat below say nothing of it; above, the whole stretch does (least squares)."""
    plain = _test_trace(0.12, 0.12)
    assert plain.clamp_force_kn is not None

    def rate(ratio_below: float, until_kn: float) -> float:
        """With the force growing by another rate up to there."""
        force = np.interp(plain.clamp_force_kn, [0.0, until_kn * ratio_below, 99.0], [0.0, until_kn, 99.0])
        bent = TraceSet.from_lists(["lab"], [plain.angle_deg], [plain.torque_nm], clamp_force_kn=[force])[0]
        found = evaluate_laboratory(bent, JOINT).force_per_degree_n
        assert found is not None
        return found

    reference = 0.75 * 33.7
    straight = rate(1.0, 0.45 * reference)
    later, whole = (rate(1.2, share * reference) for share in (0.45, 0.85))
    assert straight == pytest.approx(931.0, rel=1e-6)
    assert later == pytest.approx(931.0 * (99.0 - 0.45 * reference) / (99.0 - 0.54 * reference), rel=1e-6)
    assert whole < 0.95 * straight


def test_without_thread_torque_there_is_only_the_total() -> None:
    result = evaluate_laboratory(_test_trace(0.12, 0.12, prevailing_nm=3.0), JOINT, prevailing_nm=3.0)
    assert result.mu_total == pytest.approx(0.12, rel=1e-9)
    assert (result.mu_thread, result.mu_bearing) == (None, None)


def test_a_given_reference_force_needs_no_class() -> None:
    bare = JointDefinition("lab", 48.0, thread="M10")
    result = evaluate_laboratory(_test_trace(0.12, 0.12), bare, reference_force_kn=20.0)
    assert result.torque_nm == pytest.approx(20.0 * float(lever_mm(M10, 12.815, 0.12, 0.12)), rel=1e-9)
    assert result.torque_coefficient is not None
    assert result.mu_total is None
    assert result.reason == "friction not evaluated: no head given"


def test_noise_on_the_load_cell_does_not_move_the_reading_far() -> None:
    trace = _test_trace(0.12, 0.12)
    rng = np.random.default_rng(3)
    assert trace.clamp_force_kn is not None
    noisy = TraceSet.from_lists(
        ["lab"],
        [trace.angle_deg],
        [trace.torque_nm],
        clamp_force_kn=[trace.clamp_force_kn + rng.normal(0, 0.06, len(trace))],
    )[0]
    assert evaluate_laboratory(noisy, JOINT).mu_total == pytest.approx(0.12, rel=0.02)


@pytest.mark.parametrize(
    ("force", "joint", "words"),
    [
        (None, JOINT, "no clamp force"),
        (np.full(4, np.nan), JOINT, "no clamp force"),
        (np.array([0.0, 1.0, 2.0, 3.0]), JOINT, "does not reach 25"),
        (np.array([40.0, 41.0, 42.0, 43.0]), JOINT, "does not reach"),
        (np.array([0.0, 10.0, 20.0, 30.0]), JointDefinition("lab", 48.0, thread="M10"), "no property class"),
        (np.array([0.0, 10.0, 20.0, 30.0]), JointDefinition("lab", 48.0), "no thread"),
    ],
)
def test_a_test_that_says_nothing_gives_a_reason(force, joint: JointDefinition, words: str) -> None:
    channel = {} if force is None else {"clamp_force_kn": [force]}
    trace = TraceSet.from_lists(["t"], [np.arange(4.0)], [np.arange(4.0)], **channel)[0]
    result = evaluate_laboratory(trace, joint)
    assert result.reason.startswith("not evaluated: ")
    assert words in result.reason
    assert result.mu_total is None


def test_a_thread_torque_of_another_length_is_the_callers_error() -> None:
    with pytest.raises(CallError, match="thread torques"):
        evaluate_laboratory(_test_trace(0.1, 0.1), JOINT, thread_torque_nm=np.zeros(3))


def test_synthetic_laboratory_traces_give_back_their_friction() -> None:
    from analysis.joint import joints_from_text
    from tests.world import evaluation_joints_toml, make_laboratory

    traces, truth = make_laboratory(5, 4)
    joints = joints_from_text(evaluation_joints_toml())
    evaluated = 0
    for row, true in enumerate(truth.to_pylist()):
        joint = joints[true["joint"]]
        result = evaluate_laboratory(
            traces[row],
            joint,
            reference_force_kn=0.75 * true["clamp_force_kn"],
            prevailing_nm=true["prevailing_torque_nm"],
        )
        if result.mu_total is None:
            continue
        evaluated += 1
        low, high = sorted((true["mu_thread"], true["mu_bearing"]))
        assert 0.95 * low < result.mu_total < 1.05 * high
    assert evaluated >= 8


def test_the_break_away_of_a_loosening_trace_gives_the_clamp_force() -> None:
    # T_on - T_off = F P/pi.
    on = 29.6 * float(lever_mm(M10, 12.815, 0.12, 0.12))
    off = loosening_torque_nm(M10, 12.815, 29.6, 0.12, 0.12)
    angle = np.arange(0.0, 60.0)
    torque = -np.interp(angle, [0, 20, 25, 60], [0.0, 0.0, off, 2.0])
    figures = loosening_figures(angle, torque)
    assert figures is not None
    pair = estimate_force_from_pair(M10, on, figures["breakaway_torque_nm"])
    assert pair.force_kn == pytest.approx(29.6, rel=1e-9)
    assert "not measured" in pair.caution


@pytest.mark.parametrize(("thread", "limits"), published.ISO_2320_NM)
def test_prevailing_limits_are_the_standards(thread: str, limits: tuple[float, float, float]) -> None:
    found = standard_limits(parse_thread(thread), "04")
    assert not isinstance(found, str)
    assert (found.first_on_highest_nm, found.first_off_lowest_nm, found.fifth_off_lowest_nm) == limits
    assert found.note == ""
    same = standard_limits(parse_thread(thread), "8")
    assert not isinstance(same, str)
    assert "recalled, not confirmed" in same.note
    top, first, fifth = limits
    assert check_prevailing(top, parse_thread(thread), "04").met is True
    assert check_prevailing(top * 1.01, parse_thread(thread), "04").met is False
    assert check_prevailing(first, parse_thread(thread), "04", run="first off").met is True
    assert check_prevailing(first * 0.99, parse_thread(thread), "04", run="first off").met is False
    assert check_prevailing(fifth * 0.99, parse_thread(thread), "04", run="fifth off").margin_nm < 0


@pytest.mark.parametrize(("thread", "nut_class", "words"), [("M14", "04", "M14"), ("M8", "10", "class 10")])
def test_sizes_and_classes_without_limits_say_so(thread: str, nut_class: str, words: str) -> None:
    check = check_prevailing(1.0, parse_thread(thread), nut_class)
    assert check.met is None
    assert check.sentence.startswith("not evaluated: ")
    assert words in check.sentence
    assert "give the joint's prevailing torque limits" in check.sentence
    assert check_prevailing(float("nan"), parse_thread("M8"), "04").met is None
    assert "coarse" in standard_limits(parse_thread("M8x1"), "04").note


def test_whether_prevailing_torque_belongs() -> None:
    assert prevailing_intent(JointDefinition("a", 1.0)) == "not stated"
    assert prevailing_intent(JointDefinition("a", 1.0, prevailing_limits_nm=(0.0, 2.0))) == "not intended"
    assert prevailing_intent(JointDefinition("a", 1.0, prevailing_limits_nm=(1.0, 2.0))) == "intended"
    assert prevailing_intent(JointDefinition("a", 1.0, parts={"nut_class": "8"})) == "intended"


def test_a_series_compares_the_estimate_with_the_load_cell() -> None:
    joint = JointDefinition(
        "lab", 48.0, thread="M10", property_class="8.8", head="hex", hole="medium", friction=(0.10, 0.14)
    )
    frictions = [0.10, 0.12, 0.14, 0.20]
    single = [_test_trace(mu, mu) for mu in frictions]
    traces = TraceSet.from_lists(
        [f"lab{mu}" for mu in frictions],
        [t.angle_deg for t in single],
        [t.torque_nm for t in single],
        clamp_force_kn=[t.clamp_force_kn for t in single],
    )
    final = [float(t.torque_nm[-1]) for t in single]
    curves = make_curves(4, final_torque_nm=final, prevailing_torque_nm=0.0)
    names = ["lab"] * 4
    clamp = fuse_clamp(clamp_routes(curves, names, {"lab": joint}))
    rows = evaluate_series(traces, curves, clamp, names, {"lab": joint})
    assert [row.result.mu_total for row in rows] == pytest.approx(frictions, rel=1e-9)
    assert [row.inside for row in rows] == [True, True, True, False]
    assert rows[1].estimate_error == pytest.approx(0.0, abs=1e-9)
    assert rows[3].estimate_error > 0.4
    spread = spread_of([row.result.mu_total for row in rows[:3]])
    assert spread is not None
    assert (spread.n, spread.mean, spread.standard_deviation) == (3, pytest.approx(0.12), pytest.approx(0.02))
    assert spread_of([None, float("nan")]).n == 0
    assert evaluate_series(make_traces(4), curves, clamp, names, {"lab": joint}) == []
