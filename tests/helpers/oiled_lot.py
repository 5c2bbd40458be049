"""A joint of which a part came from a lot with oil on its threads."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from analysis.joint import joints_from_text
from analysis.pipeline import Analysis, analyse
from analysis.traces import TraceSet

_JOINTS = "[joints.flange]\ntarget_torque_nm = 60.0\ntorque_limits_nm = [55.0, 65.0]\n"
_TRACES, _TARGET_NM, _OILED = 200, 60.0, 0.7


def oiled_lot(share: float) -> tuple[Analysis, NDArray[np.bool_]]:
    """Two hundred traces with 5 % of scatter in friction, and which of them are of the oiled lot."""
    rng = np.random.default_rng(11)
    lot = rng.random(_TRACES) < share
    angles, torques = [], []
    for oiled in lot:
        slope = 1.2 * rng.normal(1.0, 0.05) * (_OILED if oiled else 1.0)
        drawdown = 30.0 * rng.normal(1.0, 0.03)
        rundown = 720.0 + rng.normal(0.0, 40.0)
        end = rundown + 0.5 * drawdown + (_TARGET_NM - 1.0) * rng.normal(1.0, 0.005) / slope
        angle = np.arange(0.0, end, 0.5)
        past = np.clip(angle - rundown, 0.0, None)
        bent = np.minimum(past, drawdown)
        torque = 1.0 + slope * (bent**2 / (2.0 * drawdown) + np.clip(past - drawdown, 0.0, None))
        angles.append(angle)
        torques.append(torque + rng.normal(0.0, 0.15, len(angle)))
    names = [f"t{k:03d}" for k in range(_TRACES)]
    traces = TraceSet.from_lists(names, angles, torques, {"joint": ["flange"] * _TRACES})
    return analyse(traces, joints_from_text(_JOINTS)), lot
