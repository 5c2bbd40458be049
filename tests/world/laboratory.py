"""Laboratory traces: clamp force measured beside torque and angle, with friction coefficients that fit."""

from __future__ import annotations

from dataclasses import asdict, replace
from typing import Any

import numpy as np
import pyarrow as pa

from analysis.traces import TraceSet
from tests.world.evaluation import EVALUATION_JOINTS, FASTENERS
from tests.world.recording import record

#: Range of friction coefficients, thread and bearing apart (MIL-HDBK-60 Table II spans 0.07-0.17).
LOWEST_FRICTION, HIGHEST_FRICTION = 0.08, 0.18
#: Noise of the force transducer as a share of the force at target.
_FORCE_NOISE = 0.002


def make_laboratory(seed: int, n_per_joint: int) -> tuple[TraceSet, pa.Table]:
    """Traces of the three evaluation joints with `clamp_force_kn`, and the friction that made them.

    Returns
    -------
    TraceSet
        With `time_s` and `clamp_force_kn`, attribute `joint`.
    pyarrow.Table
        ``trace_id``, ``joint``, ``mu_thread``, ``mu_bearing``, and a column for each field of `Truth`.
    """
    rng = np.random.default_rng(seed)
    recordings, rows = [], []
    for joint in EVALUATION_JOINTS:
        fastener = FASTENERS[joint.name]
        for number in range(n_per_joint):
            mu_thread, mu_bearing = rng.uniform(LOWEST_FRICTION, HIGHEST_FRICTION, 2)
            friction = fastener.friction_nm_per_kn(float(mu_thread), float(mu_bearing))
            parts = replace(joint.model.joint, friction_nm_per_kn=friction)
            force = joint.model.tool.target_torque_nm / parts.torque_per_force_nm_per_kn
            instrument = replace(joint.model.instrument, clamp_noise_kn=_FORCE_NOISE * force)
            recordings.append(record(replace(joint.model, joint=parts, instrument=instrument), rng))
            row: dict[str, Any] = {"trace_id": f"{joint.name}-lab-{number:04d}", "joint": joint.name}
            rows.append({**row, "mu_thread": float(mu_thread), "mu_bearing": float(mu_bearing)})
    traces = TraceSet.from_lists(
        [row["trace_id"] for row in rows],
        [r.angle_deg for r in recordings],
        [r.torque_nm for r in recordings],
        {"joint": [row["joint"] for row in rows]},
        time_s=[r.time_s for r in recordings],
        clamp_force_kn=[r.clamp_force_kn for r in recordings],
    )
    truth = [{**row, **asdict(r.truth)} for row, r in zip(rows, recordings, strict=True)]
    return traces, pa.Table.from_pylist(truth)
