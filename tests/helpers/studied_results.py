"""Results tables for studies: plain columns, as the analysis gives them, without a curve behind them."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np
import pyarrow as pa

_START = datetime(2024, 5, 6, 6, 0, tzinfo=UTC)


def results_of(torque_nm: Sequence[float] | np.ndarray, **columns: Sequence[Any]) -> pa.Table:
    """One row a torque in order of time, joint "hub", all judged ok unless said otherwise."""
    n = len(torque_nm)
    values: dict[str, Any] = {
        "trace_id": [f"t{k:05d}" for k in range(n)],
        "joint": ["hub"] * n,
        "verdict": ["ok"] * n,
        "operation": ["tightening"] * n,
        "final_torque_nm": list(map(float, torque_nm)),
        "final_angle_deg": [400.0] * n,
        "joint_rate_deg": [40.0 + 0.1 * (k % 7) for k in range(n)],
        "joint_rate_line_deg": [60.0] * n,
        "clamp_force_kn": [float(t) / 1.9 for t in torque_nm],
        "spindle": [None] * n,
        "part": [None] * n,
        "position": [None] * n,
        "started_at": [_START + timedelta(seconds=20 * k) for k in range(n)],
    }
    values.update(columns)
    text = {name: pa.string() for name in ("spindle", "part", "position")}
    times = {"started_at": pa.timestamp("us", tz="UTC")}
    return pa.table({k: pa.array(v, {**text, **times}.get(k)) for k, v in values.items()})
