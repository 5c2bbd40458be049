"""How verdict and margin are drawn in a table cell: shape and word, and a bar about the limit."""

from __future__ import annotations

from PySide6.QtCore import QObject, QPointF, QRect, QRectF, QSize, Qt
from PySide6.QtGui import QBrush, QColor, QFont, QFontMetricsF, QPainter, QPen
from PySide6.QtWidgets import QStyle, QStyledItemDelegate, QStyleOptionViewItem

from analysis.catalogue.verdicts import VERDICT_OF
from app.display.look import LIGHT, Look
from app.items.verdict_mark import MARK_RIM_PX, mark_image
from app.models import Index
from app.models.row_groups import RowGroup
from app.models.verdict_table import VerdictTableModel

_MARK_PX = 11.0
_PAD_PX = 5.0
#: A triangle that points to the right; turned about, down.
_ARROW = ((-2.5, -4.5), (3.0, 0.0), (-2.5, 4.5))
#: Between the edge of a cell and its text.
_TEXT_PAD_PX = 3
# Numbers, compared for every cell: members of an enumeration take ten times as long.
_SELECTED, _HAS_FOCUS = QStyle.StateFlag.State_Selected.value, QStyle.StateFlag.State_HasFocus.value
_BESIDE = int(Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignLeft)
_AT_THE_RIGHT = int(Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignRight)
#: A margin of this share of half the window fills its side of the bar.
_FULL_SHARE = 1.0


def draw_group(painter: QPainter, option: QStyleOptionViewItem, group: RowGroup) -> None:
    """The line of a group: whether it is folded, its colour, its name, its counts."""
    palette, rect = option.palette, QRectF(option.rect)
    painter.save()
    painter.fillRect(rect, palette.mid())
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(palette.text())
    middle = QPointF(rect.left() + _PAD_PX + _MARK_PX / 2, rect.center().y())
    painter.drawPolygon(
        [middle + QPointF(x, y) if group.folded else middle + QPointF(y, x) for x, y in _ARROW]
    )
    left = rect.left() + 2 * _PAD_PX + _MARK_PX
    if group.colour:
        painter.setBrush(QColor(group.colour))
        painter.drawRect(QRectF(left, middle.y() - _MARK_PX / 2, _MARK_PX, _MARK_PX))
        left += _MARK_PX + _PAD_PX
    font = QFont(option.font)
    font.setBold(True)
    painter.setFont(font)
    painter.setPen(palette.text().color())
    place = int(Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignLeft)
    painter.drawText(rect.adjusted(left - rect.left(), 0, 0, 0), place, group.title)
    left += QFontMetricsF(font).horizontalAdvance(group.title) + 2 * _PAD_PX
    painter.setFont(option.font)
    painter.drawText(rect.adjusted(left - rect.left(), 0, 0, 0), place, group.counts)
    painter.restore()


class CellDelegate(QStyledItemDelegate):
    """Text in a cell, asked for once.

    The usual delegate asks the model for seven things a cell, each a way into Python and back: painting the
    table then takes most of the time that another selection may take.
    """

    def paint(self, painter: QPainter, option: QStyleOptionViewItem, index: Index) -> None:
        """Draw one cell."""
        palette, rect, state = option.palette, option.rect, option.state.value
        chosen = bool(state & _SELECTED)
        if chosen:
            painter.fillRect(rect, palette.highlight())
        model = index.model()
        assert isinstance(model, VerdictTableModel)
        group = model.group(index.row())
        if group is not None:
            draw_group(painter, option, group)
            if state & _HAS_FOCUS:
                self._draw_focus(painter, option)
            return
        painter.setPen((palette.highlightedText() if chosen else palette.text()).color())
        self.paint_content(painter, option, rect, model, index)
        if state & _HAS_FOCUS:
            self._draw_focus(painter, option)

    def _draw_focus(self, painter: QPainter, option: QStyleOptionViewItem) -> None:
        painter.setPen(QPen(option.palette.link().color(), 1))  # the colour that focus has everywhere
        painter.drawRect(option.rect.adjusted(0, 0, -1, -1))

    def paint_content(
        self,
        painter: QPainter,
        option: QStyleOptionViewItem,
        rect: QRect,
        model: VerdictTableModel,
        index: Index,
    ) -> None:
        """Draw what stands in the cell; the pen has the colour of its text."""
        text = model.text(index)
        if text:
            room = rect.adjusted(_TEXT_PAD_PX, 0, -_TEXT_PAD_PX, 0)
            text = option.fontMetrics.elidedText(text, model.shortened_at(index), room.width())
            painter.drawText(room, model.alignment(index), text)


class VerdictDelegate(CellDelegate):
    """The mark, then the word."""

    def paint_content(
        self,
        painter: QPainter,
        option: QStyleOptionViewItem,
        rect: QRect,
        model: VerdictTableModel,
        index: Index,
    ) -> None:
        """Draw one verdict."""
        verdict = model.text(index)
        if verdict not in VERDICT_OF:
            return
        painter.drawText(rect.adjusted(int(_MARK_PX + 2 * _PAD_PX), 0, 0, 0), _BESIDE, verdict)
        image = mark_image(verdict, _MARK_PX, painter.device().devicePixelRatioF())
        side = int(_MARK_PX + 2.0 * MARK_RIM_PX)
        painter.drawImage(
            rect.left() + int(_PAD_PX - MARK_RIM_PX), rect.top() + (rect.height() - side) // 2, image
        )

    def sizeHint(self, option: QStyleOptionViewItem, index: Index) -> QSize:
        """Room for the mark beside the word."""
        size = super().sizeHint(option, index)
        return QSize(size.width() + int(_MARK_PX + 2 * _PAD_PX), size.height())


class MarginDelegate(CellDelegate):
    """A bar from the limit: to the right inside, to the left (and hatched) outside; the figure beside it."""

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.look: Look = LIGHT

    def paint_content(
        self,
        painter: QPainter,
        option: QStyleOptionViewItem,
        rect: QRect,
        model: VerdictTableModel,
        index: Index,
    ) -> None:
        """Draw one margin."""
        share = model.margin(index)
        if share is None:
            return
        inner = QRectF(rect).adjusted(_PAD_PX, 3, -_PAD_PX, -3)
        painter.drawText(inner, _AT_THE_RIGHT, model.text(index))
        text_width = option.fontMetrics.horizontalAdvance("\N{MINUS SIGN}10.53 deg") + 4.0
        self._draw_bar(painter, inner.adjusted(0, 2, -text_width, -2), share)

    def _draw_bar(self, painter: QPainter, bar: QRectF, share: float) -> None:
        zero = bar.left() + bar.width() / 3.0
        side = (bar.right() - zero) if share >= 0 else (zero - bar.left())
        length = side * min(abs(share) / _FULL_SHARE, 1.0)
        colour = QColor(self.look.faint if share >= 0 else VERDICT_OF["not ok"].colour)
        filled = QRectF(zero if share >= 0 else zero - length, bar.top(), length, bar.height())
        hatch = Qt.BrushStyle.SolidPattern if share >= 0 else Qt.BrushStyle.BDiagPattern
        painter.fillRect(filled, QBrush(colour, hatch))
        if share < 0:
            painter.setPen(QPen(colour, 1))
            painter.drawRect(filled)
        painter.setPen(QPen(QColor(self.look.foreground), 1))
        painter.drawLine(QPointF(zero, bar.top() - 2), QPointF(zero, bar.bottom() + 2))
