"""Rich text whose links are told, as a kind and a value."""

from __future__ import annotations

from PySide6.QtCore import QUrl, Signal
from PySide6.QtWidgets import QTextBrowser, QWidget


class LinkPage(QTextBrowser):
    """A page of text; ``place:12.5`` is told as kind "place" and value "12.5"."""

    link_followed = Signal(str, str)  #: (kind, value)

    def __init__(self, name: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAccessibleName(name)
        self.setOpenLinks(False)
        self.anchorClicked.connect(self._follow)

    def show_html(self, text: str, *, keep_place: bool = True) -> None:
        """Show this text, at the place where the one before was read or at its beginning."""
        place = self.verticalScrollBar().value() if keep_place else 0
        self.setHtml(text)
        self.verticalScrollBar().setValue(place)

    def _follow(self, url: QUrl) -> None:
        kind, _, value = url.toString().partition(":")
        self.link_followed.emit(kind, QUrl.fromPercentEncoding(value.encode()))
