"""Entry of a filter: completion while typing, and an invalid text underlined with the reason."""

from __future__ import annotations

from PySide6.QtCore import QEvent, QModelIndex, QStringListModel, Qt, Signal
from PySide6.QtGui import QColor, QKeyEvent, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import (
    QAbstractItemView,
    QCompleter,
    QStyle,
    QStyleOptionFrame,
    QWidget,
)

from analysis.catalogue.units import DisplayUnits
from analysis.catalogue.verdicts import VERDICT_OF
from app.display.columns import ColumnSet
from app.display.messages import plain_tip, tr
from app.filtering.completion import Offer, complete
from app.filtering.text import FilterError, parse
from app.views.parts.undo_keys import LineEdit

#: The hue of "not ok"; it reaches 3:1 on both backgrounds.
_WRONG = VERDICT_OF["not ok"].colour


def _tip() -> str:
    return tr("Only what meets this is shown; Enter takes it as typed, Tab completes it (Ctrl+L)")


class FilterEdit(LineEdit):
    """One line; Enter asks for the condition, what cannot be used stays in the line with the reason.

    Tab takes the first offer, Down and Enter any; Enter alone means what was typed.
    """

    refused = Signal(str)  #: (reason): empty where the text can be used again.
    condition_wanted = Signal(str)  #: (text)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._columns, self._units = ColumnSet({}, 0), DisplayUnits()
        self.setAccessibleName(tr("Filter"))
        self.setPlaceholderText(tr("Filter: verdict = suspect and final_torque > 60"))
        self.setClearButtonEnabled(True)
        self.setToolTip(_tip())
        self._wrong: FilterError | None = None
        self._offers = QStringListModel(self)
        self._completer = QCompleter(self._offers, self)
        self._completer.setWidget(self)
        self._completer.setCompletionMode(QCompleter.CompletionMode.UnfilteredPopupCompletion)
        self._completer.activated.connect(self._insert)
        self.textEdited.connect(self._typed)
        self.returnPressed.connect(self.apply)

    @property
    def popup(self) -> QAbstractItemView:
        """The list of offers."""
        popup = self._completer.popup()
        assert popup is not None
        return popup

    @property
    def reason(self) -> str:
        """Why the text cannot be used; empty where it can."""
        return "" if self._wrong is None else str(self._wrong)

    def set_columns(self, columns: ColumnSet, units: DisplayUnits) -> None:
        """What can be filtered by, and the units that figures without one are meant in."""
        self._columns, self._units = columns, units

    def apply(self) -> None:
        """Ask for the condition; where the text cannot be used, the reason is shown instead."""
        text = self.text().strip()
        if not text:
            return
        try:
            parse(text, self._columns, self._units)
        except FilterError as error:
            self._show_wrong(error)
            return
        self.setText("")  # unlike clear(), not to be undone: what is undone next is the last decision
        self._show_wrong(None)
        self.popup.hide()
        self.condition_wanted.emit(text)

    def _typed(self) -> None:
        self._check()
        self._offer()

    def _check(self) -> None:
        try:
            parse(self.text(), self._columns, self._units)
        except FilterError as error:
            # While the end is still being typed an error at the end is no news.
            at_end = error.stop >= len(self.text().rstrip()) and self.cursorPosition() >= error.stop
            self._show_wrong(None if at_end else error)
        else:
            self._show_wrong(None)

    def _show_wrong(self, error: FilterError | None) -> None:
        self._wrong = error
        self.setProperty("refused", error is not None)
        self.style().unpolish(self)
        self.style().polish(self)
        self.setToolTip(plain_tip(str(error)) if error else _tip())
        self.refused.emit(str(error) if error else "")
        self.update()

    def _offer(self) -> None:
        offers = self._complete()
        self._offers.setStringList([offer.text for offer in offers])
        if offers and self.text():
            self._completer.complete()
            self.popup.setCurrentIndex(QModelIndex())  # else Enter would take an offer that nobody chose
        else:
            self.popup.hide()

    def _complete(self) -> list[Offer]:
        return complete(self.text(), self.cursorPosition(), self._columns, self._units)

    def _insert(self, text: str) -> None:
        for offer in self._complete():
            if offer.text == text:
                before, after = self.text()[: offer.start], self.text()[offer.stop :]
                self.setText(f"{before}{text} {after.lstrip()}")
                self.setCursorPosition(len(before) + len(text) + 1)
                self._check()
                return

    def event(self, event: QEvent) -> bool:
        """Esc is left to the window where nothing is typed, Tab to the order of focus where nothing is
        offered."""
        key = (event.type(), event.key()) if isinstance(event, QKeyEvent) else None
        if key == (QEvent.Type.ShortcutOverride, Qt.Key.Key_Escape) and self.text():
            event.accept()
            return True
        if key == (QEvent.Type.KeyPress, Qt.Key.Key_Tab) and self.popup.isVisible():
            self._take_offer()
            return True
        return bool(super().event(event))

    def _take_offer(self) -> None:
        """The offer that is marked, else the first."""
        text = self.popup.currentIndex().data() or self._offers.stringList()[0]
        self.popup.hide()
        self._insert(text)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Keys go to the list of offers first while it is open."""
        popup = self.popup
        if popup.isVisible() and event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            if popup.currentIndex().isValid():
                event.ignore()
                return
            popup.hide()
        if event.key() == Qt.Key.Key_Escape and popup.isVisible():
            popup.hide()
            return
        if event.key() == Qt.Key.Key_Escape and self.text():
            self.setText("")
            self._show_wrong(None)
            return
        super().keyPressEvent(event)

    def paintEvent(self, event: QPaintEvent) -> None:
        """Underline what is wrong."""
        super().paintEvent(event)
        if self._wrong is None or not self.text():
            return
        option = QStyleOptionFrame()
        self.initStyleOption(option)
        inner = self.style().subElementRect(QStyle.SubElement.SE_LineEditContents, option, self)
        start_px = self.cursorRectAt(self._wrong.start)
        stop_px = max(self.cursorRectAt(max(self._wrong.stop, self._wrong.start + 1)), start_px + 4)
        painter = QPainter(self)
        painter.setPen(QPen(QColor(_WRONG), 2, Qt.PenStyle.DotLine))
        bottom = inner.bottom() - 1
        painter.drawLine(start_px, bottom, min(stop_px, inner.right()), bottom)

    def cursorRectAt(self, place: int) -> int:
        """Where a place of the text lies, pixels from the left edge."""
        shift = self.cursorRect().center().x() - self.fontMetrics().horizontalAdvance(
            self.text()[: self.cursorPosition()]
        )
        return shift + self.fontMetrics().horizontalAdvance(self.text()[:place])
