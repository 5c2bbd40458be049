"""Each cause's sign is there from its stated threshold on, and not before; what is stated stands here again.

Strengths are signs over thresholds: 1 at the threshold. Thresholds are common practice without a source; a
change of one is meant to be made in two places.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from analysis.catalogue.causes import CAUSE_INDEX, CAUSE_NAMES
from analysis.joint.definition import JointDefinition
from analysis.verdict.causes import cause_strengths, cause_weights, find_causes, presence
from analysis.verdict.expectation import expected_group, trusted_traces
from analysis.verdict.features import FEATURE_NAMES, without_cut_rundowns
from analysis.verdict.friction_stiffness import friction_share, place_between
from analysis.verdict.joint_rows import JointRows
from analysis.verdict.rise_signs import CLIMB_SHARE, END_SHARE, FOOT_SHARE, believed_noise
from analysis.verdict.rules import evaluate_rules
from tests.analysis.verdict.curve_tables import curve_table
from tests.analysis.verdict.evidence_making import JOINT, evidence


def strength_of(cause: str, **changes) -> float:
    return float(cause_strengths(evidence(**changes))[0, CAUSE_INDEX[cause]])


def test_a_usual_tightening_shows_no_sign() -> None:
    assert cause_strengths(evidence()).max() < 0.3


#: What brings each sign to 1.2 times its threshold; every threshold is named by its change.
AT = 1.2
SIGNS = {
    "threads strip: 5 % of the torque lost": (
        "thread-stripping",
        {"signs": {"after_fall_share": AT * 0.05, "after_deg": 40.0}},
    ),
    "threads strip: over 8 % of the climb": (
        "thread-stripping",
        {"signs": {"after_fall_share": 0.5, "after_deg": AT * 0.08 * 40.0}},
    ),
    "yielded: slope at the end 0.30 below the usual": (
        "yielded",
        {"end_slope_share": 1.0 - AT * 0.30, "spread": {"end_slope_share": 0.03}},
    ),
    "galling: 1.9 teeth more than usual": ("galling", {"signs": {"teeth": AT * 1.9, "tooth_sum_share": 0.5}}),
    "galling: teeth of 6 % together": ("galling", {"signs": {"teeth": 9.0, "tooth_sum_share": AT * 0.06}}),
    "drive slips: falls of 40 %, 60 deg apart": (
        "drive-slip",
        {"signs": {"teeth": 3.0, "tooth_largest_share": AT * 0.40 / 1.5, "tooth_pitch_deg": 60.0}},
    ),
    "drive slips: falls of 40 %, 90 deg apart": (
        "drive-slip",
        {"signs": {"teeth": 3.0, "tooth_largest_share": AT * 0.40 / 1.5, "tooth_pitch_deg": 90.0}},
    ),
    "seated early: 24 deg": ("seated-early", {"rundown_deg": 740.0 - AT * 24.0}),
    "seated late: 24 deg": ("seated-late", {"rundown_deg": 740.0 + AT * 24.0}),
    "prevailing torque high: 3 % of the target": (
        "prevailing-high",
        {"prevailing_torque_nm": 1.0 + AT * 0.03 * 65.0},
    ),
    "prevailing torque missing: below 0.4 of the usual": (
        "prevailing-missing",
        {"usual": {"prevailing_torque_nm": 5.0}, "prevailing_torque_nm": 5.0 * (1.0 - AT * 0.6)},
    ),
    "bottomed out: 2.8 times as steep": (
        "bottomed-out",
        {"elastic_slope_nm_per_deg": AT * 2.8 * 1.5, "climb_deg": 40.0 / (AT * 2.8)},
    ),
    "cross thread: earlier by the usual climb": (
        "cross-thread",
        {"total_angle_deg": 800.0 - AT * 40.0, "climb_deg": 400.0, "drawdown_deg": np.nan},
    ),
    "cross thread: 3 times the usual climb, begun early": (
        "cross-thread",
        {"climb_deg": AT * 3.0 * 40.0, "rundown_deg": 300.0, "signs": {"teeth": 1.0}},
    ),
}


@pytest.mark.parametrize("what", SIGNS)
def test_a_sign_is_measured_by_its_threshold(what: str) -> None:
    cause, changes = SIGNS[what]
    assert strength_of(cause, **changes) == pytest.approx(AT, rel=0.02)


def test_teeth_that_four_fifths_of_the_joint_have_are_usual() -> None:
    """Six of twenty have two teeth by a step or a stop: two are usual, and three are not galling."""
    teeth = np.array([3.0, *[2.0] * 6, *[0.0] * 14])
    assert strength_of("galling", signs={"teeth": teeth, "tooth_sum_share": 0.5}) == pytest.approx(1 / 1.9)
    teeth[4:] = 0.0
    assert strength_of("galling", signs={"teeth": teeth, "tooth_sum_share": 0.5}) == pytest.approx(3 / 1.9)


def test_a_crossed_thread_that_turns_as_far_as_usual_is_rough_and_begins_early() -> None:
    long = {"climb_deg": 400.0}
    assert strength_of("cross-thread", **long, rundown_deg=300.0, signs={"teeth": 0.0}) == 0.0
    assert strength_of("cross-thread", **long, rundown_deg=740.0, signs={"teeth": 9.0}) == 0.0
    assert strength_of("cross-thread", rundown_deg=300.0, signs={"teeth": 9.0}) == 0.0
    assert strength_of("cross-thread", **long, rundown_deg=300.0, signs={"teeth": 1.0}) > 1.0


def test_a_slip_has_three_falls_at_the_pitch_of_a_drive() -> None:
    fall = {"tooth_largest_share": 0.6}
    assert strength_of("drive-slip", signs={"teeth": 3.0, "tooth_pitch_deg": 60.0, **fall}) > 1.0
    assert strength_of("drive-slip", signs={"teeth": 2.0, "tooth_pitch_deg": 60.0, **fall}) == 0.0
    assert strength_of("drive-slip", signs={"teeth": 3.0, "tooth_pitch_deg": 60.0 * 1.14, **fall}) > 1.0
    assert strength_of("drive-slip", signs={"teeth": 3.0, "tooth_pitch_deg": 60.0 * 1.16, **fall}) == 0.0
    assert strength_of("drive-slip", signs={"teeth": 3.0, "tooth_pitch_deg": 30.0, **fall}) > 1.0
    assert strength_of("drive-slip", signs={"teeth": 3.0, "tooth_pitch_deg": 45.0, **fall}) == 0.0


def test_an_onset_that_the_curve_found_is_a_sign_where_the_end_is_bent() -> None:
    found = {"columns": {"yielded": 1, "yield_angle_deg": 790.0}, "spread": {"end_slope_share": 10.0}}
    assert strength_of("yielded", end_slope_share=0.5, **found) == pytest.approx(1.6)
    assert strength_of("yielded", end_slope_share=0.95, **found) == pytest.approx(0.8)
    allowed = replace(JOINT, may_yield=True)
    assert strength_of("yielded", end_slope_share=0.5, definition=allowed, **found) == 0.0


def test_a_bent_end_counts_only_beyond_twice_the_scatter() -> None:
    """A joint whose ends scatter: 0.36 below is 1.2 thresholds of slope, and 0.5 of the scatter's."""
    wide = abs(np.log(0.64)) / (0.5 * 2.0 * 3.0)
    assert strength_of("yielded", end_slope_share=0.64, spread={"end_slope_share": wide}) == pytest.approx(
        0.5
    )


