"""Back-offs: published relations, the truth of synthetic ones, and what they must refuse to say."""

from __future__ import annotations

import itertools
from dataclasses import replace

import numpy as np
import pytest

from analysis.joint import joints_from_text
from analysis.joint.back_off_learning import calibrated_stiffness, measured_routes, plan_back_offs
from analysis.joint.back_off_values import (
    back_off_columns,
    back_off_value,
    friction_lever_mm,
    helix_factor,
    stiffness_kn_per_deg,
)
from analysis.joint.thread import parse_thread
from analysis.operation.back_off_ratio import HELD_MORE
from analysis.pipeline import analyse
from analysis.traces import TraceSet
from tests.analysis.joint.levers import lever_helix_mm
from tests.world.back_offs import BackOffCase, record_back_off

#: The joint of row S1 of the stiffness checks.
HUB = """[joints.hub]
thread = "M10x1.5"
property_class = "8.8"
head = "hex"
hole = "medium"
friction = [0.08, 0.16]
clamp_length_mm = 30.0
parts_diameter_mm = 40.0
parts_modulus_gpa = 205.0
target_torque_nm = 48.0
"""
S1 = BackOffCase(noise_share=0.001)
M10 = parse_thread("M10")


def recorded(*cases, seed=1, parted=False):
    """Traces of some back-offs, each as one recording or as two or three of one position."""
    ids, angles, torques, parts, starts = [], [], [], [], []
    truths = []
    for number, case in enumerate(cases):
        angle, torque, stops, truth = record_back_off(case, np.random.default_rng([seed, number]))
        edges = [0, *stops, len(angle)] if parted else [0, len(angle)]
        for piece, (start, stop) in enumerate(itertools.pairwise(edges)):
            ids.append(f"bolt-{number}-{piece}")
            angles.append(angle[start:stop] - angle[start])
            torques.append(torque[start:stop])
            parts.append(f"part-{number}")
            starts.append(np.datetime64("2024-03-12T06:00:00") + np.timedelta64(len(ids), "s"))
        truths.append(truth)
    n = len(ids)
    attributes = {"joint": ["hub"] * n, "part": parts, "position": ["1"] * n}
    return TraceSet.from_lists(ids, angles, torques, attributes), truths


def test_slopes_of_the_published_joint_give_its_stiffness_and_friction():
    """S1 at mu 0.12, derived: 1.5209 and 1.0762 N·m/deg give 0.93138 kN/deg and mu 0.1200."""
    assert stiffness_kn_per_deg(M10, 1.5209, 1.0762) == pytest.approx(0.93138, rel=1e-4)
    arm = M10.pitch_diameter_mm * 0.57735 + 12.815 / 2.0
    assert friction_lever_mm(M10, 1.0762 / 1.5209) / arm == pytest.approx(0.1200, rel=1e-3)


@pytest.mark.parametrize("mu", [0.08, 0.12, 0.20])
def test_the_helix_factor_is_that_of_the_inclined_plane(mu):
    """Turning back is turning on with the helix the other way: the levers' difference over P/pi, derived."""
    back = replace(M10, pitch_mm=-M10.pitch_mm, diameter_mm=M10.diameter_mm - 2 * 0.649519 * M10.pitch_mm)
    assert back.pitch_diameter_mm == pytest.approx(M10.pitch_diameter_mm)
    difference = float(lever_helix_mm(M10, 12.8, mu, mu) - lever_helix_mm(back, 12.8, mu, mu))
    assert difference / (M10.pitch_mm / np.pi) == pytest.approx(helix_factor(M10, mu), rel=1e-6)


@pytest.mark.parametrize("parted", [False, True])
@pytest.mark.parametrize("again_nm", [None, 1.0])
@pytest.mark.parametrize("static", [1.0, 1.2])
def test_wind_up_and_breakaway_do_not_matter(static, again_nm, parted):
    """Derived: within 0.5 %, with 0.02 % noise, whether or not parted recordings lose the turning points."""
    cases = [
        BackOffCase(
            static_share=static, wind_up_deg=wind_up, again_nm=again_nm, back_deg=24.0, noise_share=2e-4
        )
        for wind_up in (1.0, 3.0, 6.0)
    ]
    traces, truths = recorded(*cases, parted=parted)
    results = analyse(traces, joints_from_text(HUB)).results().to_pandas()
    assert len(truths) == 3
    kind = list(results["operation"])
    assert kind.count("back-off") == 3
    assert kind.count("tightening") == len(kind) - 3
    assert results["measured_stiffness_n_per_deg"].to_numpy() == pytest.approx(931.38, rel=0.005)
    assert results["measured_friction"].to_numpy() == pytest.approx(0.12, rel=0.005)


