"""The window for the tests of the program around it."""

from __future__ import annotations

from tests.helpers.open_window import (
    judged,
    open_window,
    preferences,
    pytest_collection_modifyitems,
    qtbot,
    sample,
    window,
)

__all__ = [
    "judged",
    "open_window",
    "preferences",
    "pytest_collection_modifyitems",
    "qtbot",
    "sample",
    "window",
]
