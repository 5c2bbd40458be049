"""Which explanation the curve supports, for every trace at once: weights, and the likeliest."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analysis.curve.curve_table import CurveTable
from analysis.verdict.finding import CAUSES
from analysis.verdict.joint_rows import JointRows

FloatArray = NDArray[np.float64]
CAUSE_INDEX = {name: index for index, name in enumerate(CAUSES)}


@dataclass(frozen=True, eq=False)
class CauseTable:
    """Causes of n traces.

    Attributes
    ----------
    weights : ndarray, shape (n, len(CAUSES))
        0 to 1, for ranking; not probabilities.
    likeliest : ndarray of int64, shape (n,)
        Index into `CAUSES`; -1 where no cause is called for.
    alarming : ndarray of bool, shape (n, len(CAUSES))
        Signs that want a look by themselves, whatever the population says.
    strength : ndarray, shape (n, len(CAUSES))
        Measured sign over its threshold: above 1 the sign is there.
    """

    weights: FloatArray
    likeliest: NDArray[np.int64]
    alarming: NDArray[np.bool_]
    strength: FloatArray


def find_causes(curves: CurveTable, rows: JointRows) -> CauseTable:
    """Weights of all causes; see the module."""
    shape = (len(curves), len(CAUSES))
    strength = np.zeros(shape)
    may_yield = np.array(
        [d is not None and d.may_yield is True for d in rows.definitions] + [False], np.bool_
    )
    wanted = np.array([d is None or d.may_yield is None for d in rows.definitions] + [True], np.bool_)
    yielded = (curves.yielded == 1) & ~may_yield[rows.codes]
    strength[yielded, CAUSE_INDEX["yielded"]] = 2.0
    alarming = np.zeros(shape, np.bool_)
    alarming[:, CAUSE_INDEX["yielded"]] = yielded & wanted[rows.codes]
    weights = np.minimum(strength / 2.0, 1.0)
    likeliest = np.where(weights.max(axis=1) > 0, weights.argmax(axis=1), -1)
    return CauseTable(weights, likeliest, alarming, strength)
