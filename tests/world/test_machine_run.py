"""The machine run that comes with the program: made again value for value, and what it was made to be."""

from __future__ import annotations

import hashlib
from pathlib import Path

import numpy as np
import pyarrow.parquet as pq

from analysis.joint.joints_file import joints_from_text
from tests.world.machine_run import JOINTS_TOML, REFERENCE, STOPS, STUDY_TOML, TIGHTENINGS, make_machine_run

FOLDER = Path(__file__).resolve().parents[2] / "sample_traces"


def test_it_is_made_again_value_for_value() -> None:
    kept, made = pq.read_table(FOLDER / "machine_run.parquet"), make_machine_run()
    digests = [
        hashlib.sha256(np.ascontiguousarray(values, np.float32).tobytes()).hexdigest()
        for values in (kept["torque_nm"].combine_chunks().flatten().to_numpy(), made.torque_nm)
    ]
    assert digests[0] == digests[1]
    assert kept["reference_torque_nm"].to_pylist() == made.column("reference_torque_nm")
    assert (FOLDER / "machine_run.toml").read_text("utf-8") == JOINTS_TOML
    assert (FOLDER / "machine_study.toml").read_text("utf-8") == STUDY_TOML
    assert set(joints_from_text(JOINTS_TOML)) == set(STOPS)


def test_it_is_what_it_was_made_to_be() -> None:
    made = make_machine_run()
    final = np.maximum.reduceat(made.torque_nm, made.offsets[:-1])
    reference = np.array(made.column("reference_torque_nm"))
    for name, (mean, deviation) in STOPS.items():
        own = np.array([joint == name for joint in made.column("joint")])
        assert own.sum() == TIGHTENINGS
        assert abs(final[own].mean() - mean) < 4 * deviation / np.sqrt(TIGHTENINGS) + 0.1
        assert 0.7 < final[own].std(ddof=1) / deviation < 1.35
    assert abs((reference - final).mean() - REFERENCE[0]) < 0.03
