"""Curves whose points are known by construction."""

from __future__ import annotations

import numpy as np

from analysis.traces import TraceSet


def clean_curve(
    rundown_deg=360.0, drawdown_deg=30.0, elastic_deg=60.0, slope=1.0, level=2.0, step_deg=0.5
) -> tuple[np.ndarray, np.ndarray]:
    """A parabolic drawdown into a straight line; snug lies at 0.8 of the drawdown."""
    angle = np.arange(0.0, rundown_deg + drawdown_deg + elastic_deg + 1e-9, step_deg)
    u = np.clip(angle - rundown_deg, 0.0, None)
    bent = np.minimum(u, drawdown_deg)
    torque = level + slope * bent**2 / (2.0 * drawdown_deg) + slope * np.clip(u - drawdown_deg, 0.0, None)
    return angle, torque


def one(angle, torque, **attributes) -> TraceSet:
    return TraceSet.from_lists(["t"], [angle], [torque], {k: [v] for k, v in attributes.items()})
