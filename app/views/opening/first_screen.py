"""What the largest area shows before anything is open: three ways in, and what was open recently."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QWidget

from app.display.messages import plain_tip, tr
from app.display.preferences import Preferences
from app.display.spacing import BREAK_PX
from app.views.parts.buttons import PushButton
from app.views.parts.layouts import column, row, small_text

_RECENT_SHOWN = 5


class FirstScreen(QWidget):
    """Open, sample, recent."""

    files_wanted = Signal()
    folder_wanted = Signal()
    sample_wanted = Signal()
    recent_wanted = Signal(object)
    last_work_wanted = Signal()

    def __init__(self, preferences: Preferences, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.preferences = preferences
        self.setAccessibleName(tr("Start"))
        lead = tr("Torque over angle of every joint will be drawn here, the odd ones on top.")
        drop = tr("Drop recordings or a folder anywhere, or:")
        self.files = PushButton(tr("Open files …"), self.files_wanted.emit)
        self.folder = PushButton(tr("Open folder …"), self.folder_wanted.emit)
        self.sample = PushButton(tr("Open sample shift"), self.sample_wanted.emit)
        self.sample.setToolTip(
            tr("A made-up shift of a pallet-truck plant, with faults put in: a safe place to try everything")
        )
        self.last_work = PushButton(pressed=self.last_work_wanted.emit)
        self.last_work.hide()
        self._recent = column()
        layout = column(
            None,
            small_text(lead, kind="", centred=True),
            small_text(drop, centred=True),
            row(None, self.files, self.folder, self.sample, None),
            BREAK_PX,
            row(None, self.last_work, None),
            self._recent,
            None,
            on=self,
        )
        layout.setStretch(0, 2)
        layout.setStretch(layout.count() - 1, 3)
        self.setFocusProxy(self.sample)
        self.refresh()

    def show_last_work(self, words: str) -> None:
        """Offer to go on where the program was left; empty words offer nothing."""
        begin = self.last_work if words else self.sample
        here = self.sample.hasFocus() or self.last_work.hasFocus()
        self.last_work.setText(tr("Resume last session ({0})", words))
        self.last_work.setVisible(bool(words))
        self.setFocusProxy(begin)
        if here:
            begin.setFocus()

    def refresh(self) -> None:
        """Show what was open recently."""
        while self._recent.count():
            item = self._recent.takeAt(0)
            if item is not None and (widget := item.widget()) is not None:
                widget.deleteLater()
        entries = self.preferences.recent[:_RECENT_SHOWN]
        if entries:
            self._recent.addWidget(small_text(tr("Open recent"), centred=True))
        for paths in entries:
            more = tr(" and {0} more", len(paths) - 1) if len(paths) > 1 else ""
            button = PushButton(Path(paths[0]).name + more)
            button.setFlat(True)
            button.setToolTip(plain_tip("\n".join(paths)))
            button.clicked.connect(lambda _checked=False, entry=paths: self.recent_wanted.emit(entry))
            self._recent.addWidget(button, alignment=Qt.AlignmentFlag.AlignCenter)
