"""Why: the reasons for the trace that is looked at, or what the selected ones share; disposition and note."""

from __future__ import annotations

from PySide6.QtCore import QSignalBlocker, Qt, QTimer, QUrl, Signal
from PySide6.QtGui import QFocusEvent, QKeyEvent, QTextOption
from PySide6.QtWidgets import (
    QComboBox,
    QFormLayout,
    QLabel,
    QPlainTextEdit,
    QTextBrowser,
    QVBoxLayout,
    QWidget,
)

from app.display.look import LIGHT, Look
from app.display.messages import tr
from app.session.deciding import move_edge, set_disposition, set_note
from app.session.session import Session
from app.session.state import DISPOSITIONS
from app.texts.shared_text import why_several
from app.texts.why_text import why_one

_NOTE_LINES = 2
#: Narrower than usual, so that the table of rules fits beside the scroll bar at the smallest window.
_MARGIN_PX = 2.0
#: The reasons follow another selection after this time (own choice: about two frames).
_FOLLOW_MS = 30


class NoteEdit(QPlainTextEdit):
    """A note that counts as written when the keyboard leaves it, or at Ctrl+Enter."""

    written = Signal(str)
    entered = Signal()

    def focusInEvent(self, event: QFocusEvent) -> None:
        """Before the first letter."""
        self.entered.emit()
        super().focusInEvent(event)

    def focusOutEvent(self, event: QFocusEvent) -> None:
        """Leaving writes."""
        super().focusOutEvent(event)
        self.written.emit(self.toPlainText())

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Ctrl+Enter writes; Tab leaves."""
        self.entered.emit()
        enter = event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter)
        if enter and event.modifiers() & Qt.KeyboardModifier.ControlModifier:
            self.written.emit(self.toPlainText())
            return
        super().keyPressEvent(event)


class WhyView(QWidget):
    """Reasons above, what the person decides below."""

    place_wanted = Signal(float)
    evidence_wanted = Signal(str)
    help_wanted = Signal(str)
    joint_wanted = Signal(str)
    note_wanted = Signal()
    shared_wanted = Signal(str)
    clamp_wanted = Signal()

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.session = session
        self.look: Look = LIGHT
        self._noted_ids: tuple[str, ...] = ()
        self.reasons = QTextBrowser()
        self.reasons.setAccessibleName(tr("Reasons"))
        self.reasons.setOpenLinks(False)
        # Never within a figure or its unit: a table takes the room of its longest words.
        self.reasons.setWordWrapMode(QTextOption.WrapMode.WordWrap)
        self.reasons.document().setDocumentMargin(_MARGIN_PX)
        self.reasons.anchorClicked.connect(self._follow_link)
        self.disposition = QComboBox()
        self.disposition.setAccessibleName(tr("Disposition"))
        for value in DISPOSITIONS:
            self.disposition.addItem(tr(value) if value else tr("nothing decided"), value)
        self.disposition.activated.connect(self._decide)
        self.note = NoteEdit()
        self.note.setAccessibleName(tr("Note"))
        self.note.setPlaceholderText(tr("A note beside the verdict, signed with your name"))
        self.note.setTabChangesFocus(True)
        self.note.setFixedHeight(self.fontMetrics().lineSpacing() * _NOTE_LINES + 14)
        self.note.written.connect(self._write_note)
        self.note.entered.connect(self._catch_up)
        self.about = QLabel()
        self.about.setObjectName("quiet")
        form = QFormLayout()
        form.setContentsMargins(6, 4, 6, 6)
        form.addRow(self.about)
        form.addRow(tr("Disposition"), self.disposition)
        form.addRow(tr("Note"), self.note)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.addWidget(self.reasons, 1)
        layout.addLayout(form)
        self.setFocusProxy(self.reasons)
        self._soon = QTimer(self)
        self._soon.setSingleShot(True)
        self._soon.setInterval(_FOLLOW_MS)
        self._soon.timeout.connect(self.refresh)
        for signal in (
            session.current_changed,
            session.selection_changed,
            session.results_changed,
            session.decisions_changed,
            session.view_changed,
            session.traces_changed,
        ):
            signal.connect(self._follow)

    def _follow(self) -> None:
        """Shortly after the curves and the table, so that those are there at once while a key is held."""
        if not self._soon.isActive():
            self._soon.start()

    def start_note(self) -> None:
        """To the note, which comes into sight first."""
        self.note_wanted.emit()
        self._catch_up()
        self.note.setFocus(Qt.FocusReason.ShortcutFocusReason)

    def set_look(self, look: Look) -> None:
        """Colours of the text."""
        self.look = look
        self.refresh()

    def refresh(self) -> None:
        """Show the reasons for what is selected now; the place in the text stays for the same trace."""
        session = self.session
        ids = session.selected_ids()
        place = self.reasons.verticalScrollBar().value() if ids == self._noted_ids else 0
        if len(ids) > 1:
            text = why_several(session, self.look.faint)
        elif session.current_row >= 0:
            text = why_one(session, session.current_row, self.look.faint)
        else:
            text = (
                f"<p>{tr('Choose a trace in the table or on the curves to read why it was judged so.')}</p>"
            )
        self.reasons.setHtml(text)
        self.reasons.verticalScrollBar().setValue(place)
        self._show_decision(ids)

    def _catch_up(self) -> None:
        """A note that is begun right after another selection belongs to that selection."""
        if self._soon.isActive():
            self._soon.stop()
            self.refresh()

    def _show_decision(self, ids: tuple[str, ...]) -> None:
        if ids != self._noted_ids and self.note.document().isModified():
            self._write_note(self.note.toPlainText())  # begun for those that were selected before
        decisions = [self.session.decisions.of(trace_id) for trace_id in ids]
        for widget in (self.disposition, self.note):
            widget.setEnabled(bool(ids))
        self.about.setText(tr("For all {0} selected", len(ids)) if len(ids) > 1 else "")
        self.about.setVisible(len(ids) > 1)
        with QSignalBlocker(self.disposition), QSignalBlocker(self.note):
            same = {d.disposition for d in decisions}
            self.disposition.setCurrentIndex(self.disposition.findData(same.pop()) if len(same) == 1 else -1)
            notes = {d.note for d in decisions}
            note = notes.pop() if len(notes) == 1 else ""
            if ids != self._noted_ids or not self.note.hasFocus():
                self.note.setPlainText(note)
        self._noted_ids = ids

    def _decide(self) -> None:
        ids = self.session.selected_ids()
        if ids:
            value = str(self.disposition.currentData() or "")
            self.session.decide(set_disposition(self.session.decisions, ids, value, self.session.signature()))

    def _write_note(self, text: str) -> None:
        ids = self._noted_ids
        known = set(self.session.traces.trace_ids)
        before = {self.session.decisions.of(trace_id).note for trace_id in ids}
        if not ids or not known.issuperset(ids) or before == {text.strip()}:
            return
        if len(before) > 1 and not text.strip():
            return  # several different notes are shown as an empty field: leaving it must not wipe them
        self.session.decide(set_note(self.session.decisions, ids, text, self.session.signature()))

    def _follow_link(self, url: QUrl) -> None:
        kind, _, value = url.toString().partition(":")
        value = QUrl.fromPercentEncoding(value.encode())
        if kind == "place":
            self.place_wanted.emit(float(value))
        elif kind == "evidence":
            self.evidence_wanted.emit(value)
        elif kind == "help":
            self.help_wanted.emit(value)
        elif kind == "clamp":
            self.clamp_wanted.emit()
        elif kind == "shared":
            self.shared_wanted.emit(value)
        elif kind == "joint":
            self.joint_wanted.emit(value)
        elif kind == "giveback" and self.session.current_id:
            session = self.session
            session.decide(move_edge(session.decisions, session.current_id, value, None, session.signature()))
        elif kind == "filter":
            self.session.add_condition(value)
