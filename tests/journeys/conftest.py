"""The window for the journeys."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pyqtgraph as pg
import pytest

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
    "judged",
    "open_window",
    "preferences",
    "pytest_collection_modifyitems",
    "qtbot",
    "sample",
    "window",
]


@pytest.fixture(autouse=True)
def _every_move_counts() -> Iterator[None]:
    """The plotting library drops mouse moves that follow within 10 ms; a test's hand is quicker than that."""
    usual = pg.getConfigOption("mouseRateLimit")
    pg.setConfigOption("mouseRateLimit", -1)
    yield
    pg.setConfigOption("mouseRateLimit", usual)


@pytest.fixture
def shift_folder(tmp_path: Path) -> Path:
    """A folder with two joints of the sample shift, their joints file, and one file that is none."""
    return write_shift_folder(tmp_path / "early shift")
