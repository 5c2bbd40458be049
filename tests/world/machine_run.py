"""A machine run: one tool, one adjustment, fifty tightenings on a hard and on a soft test joint.

``python -m tests.world.machine_run OUT_FOLDER`` writes ``machine_run.parquet``, ``machine_run.toml`` and
``machine_study.toml``.
"""

from __future__ import annotations

import sys
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow.parquet as pq

from analysis.traces import TraceSet
from tests.world.model import Drawdown, Instrument, Joint, Prevailing, Tool, TraceModel
from tests.world.recording import record
from tests.world.sample import STORAGE, as_table
from tests.world.shift import assemble

SEED = 20240412
TARGET_NM = 40.0
TIGHTENINGS = 50
#: Mean and standard deviation of what the tool stops at on either joint: on a hard one it runs over.
STOPS = {"testjoint-hard": (40.55, 0.34), "testjoint-soft": (40.0, 0.26)}
#: What the reference reads over the tool's own reading, mean and standard deviation.
REFERENCE = (0.25, 0.08)
_START = datetime(2024, 4, 12, 9, 0, tzinfo=UTC)

JOINTS_TOML = """\
# Test joints of a bench, and a tool of an invented plant; figures for demonstration.

[joints.testjoint-hard]
title = "Test joint, hard"
stop = "torque"
target_torque_nm = 40.0
torque_limits_nm = [37.6, 42.4]   # plus and minus 6 %

[joints.testjoint-hard.capability]
wanted_cpk = 1.67
subgroup = "none"

[joints.testjoint-soft]
title = "Test joint, soft"
stop = "torque"
target_torque_nm = 40.0
torque_limits_nm = [37.6, 42.4]

[joints.testjoint-soft.capability]
wanted_cpk = 1.67
subgroup = "none"
"""
STUDY_TOML = """\
# What is studied of the machine run: tautograph study machine_run.parquet --joints machine_run.toml
#   --study machine_study.toml --out study.pdf
[study]
kind = "tool-over-joints"
hard = 'joint = "testjoint-hard"'
soft = 'joint = "testjoint-soft"'
reference = "reference_torque_nm"
gauge_nm = 0.05
"""


def _bench(name: str) -> TraceModel:
    """27 deg and 340 deg through 10 to 100 % of the torque; the spring washers of the soft one bend it."""
    hard = name == "testjoint-hard"
    joint = Joint(
        rundown_deg=900.0 if hard else 500.0,
        clamp_kn_per_deg=0.86 if hard else 0.0595,
        lead_nm_per_kn=0.239,
        friction_nm_per_kn=1.55,
        drawdown=Drawdown("power-law", 3.0 if hard else 20.0, 1.2),
    )
    tool = Tool(
        target_torque_nm=TARGET_NM, stop_torque_nm=TARGET_NM, speeds_deg_per_s=(1800.0, 180.0),
        switch_deg=(700.0 if hard else 350.0,), dip_nm=0.5, droop=0.2, release_back_deg=1.5,
    )  # fmt: skip
    prevailing = Prevailing(level_nm=0.4, transient_nm=1.0, transient_decay_deg=15.0, ripple_nm=0.05)
    instrument = Instrument(noise_nm=0.05, ripple_nm=0.04, angle_step_deg=0.25, torque_step_nm=0.01)
    return TraceModel(joint, prevailing, tool, instrument)


def make_machine_run(seed: int = SEED) -> TraceSet:
    """The run, hard joint first; every trace with its reference reading as an attribute."""
    rows: list[dict[str, Any]] = []
    recordings = []
    streams = iter(np.random.SeedSequence(seed).spawn(TIGHTENINGS * len(STOPS)))
    for name, (mean, deviation) in STOPS.items():
        model = _bench(name)
        for number in range(TIGHTENINGS):
            rng = np.random.default_rng(next(streams))
            stop = mean + deviation * float(rng.standard_normal())
            made = record(replace(model, tool=replace(model.tool, stop_torque_nm=stop)), rng)
            recordings.append(made)
            above = REFERENCE[0] + REFERENCE[1] * float(rng.standard_normal())
            rows.append({
                "trace_id": f"{name}-{number + 1:02d}", "joint": name, "tool": "bench-tool", "spindle": "T1",
                "program": "40 N·m", "started_at": _START + timedelta(seconds=20 * len(rows)), "cause": None,
                "reference_torque_nm": round(float(made.torque_nm.max()) + above, 2),
            })  # fmt: skip
    return assemble(recordings, rows)[0]


def write_machine_run(folder: Path, seed: int = SEED) -> Path:
    """Write the three files; gives the traces' path."""
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / "machine_run.parquet"
    pq.write_table(as_table(make_machine_run(seed)), path, **STORAGE)
    (folder / "machine_run.toml").write_text(JOINTS_TOML, encoding="utf-8")
    (folder / "machine_study.toml").write_text(STUDY_TOML, encoding="utf-8")
    return path


if __name__ == "__main__":
    print(write_machine_run(Path(sys.argv[1])))
