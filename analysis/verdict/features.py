"""What is compared between the traces of a joint."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from analysis.curve.curve_table import CurveTable
from analysis.verdict.quantities import Quantities

FloatArray = NDArray[np.float64]

#: Names in the order of the columns of `compared_features`.
FEATURES = (
    "elastic_slope_nm_per_deg",
    "joint_rate_deg",
    "drawdown_deg",
    "rundown_deg",
    "prevailing_torque_nm",
    "final_torque_nm",
    "total_angle_deg",
)
FEATURE_WORDS = {
    "elastic_slope_nm_per_deg": "elastic slope",
    "joint_rate_deg": "angle from snug to final",
    "drawdown_deg": "length of the drawdown",
    "rundown_deg": "length of the rundown",
    "prevailing_torque_nm": "prevailing torque",
    "final_torque_nm": "final torque",
    "total_angle_deg": "total angle",
}
FEATURE_UNITS = {
    name: "N·m/deg" if name.endswith("per_deg") else "deg" if name.endswith("deg") else "N·m"
    for name in FEATURES
}


def compared_features(curves: CurveTable, quantities: Quantities) -> FloatArray:
    """One column a feature, in its unit; NaN where a trace does not have it."""
    columns = [getattr(quantities, name, None) for name in FEATURES]
    return np.column_stack(
        [
            getattr(curves, name) if column is None else column
            for name, column in zip(FEATURES, columns, strict=True)
        ]
    )
