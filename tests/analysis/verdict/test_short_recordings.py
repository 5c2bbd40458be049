"""Recordings that hold less than a tightening: a few samples, or only the last degrees before the final
point."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.joint.definition import JointDefinition
from analysis.pipeline import Analysis, analyse
from analysis.traces import TraceSet
from analysis.verdict.features import FEATURE_INDEX, without_cut_rundowns

JOINT = JointDefinition(
    "hub", 60.0, torque_limits_nm=(54.0, 66.0), prevailing_limits_nm=(0.0, 2.0), may_yield=False
)
Curve = tuple[np.ndarray, np.ndarray]


def tightening(rng: np.random.Generator, friction: float = 1.0, rundown_deg: float = 1000.0) -> Curve:
    """Rundown, a quadratic drawdown of 20 deg, a straight rise to 60 N·m; 5 % scatter of friction."""
    slope = 1.5 * friction * (1.0 + 0.05 * rng.standard_normal())
    start = rundown_deg + 25.0 * rng.standard_normal()
    x = np.arange(-start, 120.0, 0.5)
    rise = np.where(x < 20.0, slope * np.maximum(x, 0.0) ** 2 / 40.0, slope * (x - 10.0))
    stop = int(np.flatnonzero(rise >= 59.0)[0]) + 1
    torque = 1.0 + rise[:stop] + 0.15 * rng.standard_normal(stop)
    return x[:stop] + start, torque


def judged(curves: list[Curve]) -> Analysis:
    ids = [f"t{number:03d}" for number in range(len(curves))]
    traces = TraceSet.from_lists(
        ids, [c[0] for c in curves], [c[1] for c in curves], {"joint": ["hub"] * len(ids)}
    )
    return analyse(traces, {"hub": JOINT})


def causes_of(analysis: Analysis) -> list[str | None]:
    return list(analysis.results()["cause"].to_pylist())


def test_five_samples_tell_that_a_bolt_was_tight_before_but_not_that_it_was_cut_off() -> None:
    rng = np.random.default_rng(1)
    tight = (np.array([0.0, 0.5, 1.0, 1.5, 2.0]), np.array([0.2, 24.0, 51.0, 59.5, 60.1]))
    cut = (np.array([0.0, 0.5, 1.0, 1.5, 2.0]), np.array([0.9, 1.1, 1.0, 0.8, 1.2]))
    analysis = judged([*(tightening(rng) for _ in range(40)), tight, cut])
    assert causes_of(analysis)[-2] == "already-tight"
    assert causes_of(analysis)[-1] != "already-tight"
    assert all(verdict != "ok" for verdict in analysis.results()["verdict"].to_pylist()[-2:])


def test_recordings_that_reach_back_equally_far_say_nothing_about_the_rundown() -> None:
    rng = np.random.default_rng(2)
    whole = [tightening(rng, friction=0.65 if number < 4 else 1.0) for number in range(60)]
    last = [
        (angle[angle >= angle[-1] - 300.0], torque[angle >= angle[-1] - 300.0]) for angle, torque in whole
    ]
    causes = causes_of(judged(last))
    assert causes[:4] == ["low-friction"] * 4
    assert not {"seated-early", "seated-late"} & set(causes)
    early = [*whole[4:], tightening(rng, rundown_deg=500.0)]
    assert causes_of(judged(early))[-1] == "seated-early"


def test_the_rundown_is_taken_away_by_joint_and_nothing_else_is() -> None:
    rng = np.random.default_rng(3)
    features = rng.normal(100.0, 5.0, (80, len(FEATURE_INDEX)))
    codes = np.repeat([0, 1], 40)
    features[codes == 1, FEATURE_INDEX["total_angle_deg"]] = 300.0
    kept = without_cut_rundowns(features, codes)
    changed = np.argwhere(np.isnan(kept))
    assert set(changed[:, 0]) == set(range(40, 80))
    assert set(changed[:, 1]) == {FEATURE_INDEX["rundown_deg"]}
    np.testing.assert_array_equal(kept[codes == 0], features[codes == 0])


def test_a_recording_that_ends_in_the_rundown_is_incomplete_and_strips_nothing() -> None:
    rng = np.random.default_rng(4)
    curves = []
    for _ in range(40):
        angle, torque = tightening(rng)
        curves.append((angle, torque + 5.0 * np.exp(-angle / 20.0)))
    angle, torque = curves[-1]
    still = (np.zeros(20), np.full(20, 0.8))
    analysis = judged([*curves, (angle[:900], torque[:900]), still])
    causes = causes_of(analysis)
    assert causes[-2:] == ["incomplete-recording", None]
    assert "ends before the rise" in analysis.causes_of(len(causes) - 2)[0].evidence_for[0]
    # Of a recording that was cut nothing is claimed, a torque below its limit neither.
    assert analysis.results()["verdict"].to_pylist()[-2] == "not evaluated"


def test_no_rise_is_scanned_where_the_final_point_has_no_angle() -> None:
    nowhere = (np.array([np.nan]), np.array([60.0]))
    angle, torque = tightening(np.random.default_rng(3))
    curves = [
        nowhere,
        (np.full(len(angle), np.nan), torque),
        (np.where(torque > 59.0, np.nan, angle), torque),
    ]
    results = judged([*curves, (angle, torque)]).results()
    assert results["final_angle_deg"].is_valid().to_pylist() == [False, False, False, True]
    assert results["final_torque_nm"].to_pylist()[:2] == [60.0, float(torque.max())]


def test_a_rise_that_ends_half_way_is_one() -> None:
    rng = np.random.default_rng(5)
    angle, torque = tightening(rng)
    kept = np.arange(len(angle)) <= np.flatnonzero(torque >= 30.0)[0]
    analysis = judged([*(tightening(rng) for _ in range(40)), (angle[kept], torque[kept])])
    row = analysis.results().slice(40).to_pylist()[0]
    assert row["snug_angle_deg"] is not None
    assert row["elastic_slope_nm_per_deg"] == pytest.approx(1.5, rel=0.2)


def test_what_never_leaves_the_rundown_has_no_points_and_no_cause_but_the_cut() -> None:
    rng = np.random.default_rng(5)
    whole = [tightening(rng) for _ in range(40)]
    parts = []
    for stop_deg in (300.0, 600.0, 860.0):
        for ripple_nm in (0.0, 0.4):
            angle, torque = tightening(rng)
            kept = angle < stop_deg
            parts.append((angle[kept], torque[kept] + ripple_nm * np.sin(np.radians(angle[kept]))))
    analysis = judged([*whole, *parts])
    rows = analysis.results().slice(len(whole)).to_pylist()
    for row in rows:
        assert (row["verdict"], row["cause"]) == ("not evaluated", "incomplete-recording")
        for name in (
            "snug_angle_deg",
            "joint_rate_deg",
            "elastic_slope_nm_per_deg",
            "yielded",
            "clamp_force_kn",
        ):
            assert row[name] is None
        assert "does not rise above the prevailing level" in row["not_evaluated_reason"]
    for row in range(len(whole), len(whole) + len(parts)):
        zones = analysis.curves.zones_of(row)
        assert zones[0][1] == 0
        assert zones[-1][2] == analysis.curves.n_samples[row]
        assert {name for name, _, _ in zones} <= {"undetermined", "release"}
    alone = judged(parts[:1]).results().to_pylist()[0]
    assert (alone["deciding"], alone["cause"], alone["snug_angle_deg"]) == ("torque-low", None, None)


def test_a_blank_joint_names_none() -> None:
    rng = np.random.default_rng(6)
    curve = tightening(rng)
    traces = TraceSet.from_lists(["a", "b"], [curve[0]] * 2, [curve[1]] * 2, {"joint": ["", "  "]})
    assert analyse(traces, {"hub": JOINT}).results()["joint"].to_pylist() == [None, None]
    given = analyse(traces, {"hub": JOINT}, default_joint="hub").results()
    assert given["joint"].to_pylist() == ["hub", "hub"]


def test_a_recorder_that_starts_low_in_the_rise_makes_no_joint_tight() -> None:
    rng = np.random.default_rng(7)
    whole = [tightening(rng) for _ in range(40)]
    late, tight = [], []
    for from_nm in (9.0, 13.0, 20.0, 30.0):
        angle, torque = tightening(rng)
        kept = slice(int(np.flatnonzero(torque > from_nm)[0]), None)
        late.append((angle[kept], torque[kept]))
        wind_up = np.arange(0.0, 4.0, 0.5)
        rest = torque[torque > 45.0]
        tight.append((np.arange(len(wind_up) + len(rest)) * 0.5, np.append(45.0 * wind_up / 4.0, rest)))
    causes = causes_of(judged([*whole, *late, *tight]))
    assert causes[40:44] == ["incomplete-recording"] * 4
    assert causes[44:] == ["already-tight"] * 4
