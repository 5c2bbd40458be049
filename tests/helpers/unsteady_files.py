"""Files with tightenings in two stages, tightenings by blows and loosenings, beside usual ones."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np

from analysis.reading import write_parquet
from analysis.traces import TraceSet
from tests.world import (
    EVALUATION_JOINTS,
    Pause,
    evaluation_joints_toml,
    make_loosening,
    make_shift,
    record,
    record_impulse,
)

#: Of the flange bolt, 26 N·m: where the two-stage tightening stops, how long, and its breakaway.
STOP_NM, STOP_S, BREAKAWAY_SHARE = 15.0, 0.25, 0.08


def unsteady_traces() -> TraceSet:
    """A usual shift of the flange bolt; "stops", "blows", "holds" and "slips" beside it."""
    model, rng = EVALUATION_JOINTS[0].model, np.random.default_rng(8)
    pause = Pause(STOP_NM, STOP_S, 0.3, 0.5, BREAKAWAY_SHARE, 1.0)
    stops = record(replace(model, tool=replace(model.tool, pause=pause)), rng)
    blows = record_impulse(model, rng)
    holds, slips = (make_loosening(model, rng, slip_pitch_deg=pitch) for pitch in (None, 60.0))
    recorded = [
        (stops.angle_deg, stops.torque_nm, stops.time_s),
        (blows.angle_deg, blows.torque_nm, blows.time_s),
        holds[:3],
        slips[:3],
    ]
    odd = TraceSet.from_lists(
        ["stops", "blows", "holds", "slips"],
        [one[0] for one in recorded],
        [one[1] for one in recorded],
        {"joint": ["flange"] * 4},
        time_s=[one[2] for one in recorded],
    )
    return TraceSet.concatenate([make_shift(3, EVALUATION_JOINTS[:1], good=25, each_fault=0)[0], odd])


def write_unsteady(folder: Path) -> tuple[Path, Path]:
    """Write the traces and the joints file; returns both paths."""
    traces, joints = folder / "unsteady.parquet", folder / "joints.toml"
    write_parquet(unsteady_traces(), traces)
    joints.write_text(evaluation_joints_toml(), encoding="utf-8")
    return traces, joints
