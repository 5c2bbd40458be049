"""Labels whose text is never taken for markup: names of traces, files and joints come from recordings."""

from __future__ import annotations

from PySide6.QtCore import QEvent, Qt
from PySide6.QtGui import QPainter, QPaintEvent
from PySide6.QtWidgets import QLabel, QWidget

from analysis.shown_text import harmless


class PlainLabel(QLabel):
    """A label that shows its text as it is; one that shows markup of the program's own is a `MarkupLabel`."""

    def __init__(self, text: str = "", parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setTextFormat(Qt.TextFormat.PlainText)
        self.setText(text)

    def setText(self, text: str) -> None:
        """Show it, without what would steer how it is shown."""
        super().setText(harmless(text))


class ElidedLabel(PlainLabel):
    """A line that ends in … where it is too long, whatever its alignment; its tip has all of it."""

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw what fits."""
        room = self.contentsRect()
        text = self.fontMetrics().elidedText(self.text(), Qt.TextElideMode.ElideRight, room.width())
        painter = QPainter(self)
        self.style().drawItemText(
            painter,
            room,
            int(self.alignment().value),
            self.palette(),
            self.isEnabled(),
            text,
            self.foregroundRole(),
        )


class MarkupLabel(QLabel):
    """A label that shows markup, in which whoever sets it has escaped all names."""

    def __init__(self) -> None:
        super().__init__()
        self.setTextFormat(Qt.TextFormat.RichText)

    def changeEvent(self, event: QEvent) -> None:  # noqa: D102
        super().changeEvent(event)
        if event.type() == QEvent.Type.PaletteChange and "<a " in self.text():
            text = self.text()  # a link keeps the colour that it was laid out with
            self.clear()
            self.setText(text)
