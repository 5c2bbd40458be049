"""How odd each trace is among the traces of its joint: one score, and the parts it is made of."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

from analysis.settings import PopulationSettings
from analysis.shift.robust import robust_centre, robust_spread

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Population:
    """What is usual among the traces of one joint.

    Attributes
    ----------
    joint : str
    n : int
        Traces of the joint.
    n_used : int
        Those that the centre was taken from (broken limits and incomplete recordings are left out where enough
        others remain).
    centre, spread : ndarray, shape (k,)
        Robust centre and standard deviation of each feature.
    note : str
        What to know before trusting it ("only 12 traces ..."); empty where nothing speaks against it.
    """

    joint: str
    n: int
    n_used: int
    centre: FloatArray
    spread: FloatArray
    note: str


@dataclass(frozen=True, eq=False)
class OutlierTable:
    """Outlier scores of n traces.

    Attributes
    ----------
    part_names : tuple of str, length k
    parts : ndarray, shape (n, k)
        Signed robust z-score of each feature; NaN where the trace or the population has none.
    score : ndarray, shape (n,)
        Largest part over the threshold: 1 is the threshold; NaN where the joint has no population.
    flagged : ndarray of bool, shape (n,)
    threshold : ndarray, shape (n,)
        The z-score that 1 stands for.
    populations : dict
        By joint name.
    """

    part_names: tuple[str, ...]
    parts: FloatArray
    score: FloatArray
    flagged: NDArray[np.bool_]
    threshold: FloatArray
    populations: dict[str, Population]


def find_outliers(
    features: FloatArray,
    names: Sequence[str],
    codes: NDArray[np.integer],
    joints: Sequence[str],
    trusted: NDArray[np.bool_],
    settings: PopulationSettings,
) -> OutlierTable:
    """Robust z-scores of every feature within its joint, and the largest as the score.

    Parameters
    ----------
    features : ndarray, shape (n, k)
    names : sequence of str, length k
    codes : ndarray, shape (n,)
        Joint of each trace as an index into `joints`; negative: none, no score.
    trusted : ndarray of bool, shape (n,)
        Traces that may say what is usual.
    settings : PopulationSettings
    """
    n, k = features.shape
    parts = np.full((n, k), np.nan)
    threshold = np.full(n, np.nan)
    populations: dict[str, Population] = {}
    for code, joint in enumerate(joints):
        rows = np.flatnonzero(codes == code)
        used = rows[trusted[rows]]
        used = used if len(used) >= settings.smallest_population else rows
        centre = robust_centre(features[used])
        spread = robust_spread(features[used], centre)
        note = ""
        if len(rows) < settings.smallest_population:
            note = f"only {len(rows)} traces, fewer than {settings.smallest_population}: too few to say what is usual"
        else:
            with np.errstate(divide="ignore", invalid="ignore"):
                parts[rows] = np.where(spread > 0, (features[rows] - centre) / spread, np.nan)
            threshold[rows] = z_limit(settings.outlier_share, len(rows), k)
        populations[joint] = Population(joint, len(rows), len(used), centre, spread, note)
    largest = np.max(np.nan_to_num(np.abs(parts), nan=0.0), axis=1, initial=0.0)
    score = np.where(np.isfinite(threshold), largest / threshold, np.nan)
    return OutlierTable(tuple(names), parts, score, score > 1.0, threshold, populations)


def z_limit(share: float, n_traces: int, n_features: int) -> float:
    """The |z| that a share of good traces exceeds in any of their features (Bonferroni over the features)."""
    return NormalDist().inv_cdf(1.0 - share / (2.0 * n_features))
