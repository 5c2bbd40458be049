"""A shift in which a washer lot came in late, open and judged."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from app.main_window import MainWindow
from tests.helpers.lot_shift import write_lot_shift


@pytest.fixture
def late_lot(window: MainWindow, judged: Callable[[MainWindow], None], tmp_path: Path) -> MainWindow:
    """The window on two joints, judged."""
    recordings, joints = write_lot_shift(tmp_path / "shift")
    window.menus.files.open([recordings], joints=joints)
    judged(window)
    return window
