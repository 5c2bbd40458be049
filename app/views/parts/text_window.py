"""Lists and texts to copy: skipped files, the story of a problem, the equivalent command."""

from __future__ import annotations

import os
from collections.abc import Iterable, Sequence

from PySide6.QtGui import QFontDatabase, QGuiApplication
from PySide6.QtWidgets import (
    QDialog,
    QDialogButtonBox,
    QPlainTextEdit,
    QWidget,
)

from analysis.errors import ReadProblem
from app.display.messages import tr
from app.display.spacing import SMALL_WINDOW
from app.views.parts.buttons import PushButton
from app.views.parts.layouts import column
from app.views.parts.plain_label import PlainLabel


class TextWindow(QDialog):
    """A sentence, a text that can be read and copied, and what can be done with it."""

    def __init__(
        self, title: str, lead: str, text: str, parent: QWidget | None = None, *, prose: bool = False
    ) -> None:
        super().__init__(parent)
        self.setWindowTitle(title)
        self.resize(*SMALL_WINDOW)
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


def common_folder(paths: Iterable[str]) -> str:
    """The folder that all of these lie in; empty where there is none."""
    known = [path if os.path.isdir(path) else os.path.dirname(path) for path in paths if path]
    try:
        return os.path.commonpath(known) if known else ""
    except ValueError:  # on several drives, or not all of them whole paths
        return ""


def problems_text(problems: Sequence[ReadProblem], folder: str = "") -> str:
    """First what was skipped, then notes on what was read, each grouped by reason; files below `folder`."""
    parts = []
    for title, fatal in ((tr("Skipped"), True), (tr("Read, with a note"), False)):
        groups: dict[tuple[str, str], list[ReadProblem]] = {}
        for problem in problems:
            if problem.fatal == fatal:
                groups.setdefault((problem.expected, problem.advice), []).append(problem)
        if groups:
            largest_first = sorted(groups.values(), key=len, reverse=True)
            parts.append("\n\n".join([title, *(_group_text(group, folder) for group in largest_first)]))
    return "\n\n\n".join(parts) or tr("Everything was read.")


def _group_text(group: Sequence[ReadProblem], folder: str) -> str:
    """The reason once, the places below it; what was found stands with each place where it differs."""
    same = len({problem.found for problem in group}) == 1
    reason = group[0].reason() if same else f"expected {group[0].expected}; {group[0].advice}"
    lines = [
        f"  {problem.place(folder)}" if same else f"  {problem.place(folder)}: found {problem.found}"
        for problem in group
    ]
    return "\n".join([f"{len(group)} × {reason[0].upper()}{reason[1:]}", *lines])
