"""A simulated year of a plant, results and no curves: 40 joints, 200 spindles, three seeded changes."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import numpy as np
import pyarrow as pa

from analysis.plant.day_rows import QUANTITIES, day_rows
from analysis.plant.names import DAYS, INPUTS
from analysis.plant.year_traces import Traces

#: One drifting spindle, one lot, one wrong calibration: what is to be found, and nothing else.
DRIFTING, DRIFT_A_WEEK = "spindle 017", 0.001
LOT_JOINT, LOT_WEEK, LOT_STEP = "joint 05", 23, 0.06
MISREAD, MISREAD_WEEKS, MISREAD_BY = "spindle 101", (15, 27), 0.03
SEEDED = {DRIFTING, LOT_JOINT, MISREAD}
FIRST = date(2025, 12, 29)


@dataclass(frozen=True)
class YearPlan:
    """How large the year is, and how its traces scatter (shares; own choice: a good shut-off tool, usual
    friction)."""

    joints: int = 40
    spindles_each: int = 5
    weeks: int = 52
    a_week: int = 96
    torque_s: float = 0.01
    friction_s: float = 0.06
    seeded: bool = True


def make_year(seed: int = 1, plan: YearPlan | None = None) -> Traces:
    """The year: what a spindle reads wrong moves torque and slope; a lot's friction slope and angle."""
    plan = plan or YearPlan()
    rng = np.random.default_rng(seed)
    streams = plan.joints * plan.spindles_each
    shape = (streams, plan.weeks, plan.a_week)
    stream, week, _ = np.indices(shape, np.int64)
    joint = stream // plan.spindles_each
    joints = tuple(f"joint {k:02d}" for k in range(plan.joints))
    spindles = tuple(f"spindle {k:03d}" for k in range(streams))
    reading, friction = np.zeros(shape), np.zeros(shape)
    if plan.seeded:
        reading += np.where(stream == spindles.index(DRIFTING), DRIFT_A_WEEK * week, 0.0)
        wrong = (week >= MISREAD_WEEKS[0]) & (week < MISREAD_WEEKS[1])
        reading += np.where((stream == spindles.index(MISREAD)) & wrong, MISREAD_BY, 0.0)
        friction += np.where((joint == joints.index(LOT_JOINT)) & (week >= LOT_WEEK), LOT_STEP, 0.0)
    torque = np.log(65.0) + reading + plan.torque_s * rng.standard_normal(shape)
    own = (
        friction + plan.friction_s * rng.standard_normal(shape) + 0.02 * rng.standard_normal((streams, 1, 1))
    )
    slope = np.log(1.5) + 0.02 * joint + reading + own
    angle = np.log(40.0) + torque - slope
    values = {
        "final_torque_nm": np.exp(torque),
        "elastic_slope_nm_per_deg": np.exp(slope),
        "joint_rate_deg": np.exp(angle),
        "prevailing_torque_nm": 0.5 + 0.1 * rng.standard_normal(shape),
    }
    return Traces(
        joints,
        spindles,
        joint.ravel(),
        stream.ravel(),
        week.ravel(),
        FIRST,
        {name: one.ravel() for name, one in values.items()},
    )


def write_archive(traces: Traces, folder: Path) -> None:
    """The same as an archive, as if its recordings were gone."""
    import pyarrow.parquet as pq

    rows = as_rows(traces)
    months = [f"year={one.year}/month={one.month:02d}" for one in rows.column("started_at").to_pylist()]
    rows = rows.append_column("place", pa.array(months)).append_column(
        "source_digest", pa.array(["gone"] * len(months))
    )
    for joint in traces.joints:
        own = rows.filter(pa.array([one == joint for one in rows.column("joint").to_pylist()]))
        for place in sorted(set(own.column("place").to_pylist())):
            part = own.filter(pa.array([one == place for one in own.column("place").to_pylist()]))
            target = folder / place / f"joint={joint}" / "made.parquet"
            target.parent.mkdir(parents=True, exist_ok=True)
            pq.write_table(part.drop_columns(["place", "joint"]), target)
    (folder / DAYS).mkdir()
    pq.write_table(day_rows(rows), folder / DAYS / "made.parquet")
    (folder / INPUTS).mkdir()


def as_rows(traces: Traces) -> pa.Table:
    """The same as rows of an archive."""
    moments = [
        datetime(FIRST.year, FIRST.month, FIRST.day, 8, tzinfo=UTC) + timedelta(weeks=k) for k in range(53)
    ]
    table = {
        "joint": [traces.joints[code] for code in traces.joint.tolist()],
        "tool": pa.nulls(len(traces.joint), pa.string()),
        "spindle": [traces.spindles[code] for code in traces.spindle.tolist()],
        "started_at": pa.array([moments[k] for k in traces.week.tolist()], pa.timestamp("us", tz="UTC")),
        "operation": ["tightening"] * len(traces.joint),
        "verdict": ["ok"] * len(traces.joint),
    }
    texts = dict.fromkeys(("program", "lot", "cause"), pa.nulls(len(traces.joint), pa.string()))
    absent = {
        name: pa.nulls(len(traces.joint), pa.float64()) for name in QUANTITIES if name not in traces.values
    }
    return pa.table(table | texts | absent | traces.values)
