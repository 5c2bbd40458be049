"""What is compared between the traces of a joint, each on the scale on which its scatter is even."""

from __future__ import annotations

import math
from dataclasses import dataclass
from operator import attrgetter
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from analysis.arrays import FloatArray
from analysis.catalogue.figures import (
    DRAWDOWN,
    ELASTIC_SLOPE,
    FINAL_TORQUE,
    PREVAILING_TORQUE,
    RUNDOWN,
    TOTAL_ANGLE,
    Figure,
)
from analysis.curve.curve_table import CurveTable
from analysis.shift.population import Scales
from analysis.verdict.quantities import Quantities
from analysis.verdict.rise_signs import RiseSigns

#: Share of the final torque at which the scale of the prevailing torque turns from differences to ratios
#: (common practice, no source: below it a joint counts as free running).
PREVAILING_TURN = 0.02
#: Recordings of a joint whose whole angle scatters less than this share of its rises' scatter reach back
#: equally far from the final point (common practice, no source; whole recordings: at least 1).
CUT_SCATTER = 0.5
#: The step of the recorded torque is read from so many final torques at least, which lie off its multiples by
#: no more than this share of it (own choice).
FEWEST_STEPPED, OFF_STEP = 8, 0.02


@dataclass(frozen=True)
class Feature:
    """One compared figure."""

    figure: Figure  #: Of the catalogue, or one that only this comparison knows.
    #: Compared by difference; by ratio (logarithm: friction and stiffness act as factors); or by difference
    #: below and ratio above `PREVAILING_TURN` of the joint's final torque.
    scale: Literal["difference", "ratio", "prevailing"]
    #: Smallest standard deviation that is believed, on the compared scale (degrees, or the logarithm of a
    #: ratio); a population that agrees better agrees by rounding (common practice, no source).
    least_spread: float
    end_state: bool = False  #: Says where the tightening ended, not how it came there.
    #: Two groups of values mean two kinds of joint (friction, stiffness, nut), not two ways to start.
    telling: bool = False
    scored: bool = True  #: Can make a trace an outlier by itself; the others serve to tell causes apart.

    @property
    def name(self) -> str:
        """As in the results table where it is one of its columns."""
        return self.figure.name

    @property
    def words(self) -> str:
        """What it is called in a sentence."""
        return self.figure.said

    @property
    def unit(self) -> str:
        """Internal unit."""
        return self.figure.unit


FEATURES: tuple[Feature, ...] = (
    Feature(FINAL_TORQUE, "ratio", 0.004, end_state=True),
    Feature(TOTAL_ANGLE, "difference", 2.0, end_state=True),
    Feature(ELASTIC_SLOPE, "ratio", 0.01, telling=True),
    Feature(
        Figure("climb_deg", "Angle over the last 70 % of the rise", "deg", read="signs.climb_deg"),
        "ratio", 0.01, scored=False,
    ),
    Feature(DRAWDOWN, "ratio", 0.03, scored=False),
    Feature(
        Figure(
            "snug_rise_nm", "Torque from prevailing level to snug", "N·m", read="quantities.snug_rise_nm"
        ),
        "ratio", 0.03, scored=False,
    ),
    Feature(RUNDOWN, "difference", 2.0),
    Feature(PREVAILING_TORQUE, "prevailing", 0.03, telling=True),
    Feature(
        Figure("end_slope_share", "Slope at the end over elastic slope", read="end_slope_share"),
        "ratio", 0.03, scored=False,
    ),
)  # fmt: skip
FEATURE_NAMES = tuple(feature.name for feature in FEATURES)
FEATURE_INDEX = {name: index for index, name in enumerate(FEATURE_NAMES)}
SCALES = Scales(
    names=FEATURE_NAMES,
    least_spread=np.array([feature.least_spread for feature in FEATURES]),
    end_state=np.array([feature.end_state for feature in FEATURES]),
    scored=np.array([feature.scored for feature in FEATURES]),
    telling=np.array([feature.telling for feature in FEATURES]),
)


@dataclass(frozen=True, eq=False)
class FeatureTables:
    """What the paths of the features begin with."""

    curves: CurveTable
    quantities: Quantities
    signs: RiseSigns

    @property
    def end_slope_share(self) -> FloatArray:
        """Slope over the last tenth of the torque over the elastic slope."""
        with np.errstate(divide="ignore", invalid="ignore"):
            return self.signs.end_slope_nm_per_deg / self.curves.elastic_slope_nm_per_deg