def test_a_coarse_recording_that_ends_with_its_run_lost_half_a_sample_on_average():
    """Derived: 2 deg recordings lose 1 deg in the mean; without it friction is off to one side."""
    cases = [
        BackOffCase(wind_up_deg=wind_up, back_deg=24.0, noise_share=2e-4, interval_deg=2.0)
        for wind_up in np.linspace(2.0, 4.0, 16)
    ]
    found = {}
    for parted in (False, True):
        traces, _ = recorded(*cases, parted=parted)
        results = analyse(traces, joints_from_text(HUB)).results().to_pandas()
        found[parted] = results["measured_friction"].to_numpy() / 0.12 - 1.0
        assert abs(np.median(found[parted])) < 0.01
    assert np.abs(found[True]).max() < 0.04


@pytest.mark.parametrize("back_deg", [24.0, 80.0])
def test_a_bolt_that_came_loose_is_tightened_anew(back_deg):
    """A third of the clamp force is left after 24 deg; after 80 deg none is, and the next run runs down."""
    traces, _ = recorded(BackOffCase(back_deg=back_deg, noise_share=1e-3), parted=True)
    analysis = analyse(traces, joints_from_text(HUB + "torque_limits_nm = [44.0, 52.0]\n"))
    (found,) = analysis.operations.back_offs
    held = back_deg < 30.0
    kind = ["tightening", "back-off" if held else "loosening", "tightening"]
    assert analysis.results()["operation"].to_pylist() == kind
    assert len(found.turns) == (3 if held else 2)
    assert analysis.results()["verdict"].to_pylist()[2] == "ok"
    assert analysis.clamp.route[2] == ("back-off" if held else "torque+angle")


def test_a_loosening_from_more_than_its_tightening_reached_measures_nothing():
    """The recording of a tightening in between is lost: slopes alike, torques apart."""
    traces, _ = recorded(BackOffCase(back_deg=80.0, again_nm=None, noise_share=1e-3), parted=True)
    on, off = traces[0], traces[1]
    first = on.torque_nm < 0.8 * on.torque_nm.max()
    lost = TraceSet.from_lists(
        ["on", "off"],
        [on.angle_deg[first], off.angle_deg],
        [on.torque_nm[first], off.torque_nm],
        {name: traces.column(name) for name in ("joint", "part", "position")},
    )
    for some, reason in ((traces, ""), (lost, HELD_MORE)):
        (found,) = analyse(some, joints_from_text(HUB)).operations.back_offs
        assert found.reason == reason
        assert np.isfinite(found.ratio) == (not reason)


def test_a_gasket_is_flagged_and_loading_told_from_unloading():
    case = replace(S1, unloading_stiffness=1.2)
    analysis = analyse(recorded(case)[0], joints_from_text(HUB))
    (found,) = analysis.operations.back_offs
    value = back_off_value(found, analysis.joints["hub"])
    assert found.hysteresis
    assert value.stiffness_n_per_deg == pytest.approx(931.38, rel=0.04)
    assert value.unloading_n_per_deg / value.stiffness_n_per_deg == pytest.approx(1.2, rel=0.05)


@pytest.mark.parametrize("friction_after", [0.95, 1.0, 1.05])
def test_a_second_tightening_without_a_slope_of_its_own_is_taken_for_the_first_ones_friction(friction_after):
    """A gasket's second rise says nothing of friction: the force stands, give or take 5 % of the friction."""
    case = replace(S1, unloading_stiffness=1.2, again_nm=1.04, friction_after=friction_after)
    traces, (truth,) = recorded(case)
    analysis = analyse(traces, joints_from_text(HUB))
    columns = back_off_columns(
        analysis.curves, analysis.operations.back_offs, analysis.joint_rows.definition_of
    )
    assert analysis.operations.back_offs[0].hysteresis
    lead, friction = case.lead_and_friction
    force = 1.04 * truth.force_kn * (lead + friction) / (lead + friction * friction_after)
    share = columns.force_uncertainty_kn[0] / columns.force_kn[0]
    assert 0.05 < share < 0.08
    assert columns.force_kn[0] == pytest.approx(force, rel=2.0 * share)


def test_an_elastic_joint_is_not_taken_for_a_gasket():
    cases = [replace(S1, noise_share=0.003, back_deg=back) for back in np.linspace(18.0, 33.0, 12)]
    found = analyse(recorded(*cases)[0], joints_from_text(HUB)).operations.back_offs
    assert len(found) == 12
    assert not any(one.hysteresis for one in found)


def test_clamp_force_and_what_is_left_of_it():
    traces, (truth,) = recorded(replace(S1, again_nm=None))
    analysis = analyse(traces, joints_from_text(HUB))
    value = back_off_value(analysis.operations.back_offs[0], analysis.joints["hub"])
    assert value.force_kn == pytest.approx(truth.force_kn, abs=2.0 * value.force_uncertainty_kn)
    assert value.force_uncertainty_kn < 0.03 * truth.force_kn
    assert value.left_kn == pytest.approx(truth.force_left_kn, rel=0.05)