def test_a_limit_of_prevailing_torque_that_is_broken_is_a_sign_by_itself() -> None:
    limited = replace(JOINT, prevailing_limits_nm=(0.5, 1.4))
    assert strength_of("prevailing-high", prevailing_torque_nm=1.5, definition=limited) == pytest.approx(1.5)
    assert strength_of("prevailing-missing", prevailing_torque_nm=0.4, definition=limited) == pytest.approx(
        1.5
    )


def test_friction_and_stiffness_are_told_by_drawdown_and_snug_torque() -> None:
    """Friction scales the torques and leaves the degrees of the drawdown; stiffness the other way round."""
    moved = {"elastic_slope_nm_per_deg": 1.5 * 0.6, "climb_deg": 40.0 / 0.6}
    friction = {"drawdown_deg": 20.0, "snug_rise_nm": 4.0 * 0.6}
    stiffness = {"drawdown_deg": 20.0 / 0.6, "snug_rise_nm": 4.0}
    for cause, signs in (("low-friction", friction), ("softer-joint", stiffness)):
        weights = cause_weights(cause_strengths(evidence(**moved, **signs)))[0]
        assert CAUSE_NAMES[int(weights.argmax())] == cause
    place, uncertainty = place_between(evidence(**moved, **friction))
    assert place[0] == pytest.approx(0.0, abs=0.02)
    # One measure read twice: as uncertain as either reading, 0.15 at least, and 0.03 of scatter over ln(0.6).
    read = 0.03 / abs(np.log(0.6))
    either = np.hypot(0.15, read)
    assert uncertainty[0] == pytest.approx(either, rel=0.01)
    assert place_between(evidence(**moved, **stiffness))[0][0] == pytest.approx(1.0, abs=0.02)
    # Drawdown of a friction, torque at snug of a stiffness: between the two, and known the less for it.
    apart = friction | {"snug_rise_nm": 4.0}
    place, uncertainty = place_between(evidence(**moved, **apart))
    assert place[0] == pytest.approx(0.5, abs=0.02)
    assert uncertainty[0] == pytest.approx(either / (np.sqrt(2.0) * read), rel=0.05)


