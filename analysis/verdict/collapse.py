"""The end of the rise: threads that strip, bolts that yield, drives that slip, surfaces that gall."""

from __future__ import annotations

import numpy as np

from analysis.arrays import FloatArray
from analysis.verdict.entry import ends_in_rundown
from analysis.verdict.evidence import CauseEvidence, at_least_zero

#: Torque lost on forward rotation after the peak, over final torque, and degrees of it over the usual
#: climb, from which threads are said to strip (common practice, no source).
STRIP_FALL, STRIP_TURN = 0.05, 0.08
#: How far below the usual the slope at the end, over the elastic slope, has to lie to say that the bolt
#: yields, and how many times beyond the scatter's limit where the yield rule is not met (common practice,
#: no source).
YIELD_DROP, YIELD_BEYOND = 0.30, 2.0
#: Strength of a yield onset that the curve's own rule has found.
YIELD_FOUND = 1.6
#: More teeth than usual, and their heights together over final torque, from which galling is said: a step
#: or a pause alone makes one tooth (common practice, no source).
GALLING_TEETH, GALLING_SHARE = 1.9, 0.06
#: Share of a joint's traces that say how many teeth are usual.
USUAL_TEETH_SHARE = 0.8
#: Drive slip: the largest fall over final torque; pitch of the drive in degrees (twelve points, hexagon,
#: square: 360 deg over 12, 6 and 4), and the tolerance over it.
SLIP_FALL, SLIP_PITCHES_DEG, SLIP_TOLERANCE = 0.40, (30.0, 60.0, 90.0), 0.15
#: Falls that make a period.
SLIP_TEETH = 3


def stripping_strength(evidence: CauseEvidence) -> FloatArray:
    """Rotation goes on forward after the peak while the torque falls.

    A single sample of it counts half: one step of a coarse angle lies between peak and release as well.
    A recording that ends in the rundown has its highest torque in the start transient: nothing strips there.
    """
    turned = evidence.signs.after_deg / (STRIP_TURN * evidence.typical_of("climb_deg"))
    own = evidence.signs.after_deg / (STRIP_TURN * np.maximum(evidence.signs.climb_deg, 1e-6))
    turned = np.where(np.isnan(turned), own, turned)
    turned = turned * np.where(evidence.signs.after_steps < 2.0, 0.5, 1.0)
    turned = np.where(ends_in_rundown(evidence), 0.0, turned)
    return at_least_zero(np.minimum(evidence.signs.after_fall_share / STRIP_FALL, turned))


def yield_strength(evidence: CauseEvidence) -> FloatArray:
    """The slope has fallen before the final point; not a sign where the joint may yield."""
    usual = np.nan_to_num(evidence.typical_of("end_slope_share"), nan=1.0)
    drop = (usual - evidence.of("end_slope_share")) / YIELD_DROP
    bent = np.nan_to_num(drop, nan=1.0) >= 1.0
    beyond = -evidence.z_of("end_slope_share") / (YIELD_BEYOND * evidence.limit)
    drop = np.minimum(drop, beyond)
    found = np.where(evidence.curves.yielded == 1, np.where(bent, YIELD_FOUND, 0.8), 0.0)
    may = np.array([d is not None and d.may_yield is True for d in evidence.rows.definitions] + [False])
    return np.where(may[evidence.rows.codes], 0.0, np.maximum(at_least_zero(drop), found))


def galling_strength(evidence: CauseEvidence) -> FloatArray:
    """More teeth in the rise than the joint's others have, and high enough together.

    What four fifths of the joint's traces have is usual: steps, stops and breakaways make teeth too.
    """
    usual = np.nan_to_num(evidence.joint_median(evidence.signs.teeth, USUAL_TEETH_SHARE))
    more = (evidence.signs.teeth - usual) / GALLING_TEETH
    return at_least_zero(np.minimum(more, evidence.signs.tooth_sum_share / GALLING_SHARE))


def slip_strength(evidence: CauseEvidence) -> FloatArray:
    """Large falls of the torque at the pitch of the drive, after at least the usual turning.

    A fastener that stops short of the usual angle has its falls from the thread, not from the drive.
    """
    teeth = evidence.signs.teeth
    # One fall may lie between two samples, or within what looks like noise: then there is one period more,
    # but for the finest pitch, which would take teeth of 45 deg for its own.
    pitch = evidence.signs.tooth_pitch_deg
    missed = pitch * (1.0 - 1.0 / np.maximum(teeth, 1.0))
    asked = [pitch / p for p in SLIP_PITCHES_DEG] + [missed / p for p in SLIP_PITCHES_DEG[1:]]
    off = np.min(np.abs(np.array(asked) - 1.0), axis=0) / SLIP_TOLERANCE
    periodic = np.where((off <= 1.0) & (teeth >= SLIP_TEETH), 1.5 - 0.5 * off, 0.0)
    short = evidence.z_of("total_angle_deg") < -evidence.limit
    return at_least_zero(
        np.where(short, 0.5, 1.0) * np.minimum(evidence.signs.tooth_largest_share / SLIP_FALL, 2.0) * periodic
    )