def test_without_a_thread_or_a_head_the_reason_is_told():
    traces, _ = recorded(S1)
    for text, stiffness, friction in (
        ("[joints.hub]\ntarget_torque_nm = 48.0\n", "no thread given", "no thread given"),
        ('[joints.hub]\ntarget_torque_nm = 48.0\nthread = "M10"\n', "", "no head given"),
    ):
        analysis = analyse(traces, joints_from_text(text))
        value = back_off_value(analysis.operations.back_offs[0], analysis.joints["hub"])
        assert (value.reason, value.friction_reason) == (stiffness, friction)
        assert (value.stiffness_n_per_deg is None) == bool(stiffness)
        assert value.friction is None


def test_a_ratchet_is_no_back_off():
    """The tool swings back for its next stroke without torque."""
    angle = np.concatenate([np.arange(0.0, 60.0), np.arange(60.0, 20.0, -1.0), np.arange(20.0, 100.0)])
    torque = np.concatenate([np.linspace(0, 30, 60), np.zeros(40), np.zeros(40), np.linspace(30, 48, 40)])
    traces = TraceSet.from_lists(["stroke"], [angle], [torque], {"joint": ["hub"]})
    analysis = analyse(traces, joints_from_text(HUB))
    assert not analysis.operations.back_offs
    assert analysis.results()["operation"].to_pylist() == ["tightening"]


def test_the_final_point_is_the_highest_torque_whatever_came_before():
    for again, last in ((1.03, True), (0.85, False)):
        traces, _ = recorded(replace(S1, again_nm=again))
        analysis = analyse(traces, joints_from_text(HUB))
        assert analysis.curves.final_index[0] == len(traces[0].torque_nm) - 1 - np.argmax(
            traces[0].torque_nm[::-1]
        )
        assert (analysis.curves.final_index[0] > 0.95 * len(traces[0])) == last
        assert np.isfinite(analysis.curves.snug_angle_deg[0])


def test_back_offs_of_some_bolts_calibrate_the_joint_for_the_others():
    """The definition states 20 % too much stiffness; three bolts that were backed off put it right."""
    joints = joints_from_text(HUB + "stiffness_n_per_deg = 1118.0\nstiffness_scatter_percent = 15.0\n")
    cases = [replace(S1, noise_share=0.003, back_deg=back) for back in (20.0, 24.0, 30.0)]
    analysis = analyse(recorded(*cases)[0], joints)
    (hub,) = analysis.joint_rows.definitions
    assert hub.parts["stiffness_n_per_deg"] == pytest.approx(931.38, rel=0.03)
    assert hub.parts["stiffness_scatter_percent"] < 10.0
    assert hub.parts["stiffness_source"] == "measured by back-offs of 3 bolts"
    assert joints["hub"].parts["stiffness_n_per_deg"] == 1118.0


def test_the_plan_promises_what_a_back_off_then_keeps():
    traces, _ = recorded(*(replace(S1, noise_share=0.003, back_deg=20.0, again_nm=None) for _ in range(5)))
    analysis = analyse(traces, joints_from_text(HUB))
    stated = joints_from_text(HUB)["hub"]
    plan = plan_back_offs(analysis.curves, np.arange(5), stated)
    assert plan.after < plan.before
    # The fewest that halve it, and said so.
    assert plan.after < 0.5 * plan.before
    assert "on 3 bolts" in plan.sentence
    assert "halves" in plan.sentence
    (learnt,) = calibrated_stiffness(
        analysis.operations.back_offs, analysis.joint_rows.name_of, {"hub": stated}
    ).values()
    # Bolts differ by 3 % from one another, however well their mean is known.
    assert 0.03 * learnt.force_per_degree_n < learnt.uncertainty_n < 0.05 * learnt.force_per_degree_n
    again = plan_back_offs(analysis.curves, np.arange(5), analysis.joints["hub"])
    assert isinstance(again, str) or again.before < plan.before


def test_routes_say_the_clamp_force_of_what_was_backed_off_and_of_nothing_else():
    traces, (truth,) = recorded(replace(S1, again_nm=None), parted=True)
    analysis = analyse(traces, joints_from_text(HUB))
    columns = back_off_columns(
        analysis.curves, analysis.operations.back_offs, analysis.joint_rows.definition_of
    )
    (route,) = measured_routes(columns)
    assert route.name == "back-off"
    assert route.known.tolist() == [True, False]
    assert route.bound_kn(-1)[0] < truth.force_kn < route.bound_kn(1)[0]
