"""Why: the reasons for what is selected, and what a person decides of it: disposition and note."""

from __future__ import annotations

from collections.abc import Collection, Sequence

from PySide6.QtCore import QEvent, QSignalBlocker, Qt, Signal
from PySide6.QtGui import QFocusEvent, QKeyEvent, QTextOption
from PySide6.QtWidgets import QFormLayout, QPlainTextEdit, QWidget

from app.display.messages import tr
from app.display.spacing import BLOCK_MARGINS, NO_MARGINS
from app.views.parts.choices import named_choices
from app.views.parts.layouts import column
from app.views.parts.link_page import LinkPage
from app.views.parts.plain_label import PlainLabel
from app.views.parts.undo_keys import left_to_window

_NOTE_LINES = 2
#: Narrower than usual, so that the table of rules fits beside the scroll bar at the smallest window.
_MARGIN_PX = 2.0
#: Of the table of rules, whose figures are never broken: narrower, it would scroll sideways (own choice).
_NARROWEST_PX = 400
#: Lines of the reasons that are seen on the smallest screen: the sentence and the first rules (own choice).
_FEWEST_LINES = 11


class NoteEdit(QPlainTextEdit):
    """A note that counts as written when the keyboard leaves it; Ctrl+Enter asks for that."""

    written = Signal(str)
    entered = Signal()
    done = Signal()

    def event(self, event: QEvent) -> bool:
        """Undo and redo are the window's where there is nothing typed to take back."""
        return not left_to_window(event, self.document()) and super().event(event)

    def focusInEvent(self, event: QFocusEvent) -> None:
        """Before the first letter."""
        self.entered.emit()
        super().focusInEvent(event)

    def focusOutEvent(self, event: QFocusEvent) -> None:
        """Leaving writes what was typed; a note that was undone elsewhere meanwhile stays undone."""
        super().focusOutEvent(event)
        self._write()

    def _write(self) -> None:
        if self.document().isModified():
            self.document().setModified(False)
            self.written.emit(self.toPlainText())

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Ctrl+Enter writes and leaves; Tab leaves too."""
        self.entered.emit()
        enter = event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter)
        if enter and event.modifiers() & Qt.KeyboardModifier.ControlModifier:
            self._write()
            self.done.emit()
            return
        super().keyPressEvent(event)


class WhyView(QWidget):
    """Reasons above, what the person decides below.

    Parameters
    ----------
    dispositions : sequence of str
        What can be decided; the empty text is "nothing decided".
    """

    link_followed = Signal(str, str)  #: (kind, value)
    note_wanted = Signal()  #: The note is to come into sight.
    note_begun = Signal()  #: Before its first letter.
    note_done = Signal()  #: Written by key; the keyboard goes back to the traces.
    note_written = Signal(object, str)  #: (ids, text): of the traces it was begun for.
    disposition_chosen = Signal(str)  #: (value)

    def __init__(self, dispositions: Sequence[str], parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._noted_ids: tuple[str, ...] = ()
        self.reasons = LinkPage(tr("Reasons"))
        # Never within a figure or its unit: a table takes the room of its longest words.
        self.reasons.setWordWrapMode(QTextOption.WrapMode.WordWrap)
        self.reasons.document().setDocumentMargin(_MARGIN_PX)
        self.reasons.setMinimumWidth(_NARROWEST_PX)
        self.reasons.setMinimumHeight(self.fontMetrics().lineSpacing() * _FEWEST_LINES)
        self.reasons.link_followed.connect(self.link_followed)
        words = [(tr(value) if value else tr("nothing decided"), value) for value in dispositions]
        self.disposition = named_choices(tr("Disposition"), words)
        self.disposition.setToolTip(
            tr("What becomes of all selected joints; their verdicts stay (Ctrl+0 to Ctrl+5)")
        )
        self.disposition.activated.connect(
            lambda _i: self.disposition_chosen.emit(str(self.disposition.currentData() or ""))
        )
        self.note = NoteEdit()
        self.note.setAccessibleName(tr("Note"))
        self.note.setPlaceholderText(tr("A note beside the verdict, signed with your name"))
        self.note.setToolTip(tr("For all selected traces; Ctrl+Enter writes it (Ctrl+M)"))
        self.note.setTabChangesFocus(True)
        line = self.fontMetrics().lineSpacing()
        self.note.setMinimumHeight(line + 14)  # on a small screen the reasons need the room
        self.note.setMaximumHeight(line * _NOTE_LINES + 14)
        self.note.written.connect(lambda text: self.note_written.emit(self._noted_ids, text))
        self.note.entered.connect(self.note_begun)
        self.note.done.connect(self.note_done)
        self.about = PlainLabel()
        self.about.setObjectName("quiet")
        form = QFormLayout()
        form.setContentsMargins(*BLOCK_MARGINS)
        form.addRow(self.about)
        form.addRow(tr("Disposition"), self.disposition)
        form.addRow(tr("Note"), self.note)
        column((self.reasons, 1), form, on=self, margins=NO_MARGINS)
        self.setFocusProxy(self.reasons)

    def start_note(self) -> None:
        """To the note, which comes into sight first."""
        self.note_wanted.emit()
        self.note_begun.emit()
        self.note.setFocus(Qt.FocusReason.ShortcutFocusReason)

    def set_reasons(self, text: str, ids: tuple[str, ...]) -> None:
        """Show the reasons for these traces; the place in the text stays for the same."""
        self.reasons.show_html(text, keep_place=ids == self._noted_ids)

    def set_decided(
        self, ids: tuple[str, ...], dispositions: Collection[str], notes: Collection[str]
    ) -> None:
        """What was decided of these traces; several different values are shown as none."""
        if ids != self._noted_ids and self.note.document().isModified():
            self.note_written.emit(self._noted_ids, self.note.toPlainText())  # begun for those before
        for widget in (self.disposition, self.note):
            widget.setEnabled(bool(ids))
        self.about.setText(tr("For all {0} selected", len(ids)) if len(ids) > 1 else "")
        self.about.setVisible(len(ids) > 1)
        with QSignalBlocker(self.disposition), QSignalBlocker(self.note):
            place = self.disposition.findData(next(iter(dispositions))) if len(dispositions) == 1 else -1
            self.disposition.setCurrentIndex(place)
            typing = self.note.hasFocus() and self.note.document().isModified()
            if ids != self._noted_ids or not typing:
                self.note.setPlainText(next(iter(notes)) if len(notes) == 1 else "")
        self._noted_ids = ids
