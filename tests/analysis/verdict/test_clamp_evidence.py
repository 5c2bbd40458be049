"""Clamp force that contradicts itself, of single traces, joints and lots; and none where none was made."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from analysis.catalogue.causes import CAUSE_NAMES, CAUSES, REFUSING
from analysis.catalogue.reasons import BROKE_AWAY
from analysis.catalogue.verdicts import OK, VERDICTS
from analysis.joint import joints_from_text
from analysis.joint.clamp_routes import clamp_routes
from analysis.joint.company import LEAST_COMPANY, UNLIKE, find_company, share_out
from analysis.joint.definition import JointDefinition
from analysis.pipeline import Analysis, analyse
from analysis.verdict.rules import CLAMP, MET, NOT_EVALUATED, YIELD
from tests.analysis.joint.curves import make_curves
from tests.helpers.judged_shift import judged_shift
from tests.world.known_clamp import Lot, draw_joint, make_known_shift

N = 40
JOINT = JointDefinition(
    "hub", 48.0, thread="M10", property_class="8.8", head="hex", hole="medium", friction=(0.10, 0.14),
    parts={"stiffness_n_per_deg": 931.0, "stiffness_scatter_percent": 10.0},
)  # fmt: skip
#: Slope of the S1 joint at friction 0.12 (S3 of the check values), N·m/deg.
EXPECTED = 1.521


def routes_of(factor: float | np.ndarray, seed: int = 1, **columns: object):
    """N traces whose slopes are the expected one times a factor, 3 % apart; further columns of the curves."""
    slope = EXPECTED * factor * np.exp(0.03 * np.random.default_rng(seed).standard_normal(N))
    given = {
        "final_torque_nm": 48.0,
        "prevailing_torque_nm": 0.0,
        "elastic_slope_nm_per_deg": slope,
        "elastic_origin_deg": 100.0,
        "elastic_origin_uncertainty_deg": 0.1,
        "final_angle_deg": 100.0 + 48.0 / slope,
    }
    curves = make_curves(N, **(given | columns))
    return clamp_routes(curves, ["hub"] * N, {"hub": JOINT})


ALL = np.ones(N, np.bool_)


@pytest.mark.parametrize(("factor", "unlike"), [(0.62, True), (1.7, True), (0.9, False), (1.13, False)])
def test_a_joint_is_held_against_its_definition_as_a_whole(factor: float, unlike: bool) -> None:
    company = find_company(routes_of(factor), ALL)
    assert company.unlike.all() == unlike
    assert company.unlike.any() == unlike
    assert company.slope_factor[0] == pytest.approx(factor, rel=0.02)


def test_a_lot_at_the_edge_of_the_stated_friction_is_not_accused() -> None:
    # S3: slopes at friction 0.10 and 0.14, here with a stiffness that is off by 4 of its 10 %.
    for mu_slope, stiffness in ((1.305, 0.96), (1.737, 1.04)):
        company = find_company(routes_of(mu_slope / EXPECTED * stiffness), ALL)
        assert not company.unlike.any()
        assert company.apart[0] < UNLIKE


def test_one_lot_of_a_joint_is_found_and_the_others_are_not_accused() -> None:
    lots = np.repeat([0, 1], [30, 10])
    company = find_company(routes_of(np.where(lots == 1, 0.6, 1.0)), ALL, lots)
    assert company.unlike.tolist() == (lots == 1).tolist()
    assert company.slope_factor[-1] == pytest.approx(0.6, rel=0.03)


def test_few_traces_say_nothing_of_their_joint() -> None:
    routes = routes_of(0.6)
    few = np.flatnonzero(np.arange(N) >= LEAST_COMPANY - 1)
    routes.angle.log_force[few] = np.nan
    assert not find_company(routes, ALL).unlike.any()


@pytest.mark.parametrize(("chance", "true"), [(1.0, "angle"), (0.0, "torque")])
def test_the_drawdown_decides_which_route_carries_a_trace_of_another_kind(chance: float, true: str) -> None:
    routes = routes_of(np.where(np.arange(N) == 0, 0.6, 1.0))
    shared = share_out(routes, find_company(routes, ALL), np.full(N, chance))
    believed = getattr(routes, true)
    assert shared.log_force[0] == pytest.approx(believed.log_force[0], abs=0.03)
    assert abs(shared.log_force[0] - believed.log_force[0]) < 2.0 * shared.spread[0]
    assert not shared.undecided.any()
    unknown = share_out(routes, find_company(routes, ALL), np.full(N, np.nan))
    assert unknown.undecided[0]
    assert unknown.undecided.sum() <= 2


def test_an_uncertain_slope_hides_an_odd_trace_and_an_uncertain_origin_does_not() -> None:
    """The ratio of the routes is stiffness times lever over slope: the level and the origin fall out."""
    first = np.where(np.arange(N) == 0, 0.6, 1.0)
    for columns, other in (
        ({"elastic_origin_uncertainty_deg": 20.0}, True),
        ({"elastic_slope_uncertainty_nm_per_deg": 0.5}, False),
    ):
        routes = routes_of(first, **columns)
        shared = share_out(routes, find_company(routes, ALL), np.full(N, np.nan))
        assert shared.undecided[0] == other


def test_an_error_common_to_the_joint_widens_every_trace() -> None:
    near, far = (share_out(r, find_company(r, ALL), np.full(N, np.nan)) for r in map(routes_of, (1.0, 1.18)))
    assert np.median(far.spread) > 1.3 * np.median(near.spread)
    # Derived: no narrower than the stated uncertainties leave, less what is scatter between bolts.
    s_t, s_a = routes_of(1.0).friction_spread[0], 0.05
    assert np.median(near.spread) > 0.8 * s_t * s_a / np.hypot(s_t, s_a)


def of(analysis: Analysis, joint: str) -> np.ndarray:
    return analysis.joint_rows.codes == analysis.joint_rows.names.index(joint)


@pytest.fixture(scope="module")
def mistaken() -> Analysis:
    """The judged shift with a friction in one joint's data that is far from that of its parts."""
    right = judged_shift()
    changed = replace(right.joints["flange"], friction=(0.30, 0.32))
    return analyse(right.traces, {**right.joints, "flange": changed})


