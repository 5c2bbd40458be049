"""A small shift in which a washer lot came in late: its joints have low friction; written as files."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from functools import cache
from pathlib import Path

import numpy as np
import pyarrow as pa

from analysis.reading.write import write_parquet
from analysis.traces import TraceSet
from tests.world import evaluation_joints_toml, make_shift

#: Good traces of each joint, and those of the late lot at the first joint.
GOOD, LATE = 160, 31
JOINT, OTHER_JOINT = "flange", "cover"
#: Of the late ones so many really have the lot, and so many of the good ones before them too.
LATE_OF_LOT, GOOD_OF_LOT = 29, 3
START = datetime(2026, 3, 2, 6, 0, tzinfo=UTC)


@cache
def lot_shift() -> TraceSet:
    """The traces, in order of time: the good ones of both joints, then the late lot."""
    traces, truth = make_shift(17, good=GOOD, each_fault=LATE, faults=("low-friction",))
    joint = np.array(truth["joint"].to_pylist())
    seeded = np.array([cause is not None for cause in truth["cause"].to_pylist()])
    good = np.flatnonzero(~seeded & np.isin(joint, (JOINT, OTHER_JOINT)))
    late = np.flatnonzero(seeded & (joint == JOINT))
    rows = np.concatenate([good, late])
    chosen = traces.take(rows.tolist())
    in_first = joint[good] == JOINT
    lot = np.where(np.arange(len(good)) % 2, "A", "C").astype("<U1")
    lot[np.flatnonzero(in_first)[:GOOD_OF_LOT]] = "B"
    lots = [*lot.tolist(), *["B"] * LATE_OF_LOT, *["A"] * (len(late) - LATE_OF_LOT)]
    times = [START + timedelta(minutes=number) for number in range(len(rows))]
    table = chosen.attributes.drop_columns(["lot", "started_at"])
    table = table.append_column("washer_lot", pa.array(lots))
    table = table.append_column("started_at", pa.array(times, pa.timestamp("us", "UTC")))
    return replace(chosen, attributes=table)


def write_lot_shift(folder: Path) -> tuple[str, str]:
    """The recordings and the joints as files; gives both paths."""
    folder.mkdir(parents=True, exist_ok=True)
    write_parquet(lot_shift(), folder / "late_lot.parquet")
    joints = folder / "plant.toml"
    joints.write_text(evaluation_joints_toml(), encoding="utf-8")
    return str(folder / "late_lot.parquet"), str(joints)
