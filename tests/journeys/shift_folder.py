"""A shift's folder as a line leaves it: recordings of two joints, their joints file, a file that is
broken."""

from __future__ import annotations

import shutil
from functools import cache
from pathlib import Path

import numpy as np

from analysis.reading import read_paths, write_parquet
from analysis.traces import TraceSet
from sample_traces.sample_paths import sample_paths

#: Of the sample shift: 20 of the wheel hubs have an oily washer, all of one lot.
HUB, DRIVE = "wheel-hub", "drive-unit"
OILY_LOT = "W-121"


@cache
def _sample() -> TraceSet:
    return read_paths([sample_paths().traces]).traces


def traces_of(joint: str, start: int = 0, stop: int | None = None) -> TraceSet:
    """Traces of one joint of the sample shift, in order of time."""
    names = np.array(_sample().column("joint"))
    return _sample().take(np.flatnonzero(names == joint)[start:stop].tolist())


def write_shift_folder(folder: Path, *, broken: bool = True) -> Path:
    """Write it; gives the folder."""
    folder.mkdir(parents=True)
    for joint in (HUB, DRIVE):
        write_parquet(traces_of(joint), folder / f"{joint}.parquet")
    shutil.copy(sample_paths().joints, folder / "joints.toml")
    if broken:
        (folder / "cut off.parquet").write_bytes((folder / f"{HUB}.parquet").read_bytes()[:5000])
    return folder


def write_small_folder(folder: Path, n: int = 40) -> Path:
    """A folder with a few hubs only; gives the folder."""
    folder.mkdir(parents=True)
    write_parquet(traces_of(HUB, 0, n), folder / "hubs.parquet")
    shutil.copy(sample_paths().joints, folder / "joints.toml")
    return folder