def test_a_joint_whose_definition_is_wrong_has_no_trace_that_is_ok(mistaken: Analysis) -> None:
    rows, others = of(mistaken, "flange"), ~of(mistaken, "flange")
    column = mistaken.judgement.findings_of
    assert not np.any(mistaken.verdict[rows] == OK)
    assert all("unlike-definition" in column(row) for row in np.flatnonzero(rows)[:20])
    assert np.array_equal(mistaken.verdict[others], judged_shift().verdict[others])
    first = str(mistaken.diagnosis("flange").sentences[0])
    assert "friction is lower" in first
    assert "softer" in first
    factors = mistaken.company.slope_factor[rows & mistaken.company.unlike]
    assert f"{factors.min():.2f} to {factors.max():.2f} times" in first
    assert "loosening torque" in first
    stated = np.isfinite(mistaken.clamp.clamp_force_low_kn) & rows
    assert np.isnan(mistaken.clamp.clamp_force_kn[stated]).all()


def test_a_sound_joint_is_not_accused() -> None:
    assert not judged_shift().company.unlike.any()


def test_a_trace_whose_routes_contradict_is_a_finding_with_what_would_settle_it() -> None:
    analysis = judged_shift()
    changed = np.flatnonzero(analysis.clamp.disagreement & (analysis.joint_rows.codes >= 0))
    rows = [row for row in changed if "clamp-disagreement" in analysis.judgement.findings_of(row)]
    assert rows, "the seeded friction faults contradict"
    (finding,) = [one for one in analysis.findings(int(rows[0])) if one.name == "clamp-disagreement"]
    assert "have nothing in common" in str(finding.sentence)


