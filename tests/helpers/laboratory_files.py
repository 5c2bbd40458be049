"""A folder with tests on a load cell, the loosening of one of their bolts, and their joints."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq

from analysis.joint import joints_from_text
from analysis.joint.thread import parse_thread
from tests.world import evaluation_joints_toml, make_laboratory


def write_laboratory(folder: Path, n_per_joint: int = 3) -> tuple[Path, Path]:
    """Traces and joints file; ``locknut-off`` loosens the bolt of the first test of the locking nut."""
    traces, truth = make_laboratory(7, n_per_joint)

    def lists(flat: np.ndarray) -> list[list[float]]:
        return [part.tolist() for part in np.split(flat, traces.offsets[1:-1])]

    assert traces.time_s is not None
    assert traces.clamp_force_kn is not None
    n = len(traces)
    columns: dict[str, list[object]] = {
        "trace_id": list(traces.trace_ids),
        "joint": traces.column("joint"),
        "part": [f"P{i}" for i in range(n)],
        "position": ["1"] * n,
        "angle_deg": lists(traces.angle_deg),
        "torque_nm": lists(traces.torque_nm),
        "time_s": lists(traces.time_s),
        "clamp_force_kn": lists(traces.clamp_force_kn),
    }
    row = columns["joint"].index("locknut")
    true = truth.to_pylist()[row]
    pitch = parse_thread(str(joints_from_text(evaluation_joints_toml())["locknut"].thread)).pitch_mm
    # T_on - T_off = F P/pi, prevailing torque on both.
    off = true["final_torque_nm"] - true["clamp_force_kn"] * pitch / math.pi
    angle = np.arange(0.0, 900.0)
    torque = -np.interp(angle, [0.0, 20.0, 25.0, 60.0], [0.0, 0.0, off, true["prevailing_torque_nm"]])
    loosening = ["locknut-off", "locknut", f"P{row}", "1", angle, torque, angle / 100.0, np.full(900, np.nan)]
    for name, value in zip(columns, loosening, strict=True):
        columns[name].append(value.tolist() if isinstance(value, np.ndarray) else value)
    files = folder / "laboratory.parquet", folder / "joints.toml"
    pq.write_table(pa.table(columns), files[0])
    files[1].write_text(evaluation_joints_toml(), encoding="utf-8")
    return files
