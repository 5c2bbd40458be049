"""Finds the sample shift that is installed with the program."""

from __future__ import annotations

from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path

TRACES_NAME, JOINTS_NAME, TRUTH_NAME = "shift.parquet", "joints.toml", "truth.parquet"
_PACKAGE = "sample_traces"


@dataclass(frozen=True)
class SamplePaths:
    """Where the files of a sample shift lie."""

    traces: Path
    joints: Path
    truth: Path

    @classmethod
    def within(cls, folder: Path) -> SamplePaths:
        """The three files of a folder."""
        return cls(folder / TRACES_NAME, folder / JOINTS_NAME, folder / TRUTH_NAME)


def sample_paths() -> SamplePaths:
    """Paths of the sample shift that is installed with the program."""
    return SamplePaths.within(Path(str(files(_PACKAGE))))


def sample_parts_paths() -> tuple[Path, Path]:
    """Traces of parts with rework, a missing position and bolts that interact; and their joints file."""
    folder = Path(str(files(_PACKAGE)))
    return folder / "parts.parquet", folder / "parts.toml"
