"""Windows that stay beside the window, by name."""

from __future__ import annotations

from PySide6.QtCore import QObject, QSize
from PySide6.QtWidgets import QApplication, QDialog, QMainWindow

from app.display.look import LIGHT, Look


def bounded(size: QSize, window: QMainWindow) -> QSize:
    """A size with which a window fits the screen, title bar and rim as the main window has them."""
    frame = window.frameGeometry().size() - window.geometry().size()
    return size.boundedTo(window.screen().availableSize() - frame)


class SideWindows(QObject):
    """Shows them, one of each name; they take the look of the window and close with it."""

    def __init__(self, window: QMainWindow) -> None:
        super().__init__(window)
        self.window = window
        self.look: Look = LIGHT
        self.open: dict[str, QDialog] = {}

    def keep(self, name: str, dialog: QDialog) -> QDialog:
        """Show a window; the one of the same name before it goes."""
        old = self.open.pop(name, None)
        if old is not None:
            old.close()
            old.deleteLater()
        self.open[name] = dialog
        dialog.setModal(False)
        if QApplication.platformName() != "offscreen":  # whose screen is made up, and small
            dialog.resize(bounded(dialog.size(), self.window))
        dialog.show()
        dialog.raise_()
        return dialog

    def set_look(self, look: Look) -> None:
        """Windows that are open take the look of the window."""
        self.look = look
        for dialog in self.open.values():
            set_look = getattr(dialog, "set_look", None)
            if set_look is not None:
                set_look(look)

    def close(self) -> None:
        """Close what was opened."""
        for dialog in self.open.values():
            dialog.close()
            dialog.deleteLater()
        self.open.clear()
