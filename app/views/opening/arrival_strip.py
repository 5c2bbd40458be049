"""A strip below the top line: what was dropped, and whether it is opened afresh or added."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QWidget

from app.display.messages import tr
from app.display.spacing import BLOCK_MARGINS
from app.views.parts.buttons import PushButton
from app.views.parts.layouts import row
from app.views.parts.plain_label import PlainLabel


class ArrivalStrip(QWidget):
    """Hidden until something is dropped; Enter opens, Esc puts it away."""

    open_wanted = Signal(object, bool)  #: (paths, add)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("arrivalStrip")
        self.setAttribute(Qt.WidgetAttribute.WA_StyledBackground)
        self.setAccessibleName(tr("What was dropped"))
        self.words = PlainLabel()
        self.open, self.add = PushButton(tr("Open")), PushButton(tr("Add to what is open"))
        self.leave = PushButton(tr("Dismiss"))
        row((self.words, 1), self.open, self.add, self.leave, on=self, margins=BLOCK_MARGINS)
        self.open.clicked.connect(lambda: self._take(add=False))
        self.add.clicked.connect(lambda: self._take(add=True))
        self.leave.clicked.connect(self.put_away)
        self.setTabOrder(self.open, self.add)
        self.setTabOrder(self.add, self.leave)
        self._paths: tuple[str, ...] = ()
        self.hide()

    def show_found(
        self, paths: Sequence[str], words: str, *, useful: bool, anything_open: bool, add: bool
    ) -> None:
        """Show what was recognised; Enter does what the highlighted button says.

        Where nothing `useful` was found it can only be left.
        """
        self._paths = tuple(paths)
        self.words.setText(words)
        self.open.setText(tr("Open instead") if anything_open else tr("Open"))
        self.open.setEnabled(useful)
        self.add.setEnabled(useful)
        self.add.setVisible(anything_open)
        self.show()
        first = self.add if add and anything_open else self.open
        (first if useful else self.leave).setFocus(Qt.FocusReason.OtherFocusReason)

    def put_away(self) -> None:
        """Leave it."""
        self._paths = ()
        self.hide()

    def _take(self, *, add: bool) -> None:
        paths = self._paths
        self.put_away()
        if paths:
            self.open_wanted.emit(paths, add)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Esc puts the strip away."""
        if event.key() == Qt.Key.Key_Escape:
            self.put_away()
        else:
            super().keyPressEvent(event)
