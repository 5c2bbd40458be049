"""How the tightening begins: askew in the thread, already tight, or before the recorder."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from analysis.arrays import FloatArray
from analysis.verdict.evidence import CauseEvidence, at_least_zero
from analysis.verdict.rise_signs import FOOT_SHARE

#: A trace that needs less than this share of the usual degrees from its first torque to the final one was
#: tight before; near 1 the recorder came late (common practice, no source).
TIGHT_SHARE = 0.70
#: First torque over final torque from which a recording is said to begin in the rise.
LATE_FIRST_SHARE = 0.25
#: The same where it takes nearly the usual degrees from there: such a joint was not tight (own choices).
LATE_WHOLE_SHARE, LATE_LOW_SHARE = 0.90, 0.10
#: A recording that ends below this share of the usual final torque without any release was cut off.
CUT_SHARE = 0.93
#: A recording whose last torque is below this share of the final torque holds the release.
RELEASED_SHARE = 0.80
#: The end of a cut-off rise still has this share of the elastic slope.
CUT_SLOPE_SHARE = 0.55
#: A climb this many times the usual one that begins before the usual rundown is over, with a tooth or more,
#: is that of a crossed thread although it is not done before the usual seating (own choice).
CROSSED_CLIMB, CROSSED_TEETH = 3.0, 1
#: Strength of a sign that is either there or not.
PLAIN_SIGN = 2.0


def cross_thread_strength(evidence: CauseEvidence) -> FloatArray:
    """Torque climbs over far more degrees than usual, and is done before the usual seating.

    Weakest of three: the climb's z-score and the total angle's, both over the threshold, and the degrees by
    which the final point comes before the usual one over the usual climb. A climb without any step counts
    two thirds: smooth and long is also what a doubled gasket looks like. One that is not done early has to be
    several times the usual, uneven, and to begin before the usual rundown is over.
    """
    longer = evidence.z_of("climb_deg") / evidence.limit
    shorter = -evidence.z_of("total_angle_deg") / evidence.limit
    missing_deg = evidence.typical_of("total_angle_deg") - evidence.of("total_angle_deg")
    early = missing_deg / evidence.typical_of("climb_deg")
    uneven = np.where((evidence.signs.teeth > 0) | np.isnan(evidence.of("drawdown_deg")), 1.0, 0.67)
    done_early = np.minimum(np.minimum(longer, shorter), early) * uneven
    times = evidence.of("climb_deg") / (CROSSED_CLIMB * evidence.typical_of("climb_deg"))
    begun_early = np.minimum(np.minimum(longer, -evidence.z_of("rundown_deg") / evidence.limit), times)
    rough = evidence.signs.teeth >= CROSSED_TEETH
    return at_least_zero(np.fmax(done_early, np.where(rough, begun_early, 0.0)))


def degrees_needed(evidence: CauseEvidence) -> FloatArray:
    """Degrees that a usual joint takes from this trace's first torque to its final torque.

    Along the elastic line down to the usual snug torque, and along the drawdown below it.
    """
    final = evidence.of("final_torque_nm")
    first = np.clip(evidence.signs.first_share, 0.0, 1.0) * final
    slope = evidence.typical_of("elastic_slope_nm_per_deg")
    snug = evidence.typical_of("snug_rise_nm") + evidence.typical_of("prevailing_torque_nm")
    elastic = (final - np.maximum(first, snug)) / slope
    below = np.clip((snug - first) / np.maximum(snug, 1e-9), 0.0, 1.0)
    return np.asarray(np.maximum(elastic, 0.0) + below * np.nan_to_num(evidence.typical_of("drawdown_deg")))


def begins_in_rise(evidence: CauseEvidence) -> NDArray[np.bool_]:
    """No rundown in the recording although the joint has one, and less angle than a usual rise takes."""
    usual = _usual_rise(evidence)
    total = evidence.of("total_angle_deg")
    return np.asarray((total < 1.2 * usual) & (evidence.typical_of("total_angle_deg") > 1.5 * usual))


def _usual_rise(evidence: CauseEvidence) -> FloatArray:
    climb = evidence.typical_of("climb_deg")
    return np.asarray(climb + np.nan_to_num(evidence.typical_of("drawdown_deg")))


def already_tight_strength(evidence: CauseEvidence) -> FloatArray:
    """Torque at once, and its highest after far fewer degrees than a usual joint takes from there.

    Less than the usual torque is as good a sign where the recording holds its release: nothing is cut off.
    """
    share = evidence.of("total_angle_deg") / np.maximum(degrees_needed(evidence), 1e-6)
    strength = TIGHT_SHARE / np.maximum(share, 0.05)
    reached = evidence.of("final_torque_nm") >= CUT_SHARE * evidence.typical_of("final_torque_nm")
    released = (evidence.signs.last_share < RELEASED_SHARE) & ~ends_in_rundown(evidence)
    whole = reached | released
    return at_least_zero(np.where(begins_in_rise(evidence) & whole, strength, 0.0))


def ends_in_rundown(evidence: CauseEvidence) -> NDArray[np.bool_]:
    """The torque never left the foot of the usual rise, and the fastener turned no further than usual."""
    prevailing = np.nan_to_num(evidence.typical_of("prevailing_torque_nm"))
    foot_nm = prevailing + FOOT_SHARE * (evidence.typical_of("final_torque_nm") - prevailing)
    turned = evidence.of("total_angle_deg") + np.nan_to_num(evidence.signs.after_deg)
    usual = evidence.typical_of("total_angle_deg")
    return np.asarray((evidence.of("final_torque_nm") < foot_nm) & (turned <= usual))


def incomplete_strength(evidence: CauseEvidence) -> FloatArray:
    """The recording begins in the rise, or breaks off in it or before it.

    Breaks off: far below the usual final torque, still rising on the elastic slope, and without the release
    that the joint's other recordings have; where none of them has one, the sign counts half.
    """
    share = evidence.of("total_angle_deg") / np.maximum(degrees_needed(evidence), 1e-6)
    first = evidence.signs.first_share
    late = begins_in_rise(evidence) & (
        ((first > LATE_FIRST_SHARE) & (share >= TIGHT_SHARE))
        | ((first > LATE_LOW_SHARE) & (share >= LATE_WHOLE_SHARE))
    )
    final, usual = evidence.of("final_torque_nm"), evidence.typical_of("final_torque_nm")
    rising = np.nan_to_num(evidence.of("end_slope_share"), nan=1.0) >= CUT_SLOPE_SHARE
    high_at_end = evidence.signs.last_share > RELEASED_SHARE
    has_release = evidence.joint_median(evidence.signs.last_share) < RELEASED_SHARE
    cut = (final < CUT_SHARE * usual) & rising & high_at_end
    strength = np.where(late, PLAIN_SIGN, 0.0)
    strength = np.where(cut, np.where(has_release, PLAIN_SIGN, 1.1), strength)
    return at_least_zero(np.where(ends_in_rundown(evidence), PLAIN_SIGN, strength))
