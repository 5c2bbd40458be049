"""The cards as a list of Qt: one row a joint, with its picture once that has been drawn."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from PySide6.QtCore import QAbstractListModel, QObject, QRectF, Qt
from PySide6.QtGui import QImage

from app.display.messages import plain_tip
from app.models import NOWHERE, Index
from app.views.overview.card import JointCard


class CardList(QAbstractListModel):
    """Cards in the order in which they are shown; a picture comes later and may be an older one till then."""

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.cards: tuple[JointCard, ...] = ()
        #: Picture of a joint, and the stretch of plot that it shows.
        self.pictures: dict[str, tuple[QImage, QRectF]] = {}

    def set_cards(self, cards: Sequence[JointCard]) -> None:
        """Show these; where the joints are the same and in the same order, only their words change.

        Pictures stay, those of joints that are not shown too: they are there again at the step back.
        """
        same = [one.joint for one in cards] == [one.joint for one in self.cards]
        if same:
            self.cards = tuple(cards)
            self._tell(0, len(self.cards) - 1)
            return
        self.beginResetModel()
        self.cards = tuple(cards)
        self.endResetModel()

    def set_picture(self, joint: str, image: QImage, view: QRectF) -> None:
        """The curves of one joint."""
        row = self.row_of(joint)
        if row >= 0:
            self.pictures[joint] = (image, view)
            self._tell(row, row)

    def row_of(self, joint: str) -> int:
        """Where a joint stands; -1 where it is not shown."""
        return next((row for row, one in enumerate(self.cards) if one.joint == joint), -1)

    def _tell(self, first: int, last: int) -> None:
        if last >= first:
            self.dataChanged.emit(self.index(first), self.index(last))

    def rowCount(self, parent: Index = NOWHERE) -> int:
        """Joints."""
        return 0 if parent.isValid() else len(self.cards)

    def data(self, index: Index, role: int = int(Qt.ItemDataRole.DisplayRole)) -> Any:
        """Title, tip, and the words for a screen reader."""
        if not index.isValid() or index.row() >= len(self.cards):
            return None
        card = self.cards[index.row()]
        if role == Qt.ItemDataRole.DisplayRole:
            return card.title
        if role == Qt.ItemDataRole.ToolTipRole:
            return plain_tip("\n".join(text for text in (card.wrong, card.check) if text))
        return card.spoken() if role == Qt.ItemDataRole.AccessibleTextRole else None
