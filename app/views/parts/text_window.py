"""Lists and texts to copy: skipped files, the story of a problem, the equivalent command."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtGui import QFontDatabase, QGuiApplication
from PySide6.QtWidgets import (
    QDialog,
    QDialogButtonBox,
    QPlainTextEdit,
    QWidget,
)

from analysis.errors import ReadProblem
from app.display.messages import tr
from app.views.parts.buttons import PushButton
from app.views.parts.layouts import column
from app.views.parts.plain_label import PlainLabel

_SIZE_PX = (820, 420)


class TextWindow(QDialog):
    """A sentence, a text that can be read and copied, and what can be done with it."""

    def __init__(
        self, title: str, lead: str, text: str, parent: QWidget | None = None, *, prose: bool = False
    ) -> None:
        super().__init__(parent)
        self.setWindowTitle(title)
        self.resize(*_SIZE_PX)
        sentence = PlainLabel(lead)
        sentence.setWordWrap(True)
        self.text = QPlainTextEdit(text)
        self.text.setReadOnly(True)
        self.text.setAccessibleName(title)
        if not prose:  # columns and commands stand under each other
            self.text.setFont(QFontDatabase.systemFont(QFontDatabase.SystemFont.FixedFont))
        self.buttons = QDialogButtonBox(QDialogButtonBox.StandardButton.Close)
        copy = PushButton(tr("Copy"))
        copy.clicked.connect(self.copy)
        self.buttons.addButton(copy, QDialogButtonBox.ButtonRole.ActionRole)
        self.buttons.rejected.connect(self.reject)
        column(sentence, self.text, self.buttons, on=self)

    def copy(self) -> None:
        """All of it to the clipboard."""
        QGuiApplication.clipboard().setText(self.text.toPlainText())


def problems_text(problems: Sequence[ReadProblem]) -> str:
    """One line each: first what was skipped, then notes on what was read."""
    skipped = [problem.sentence() for problem in problems if problem.fatal]
    notes = [problem.sentence() for problem in problems if not problem.fatal]
    parts = []
    if skipped:
        parts.append(tr("Skipped") + "\n" + "\n".join(skipped))
    if notes:
        parts.append(tr("Read, with a note") + "\n" + "\n".join(notes))
    return "\n\n".join(parts) or tr("Everything was read.")
