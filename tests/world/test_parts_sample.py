"""The sample's parts are what their program writes."""

from __future__ import annotations

from pathlib import Path

import pyarrow.parquet as pq

from sample_traces.sample_paths import sample_parts_paths
from tests.world.parts_sample import sample_parts_toml, write_sample_parts


def test_committed_parts_are_made_by_the_program(tmp_path: Path) -> None:
    traces, joints = sample_parts_paths()
    assert joints.read_text(encoding="utf-8") == sample_parts_toml()
    assert pq.read_table(write_sample_parts(tmp_path)).equals(pq.read_table(traces))
