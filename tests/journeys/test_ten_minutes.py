"""The ten minutes, without a display."""

from __future__ import annotations

from pathlib import Path

from pytestqt.qtbot import QtBot

from app.main_window import MainWindow
from tests.journeys.engineer import Engineer
from tests.journeys.ten_minutes import TenMinutes


def test_ten_minutes_with_a_shift(
    window: MainWindow, qtbot: QtBot, shift_folder: Path, tmp_path: Path
) -> None:
    out = tmp_path / "out"
    out.mkdir()
    for step in TenMinutes(Engineer(window, qtbot), shift_folder, out).steps():
        step()
