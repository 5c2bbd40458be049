"""Lengths and levels of each tightening that are compared from trace to trace."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analysis.arrays import FloatArray
from analysis.curve.curve_table import CurveTable
from analysis.traces import TraceSet


@dataclass(frozen=True, eq=False)
class Quantities:
    """What is compared between the traces of a joint; arrays of shape (n,), NaN where absent."""

    first_angle_deg: FloatArray  #: Angle of the first finite sample.
    #: First sample to drawdown start; absent where the recording has no drawdown start.
    rundown_deg: FloatArray
    drawdown_deg: FloatArray  #: Drawdown start to snug point.
    total_angle_deg: FloatArray  #: First sample to final point.
    snug_rise_nm: FloatArray  #: Torque at snug less prevailing torque.


def measure_quantities(traces: TraceSet, curves: CurveTable) -> Quantities:
    """Lengths and levels from the curve table; nothing is estimated anew."""
    first = np.full(len(traces), np.nan)
    filled = traces.n_samples > 0
    first[filled] = traces.angle_deg[traces.offsets[:-1][filled]]
    return Quantities(
        first_angle_deg=first,
        rundown_deg=curves.drawdown_angle_deg - first,
        drawdown_deg=curves.snug_angle_deg - curves.drawdown_angle_deg,
        total_angle_deg=curves.final_angle_deg - first,
        snug_rise_nm=curves.snug_torque_nm - curves.prevailing_torque_nm,
    )
