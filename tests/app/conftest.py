"""The window for the tests of the program around it."""

from __future__ import annotations

from pathlib import Path

import pytest
from pytestqt.qtbot import QtBot

from app.main_window import MainWindow
from tests.helpers.open_window import (
    judged,
    open_window,
    preferences,
    pytest_collection_modifyitems,
    qtbot,
    sample,
    wait_until_judged,
    window,
)
from tests.journeys.shift_folder import write_small_folder

__all__ = [
    "judged",
    "open_window",
    "preferences",
    "pytest_collection_modifyitems",
    "qtbot",
    "sample",
    "window",
]


@pytest.fixture(autouse=True, scope="session")
def _application_with_windows(qapp: object) -> object:
    """One application for all: a page that is printed first would make one that can show no window."""
    return qapp


@pytest.fixture
def six_hubs(window: MainWindow, qtbot: QtBot, tmp_path: Path) -> MainWindow:
    """The window on six hubs, judged."""
    window.menus.files.open([str(write_small_folder(tmp_path / "shift", 6))])
    wait_until_judged(window, qtbot)
    return window
