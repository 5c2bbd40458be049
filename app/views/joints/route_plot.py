"""Every route to one clamp force on one axis, in the colours of the window."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QBrush, QColor, QPainter, QPaintEvent, QPen, QPolygonF, QResizeEvent
from PySide6.QtWidgets import QSizePolicy, QWidget

from analysis.joint.force_axis import RESULT
from analysis.report.ticks import ticks
from app.display.look import LIGHT, Look
from app.display.messages import plain_tip, tr

if TYPE_CHECKING:
    from analysis.joint.force_axis import ForceAxis, ForceMark

#: Beside the rows' names and figures and the edges, px; half the height of a bar and of the diamond, px; room
#: of one tick's figure, in its widths (own choice).
_GAP_PX, _BAR_PX, _DIAMOND_PX, _TICK_ROOM = 8, 4, 5, 1.7
_LEFT = int(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter)
_RIGHT = int(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
_CENTRE = int(Qt.AlignmentFlag.AlignCenter)
_WRAPPED = int(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignTop) | int(Qt.TextFlag.TextWordWrap)


class RoutePlot(QWidget):
    """Names on the left, bars in the middle, figures on the right; lines are named above, each in a line of
    its own."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.look: Look = LIGHT
        self.shown: ForceAxis | None = None
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.setAccessibleName(tr("Clamp force by each route"))

    def set_look(self, look: Look) -> None:
        """Other colours."""
        self.look = look
        self.update()

    def show_axis(self, shown: ForceAxis | None) -> None:
        """Show these routes, or the reason why there is none; None hides all."""
        self.shown = shown
        words = "" if shown is None else shown.words
        self.setAccessibleDescription(words)
        self.setToolTip(plain_tip(words))
        self.setVisible(shown is not None)
        self._take_height()
        self.update()

    def sizeHint(self) -> QSize:
        """As wide as there is room."""
        return QSize(480, self._height(self.width()))

    def resizeEvent(self, event: QResizeEvent) -> None:
        """The caption breaks anew."""
        super().resizeEvent(event)
        self._take_height()

    def paintEvent(self, _event: QPaintEvent) -> None:
        """Draw names, bars, figures and lines."""
        painter = QPainter(self)
        painter.fillRect(self.rect(), QColor(self.look.background))
        if self.shown is None:
            return
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setPen(QColor(self.look.foreground))
        line = self._line()
        if not self.shown.rows:
            painter.drawText(QRectF(self.rect()).adjusted(4, 2, -4, -2), _WRAPPED, self.shown.reason)
            return
        painter.drawText(QRectF(4, 0, self.width() - 8, line), _LEFT, self.shown.title)
        top = line * (1 + len(self.shown.marks))
        bottom = top + line * len(self.shown.rows)
        self._draw_ticks(painter, top, bottom)
        for k, mark in enumerate(self.shown.marks):
            self._draw_line(painter, mark, line * (1 + k), bottom)
        for k, mark in enumerate(self.shown.marks):
            self._write_name(painter, mark, line * (1 + k))
        self._draw_rows(painter, top)
        painter.setPen(QColor(self.look.faint))
        painter.drawText(self._caption_box(bottom + line), _WRAPPED, self.shown.caption)

    def _draw_ticks(self, painter: QPainter, top: float, bottom: float) -> None:
        assert self.shown is not None
        low, high = self.shown.range
        left, right = self._span()
        room = self.fontMetrics().horizontalAdvance("000.0") * _TICK_ROOM
        for tick in ticks(low, high, max(2, int((right - left) / room))):
            x = self._x(tick.value)
            painter.setPen(QColor(self.look.grid))
            painter.drawLine(QPointF(x, top), QPointF(x, bottom))
            painter.setPen(QColor(self.look.foreground))
            painter.drawText(QRectF(x - 40, bottom, 80, self._line()), _CENTRE, tick.text)

    def _draw_line(self, painter: QPainter, mark: ForceMark, top: float, bottom: float) -> None:
        x = self._x(mark.force)
        painter.setPen(QPen(QColor(self.look.foreground), 1, Qt.PenStyle.DashLine))
        painter.drawLine(QPointF(x, top + 2), QPointF(x, bottom))

    def _write_name(self, painter: QPainter, mark: ForceMark, top: float) -> None:
        """Beside its line, on a ground of its own: another line may pass behind it."""
        box = self.name_box(mark, top)
        painter.fillRect(box, QColor(self.look.background))
        painter.setPen(QColor(self.look.foreground))
        painter.drawText(box, _CENTRE, mark.text)

    def name_box(self, mark: ForceMark, top: float) -> QRectF:
        """Place of a line's name."""
        assert self.shown is not None
        width = self.fontMetrics().horizontalAdvance(mark.text) + 4.0
        x = self._x(mark.force)
        left = x - width - 2 if self.shown.before(mark) else x + 2
        return QRectF(min(max(left, 0.0), self.width() - width), top + 1, width, self._line() - 2)

    def _draw_rows(self, painter: QPainter, top: float) -> None:
        assert self.shown is not None
        line, (left, right) = self._line(), self._span()
        for k, row in enumerate(self.shown.rows):
            y = top + line * (k + 0.5)
            painter.setPen(QColor(self.look.foreground))
            painter.drawText(QRectF(0, y - line / 2, left - _GAP_PX, line), _RIGHT, tr(row.name))
            figures = QRectF(right + _GAP_PX, y - line / 2, self.width() - right - _GAP_PX, line)
            painter.drawText(figures, _LEFT, row.text)
            colour = QColor(self.look.focus if row.name == RESULT else self.look.crowd)
            x0, x1 = self._x(row.low), self._x(row.high)
            painter.fillRect(QRectF(x0, y - _BAR_PX, max(x1 - x0, 1.0), 2 * _BAR_PX), colour)
            if row.best is None:
                continue
            x, size = self._x(row.best), _DIAMOND_PX
            painter.setPen(QPen(QColor(self.look.background), 1))
            painter.setBrush(QBrush(QColor(self.look.foreground)))
            corners = ((x - size, y), (x, y - size), (x + size, y), (x, y + size))
            painter.drawPolygon(QPolygonF([QPointF(*corner) for corner in corners]))

    def _span(self) -> tuple[float, float]:
        """Left and right end of the axis, px: between the names and the figures."""
        assert self.shown is not None
        metrics = self.fontMetrics()
        names = max(metrics.horizontalAdvance(tr(row.name)) for row in self.shown.rows)
        figures = max(metrics.horizontalAdvance(row.text) for row in self.shown.rows)
        left = names + 2.0 * _GAP_PX
        return left, max(self.width() - figures - 2.0 * _GAP_PX, left + 1.0)

    def _x(self, force: float) -> float:
        assert self.shown is not None
        (low, high), (left, right) = self.shown.range, self._span()
        return left + (force - low) / (high - low) * (right - left)

    def _line(self) -> int:
        return self.fontMetrics().height() + 3

    def _caption_box(self, top: float, width: int | None = None) -> QRectF:
        return QRectF(4, top, max((self.width() if width is None else width) - 8, 60), 10_000)

    def _height(self, width: int) -> int:
        if self.shown is None:
            return 0
        text, lines = self.shown.reason, 0
        if self.shown.rows:
            text, lines = self.shown.caption, 2 + len(self.shown.marks) + len(self.shown.rows)
        box = self._caption_box(0.0, width).toRect()
        return lines * self._line() + self.fontMetrics().boundingRect(box, _WRAPPED, text).height() + 4

    def _take_height(self) -> None:
        height = self._height(self.width())
        if height != self.height():
            self.setFixedHeight(height)
