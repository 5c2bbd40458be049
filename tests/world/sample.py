"""Writes the built-in sample shift.

``python -m tests.world.sample OUT_FOLDER`` writes ``shift.parquet``, ``joints.toml`` and
``truth.parquet``.
"""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq

from analysis.traces import TraceSet
from sample_traces.sample_paths import SamplePaths
from tests.world.plant import plant_joints_toml
from tests.world.plant_shift import make_plant_shift

#: Seed of the committed sample.
SAMPLE_SEED = 20240312
#: Measured on this shift: dictionaries pay for quantised torque (3.3 MB, not 5.0), byte streams for smooth
#: channels.
STORAGE: dict[str, Any] = {
    "compression": "zstd",
    "compression_level": 15,
    "use_dictionary": [
        "torque_nm.list.element",
        "joint",
        "tool",
        "spindle",
        "program",
        "part",
        "position",
        "lot",
    ],
    "use_byte_stream_split": ["time_s.list.element", "angle_deg.list.element"],
}
_CHANNELS = ("time_s", "angle_deg", "torque_nm", "step")


def write_sample(folder: Path, seed: int = SAMPLE_SEED) -> SamplePaths:
    """Write the sample shift into a folder, made where it does not exist; same seed, same values."""
    folder.mkdir(parents=True, exist_ok=True)
    paths = SamplePaths.within(folder)
    traces, truth = make_plant_shift(seed)
    pq.write_table(as_table(traces), paths.traces, **STORAGE)
    pq.write_table(truth, paths.truth, compression="zstd")
    paths.joints.write_text(plant_joints_toml(), encoding="utf-8")
    return paths


def main(arguments: Sequence[str] | None = None) -> int:
    """Write the sample shift into the folder that the command line names."""
    parser = argparse.ArgumentParser(
        prog="python -m tests.world.sample", description="Write the sample shift."
    )
    parser.add_argument(
        "folder", type=Path, help="where to write shift.parquet, joints.toml and truth.parquet"
    )
    parser.add_argument("--seed", type=int, default=SAMPLE_SEED, help="default: that of the built-in sample")
    chosen = parser.parse_args(arguments)
    paths = write_sample(chosen.folder, chosen.seed)
    for path in (paths.traces, paths.joints, paths.truth):
        print(f"{path}  {path.stat().st_size / 1e6:.2f} MB")
    return 0


def as_table(traces: TraceSet) -> pa.Table:
    """List layout, one row a trace; samples as float32, which holds what such instruments resolve."""
    table = traces.attributes
    offsets = pa.array(traces.offsets, pa.int32())
    for name in _CHANNELS:
        values = getattr(traces, name)
        if values is None:
            continue
        kind = np.int8 if name == "step" else np.float32
        table = table.append_column(name, pa.ListArray.from_arrays(offsets, pa.array(values.astype(kind))))
    return table


if __name__ == "__main__":
    raise SystemExit(main())
