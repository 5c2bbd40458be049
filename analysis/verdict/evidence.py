"""What the causes are judged by: each trace's measures beside what is typical of its joint."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analysis.arrays import FloatArray
from analysis.curve.curve_table import CurveTable
from analysis.verdict.features import FEATURE_INDEX
from analysis.verdict.joint_rows import JointRows
from analysis.verdict.quantities import Quantities
from analysis.verdict.rise_match import RiseMatch
from analysis.verdict.rise_signs import RiseSigns, joint_medians
from analysis.verdict.rules import RuleTable


@dataclass(frozen=True, eq=False)
class CauseEvidence:
    """Everything that the causes look at; arrays hold one entry a trace."""

    #: The tables of the traces.
    curves: CurveTable
    quantities: Quantities
    signs: RiseSigns
    rules: RuleTable
    rows: JointRows
    features: FloatArray  #: Shape (n, len(FEATURES)). In their units.
    compared: FloatArray  #: Shape (n, len(FEATURES)). On the compared scales.
    z: FloatArray  #: Shape (n, len(FEATURES)). Robust z-scores; NaN where there is no population.
    #: Shape (n, len(FEATURES)). On the compared scales.
    centre: FloatArray
    spread: FloatArray
    typical: FloatArray  #: Shape (n, len(FEATURES)). What is usual, in the features' units.
    limit: FloatArray  #: Shape (n,). The |z| that counts as odd; NaN where there is no population.
    #: Each rise against the usual one of its joint; None where it was not looked at.
    match: RiseMatch | None = None

    def z_of(self, name: str) -> FloatArray:
        """z-scores of one feature."""
        return np.asarray(self.z[:, FEATURE_INDEX[name]])

    def of(self, name: str) -> FloatArray:
        """One feature in its unit."""
        return np.asarray(self.features[:, FEATURE_INDEX[name]])

    def typical_of(self, name: str) -> FloatArray:
        """What is usual for one feature in each trace's joint, in its unit."""
        return np.asarray(self.typical[:, FEATURE_INDEX[name]])

    def departure_of(self, name: str) -> FloatArray:
        """Compared value less the joint's centre: for ratios the logarithm of the ratio to what is usual."""
        index = FEATURE_INDEX[name]
        return np.asarray(self.compared[:, index] - self.centre[:, index])

    def spread_of(self, name: str) -> FloatArray:
        """Standard deviation of one feature in each trace's joint, on its compared scale."""
        return np.asarray(self.spread[:, FEATURE_INDEX[name]])

    def joint_median(self, values: FloatArray, share: float = 0.5) -> FloatArray:
        """Median (or the quantile at `share`) of any measure over each trace's joint."""
        return joint_medians(values, self.rows.codes, share)

    def target_nm(self) -> FloatArray:
        """Target torque of each trace's joint; the usual final torque where the joint is not defined."""
        given = [np.nan if d is None else d.target_torque_nm for d in self.rows.definitions]
        table = np.array([*given, np.nan])
        target = table[self.rows.codes]
        return np.where(np.isnan(target), self.typical_of("final_torque_nm"), target)


def at_least_zero(strength: FloatArray) -> FloatArray:
    """A strength without NaN and negative values: what cannot be judged is no sign."""
    return np.maximum(np.nan_to_num(strength, nan=0.0, posinf=0.0, neginf=0.0), 0.0)