def test_a_drawdown_beyond_what_friction_makes_of_it_is_no_better_a_sign_of_friction() -> None:
    moved = {"elastic_slope_nm_per_deg": 1.5 * 0.6, "climb_deg": 40.0 / 0.6}
    wide = {"drawdown_deg": 0.3, "snug_rise_nm": 0.3}
    at_end = friction_share(evidence(**moved, drawdown_deg=20.0, snug_rise_nm=4.0 * 0.6, spread=wide))[0]
    beyond = evidence(**moved, drawdown_deg=20.0 * 0.8, snug_rise_nm=4.0 * 0.6 * 0.8, spread=wide)
    assert 0.5 < at_end < 0.9
    assert friction_share(beyond)[0] == pytest.approx(at_end, abs=0.01)


def test_slope_and_climb_that_contradict_each_other_are_no_sign() -> None:
    both = {"elastic_slope_nm_per_deg": 0.9, "climb_deg": 30.0}
    assert strength_of("low-friction", **both) == strength_of("softer-joint", **both) == 0.0


def test_what_began_late_and_what_was_tight_before() -> None:
    """Torque at once: needs a fraction of the usual degrees (tight), or as many as usual (recorded late)."""
    at_once = {"first_share": 0.40, "last_share": 0.0}
    # From 40 % on, 39 N·m at 1.5 N·m/deg take 26 deg.
    tight = {"signs": at_once, "total_angle_deg": 26.0 * 0.5, "rundown_deg": np.nan}
    late = {"signs": at_once, "total_angle_deg": 26.0, "rundown_deg": np.nan}
    assert strength_of("already-tight", **tight) == pytest.approx(0.70 / 0.5, rel=0.01)
    assert strength_of("incomplete-recording", **tight) == 0.0
    assert strength_of("already-tight", **late) == pytest.approx(0.70, rel=0.01)
    assert strength_of("incomplete-recording", **late) == 2.0
    # From 20 % on 35 deg: low in the rise it is late where it takes nearly all of them, from the foot never.
    for first, total, strength in ((0.20, 40.0, 2.0), (0.20, 28.0, 0.0), (0.09, 60.0, 0.0)):
        low_first = late | {"signs": {"first_share": first, "last_share": 0.0}, "total_angle_deg": total}
        assert strength_of("incomplete-recording", **low_first) == strength
    too_low = tight | {"final_torque_nm": 0.92 * 65.0}
    cut_off = too_low | {"signs": at_once | {"last_share": 1.0}}
    assert strength_of("already-tight", **cut_off) == 0.0
    # Less than usual, but up to its release: the wrench stopped there, nothing is cut off.
    assert strength_of("already-tight", **too_low) > 1.0


def test_what_never_ran_down_did_not_bottom_out() -> None:
    steep = {"elastic_slope_nm_per_deg": 1.5 * 5.0, "climb_deg": 40.0 / 5.0}
    assert strength_of("bottomed-out", **steep) > 1.0
    assert strength_of("bottomed-out", **steep, total_angle_deg=9.0, rundown_deg=np.nan) == 0.0


@pytest.mark.parametrize(
    ("final_share", "last_share", "end_slope_share", "cut"),
    [
        (0.90, 1.0, 1.0, True), (0.95, 1.0, 1.0, False), (0.90, 0.75, 1.0, False), (0.90, 0.85, 1.0, True),
        (0.90, 1.0, 0.60, True), (0.90, 1.0, 0.50, False),
    ],
)  # fmt: skip
def test_a_recording_that_breaks_off(final_share, last_share, end_slope_share, cut) -> None:
    """Below 93 % of the usual torque, last sample above 80 % of its own, slope above 0.55 of the elastic."""
    found = strength_of(
        "incomplete-recording",
        final_torque_nm=final_share * 65.0,
        signs={"last_share": last_share},
        end_slope_share=end_slope_share,
    )
    assert found == (2.0 if cut else 0.0)


