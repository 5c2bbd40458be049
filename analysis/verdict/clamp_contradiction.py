"""Where torque and angle leave no clamp force in common: a finding of a trace, or a note on the whole
joint."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analysis.joint.clamp_table import ClampTable
from analysis.verdict.joint_rows import JointRows

FloatArray = NDArray[np.float64]

#: Share of a joint's traces from which the contradiction says something about the joint's data and nothing
#: about single traces (common practice, no source).
MANY_CONTRADICTED = 0.2


@dataclass(frozen=True, eq=False)
class ClampContradictions:
    """Traces whose clamp force by torque and by angle contradict each other.

    Attributes
    ----------
    present : ndarray of bool, shape (n,)
        Findings: their joint's others agree.
    apart : ndarray, shape (n,)
        Width between the two ranges over the nearer bound by torque; NaN where they have a force in common.
    notes : dict of joint name to str
        Joints of which so many contradict that friction or stiffness of the definition is to be doubted.
    """

    present: NDArray[np.bool_]
    apart: FloatArray
    notes: dict[str, str]


def find_clamp_contradictions(clamp: ClampTable, rows: JointRows) -> ClampContradictions:
    """Sort what `analysis.joint.clamp_force` found contradictory into single traces and whole joints."""
    present = clamp.disagreement.copy()
    notes: dict[str, str] = {}
    for code, name in enumerate(rows.names):
        of_joint = (rows.codes == code) & np.isfinite(clamp.angle_force_kn)
        n, n_apart = int(of_joint.sum()), int((of_joint & clamp.disagreement).sum())
        if n_apart > MANY_CONTRADICTED * n:
            present[of_joint] = False
            notes[name] = (
                f"in {n_apart} of {n} traces clamp force by torque and by angle contradict each other: "
                "friction or stiffness of the joint is not as its data say"
            )
    below = clamp.torque_force_low_kn - clamp.angle_force_high_kn
    above = clamp.angle_force_low_kn - clamp.torque_force_high_kn
    bound = np.where(below > 0, clamp.torque_force_low_kn, clamp.torque_force_high_kn)
    gap = np.fmax(below, above)
    with np.errstate(divide="ignore", invalid="ignore"):
        apart = np.where(clamp.disagreement & (gap > 0), gap / bound, np.nan)
    return ClampContradictions(present, apart, notes)
