"""One area of the window: a title, its content, and one sentence while there is nothing to show."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QStackedLayout, QWidget

from app.display.spacing import BREAK_PX, LINE_MARGINS, NO_MARGINS
from app.views.parts.layouts import column, row, small_text
from app.views.parts.plain_label import PlainLabel


class Area(QWidget):
    """A titled area whose content can be absent.

    Parameters
    ----------
    name : str
        The title, also the accessible name.
    sentence : str
        What stands there once there are traces.
    content : QWidget
        What is shown, and what gets the focus.
    """

    def __init__(self, name: str, sentence: str, content: QWidget, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAccessibleName(name)
        self.content = content
        self.title = PlainLabel(name)
        self.title.setObjectName("areaTitle")
        self.remark = PlainLabel("")
        self.remark.setObjectName("areaRemark")
        self.sentence = small_text(sentence, kind="areaSentence", centred=True)
        self.head = row(self.title, (self.remark, 1), margins=LINE_MARGINS, spacing=BREAK_PX)
        self._stack = QStackedLayout()
        self._stack.addWidget(self.sentence)
        self._stack.addWidget(content)
        column(self.head, (self._stack, 1), on=self, margins=NO_MARGINS, spacing=0)

    def add_to_head(self, widget: QWidget, stretch: int = 0) -> None:
        """Put a small control beside the title; with a stretch it takes the room that the remark leaves."""
        self.head.addWidget(widget, stretch)

    def replace_sentence(self, widget: QWidget) -> None:
        """Show this widget instead of the sentence while there is nothing to show."""
        self._stack.removeWidget(self.sentence)
        self.sentence.setParent(None)
        self._stack.insertWidget(0, widget)

    def set_filled(self, filled: bool) -> None:
        """Show the content, or the sentence."""
        self._stack.setCurrentIndex(1 if filled else 0)

    @property
    def is_filled(self) -> bool:
        """Whether the content is shown."""
        return bool(self._stack.currentIndex() == 1)

    def take_focus(self) -> None:
        """Move the keyboard here."""
        target = self.content if self.is_filled else self._stack.currentWidget()
        if target is None:
            return
        proxy = target.focusProxy() or target
        if proxy.focusPolicy() == Qt.FocusPolicy.NoFocus:
            proxy = first_focusable(proxy) or proxy
        proxy.setFocus(Qt.FocusReason.ShortcutFocusReason)


def first_focusable(widget: QWidget) -> QWidget | None:
    """The first visible widget below that the keyboard can reach."""
    for inner in widget.findChildren(QWidget):
        if inner.isVisible() and inner.focusPolicy() & Qt.FocusPolicy.TabFocus:
            return inner
    return None