def test_one_coarse_step_of_angle_at_the_peak_is_no_thread_that_strips() -> None:
    # M8, 16 mm long, a sample a degree: the torque is let go within one step, a twentieth of the climb.
    joint = draw_joint("short", 1134, measured_stiffness=None)
    traces, _ = make_known_shift([joint], [Lot()], 125, good=60)
    analysis = analyse(traces, joints_from_text(joint.definition))
    signs = analysis.evidence.signs
    alone = (signs.after_steps == 1.0) & (signs.after_fall_share > 0.1)
    assert alone.any()
    assert (analysis.causes.strength[alone, CAUSE_NAMES.index("thread-stripping")] < REFUSING).all()
    assert (analysis.verdict[alone] == OK).all()
    assert np.isfinite(analysis.clamp.clamp_force_low_kn[alone]).all()


REFUSED = [cause.name for cause in CAUSES if cause.no_force]


@pytest.mark.parametrize("cause", REFUSED)
def test_no_clamp_force_where_the_torque_made_none(cause: str) -> None:
    analysis = judged_shift()
    rows = analysis.causes.likeliest == CAUSE_NAMES.index(cause)
    if not rows.any():
        pytest.skip("not seeded in this shift")
    clamp, results = analysis.clamp, analysis.results()
    for column in (clamp.clamp_force_kn, clamp.clamp_force_low_kn, clamp.clamp_force_high_kn):
        assert np.isnan(column[rows]).all()
    assert {clamp.route[row] for row in np.flatnonzero(rows)} == {"none"}
    row = int(np.flatnonzero(rows)[0])
    assert "clamp force not evaluated" in results["not_evaluated_reason"][row].as_py()
    assert results["clamp_force_route"][row].as_py() == "none"


def test_a_cut_recording_claims_no_low_torque() -> None:
    analysis = judged_shift()
    cut = np.flatnonzero(analysis.causes.alarming[:, CAUSE_NAMES.index("incomplete-recording")])
    assert len(cut)
    for row in cut:
        assert "torque-low" not in analysis.judgement.findings_of(row)
        assert VERDICTS[analysis.verdict[row]] != "ok"


def test_a_joint_that_was_tight_before_has_not_yielded() -> None:
    analysis = judged_shift()
    tight = np.flatnonzero(analysis.causes.alarming[:, CAUSE_NAMES.index("already-tight")])
    assert len(tight)
    assert not np.any(analysis.curves.yielded[tight] == 1)
    assert not any({"yielded", "yield-unwanted"} & set(analysis.judgement.findings_of(r)) for r in tight)
    assert all(VERDICTS[analysis.verdict[row]] in ("suspect", "not ok") for row in tight)
    held = analysis.rules.reason[tight, YIELD] == BROKE_AWAY
    assert np.all(analysis.rules.status[tight[held], YIELD] == NOT_EVALUATED)


def test_the_wanted_clamp_force_is_met_broken_or_cannot_be_told() -> None:
    right = judged_shift()
    rows = of(right, "flange") & (right.verdict == OK)
    middle = float(np.median(right.clamp.clamp_force_kn[rows]))
    flange = right.joints["flange"]
    statuses = {}
    for share in (0.5, 1.0, 2.0):
        wanted = replace(flange, parts={**flange.parts, "wanted_clamp_force_kn": share * middle})
        analysis = analyse(right.traces, {**right.joints, "flange": wanted})
        statuses[share] = analysis.rules.status[rows, CLAMP]
        low = np.flatnonzero(rows)[0]
        assert ("clamp-force-low" in analysis.judgement.findings_of(low)) == (share == 2.0)
        if share == 2.0:
            assert VERDICTS[analysis.verdict[low]] == "not ok"
            (finding,) = [one for one in analysis.findings(int(low)) if one.name == "clamp-force-low"]
            assert "Even the highest clamp force" in str(finding.sentence)
    assert np.all(statuses[0.5] == MET)
    assert (statuses[1.0] == NOT_EVALUATED).mean() > 0.95
