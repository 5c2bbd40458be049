"""How verdict and margin are drawn in a table cell: shape and word, and a bar about the limit."""

from __future__ import annotations

from PySide6.QtCore import QModelIndex, QObject, QPersistentModelIndex, QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QBrush, QColor, QPainter, QPen, QPolygonF
from PySide6.QtWidgets import QApplication, QStyle, QStyledItemDelegate, QStyleOptionViewItem

from app.look import LIGHT, VERDICT_MARKS, Look
from app.models.verdict_table import MARGIN_ROLE, VERDICT_ROLE

Index = QModelIndex | QPersistentModelIndex

_MARK_PX = 11.0
_PAD_PX = 5.0
#: A margin of this share of half the window fills its side of the bar.
_FULL_SHARE = 1.0


class VerdictDelegate(QStyledItemDelegate):
    """The mark, then the word."""

    def paint(self, painter: QPainter, option: QStyleOptionViewItem, index: Index) -> None:
        """Draw one cell."""
        verdict = str(index.data(VERDICT_ROLE) or "")
        full = QStyleOptionViewItem(option)
        self.initStyleOption(full, index)
        style = QApplication.style()
        full.text = ""
        style.drawControl(QStyle.ControlElement.CE_ItemViewItem, full, painter)
        if verdict not in VERDICT_MARKS:
            return
        rect = QRectF(option.rect)
        draw_mark(
            painter, verdict, QPointF(rect.left() + _PAD_PX + _MARK_PX / 2, rect.center().y()), _MARK_PX
        )
        painter.save()
        painter.setPen(option.palette.text().color())
        words = rect.adjusted(_MARK_PX + 2 * _PAD_PX, 0, 0, 0)
        painter.drawText(words, int(Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignLeft), verdict)
        painter.restore()

    def sizeHint(self, option: QStyleOptionViewItem, index: Index) -> QSize:
        """Room for the mark beside the word."""
        size = super().sizeHint(option, index)
        return QSize(size.width() + int(_MARK_PX + 2 * _PAD_PX), size.height())


class MarginDelegate(QStyledItemDelegate):
    """A bar from the limit: to the right inside, to the left (and hatched) outside; the figure beside it."""

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.look: Look = LIGHT

    def paint(self, painter: QPainter, option: QStyleOptionViewItem, index: Index) -> None:
        """Draw one cell."""
        full = QStyleOptionViewItem(option)
        self.initStyleOption(full, index)
        words, full.text = full.text, ""
        QApplication.style().drawControl(QStyle.ControlElement.CE_ItemViewItem, full, painter)
        share = index.data(MARGIN_ROLE)
        if share is None:
            return
        rect = QRectF(option.rect).adjusted(_PAD_PX, 3, -_PAD_PX, -3)
        text_width = painter.fontMetrics().horizontalAdvance("\N{MINUS SIGN}100 %") + 4.0
        bar = rect.adjusted(0, 2, -text_width, -2)
        painter.save()
        self._draw_bar(painter, bar, float(share))
        painter.setPen(option.palette.text().color())
        painter.drawText(rect, int(Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignRight), words)
        painter.restore()

    def _draw_bar(self, painter: QPainter, bar: QRectF, share: float) -> None:
        zero = bar.left() + bar.width() / 3.0
        side = (bar.right() - zero) if share >= 0 else (zero - bar.left())
        length = side * min(abs(share) / _FULL_SHARE, 1.0)
        colour = QColor(self.look.faint if share >= 0 else VERDICT_MARKS["not ok"].colour)
        filled = QRectF(zero if share >= 0 else zero - length, bar.top(), length, bar.height())
        hatch = Qt.BrushStyle.SolidPattern if share >= 0 else Qt.BrushStyle.BDiagPattern
        painter.fillRect(filled, QBrush(colour, hatch))
        if share < 0:
            painter.setPen(QPen(colour, 1))
            painter.drawRect(filled)
        painter.setPen(QPen(QColor(self.look.foreground), 1))
        painter.drawLine(QPointF(zero, bar.top() - 2), QPointF(zero, bar.bottom() + 2))


def draw_mark(painter: QPainter, verdict: str, centre: QPointF, size: float) -> None:
    """The verdict's shape in its colour, centred."""
    mark = VERDICT_MARKS[verdict]
    half = size / 2.0
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    colour = QColor(mark.colour)
    painter.setPen(QPen(colour, 1.6))
    # "not evaluated" is hollow: nothing is known, nothing is filled.
    painter.setBrush(Qt.BrushStyle.NoBrush if mark.shape == "diamond" else QBrush(colour))
    x, y = centre.x(), centre.y()
    if mark.shape == "circle":
        painter.drawEllipse(centre, half - 1, half - 1)
    elif mark.shape == "square":
        painter.drawRect(QRectF(x - half + 1, y - half + 1, size - 2, size - 2))
    else:
        below = y + half - 1
        corners = (
            [QPointF(x, y - half + 0.5), QPointF(x + half, below), QPointF(x - half, below)]
            if mark.shape == "triangle"
            else [QPointF(x, y - half), QPointF(x + half, y), QPointF(x, y + half), QPointF(x - half, y)]
        )
        painter.drawPolygon(QPolygonF(corners))
    painter.restore()
