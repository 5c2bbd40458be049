"""Curve tables made by hand for the rules: everything present unless said otherwise."""

from __future__ import annotations

from typing import Any

import numpy as np

from analysis.curve.curve_table import ZONES, CurveTable


def curve_table(n: int, **columns: Any) -> CurveTable:
    """`n` equal tightenings (final 65 N·m at 800 deg, snug at 760 deg, prevailing 1 N·m), some columns
    changed."""
    usual: dict[str, Any] = {
        "n_samples": 100,
        "final_index": 90,
        "final_angle_deg": 800.0,
        "final_torque_nm": 65.0,
        "elastic_slope_nm_per_deg": 1.5,
        "snug_index": 60,
        "snug_angle_deg": 760.0,
        "snug_torque_nm": 5.0,
        "joint_rate_deg": 40.0,
        "prevailing_torque_nm": 1.0,
        "prevailing_to_deg": 730.0,
        "drawdown_index": 50,
        "drawdown_angle_deg": 740.0,
        "yield_index": -1,
        "left_out_samples": 0,
        "yielded": 0,
    }
    whole = ("n_samples", "final_index", "snug_index", "yield_index", "drawdown_index", "left_out_samples")
    table: dict[str, Any] = {}
    for name in CurveTable.__dataclass_fields__:
        value = columns.get(name, usual.get(name, 0 if name.endswith("reason") else np.nan))
        small = name.endswith("reason") or name == "yielded"
        kind = np.int64 if name in whole else np.int8 if small else np.float64
        table[name] = np.broadcast_to(np.asarray(value, kind), (n,)).copy() if name != "zone_bounds" else None
    table["zone_bounds"] = np.tile(np.array([0, 0, 50, 60, 91, 91, 100]), (n, 1))
    assert table["zone_bounds"].shape[1] == len(ZONES) + 1
    return CurveTable(**table)
