"""A disk that is full: the reason in words, what stood there before, and nothing half."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from pytestqt.qtbot import QtBot

from app.main_window import MainWindow
from tests.journeys.engineer import Engineer
from tests.journeys.shift_folder import write_small_folder

#: Bytes that still fit.
_ROOM = 200


@contextmanager
def full_disk() -> Iterator[None]:
    """No file of this process may grow beyond `_ROOM` bytes."""
    limits: Any = pytest.importorskip("resource", reason="this system has no limit to the size of files")
    before = limits.getrlimit(limits.RLIMIT_FSIZE)
    limits.setrlimit(limits.RLIMIT_FSIZE, (_ROOM, before[1]))
    try:
        yield
    finally:
        limits.setrlimit(limits.RLIMIT_FSIZE, before)


@pytest.fixture
def shift(window: MainWindow, qtbot: QtBot, tmp_path: Path) -> MainWindow:
    """The window on three hubs, with a decision."""
    window.menus.files.open([str(write_small_folder(tmp_path / "shift", 3))])
    Engineer(window, qtbot).waits()
    window.session.select([0])
    window.session.dispose("to investigate")
    return window


@pytest.mark.parametrize(
    "name", ["t.csv", "t.xlsx", "t.parquet", "t.png", "t.svg", "t.pdf", "t.tautograph.json"]
)
def test_nothing_half_is_left_and_the_reason_is_told(
    name: str, shift: MainWindow, qtbot: QtBot, tmp_path: Path
) -> None:
    file = tmp_path / "out" / name
    file.parent.mkdir()
    file.write_text("as it was before", encoding="utf-8")
    first = len(shift.session.messages.history)

    def reasons() -> list[str]:
        told = shift.session.messages.history[first:]
        return [m.text for m in told if m.kind == "problem" and name in m.text]

    with full_disk():
        if name.endswith(".json"):
            shift.menus.files.save_to(file)
        elif name.endswith((".png", ".svg", ".pdf")):
            shift.menus.exports.export_picture(file)
        else:
            shift.menus.exports.export_table(file)
        qtbot.waitUntil(lambda: bool(reasons()), timeout=20_000)
    assert file.read_text(encoding="utf-8") == "as it was before"
    assert [path.name for path in file.parent.iterdir()] == [name]
    (reason,) = reasons()
    assert str(file) in reason
    assert "could not be" in reason
    assert "inside the program" not in reason
