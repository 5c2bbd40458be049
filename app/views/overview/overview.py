"""The shift at a glance: the cards of its joints, as many beside each other as the width allows."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QEvent, QModelIndex, QRectF, QSize, Qt, QTimer, Signal
from PySide6.QtGui import QContextMenuEvent, QImage, QKeyEvent, QResizeEvent
from PySide6.QtWidgets import QListView, QStyle, QWidget

from app.display.look import Look
from app.display.messages import tr
from app.views.overview.card import JointCard
from app.views.overview.card_delegate import CardDelegate
from app.views.overview.card_list import CardList

#: Widths that come while the window is dragged larger ask for pictures once, after this time (own choice).
_REST_MS = 120
#: Qt's icon layout breaks a line that fills the room to the last pixel.
_SLACK_PX = 4


class Overview(QListView):
    """One card a joint; arrows move between them, Enter or a click opens one."""

    joint_opened = Signal(str)  #: (name)
    pictures_wanted = Signal()  #: The cards have another size, or others are shown.
    menu_wanted = Signal(str, object)  #: (name, place): a menu about this joint, at a place on the screen.

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.list = CardList(self)
        self.setModel(self.list)
        self.cards = CardDelegate(self)
        self.setItemDelegate(self.cards)
        self.setAccessibleName(tr("Joints"))
        self.setViewMode(QListView.ViewMode.IconMode)
        self.setMovement(QListView.Movement.Static)
        self.setResizeMode(QListView.ResizeMode.Adjust)
        self.setUniformItemSizes(True)
        self.setSelectionMode(QListView.SelectionMode.NoSelection)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setVerticalScrollMode(QListView.ScrollMode.ScrollPerPixel)
        self.setFrameShape(QListView.Shape.NoFrame)
        self.setMouseTracking(True)
        self.viewport().setAutoFillBackground(False)
        self.setObjectName("overview")
        self._rest = QTimer(self, singleShot=True, interval=_REST_MS)
        self._rest.timeout.connect(self.pictures_wanted)
        self.clicked.connect(self._open)

    def set_look(self, look: Look) -> None:
        """Colours; the pictures are asked for anew."""
        self.cards.look = look
        self.list.pictures.clear()
        self.viewport().update()
        self._rest.start(0)

    def set_cards(self, cards: Sequence[JointCard]) -> None:
        """Show these joints; the one that has the keyboard keeps it."""
        judged = any(card.counts for card in self.list.cards)
        current = self.current_joint if judged else ""  # the first verdicts bring the worst to the front
        self.list.set_cards(cards)
        self._fit_cards()
        row = max(self.list.row_of(current), 0)
        if cards and self.currentIndex().row() != row:
            self.setCurrentIndex(self.list.index(row))
        self._rest.start(0)

    @property
    def current_joint(self) -> str:
        """The joint whose card has the keyboard; empty where there is none."""
        row = self.currentIndex().row()
        return self.list.cards[row].joint if 0 <= row < len(self.list.cards) else ""

    def show_picture(self, joint: str, image: QImage, view: QRectF) -> None:
        """The curves of one joint, and which stretch of the plot they show."""
        self.list.set_picture(joint, image, view)

    def picture_size(self) -> QSize:
        """Room for the curves of a card, in px of the window."""
        return self.cards.picture_size()

    def _open(self, index: QModelIndex) -> None:
        if index.isValid():
            self.joint_opened.emit(self.list.cards[index.row()].joint)

    def _fit_cards(self) -> None:
        bar = self.style().pixelMetric(QStyle.PixelMetric.PM_ScrollBarExtent)
        room = QSize(self.width() - bar - _SLACK_PX, self.height() - _SLACK_PX)
        before = self.cards.size
        size = self.cards.fit(room, len(self.list.cards), self.font())
        if size != before or self.gridSize() != size:
            self.setGridSize(size)
            self._rest.start()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Enter opens the card that has the keyboard."""
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter, Qt.Key.Key_Space):
            self._open(self.currentIndex())
        else:
            super().keyPressEvent(event)

    def contextMenuEvent(self, event: QContextMenuEvent) -> None:
        """A menu about the joint under the mouse, or the one that has the keyboard."""
        keyboard = event.reason() == QContextMenuEvent.Reason.Keyboard
        index = self.currentIndex() if keyboard else self.indexAt(event.pos())
        if index.isValid():
            self.setCurrentIndex(index)
            place = self.visualRect(index).center() if keyboard else event.pos()
            self.menu_wanted.emit(self.list.cards[index.row()].joint, self.viewport().mapToGlobal(place))

    def resizeEvent(self, event: QResizeEvent) -> None:
        """As many cards beside each other as there is room for."""
        self._fit_cards()
        super().resizeEvent(event)

    def changeEvent(self, event: QEvent) -> None:
        """Cards grow with the font."""
        super().changeEvent(event)
        if event.type() == QEvent.Type.FontChange:
            self._fit_cards()
