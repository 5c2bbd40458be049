"""What is compared between the traces of a joint, each on the scale on which its scatter is even."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from analysis.curve.curve_table import CurveTable
from analysis.verdict.quantities import Quantities
from analysis.verdict.rise_signs import RiseSigns

FloatArray = NDArray[np.float64]


#: Share of the final torque at which the scale of the prevailing torque turns from differences to ratios
#: (common practice, no source: below it a joint counts as free running).
PREVAILING_KNEE = 0.02
#: Recordings of a joint whose whole angle scatters less than this share of its rises' scatter reach back
#: equally far from the final point (common practice, no source; whole recordings: at least 1).
CUT_SCATTER = 0.5


@dataclass(frozen=True)
class Feature:
    """One compared quantity.

    Attributes
    ----------
    name : str
        As in the results table where it is one of its columns.
    words, unit : str
    scale : {"difference", "ratio", "knee"}
        Compared by difference; by ratio (logarithm: friction and stiffness act as factors); or by difference
        below and ratio above `PREVAILING_KNEE` of the joint's final torque.
    least_spread : float
        Smallest standard deviation that is believed, on the compared scale (degrees, or the logarithm of a
        ratio); a population that agrees better agrees by rounding (common practice, no source).
    end_state : bool
        Says where the tightening ended, not how it came there.
    telling : bool
        Two groups of values mean two kinds of joint (friction, stiffness, nut), not two ways to start.
    scored : bool
        Can make a trace an outlier by itself; the others serve to tell causes apart.
    """

    name: str
    words: str
    unit: str
    scale: Literal["difference", "ratio", "knee"]
    least_spread: float
    end_state: bool = False
    telling: bool = False
    scored: bool = True


FEATURES: tuple[Feature, ...] = (
    Feature("final_torque_nm", "final torque", "N·m", "ratio", 0.004, end_state=True),
    Feature(
        "total_angle_deg", "angle from first sample to final point", "deg", "difference", 2.0, end_state=True
    ),
    Feature("elastic_slope_nm_per_deg", "elastic slope", "N·m/deg", "ratio", 0.01, telling=True),
    Feature("climb_deg", "angle over the last 70 % of the rise", "deg", "ratio", 0.01, scored=False),
    Feature("drawdown_deg", "length of the drawdown", "deg", "ratio", 0.03, scored=False),
    Feature("snug_rise_nm", "torque from prevailing level to snug", "N·m", "ratio", 0.03, scored=False),
    Feature("rundown_deg", "length of the rundown", "deg", "difference", 2.0),
    Feature("prevailing_torque_nm", "prevailing torque", "N·m", "knee", 0.03, telling=True),
    Feature("end_slope_share", "slope at the end over elastic slope", "", "ratio", 0.03, scored=False),
)
FEATURE_NAMES = tuple(feature.name for feature in FEATURES)
FEATURE_INDEX = {name: index for index, name in enumerate(FEATURE_NAMES)}
LEAST_SPREADS = np.array([feature.least_spread for feature in FEATURES])
SCORED = np.array([feature.scored for feature in FEATURES])
TELLING = np.array([feature.telling for feature in FEATURES])
END_STATE = np.array([feature.end_state for feature in FEATURES])


def measure_features(curves: CurveTable, quantities: Quantities, signs: RiseSigns) -> FloatArray:
    """The features in their units, shape (n, len(FEATURES)); NaN where a trace does not have one."""
    with np.errstate(divide="ignore", invalid="ignore"):
        end_slope_share = signs.end_slope_nm_per_deg / curves.elastic_slope_nm_per_deg
    return np.column_stack(
        [
            curves.final_torque_nm,
            quantities.total_angle_deg,
            curves.elastic_slope_nm_per_deg,
            signs.climb_deg,
            quantities.drawdown_deg,
            quantities.snug_rise_nm,
            quantities.rundown_deg,
            curves.prevailing_torque_nm,
            end_slope_share,
        ]
    )


def without_cut_rundowns(features: FloatArray, codes: NDArray[np.integer]) -> FloatArray:
    """The features with no length of the rundown for joints whose recordings all reach back equally far.

    Some recorders keep only the last degrees before the final point: then a longer rise leaves less of the
    rundown on record, and its length says nothing about where the parts met. A rundown of its own makes the
    whole angle scatter at least as much as the rise alone.

    Parameters
    ----------
    features : ndarray, shape (n, len(FEATURES))
        In their units; not changed.
    codes : ndarray, shape (n,)
        Joint of each trace; negative: none.
    """
    total = features[:, FEATURE_INDEX["total_angle_deg"]]
    climb = features[:, FEATURE_INDEX["climb_deg"]]
    kept = features.copy()
    for code in np.unique(codes[codes >= 0]):
        rows = np.flatnonzero((codes == code) & np.isfinite(total) & np.isfinite(climb))
        if len(rows) and _scatter(total[rows]) < CUT_SCATTER * _scatter(climb[rows]):
            kept[codes == code, FEATURE_INDEX["rundown_deg"]] = np.nan
    return kept


def _scatter(values: FloatArray) -> float:
    """Median absolute deviation."""
    return float(np.median(np.abs(values - np.median(values))))


def feature_doubt(curves: CurveTable, features: FloatArray) -> FloatArray:
    """Standard uncertainty of what depends on the drawdown, on the compared scales, shape (n, len(FEATURES)).

    0 for the other features and where none is stated. A trace whose drawdown is poorly determined is not
    odd for that alone.
    """
    doubt = np.zeros(features.shape)
    width_deg = np.hypot(curves.drawdown_angle_uncertainty_deg, curves.snug_angle_uncertainty_deg)
    snug_nm = np.hypot(
        curves.snug_angle_uncertainty_deg * curves.elastic_slope_nm_per_deg, curves.prevailing_uncertainty_nm
    )
    for name, uncertainty in (("drawdown_deg", width_deg), ("snug_rise_nm", snug_nm)):
        index = FEATURE_INDEX[name]
        with np.errstate(divide="ignore", invalid="ignore"):
            doubt[:, index] = np.abs(np.nan_to_num(uncertainty / features[:, index], posinf=0.0, neginf=0.0))
    start_deg = np.nan_to_num(curves.drawdown_angle_uncertainty_deg, posinf=0.0, neginf=0.0)
    doubt[:, FEATURE_INDEX["rundown_deg"]] = np.abs(start_deg)
    return doubt


def to_compared_scale(features: FloatArray, usual_torque_nm: FloatArray) -> FloatArray:
    """The features on the scale on which they are compared; NaN where a ratio is not positive.

    Parameters
    ----------
    features : ndarray, shape (n, len(FEATURES))
    usual_torque_nm : ndarray, shape (n,)
        Median final torque of each trace's joint.
    """
    scaled = features.copy()
    with np.errstate(divide="ignore", invalid="ignore"):
        for index, feature in enumerate(FEATURES):
            if feature.scale == "ratio":
                scaled[:, index] = np.log(np.where(features[:, index] > 0, features[:, index], np.nan))
            elif feature.scale == "knee":
                share = features[:, index] / (PREVAILING_KNEE * usual_torque_nm)
                scaled[:, index] = np.log1p(np.maximum(share, -0.5))
    return scaled


def from_compared_scale(value: float, index: int, usual_torque_nm: float) -> float:
    """A value on the compared scale in the feature's unit again."""
    scale = FEATURES[index].scale
    if scale == "ratio":
        return float(np.exp(value))
    if scale == "knee":
        return float(np.expm1(value) * PREVAILING_KNEE * usual_torque_nm)
    return value


def typical_features(centre: FloatArray, usual_torque_nm: FloatArray) -> FloatArray:
    """What is usual for each trace's joint in the features' units, shape (n, len(FEATURES))."""
    typical = centre.copy()
    for index, feature in enumerate(FEATURES):
        if feature.scale == "ratio":
            typical[:, index] = np.exp(centre[:, index])
        elif feature.scale == "knee":
            typical[:, index] = np.expm1(centre[:, index]) * PREVAILING_KNEE * usual_torque_nm
    return typical
