"""How much of the bolt's yield strength is used: a plain bar with hatched steps, readable without colour."""

from __future__ import annotations

from PySide6.QtCore import QPointF, QRect, QRectF, QSize, Qt
from PySide6.QtGui import QBrush, QColor, QPainter, QPaintEvent, QPen, QResizeEvent
from PySide6.QtWidgets import QSizePolicy, QWidget

from analysis.catalogue.verdicts import VERDICT_OF
from app.display.look import LIGHT, Look
from app.display.messages import plain_tip, tr

#: The bar ends here; more is written beside it.
_FULL = 1.2
#: Assembly use that VDI 2230 aims at.
AIM = 0.9
_WIDTH_PX = 260
_WRAPPED = int(Qt.AlignmentFlag.AlignLeft) | int(Qt.TextFlag.TextWordWrap)


class UtilisationGauge(QWidget):
    """Low, middle and high of the combined stress over the minimum yield strength."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.look: Look = LIGHT
        self._range: tuple[float, float, float] | None = None
        self._reason = tr("not evaluated")
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.setAccessibleName(tr("Share of the minimum yield strength"))

    def set_look(self, look: Look) -> None:
        """Other colours."""
        self.look = look
        self.update()

    def set_share(self, low: float, middle: float, high: float) -> None:
        """Show a share with its range."""
        self._range = (low, middle, high)
        self.setAccessibleDescription(self.words())
        self.setToolTip(plain_tip(self.words()))
        self.updateGeometry()
        self.update()

    def set_reason(self, reason: str) -> None:
        """Say why there is no share."""
        self._range, self._reason = None, reason
        self.setAccessibleDescription(reason)
        self.updateGeometry()
        self.update()

    def words(self) -> str:
        """What the bar shows."""
        if self._range is None:
            return self._reason
        low, middle, high = (f"{100 * share:.0f}" for share in self._range)
        return tr("{0} % of the minimum yield strength ({1} to {2} %), estimated", middle, low, high)

    def sizeHint(self) -> QSize:
        """Wide, and three lines high: words, bar, scale; without a share, the reason in whole."""
        line = self.fontMetrics().height()
        if self._range is not None:
            return QSize(_WIDTH_PX, line * 3 + 16)
        room = QRect(0, 0, max(self.width(), _WIDTH_PX), 0)
        return QSize(_WIDTH_PX, self.fontMetrics().boundingRect(room, _WRAPPED, self._reason).height())

    def resizeEvent(self, event: QResizeEvent) -> None:
        """A reason takes as many lines as it needs at this width."""
        super().resizeEvent(event)
        if event.oldSize().width() != event.size().width():
            self.updateGeometry()

    def paintEvent(self, _event: QPaintEvent) -> None:
        """Draw bar, range, marks and words."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        line = self.fontMetrics().height()
        painter.setPen(QColor(self.look.foreground))
        if self._range is None:
            painter.drawText(QRectF(self.rect()), _WRAPPED, self.words())
            return
        painter.drawText(QRectF(0, 0, self.width(), line), int(Qt.AlignmentFlag.AlignLeft), self.words())
        bar = QRectF(1, line + 6, self.width() - 2, line - 2)
        self._draw_bar(painter, bar, *self._range)

    def _draw_bar(self, painter: QPainter, bar: QRectF, low: float, middle: float, high: float) -> None:
        def x(share: float) -> float:
            return bar.left() + bar.width() * min(max(share, 0.0), _FULL) / _FULL

        painter.setPen(QPen(QColor(self.look.faint), 1))
        painter.setBrush(QBrush(QColor(self.look.background)))
        painter.drawRect(bar)
        beyond = QRectF(x(1.0), bar.top(), bar.right() - x(1.0), bar.height())
        painter.fillRect(beyond, QBrush(QColor(self.look.faint), Qt.BrushStyle.BDiagPattern))
        over = high > 1.0
        colour = QColor(VERDICT_OF["not ok"].colour if over else self.look.focus)
        painter.fillRect(QRectF(x(low), bar.top() + 3, max(x(high) - x(low), 2), bar.height() - 6), colour)
        painter.setPen(QPen(QColor(self.look.foreground), 3))
        painter.drawLine(QPointF(x(middle), bar.top()), QPointF(x(middle), bar.bottom()))
        painter.setPen(QPen(QColor(self.look.foreground), 1, Qt.PenStyle.DashLine))
        for share in (AIM, 1.0):
            painter.drawLine(QPointF(x(share), bar.top() - 4), QPointF(x(share), bar.bottom() + 4))
        painter.setPen(QColor(self.look.faint))
        for share, words in ((0.0, "0"), (0.5, "50 %"), (AIM, "90 %"), (1.0, tr("yield, 100 %"))):
            self._write_below(painter, x(share), bar.bottom() + 4, words, before=share == AIM)

    def _write_below(self, painter: QPainter, x: float, top: float, words: str, *, before: bool) -> None:
        """A name of the scale under its place; the one before another stands to the left of its line."""
        metrics = self.fontMetrics()
        width = metrics.horizontalAdvance(words) + 2
        left = x - width if before else x - (0.0 if x < width else 2.0)
        left = min(max(left, 0.0), self.width() - width)
        painter.drawText(QRectF(left, top, width, metrics.height()), int(Qt.AlignmentFlag.AlignCenter), words)
