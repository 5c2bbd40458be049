"""Bottom line: progress with cancel, what was skipped, the folder that is followed.

The state of autosave, notes.
"""

from __future__ import annotations

from collections.abc import Iterable

from PySide6.QtCore import QMargins, QSize, Qt, QTimer, Signal
from PySide6.QtWidgets import (
    QProgressBar,
    QSizePolicy,
    QWidget,
)

from app.display.job_status import JobStatus
from app.display.messages import Message, count_words, plain_tip, tr
from app.display.spacing import LINE_MARGINS
from app.views.parts.buttons import PushButton, ToolButton
from app.views.parts.layouts import row
from app.views.parts.plain_label import PlainLabel

#: Work that is done within this time shows no progress.
PROGRESS_AFTER_MS = 1000
_NOTE_FOR_MS = 12_000
_BAR_WIDTH_PX = 180
#: Between two things of the line, rims included.
_GAP_PX = 12


class BottomLine(QWidget):
    """One line of small things that are true all the time."""

    skipped_wanted = Signal()
    story_wanted = Signal(object)
    offer_wanted = Signal(str)
    recovery_wanted = Signal(str)
    stop_wanted = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("bottomLine")
        self.setAttribute(Qt.WidgetAttribute.WA_StyledBackground)
        self.setAccessibleName(tr("State"))
        self._running: frozenset[str] = frozenset()
        self.note = PlainLabel()
        self.note.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self.story = ToolButton()
        self.story.setText(tr("Details"))
        self.bar = QProgressBar()
        self.bar.setMaximumWidth(_BAR_WIDTH_PX)
        self.bar.setAccessibleName(tr("Progress"))
        self.doing = PlainLabel()
        self.cancel = PushButton(tr("Stop"))
        self.skipped = ToolButton()
        self.followed = PlainLabel()
        self.saved = PlainLabel()
        self._last: Message | None = None
        self._status: JobStatus | None = None
        self._show_timer = QTimer(self)
        self._show_timer.setSingleShot(True)
        self._show_timer.setInterval(PROGRESS_AFTER_MS)
        self._show_timer.timeout.connect(self._show_progress)
        self._note_timer = QTimer(self)
        self._note_timer.setSingleShot(True)
        self._note_timer.timeout.connect(self._fade_note)
        self._build()
        self.set_problems(0, 0)
        self._hide_progress()

    def _build(self) -> None:
        # A long note is cut off, and told in full by its tip: it never makes the window wider.
        self.note.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Preferred)
        self.followed.setObjectName("quiet")
        self.saved.setObjectName("quiet")
        self.skipped.clicked.connect(self.skipped_wanted)
        self.story.clicked.connect(lambda: self.story_wanted.emit(self._last))
        self.story.hide()
        self.remedy = PushButton("", self._take_remedy)
        self.remedy.hide()
        self.recover, self.dismiss = PushButton(tr("Recover")), PushButton(tr("Not now"))
        self.recover.clicked.connect(self._recover)
        self.dismiss.clicked.connect(self._end_offer)
        told = (self.doing, self.bar, self.cancel, self.skipped, self.followed, self.saved)
        offer = (self.story, self.remedy, self.recover, self.dismiss)
        row((self.note, 1), *offer, *told, on=self, margins=LINE_MARGINS)
        for button in (self.recover, self.dismiss):
            button.hide()
        self._offered, self._offer_words = "", ""
        self.cancel.clicked.connect(self.stop_wanted)

    def sizeHint(self) -> QSize:
        """As high as all that can stand in it: what appears does not push the curves a pixel up."""
        return self._with_room_for_all(super().sizeHint())

    def minimumSizeHint(self) -> QSize:
        """As high as all that can stand in it."""
        return self._with_room_for_all(super().minimumSizeHint())

    def _with_room_for_all(self, hint: QSize) -> QSize:
        layout = self.layout()
        margins = layout.contentsMargins() if layout is not None else QMargins()
        children = self.findChildren(QWidget, options=Qt.FindChildOption.FindDirectChildrenOnly)
        highest = max(child.sizeHint().height() for child in children)
        return hint.expandedTo(QSize(0, highest + margins.top() + margins.bottom()))

    def set_problems(self, fatal: int, notes: int) -> None:
        """How many files were skipped, and how many were read with a note."""
        parts = [count_words(fatal, "skipped", "skipped")] if fatal else []
        parts += [count_words(notes, "note on files", "notes on files")] if notes else []
        self.skipped.setVisible(bool(parts))
        self.skipped.setText(", ".join(parts))
        self.skipped.setToolTip(tr("Show the list"))

    def show_message(self, message: Message) -> None:
        """Show a note for a while, a problem until something else happens."""
        self._last = message
        problem = message.kind == "problem"
        self.note.setText(("■ " if problem else "") + message.text)
        self.note.setToolTip(plain_tip(message.text))
        self.story.setVisible(bool(message.details))
        self.remedy.setVisible(bool(message.offer))
        self.remedy.setText(message.offer)
        self._note_timer.stop()
        if not problem:
            self._note_timer.start(_NOTE_FOR_MS)

    def _take_remedy(self) -> None:
        if self._last is not None:
            self.offer_wanted.emit(self._last.subject)

    def offer_recovery(self, file: str, words: str) -> None:
        """Offer kept work, once; nothing is in the way of other work meanwhile."""
        self._offered, self._offer_words = file, words
        self._note_timer.stop()
        self.note.setText(words)
        self.recover.setToolTip(plain_tip(words))
        self.dismiss.setToolTip(tr("It stays under File, Unsaved work"))
        self.recover.show()
        self.dismiss.show()

    def _recover(self) -> None:
        file = self._offered
        self._end_offer()
        self.recovery_wanted.emit(file)

    def _end_offer(self) -> None:
        self._offered, self._offer_words = "", ""
        self.recover.hide()
        self.dismiss.hide()
        self.note.clear()

    def set_followed(self, folder: str) -> None:
        """Say which folder is followed; empty where none is."""
        self.followed.setText(tr("following {0}", folder) if folder else "")

    def set_saved(self, text: str) -> None:
        """Say how autosave stands."""
        self.saved.setText(text)

    def _fade_note(self) -> None:
        self.note.setText(self._offer_words)  # what is offered is said as long as it is
        self.note.setToolTip(plain_tip(self._offer_words))
        self.story.hide()

    def set_running(self, kinds: Iterable[str]) -> None:
        """Which work runs now."""
        self._running = frozenset(kinds)
        if self._running:
            if self._status is not None and self._status.kind not in self._running:
                self.show_status(None)  # what is done is no longer told of while other work goes on
            if not self._show_timer.isActive() and not self.bar.isVisible():
                self._show_timer.start()
        else:
            self._show_timer.stop()
            self._hide_progress()

    def _show_progress(self) -> None:
        if self._running:
            for widget in (self.bar, self.doing, self.cancel):
                widget.show()
            self.show_status(self._status)

    def _hide_progress(self) -> None:
        self._status = None
        for widget in (self.bar, self.doing, self.cancel):
            widget.hide()

    def show_status(self, status: JobStatus | None) -> None:
        """Show how far the work is; what was told before the bar came up is not lost."""
        self._status = status
        self.bar.setRange(0, status.total if status else 0)
        self.bar.setValue(status.done if status else 0)
        text = status.text if status else ""
        self.doing.setText(
            self.fontMetrics().elidedText(text, Qt.TextElideMode.ElideMiddle, self._room_for_text())
        )
        self.doing.setToolTip(plain_tip(text))

    def _room_for_text(self) -> int:
        """Pixels that the other things of the line leave, and a quarter of the line at least."""
        others = (self.note, self.story, self.bar, self.cancel, self.skipped, self.followed, self.saved)
        taken = sum(widget.sizeHint().width() for widget in others if widget.isVisible())
        return max(self.width() // 4, self.width() - taken - len(others) * _GAP_PX)
