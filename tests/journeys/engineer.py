"""The engineer's hands: drop, keys, mouse and actions on the real window."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np
from PySide6.QtCore import QMimeData, QPointF, Qt, QUrl
from PySide6.QtGui import QDragEnterEvent, QDropEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QWidget
from pytestqt.qtbot import QtBot

from app.main_window import MainWindow
from app.session.state import Decisions
from tests.app.plots.hand import drag, place, settle
from tests.helpers.open_window import wait_until_judged


class Engineer:
    """Works in a window the way a person does."""

    def __init__(self, window: MainWindow, qtbot: QtBot) -> None:
        self.window = window
        self.session = window.session
        self.qtbot = qtbot

    # Hands

    def does(self, action: str) -> None:
        """Choose an action; one that is greyed cannot be chosen."""
        assert self.window.book[action].isEnabled(), f"{action} is greyed"
        self.window.book[action].trigger()

    def presses(self, key: Qt.Key, *modifiers: Qt.KeyboardModifier) -> None:
        """Press a key where the keyboard stands."""
        held = Qt.KeyboardModifier.NoModifier
        for modifier in modifiers:
            held |= modifier
        focus = QApplication.focusWidget()
        # Without a display the keyboard stays in a list that has been closed.
        QTest.keyClick(focus if focus is not None and focus.isVisible() else self.window, key, held)

    def types(self, widget: QWidget, text: str) -> None:
        """Type into a widget."""
        widget.setFocus()
        QTest.keyClicks(widget, text)

    def drops(self, paths: Sequence[Path], on: QWidget) -> None:
        """Drag files over a place in the window and let go."""
        data = QMimeData()
        data.setUrls([QUrl.fromLocalFile(str(path)) for path in paths])
        at = QPointF(on.width() / 2.0, on.height() / 2.0)
        copy, left = Qt.DropAction.CopyAction, Qt.MouseButton.LeftButton
        plain = Qt.KeyboardModifier.NoModifier
        entering = QDragEnterEvent(at.toPoint(), copy, data, left, plain)
        QApplication.sendEvent(on, entering)
        assert entering.isAccepted(), "nothing here takes what is dropped"
        QApplication.sendEvent(on, QDropEvent(at, copy, data, left, plain))

    def draws(self, *points: tuple[float, float]) -> None:
        """Drag over the curves, in the units of their axes."""
        plot = self.window.curves.plot
        plot.setFocus(Qt.FocusReason.MouseFocusReason)  # as a press of a real mouse does
        drag(plot, *(place(plot, *point) for point in points))

    def drags_snug(self, by_deg: float) -> None:
        """Take the snug point's grip and move it."""
        plot = self.window.curves.plot
        plot.setFocus(Qt.FocusReason.MouseFocusReason)
        settle()
        row = self.session.current_row
        assert self.session.analysis is not None
        x = plot.geometry_now.x_of_angle(row, float(self.session.analysis.curves.snug_angle_deg[row]))
        grip = plot.names.grip_rect(x)
        assert grip is not None, "the snug point is out of sight"
        start = QPointF(plot.mapFromScene(grip.center()))
        drag(plot, start, QPointF(place(plot, x + by_deg, 0.0).x(), start.y()))

    def waits(self) -> None:
        """Wait for the verdicts."""
        wait_until_judged(self.window, self.qtbot)

    def waits_for_words(self, words: str) -> None:
        """Wait until the reasons hold these words."""
        self.qtbot.waitUntil(lambda: words in self.reasons(), timeout=10_000)

    # Eyes

    def reasons(self) -> str:
        """What stands under "why"."""
        return self.window.why.reasons.toPlainText()

    def sentence(self) -> str:
        """The sentence that is always true, without marks of its links."""
        label = self.window.top.sentence
        return plain_text(label.text())

    def state(self) -> tuple[Decisions, bytes]:
        """What was decided, and what the machine says: exact."""
        assert self.session.analysis is not None
        results = self.session.analysis.results()
        figures = [np.asarray(results.column(name).to_numpy(zero_copy_only=False)) for name in _COMPARED]
        return self.session.decisions, b"".join(figure.tobytes() for figure in figures)

    def sees(self) -> tuple[object, ...]:
        """Selection, the one looked at, the view, the place in the table, the conditions."""
        return (
            self.session.selected_ids(),
            self.session.current_id,
            self.window.curves.view_range(),
            self.session.view,
        )


_COMPARED = ("final_torque_nm", "snug_angle_deg", "joint_rate_deg", "prevailing_torque_nm", "outlier_score")


def plain_text(rich: str) -> str:
    """Rich text as it reads."""
    from PySide6.QtGui import QTextDocument

    document = QTextDocument()
    document.setHtml(rich)
    return document.toPlainText().replace("\N{NO-BREAK SPACE}", " ")
