"""What the largest area shows before anything is open: three ways in, and what was open recently."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QHBoxLayout, QLabel, QVBoxLayout, QWidget

from app.display.messages import tr
from app.display.preferences import Preferences
from app.views.parts.buttons import PushButton

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
        lead = QLabel(tr("Torque over angle of every joint will be drawn here, the odd ones on top."))
        lead.setAlignment(Qt.AlignmentFlag.AlignCenter)
        lead.setWordWrap(True)
        drop = QLabel(tr("Drop recordings or a folder anywhere, or:"))
        drop.setObjectName("quiet")
        drop.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self.files = PushButton(tr("Open files …"))
        self.folder = PushButton(tr("Open folder …"))
        self.sample = PushButton(tr("Open sample shift"))
        self.sample.setToolTip(
            tr("A made-up shift of a pallet-truck plant, with faults put in: a safe place to try everything")
        )
        self.files.clicked.connect(self.files_wanted)
        self.folder.clicked.connect(self.folder_wanted)
        self.sample.clicked.connect(self.sample_wanted)
        buttons = QHBoxLayout()
        buttons.addStretch(1)
        for button in (self.files, self.folder, self.sample):
            buttons.addWidget(button)
        buttons.addStretch(1)
        self.last_work = PushButton()
        self.last_work.clicked.connect(self.last_work_wanted)
        self.last_work.hide()
        self._recent = QVBoxLayout()
        layout = QVBoxLayout(self)
        layout.addStretch(2)
        layout.addWidget(lead)
        layout.addWidget(drop)
        layout.addLayout(buttons)
        layout.addSpacing(12)
        layout.addWidget(self.last_work, alignment=Qt.AlignmentFlag.AlignCenter)
        layout.addLayout(self._recent)
        layout.addStretch(3)
        self.setFocusProxy(self.sample)
        self.refresh()

    def show_last_work(self, words: str) -> None:
        """Offer to go on where the program was left; empty words offer nothing."""
        self.last_work.setText(tr("Resume last session ({0})", words))
        self.last_work.setVisible(bool(words))

    def refresh(self) -> None:
        """Show what was open recently."""
        while self._recent.count():
            item = self._recent.takeAt(0)
            if item is not None and (widget := item.widget()) is not None:
                widget.deleteLater()
        entries = self.preferences.recent[:_RECENT_SHOWN]
        if entries:
            heading = QLabel(tr("Open recent"))
            heading.setObjectName("quiet")
            heading.setAlignment(Qt.AlignmentFlag.AlignCenter)
            self._recent.addWidget(heading)
        for paths in entries:
            more = tr(" and {0} more", len(paths) - 1) if len(paths) > 1 else ""
            button = PushButton(Path(paths[0]).name + more)
            button.setFlat(True)
            button.setToolTip("\n".join(paths))
            button.clicked.connect(lambda _checked=False, entry=paths: self.recent_wanted.emit(entry))
            self._recent.addWidget(button, alignment=Qt.AlignmentFlag.AlignCenter)