def test_presence_and_what_a_stronger_cause_explains() -> None:
    """s^4 / (1 + s^4), and 95 % of another's sign taken away at most."""
    assert presence(np.array([0.5, 1.0, 2.0])).tolist() == pytest.approx([1 / 17, 0.5, 16 / 17])
    strength = np.zeros((1, len(CAUSE_NAMES)))
    strength[0, [CAUSE_INDEX["galling"], CAUSE_INDEX["thread-stripping"], CAUSE_INDEX["low-friction"]]] = 50.0
    weights = cause_weights(strength)[0]
    assert weights[CAUSE_INDEX["thread-stripping"]] == pytest.approx(0.05, abs=0.001)
    assert weights[CAUSE_INDEX["low-friction"]] == pytest.approx(0.05 * 0.05, abs=0.001)
    assert weights[CAUSE_INDEX["galling"]] == pytest.approx(1.0, abs=0.001)


def test_how_strong_a_sign_is_named() -> None:
    """By itself from its threshold on (weight 0.45), beside a flag from 0.58 of it (weight 0.10)."""
    nut = {"usual": {"prevailing_torque_nm": 5.0}}

    def named(share: float, flagged: bool) -> str:
        found = find_causes(
            evidence(prevailing_torque_nm=5.0 * (1.0 - share * 0.6), **nut),
            np.array([flagged] + [False] * 20),
        )
        return CAUSE_NAMES[found.likeliest[0]] if found.likeliest[0] >= 0 else ""

    assert [named(share, flagged=False) for share in (0.90, 1.0)] == ["", "prevailing-missing"]
    assert [named(share, flagged=True) for share in (0.50, 0.65)] == ["", "prevailing-missing"]
    assert find_causes(evidence(prevailing_torque_nm=5.0 * 0.39, **nut), np.zeros(21, bool)).alarming[0].any()


def test_noise_is_believed_up_to_twice_the_joints() -> None:
    noise = np.array([0.1, 0.1, 0.1, 0.15, 0.9])
    assert believed_noise(noise, np.zeros(5, int)).tolist() == pytest.approx([0.1, 0.1, 0.1, 0.15, 0.2])


@pytest.mark.parametrize(("scatter", "kept"), [(0.4, False), (0.6, True)])
def test_recordings_that_all_reach_back_equally_far_have_no_rundown(scatter, kept) -> None:
    """Whole angles that scatter less than half as much as the climbs."""
    features = np.ones((41, len(FEATURE_NAMES)))
    steps = np.linspace(-1.0, 1.0, 41)
    features[:, FEATURE_NAMES.index("total_angle_deg")] = 800.0 + 10.0 * scatter * steps
    features[:, FEATURE_NAMES.index("climb_deg")] = 40.0 + 10.0 * steps
    rundowns = without_cut_rundowns(features, np.zeros(41, int))[:, FEATURE_NAMES.index("rundown_deg")]
    assert np.isfinite(rundowns).all() == kept


@pytest.mark.parametrize(("apart", "two"), [(3.6, False), (4.8, True)])
def test_two_groups_of_slopes_lie_4_2_deviations_apart(apart, two) -> None:
    """Two normal groups of equal spread; the one nearer to the expected slope is chosen."""
    group = np.quantile(np.random.default_rng(0).normal(size=4000), np.linspace(0.01, 0.99, 40)) * 0.05
    slopes = np.exp(np.concatenate([group, group + apart * 0.05]))
    chosen = expected_group(slopes, float(np.exp(apart * 0.05)), 20)
    assert (chosen is not None) == two
    if chosen is not None:
        assert chosen[:40].sum() == 0
        assert chosen[40:].all()


@pytest.mark.parametrize(("outside", "noted"), [(7, False), (9, True)])
def test_a_fifth_of_the_slopes_outside_what_the_joint_allows_is_noted(outside: int, noted: bool) -> None:
    """M10 through bolt of 30 mm: 1.305 to 1.737 N·m/deg at friction 0.10 to 0.14 (S3), 20 % either way."""
    hub = JointDefinition(
        "hub",
        65.0,
        thread="M10x1.5",
        property_class="10.9",
        head="hex",
        hole="medium",
        friction=(0.10, 0.14),
        clamp_length_mm=30.0,
        torque_limits_nm=(1.0, 500.0),
        parts={"parts_diameter_mm": 40.0, "parts_modulus_gpa": 205.0},
    )
    slopes = np.r_[np.full(40 - outside, 1.5), np.linspace(2.2, 2.8, outside)]
    curves = curve_table(40, elastic_slope_nm_per_deg=slopes)
    rows = JointRows(("hub",), np.zeros(40, np.int64), (hub,))
    trusted, notes = trusted_traces(curves, evaluate_rules(curves, rows), rows, 20)
    assert trusted.all()
    assert ("lie outside the" in notes.get("hub", "")) == noted


def test_shares_of_the_rise_and_of_a_joint() -> None:
    """Above ripple, above step dips, the last tenth."""
    assert (FOOT_SHARE, CLIMB_SHARE, END_SHARE) == (0.15, 0.30, 0.90)