def measure_features(tables: FeatureTables) -> FloatArray:
    """The features in their units, shape (n, len(FEATURES)); NaN where a trace does not have one."""
    return np.column_stack([attrgetter(feature.figure.read)(tables) for feature in FEATURES])


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


def feature_uncertainty(curves: CurveTable, features: FloatArray) -> FloatArray:
    """Standard uncertainty of what depends on the drawdown, on the compared scales, shape (n, len(FEATURES)).

    0 for the other features and where none is stated. A trace whose drawdown is poorly determined is not
    odd for that alone.
    """
    found = np.zeros(features.shape)
    width_deg = np.hypot(curves.drawdown_angle_uncertainty_deg, curves.snug_angle_uncertainty_deg)
    snug_nm = np.hypot(
        curves.snug_angle_uncertainty_deg * curves.elastic_slope_nm_per_deg, curves.prevailing_uncertainty_nm
    )
    for name, uncertainty in (("drawdown_deg", width_deg), ("snug_rise_nm", snug_nm)):
        index = FEATURE_INDEX[name]
        with np.errstate(divide="ignore", invalid="ignore"):
            found[:, index] = np.abs(np.nan_to_num(uncertainty / features[:, index], posinf=0.0, neginf=0.0))
    start_deg = np.nan_to_num(curves.drawdown_angle_uncertainty_deg, posinf=0.0, neginf=0.0)
    found[:, FEATURE_INDEX["rundown_deg"]] = np.abs(start_deg)
    return found


def torque_step(final_nm: FloatArray) -> float:
    """Step in which torque was recorded, N·m, from the final torques of some traces; 0 where they show none.

    Examples
    --------
    >>> round(torque_step(0.133 * np.array([200, 201, 202, 205, 203, 202, 199, 206])), 3)
    0.133
    >>> torque_step(np.sqrt(np.arange(20.0, 30.0)))
    0.0
    """
    ordered = np.sort(final_nm[np.isfinite(final_nm)])
    gaps = np.diff(ordered)
    gaps = gaps[gaps > 1e-9 * np.abs(ordered).max(initial=0.0)]
    if len(ordered) < FEWEST_STEPPED or not len(gaps):
        return 0.0
    times = gaps / gaps.min()
    return float(gaps.min()) if np.abs(times - np.round(times)).max() <= OFF_STEP else 0.0


def rounding_spread(
    features: FloatArray, usual_torque_nm: FloatArray, codes: NDArray[np.integer]
) -> FloatArray:
    """What the step of the recorded torque alone makes two traces differ by, shape (n, len(FEATURES)).

    Standard deviations on the compared scales, of the features that are torques as recorded; 0 for the
    others. Prevailing torque is a level of many samples that may all show the same step.

    Notes
    -----
    The difference of two values each rounded to a step d has the standard deviation d/sqrt(6).
    """
    found = np.zeros(features.shape)
    final, level = FEATURE_INDEX[FINAL_TORQUE.name], FEATURE_INDEX[PREVAILING_TORQUE.name]
    for code in np.unique(codes[codes >= 0]):
        rows = np.flatnonzero(codes == code)
        spread = torque_step(features[rows, final]) / math.sqrt(6.0) / usual_torque_nm[rows]
        found[rows, final] = spread
        turn = PREVAILING_TURN + np.maximum(np.nan_to_num(features[rows, level] / usual_torque_nm[rows]), 0.0)
        found[rows, level] = spread / turn
    return np.nan_to_num(found, posinf=0.0)


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
            elif feature.scale == "prevailing":
                share = features[:, index] / (PREVAILING_TURN * usual_torque_nm)
                scaled[:, index] = np.log1p(np.maximum(share, -0.5))
    return scaled


def typical_features(centre: FloatArray, usual_torque_nm: FloatArray) -> FloatArray:
    """What is usual for each trace's joint in the features' units, shape (n, len(FEATURES))."""
    typical = centre.copy()
    for index, feature in enumerate(FEATURES):
        if feature.scale == "ratio":
            typical[:, index] = np.exp(centre[:, index])
        elif feature.scale == "prevailing":
            typical[:, index] = np.expm1(centre[:, index]) * PREVAILING_TURN * usual_torque_nm
    return typical
