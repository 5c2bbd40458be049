"""Names that look like markup, formulas or commands: shown as they are, wherever they are shown."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from PySide6 import QtGui
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QAbstractItemView, QLabel, QWidget
from pytestqt.qtbot import QtBot

import app
from analysis.reading.write import write_parquet
from analysis.traces import TraceSet
from app.display.messages import plain_tip
from app.main_window import MainWindow
from tests.helpers.open_window import wait_until_judged

IMAGE = '<img src="/dev/zero">'
NAMES = [f"{IMAGE}{n}" for n in range(3)] + ["=cmd()", "a\x1b[31m", "&lt;b&gt;"]


@pytest.fixture
def hostile(window: MainWindow, qtbot: QtBot, tmp_path: Path) -> MainWindow:
    """The window on traces whose names, joint, file and folder look like something else."""
    folder = tmp_path / "<b>folder"
    folder.mkdir()
    angle = [np.linspace(0.0, 400.0, 300)] * len(NAMES)
    torque = [1.0 + 0.5 * np.maximum(one - 300.0, 0.0) for one in angle]
    names = [IMAGE] * len(NAMES)
    traces = TraceSet.from_lists(NAMES, angle, torque, {"joint": names, "tool": names, "note": names})
    write_parquet(traces, folder / "<i>a.parquet")
    window.menus.files.open([str(folder)])
    wait_until_judged(window, qtbot)
    window.session.select([0])
    return window


def might_be_markup(text: str) -> bool:
    """What Qt itself takes for markup."""
    return bool(QtGui.Qt.mightBeRichText(text))


def tips(widget: QWidget) -> Iterator[str]:
    """Tooltips of a widget and of all cells it shows."""
    yield widget.toolTip()
    if isinstance(widget, QAbstractItemView) and widget.model() is not None:
        model = widget.model()
        for row in range(min(model.rowCount(), 20)):
            for column in range(model.columnCount()):
                yield str(model.index(row, column).data(Qt.ItemDataRole.ToolTipRole) or "")


def test_no_label_and_no_tip_takes_a_name_for_markup(hostile: MainWindow) -> None:
    seen = 0
    for widget in hostile.findChildren(QWidget):
        if isinstance(widget, QLabel):
            assert widget.textFormat() == Qt.TextFormat.PlainText or "<img" not in widget.text()
        for tip in tips(widget):
            seen += "img src" in tip
            assert "<img" not in tip or not might_be_markup(tip), tip
    assert seen, "the names are there, or this proves nothing"


def test_a_tip_shows_what_it_was_given() -> None:
    names = (*NAMES, "a\n<b>c", "x < y & z")
    assert sum(might_be_markup(plain_tip(name)) for name in names) > 1
    for name in names:
        tip = plain_tip(name)
        if might_be_markup(tip):
            from PySide6.QtGui import QTextDocument

            document = QTextDocument()
            document.setHtml(tip)
            assert document.toPlainText() == name


def test_labels_are_made_in_one_place() -> None:
    """A label of Qt's own would guess."""
    root = Path(app.__file__).parent
    made = [
        f"{path.relative_to(root)}: {line}"
        for path in root.rglob("*.py")
        if path.name != "plain_label.py"
        for line in path.read_text("utf-8").splitlines()
        if re.search(r"(?<!\w)QLabel\(\S*\)", line) and not line.startswith("class ")
    ]
    assert made == []
