"""A question that must be answered before anything goes on."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QMessageBox, QWidget


def ask(parent: QWidget | None, words: str, *answers: str, usual: int | None = None) -> int | None:
    """The number of the chosen answer; None for Cancel, which Esc and closing mean too.

    Parameters
    ----------
    usual : int, optional
        The answer that Enter gives, where none of them loses anything; else Enter cancels, under a warning.
    """
    box = QMessageBox(parent)
    box.setIcon(QMessageBox.Icon.Warning if usual is None else QMessageBox.Icon.Question)
    box.setTextFormat(Qt.TextFormat.PlainText)
    box.setText(words)
    buttons = [box.addButton(answer, QMessageBox.ButtonRole.AcceptRole) for answer in answers]
    cancel = box.addButton(QMessageBox.StandardButton.Cancel)
    box.setDefaultButton(cancel if usual is None else buttons[usual])
    box.setEscapeButton(cancel)
    box.exec()
    clicked = box.clickedButton()
    box.deleteLater()
    return next((number for number, button in enumerate(buttons) if button is clicked), None)
