"""The window for the journeys."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.helpers.every_move import every_move_counts
from tests.helpers.open_window import (
    judged,
    open_window,
    preferences,
    pytest_collection_modifyitems,
    qtbot,
    sample,
    window,
)
from tests.journeys.shift_folder import write_shift_folder

__all__ = [
    "every_move_counts",
    "judged",
    "open_window",
    "preferences",
    "pytest_collection_modifyitems",
    "qtbot",
    "sample",
    "window",
]


@pytest.fixture
def shift_folder(tmp_path: Path) -> Path:
    """A folder with two joints of the sample shift, their joints file, and one file that is none."""
    return write_shift_folder(tmp_path / "early shift")
