"""The window for the tests of the program around it."""

from __future__ import annotations

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
