"""Curve tables with chosen points, so that clamp force is tested apart from finding points."""

from __future__ import annotations

from dataclasses import fields

import numpy as np

from analysis.curve.curve_table import ZONES, CurveTable
from analysis.traces import TraceSet


def make_curves(n: int, **columns: object) -> CurveTable:
    """n curves without any point but those given; numbers are repeated for every trace."""
    values: dict[str, np.ndarray] = {}
    for field in fields(CurveTable):
        if field.name == "zone_bounds":
            values[field.name] = np.zeros((n, len(ZONES) + 1), np.int64)
        elif field.name == "yielded" or field.name.endswith("_reason"):
            values[field.name] = np.zeros(n, np.int8)
        elif field.name.endswith("_index") or field.name in ("n_samples", "left_out_samples"):
            values[field.name] = np.zeros(n, np.int64)
        else:
            values[field.name] = np.full(n, np.nan)
    for name, given in columns.items():
        values[name] = np.broadcast_to(np.asarray(given, values[name].dtype), (n,)).copy()
    return CurveTable(**values)


def make_traces(n: int) -> TraceSet:
    """n traces of two samples; only their number counts."""
    return TraceSet.from_lists([f"t{i}" for i in range(n)], [[0.0, 1.0]] * n, [[0.0, 1.0]] * n)


def straight_trace(
    final_nm: float, slope_nm_per_deg: float, *, prevailing_nm: float = 0.0, rundown_deg: float = 720.0
) -> tuple[np.ndarray, np.ndarray]:
    """Rundown, a bend of 20 degrees, and a straight rise that ends exactly at a torque; every half degree."""
    bend_deg = 20.0
    rise = (final_nm - prevailing_nm) / slope_nm_per_deg
    # The bend's torque is a parabola that meets the straight line: half of the bend lies before the origin.
    total = rundown_deg + bend_deg / 2.0 + rise
    angle = np.append(np.arange(0.0, total, 0.5), total)
    way = angle - rundown_deg
    bent = slope_nm_per_deg * np.clip(way, 0.0, bend_deg) ** 2 / (2.0 * bend_deg)
    torque = prevailing_nm + bent + slope_nm_per_deg * np.maximum(way - bend_deg, 0.0)
    torque[-1] = final_nm
    return angle, torque
