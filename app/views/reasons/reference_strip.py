"""What is pinned as reference, always in sight: number of traces, date, and how many fall outside."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QLabel, QSizePolicy, QWidget

from app.display.messages import plain_tip, tr


class ReferenceStrip(QLabel):
    """One line with links; hidden where no reference is pinned."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("areaRemark")
        self.setTextFormat(Qt.TextFormat.RichText)
        self.setTextInteractionFlags(
            Qt.TextInteractionFlag.LinksAccessibleByMouse | Qt.TextInteractionFlag.LinksAccessibleByKeyboard
        )
        self.setAccessibleName(tr("Reference"))
        # It takes what room there is and never makes the window wider.
        self.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Preferred)
        self.setAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
        self.set_line("", "")

    def set_line(self, text: str, tip: str) -> None:
        """Rich text with links, and what its tip says; an empty text hides it."""
        self.setVisible(bool(text))
        self.setToolTip(plain_tip(tip))
        self.setText(text)
