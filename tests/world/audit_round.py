"""An audit round of the sample shift: two hours after its end a hand wrench turns some positions on.

``python -m tests.world.audit_round OUT_FOLDER`` writes ``audit.parquet`` and ``audit.toml``.
"""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow.parquet as pq

from analysis.traces import TraceSet
from sample_traces.sample_paths import sample_paths
from tests.world.audits import AuditCase, audit_traces
from tests.world.cases import between
from tests.world.plant import plant_joints_toml
from tests.world.sample import STORAGE, as_table

ROUND_NAME, ROUND_JOINTS_NAME = "audit.parquet", "audit.toml"
#: Seed of the committed round; hours after the shift's last tightening; seconds from one audit to the next.
ROUND_SEED, AFTER_H, AUDIT_S = 20240313, 2.0, 40.0
#: Trucks whose positions are audited, every so many.
EVERY_TRUCK = 8
#: Share of the running torque that is left after a minute, what relaxation takes of it for each factor e of
#: time, and the scatter of both together.
LEFT, RELAXES, SCATTER = 1.0, 0.011, 0.02
#: One in so many never moves; wrenches, as the plant calls them.
_STANDS, WRENCHES = 10, ("audit wrench 1", "audit wrench 2")
#: Limits that the plant gives its audits, N·m.
LIMITS_NM = {"drive-unit": (54.0, 68.0), "wheel-hub": (92.0, 115.0)}


@dataclass(frozen=True)
class AuditTruth:
    """What is true of one audit: running torque at the movement, whether it moves, minutes since."""

    trace_id: str
    ongoing_nm: float
    moves: bool
    minutes: float


def make_round(seed: int = ROUND_SEED) -> tuple[TraceSet, list[AuditTruth]]:
    """Audits of drive unit and wheel hub on every eighth truck, by the truth of the sample shift."""
    rng = np.random.default_rng(seed)
    columns = ["trace_id", "joint", "part", "position", "started_at"]
    shift = pq.read_table(sample_paths().traces, columns=columns).to_pylist()
    truth = {one["trace_id"]: one for one in pq.read_table(sample_paths().truth).to_pylist()}
    start = max(one["started_at"] for one in shift) + timedelta(hours=AFTER_H)
    trucks = sorted({one["part"] for one in shift if one["joint"] == "drive-unit" and one["part"]})
    audited = set(trucks[::EVERY_TRUCK])
    of_trucks = [one for one in shift if one["joint"] in LIMITS_NM and one["part"] in audited]
    chosen = [one for one in of_trucks if _plain(truth[one["trace_id"]])]
    cases, attributes, known = [], [], []
    for k, one in enumerate(chosen):
        at = start + timedelta(seconds=AUDIT_S * k)
        case = _case(rng, truth[one["trace_id"]], (at - one["started_at"]).total_seconds() / 60.0, k)
        cases.append(case)
        attributes.append(_attributes(one, at, k))
        minutes = (at - one["started_at"]).total_seconds() / 60.0
        known.append(AuditTruth(f"audit-{k + 1}", case.ongoing_nm, case.moves, minutes))
    traces = audit_traces(cases, rng, {name: [row[name] for row in attributes] for name in attributes[0]})
    return traces, known


def _plain(truth: dict[str, Any]) -> bool:
    """Bolts that nothing was seeded on."""
    return truth["seeded"] is None and truth["clamp_force_kn"] is not None


def _attributes(one: dict[str, Any], at: datetime, number: int) -> dict[str, Any]:
    return {
        "joint": one["joint"],
        "tool": WRENCHES[number % len(WRENCHES)],
        "part": one["part"],
        "position": one["position"],
        "started_at": at,
    }


def _case(rng: np.random.Generator, truth: dict[str, Any], minutes: float, number: int) -> AuditCase:
    """The audit of one bolt: its torque by what is left of the clamp force, its slope by its stiffness."""
    left = (LEFT - RELAXES * np.log(minutes)) * (1.0 + rng.normal(0.0, SCATTER))
    ongoing = float(truth["final_torque_nm"] * left)
    return AuditCase(
        ongoing_nm=ongoing,
        static_share=between(rng, 1.02, 1.15),
        slope_nm_per_deg=float(truth["elastic_slope_nm_per_deg"]),
        wrench_nm_per_deg=ongoing / between(rng, 10.0, 20.0),
        over_deg=between(rng, 0.4, 1.2),
        turn_deg=between(rng, 3.0, 6.0),
        moves=number % _STANDS != _STANDS - 1,
        stopped_share=0.85,
        play_deg=between(rng, 0.0, 4.0),
        speed_deg_per_s=between(rng, 5.0, 20.0),
    )


def round_joints_toml() -> str:
    """The plant's joints with what it lays down of audits."""
    tables = [
        f"[joints.{name}.audit]\n"
        f'definition = "ongoing"\nlimits_nm = [{low}, {high}]\nsample = "two trucks a shift"\n'
        for name, (low, high) in LIMITS_NM.items()
    ]
    return plant_joints_toml() + "\n" + "\n".join(tables)


def write_round(folder: Path, seed: int = ROUND_SEED) -> tuple[Path, Path]:
    """Write the round and its joints file into a folder, made where it does not exist."""
    folder.mkdir(parents=True, exist_ok=True)
    traces, joints = folder / ROUND_NAME, folder / ROUND_JOINTS_NAME
    storage = {**STORAGE, "use_byte_stream_split": ["time_s.list.element", "angle_deg.list.element"]}
    pq.write_table(as_table(make_round(seed)[0]), traces, **storage)
    joints.write_text(round_joints_toml(), encoding="utf-8")
    return traces, joints


def main(arguments: Sequence[str] | None = None) -> int:
    """Write the round into the folder that the command line names."""
    parser = argparse.ArgumentParser(
        prog="python -m tests.world.audit_round", description="Write the audit round of the sample shift."
    )
    parser.add_argument("folder", type=Path, help=f"where to write {ROUND_NAME} and {ROUND_JOINTS_NAME}")
    for path in write_round(parser.parse_args(arguments).folder):
        print(path)
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
