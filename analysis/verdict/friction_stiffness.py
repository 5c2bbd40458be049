"""Friction against stiffness: what a moved slope means, as far as torque and angle can tell.

With slope ratio a (logarithm against what is usual), friction leaves the drawdown's width in degrees and
scales the torque at snug by a; stiffness scales the width by -a and leaves the torque at snug. Both say
where between friction (0) and stiffness (1) a trace lies, each with the joint's own scatter as its
uncertainty. They are one measure read twice (the torque at snug is about slope times width): two readings
that agree make no smaller an uncertainty than the better of the two has, and two that do not a larger one
(Birge's ratio, see `analysis.joint.routes.fuse`).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from analysis.verdict.entry import begins_in_rise
from analysis.verdict.evidence import CauseEvidence, at_least_zero

FloatArray = NDArray[np.float64]

#: Uncertainty of the place between friction and stiffness that remains with perfect measures: real friction
#: also moves a little with pressure, real parts do not scale in one piece (common practice, no source).
PLACE_FLOOR = 0.15
#: A fastener that bottoms out is at least this many times as steep as usual (common practice, no source).
BOTTOMED_RATIO = 2.8


def moved(evidence: CauseEvidence) -> FloatArray:
    """How far slope and climb have moved together over the threshold, positive where the joint is steeper.

    Geometric mean of the two z-scores where the slope is up and the climb is short, or the other way round;
    0 where they contradict each other.
    """
    steeper, shorter = evidence.z_of("elastic_slope_nm_per_deg"), -evidence.z_of("climb_deg")
    agree = np.sign(steeper) == np.sign(shorter)
    size = np.sqrt(np.abs(steeper * shorter)) / evidence.limit
    return np.nan_to_num(np.where(agree, np.sign(steeper) * size, 0.0))


def place_between(evidence: CauseEvidence) -> tuple[FloatArray, FloatArray]:
    """Place between friction (0) and stiffness (1), and its standard uncertainty (infinite where unknown)."""
    slope = evidence.departure_of("elastic_slope_nm_per_deg")
    size = np.maximum(np.abs(slope), 1e-6)
    by_width = -evidence.departure_of("drawdown_deg") / np.where(slope == 0, 1e-6, slope)
    by_snug = 1.0 - evidence.departure_of("snug_rise_nm") / np.where(slope == 0, 1e-6, slope)
    places = np.stack([by_width, by_snug])
    spreads = np.stack([evidence.spread_of("drawdown_deg"), evidence.spread_of("snug_rise_nm")]) / size
    weight = np.where(np.isnan(places), 0.0, 1.0 / (spreads**2 + PLACE_FLOOR**2))
    total = weight.sum(axis=0)
    with np.errstate(divide="ignore", invalid="ignore"):
        place = np.where(total > 0, (np.nan_to_num(places) * weight).sum(axis=0) / total, 0.5)
        apart = np.abs(places[0] - places[1]) / np.hypot(*spreads)
        uncertainty = np.fmax(apart, 1.0) / np.sqrt(weight.max(axis=0))
    return place, uncertainty


def friction_share(evidence: CauseEvidence) -> FloatArray:
    """0 to 1: how much more likely the measures are under friction than under stiffness alone."""
    place, uncertainty = place_between(evidence)
    # Difference of the two normal log likelihoods, centred at 0 and 1; a place beyond either is no better a
    # sign than the end itself.
    evidence_for = (0.5 - np.clip(place, 0.0, 1.0)) / np.maximum(uncertainty, PLACE_FLOOR) ** 2
    if evidence.match is not None:
        evidence_for = np.nan_to_num(evidence_for) + evidence.match.favour
    return np.asarray(1.0 / (1.0 + np.exp(-np.clip(evidence_for, -30.0, 30.0))))


def friction_stiffness_strengths(evidence: CauseEvidence) -> dict[str, FloatArray]:
    """Strengths of the five causes that a moved slope can have, and of bottoming out."""
    size, share = moved(evidence), friction_share(evidence)
    up, down = at_least_zero(size), at_least_zero(-size)
    unsure = 1.0 - np.abs(2.0 * share - 1.0)
    ratio = np.exp(evidence.departure_of("elastic_slope_nm_per_deg"))
    short = evidence.typical_of("climb_deg") / np.maximum(evidence.of("climb_deg"), 1e-6)
    bottomed = np.minimum(np.minimum(ratio, short) / BOTTOMED_RATIO, up)
    return {
        "low-friction": down * share,
        "high-friction": up * share,
        "softer-joint": down * (1.0 - share),
        "stiffer-joint": up * (1.0 - share),
        "friction-or-stiffness": (up + down) * unsure,
        # Below that ratio the joint is stiffer or its friction higher: a weak sign of it is none.
        # And a fastener that never ran down has come upon no ground.
        "bottomed-out": np.where((bottomed >= 1.0) & ~begins_in_rise(evidence), bottomed, 0.0),
    }
