"""How the card of a joint is drawn: its curves first, then how many, what is wrong, what to do."""

from __future__ import annotations

import math

from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QFont, QFontMetricsF, QPainter, QPen, QTextLayout, QTextOption
from PySide6.QtWidgets import QStyle, QStyledItemDelegate, QStyleOptionViewItem

from analysis.catalogue.verdicts import VERDICT_OF
from analysis.joint.definition import finite_ends
from app.display.look import LIGHT, Look
from app.display.messages import count_words, grouped, tr
from app.items.verdict_mark import draw_mark
from app.models import Index
from app.views.overview.card import JointCard
from app.views.overview.card_list import CardList

#: Between cards, within a card, between its lines (px).
GAP, PAD, LINE = 6, 12, 4
#: Least and greatest width of a card, least height of its picture, and its greatest height as a share of its
#: width (px; own choice, by eye at 1366 and 1920).
LEAST_WIDTH, MOST_WIDTH, LEAST_PICTURE, MOST_PICTURE_SHARE = 300, 700, 118, 0.55
_BAR, _MARK, _RADIUS = 5.0, 10.0, 6.0
_WRONG_LINES, _CHECK_LINES = 2, 2


class CardDelegate(QStyledItemDelegate):
    """Draws cards of one size, that of `fit`."""

    def __init__(self, parent: object = None) -> None:
        super().__init__(parent)  # type: ignore[arg-type]
        self.look: Look = LIGHT
        self.size = QSize(LEAST_WIDTH, 300)
        self.words_height = 180

    def fit(self, room: QSize, n: int, font: QFont) -> QSize:
        """Size of a card so that all are seen at once and as large as can be, where that is possible."""
        lines = 2 + 1 + _WRONG_LINES + _CHECK_LINES + 1
        gaps = 2 * (GAP + PAD) + 7 * LINE + _BAR
        self.words_height = math.ceil(gaps + lines * QFontMetricsF(font).lineSpacing())
        most = max(room.width() // LEAST_WIDTH, 1)
        columns, height = most, self.words_height + LEAST_PICTURE
        for fewer in range(1, most + 1):
            each = room.height() // max(math.ceil(n / fewer), 1)
            if each >= height and room.width() // fewer <= MOST_WIDTH:
                columns = fewer
                tallest = self.words_height + int(MOST_PICTURE_SHARE * room.width() / fewer)
                height = max(min(each, tallest), height)
                break
        self.size = QSize(max(room.width() // columns, 1), height)
        return self.size

    def picture_size(self) -> QSize:
        """Room for the curves, px."""
        return QSize(self.size.width() - 2 * (GAP + PAD), self.size.height() - self.words_height)

    def sizeHint(self, option: QStyleOptionViewItem, index: Index) -> QSize:
        """All cards are alike."""
        return self.size

    def paint(self, painter: QPainter, option: QStyleOptionViewItem, index: Index) -> None:
        """Draw one card."""
        model = index.model()
        assert isinstance(model, CardList)
        card, room = model.cards[index.row()], QRectF(option.rect).adjusted(GAP, GAP, -GAP, -GAP)
        painter.save()
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        height = self.picture_size().height()
        _Card(painter, card, self.look, option).draw(room, height, model.pictures.get(card.joint))
        painter.restore()


class _Card:
    """One card being drawn, from the top down."""

    def __init__(self, painter: QPainter, card: JointCard, look: Look, option: QStyleOptionViewItem) -> None:
        self.painter, self.card, self.look = painter, card, look
        self.font = QFont(option.font)
        self.metrics = QFontMetricsF(self.font)
        self.current = bool(option.state & QStyle.StateFlag.State_HasFocus)
        self.over = bool(option.state & QStyle.StateFlag.State_MouseOver)

    def draw(self, room: QRectF, height: float, picture: tuple[object, QRectF] | None) -> None:
        painter, look = self.painter, self.look
        marked = self.current or self.over
        painter.setPen(QPen(QColor(look.focus if marked else look.grid), 2.0 if self.current else 1.0))
        painter.setBrush(QColor(look.background))
        painter.drawRoundedRect(room.adjusted(0.5, 0.5, -0.5, -0.5), _RADIUS, _RADIUS)
        inner = room.adjusted(PAD, PAD, -PAD, -PAD)
        y = self._head(inner)
        y = self._curves(QRectF(inner.left(), y, inner.width(), height), picture)
        y = self._counts(inner, y)
        wrong = look.foreground if self.card.wants_attention else look.faint
        y = self._paragraph(self.card.wrong, inner, y, _WRONG_LINES, wrong)
        self._paragraph(self.card.check, inner, y, _CHECK_LINES, look.faint)
        self._foot(inner)

    def _text(
        self, place: QRectF, flags: Qt.AlignmentFlag, text: str, colour: str, *, bold: bool = False
    ) -> None:
        font = QFont(self.font)
        font.setWeight(QFont.Weight.DemiBold if bold else QFont.Weight.Normal)
        self.painter.setFont(font)
        self.painter.setPen(QColor(colour))
        shown = QFontMetricsF(font).elidedText(text, Qt.TextElideMode.ElideRight, place.width())
        self.painter.drawText(place, flags | Qt.AlignmentFlag.AlignVCenter, shown)

    def _line(self, inner: QRectF, y: float) -> QRectF:
        return QRectF(inner.left(), y, inner.width(), self.metrics.lineSpacing())

    def _head(self, inner: QRectF) -> float:
        card, look, left, right = (
            self.card,
            self.look,
            Qt.AlignmentFlag.AlignLeft,
            Qt.AlignmentFlag.AlignRight,
        )
        first = self._line(inner, inner.top())
        badge = tr("class {0}", card.risk_class) if card.risk_class else ""
        wide = self.metrics.horizontalAdvance(badge) + (PAD if badge else 0)
        self._text(first.adjusted(0, 0, -wide, 0), left, card.title, look.foreground, bold=True)
        self._text(first, right, badge, look.faint)
        second = self._line(inner, first.bottom() + LINE / 2)
        name = card.joint if card.joint != card.title else ""
        words = " · ".join(filter(None, (name, count_words(card.n, "trace", "traces"))))
        self._text(second, left, words, look.faint)
        return second.bottom() + LINE

    def _curves(self, place: QRectF, picture: tuple[object, QRectF] | None) -> float:
        painter = self.painter
        painter.fillRect(place, QColor(self.look.panel))
        if picture is not None:
            image, view = picture
            painter.save()
            painter.setClipRect(place)
            self._window(place, view)
            painter.drawImage(place, image)  # type: ignore[call-overload]
            painter.restore()
        line = self._line(place.adjusted(LINE, 0, -LINE, 0), place.top() + LINE / 2)
        for words in self.card.limits:  # where the rundown leaves room
            self._text(line, Qt.AlignmentFlag.AlignLeft, words, self.look.faint)
            line.translate(0.0, line.height())
        return place.bottom() + LINE

    def _window(self, place: QRectF, view: QRectF) -> None:
        """The acceptance window behind the curves; a side that has no limit runs to the edge."""
        card = self.card
        if card.torque_nm is None and card.angle_deg is None:
            return
        (low_x, high_x), (low_y, high_y) = (
            [edge if end is None else end for end, edge in zip(finite_ends(limits), edges, strict=True)]
            for limits, edges in (
                (card.angle_deg, (view.left(), view.right())), (card.torque_nm, (view.top(), view.bottom())),
            )
        )  # fmt: skip

        def at(x: float, y: float) -> QPointF:
            return QPointF(
                place.left() + (x - view.left()) / view.width() * place.width(),
                place.bottom() - (y - view.top()) / view.height() * place.height(),
            )

        window = QRectF(at(low_x, high_y), at(high_x, low_y))
        tint = QColor(VERDICT_OF["ok"].colour)
        self.painter.setPen(QPen(tint, 1.0))
        tint.setAlphaF(0.13)
        self.painter.setBrush(tint)
        self.painter.drawRect(window)

    def _counts(self, inner: QRectF, y: float) -> float:
        """A bar in the verdicts' shares, and their marks with numbers."""
        painter, card = self.painter, self.card
        x = inner.left()
        for word, n in card.counts.items():
            wide = inner.width() * n / max(card.n, 1)
            if n:
                wide = max(wide, 2.0)  # a single one among thousands is seen
                colour = self.look.crowd if word == "ok" else VERDICT_OF[word].colour
                painter.fillRect(QRectF(x, y, min(wide, inner.right() - x), _BAR), QColor(colour))
                x += wide
        line = self._line(inner, y + _BAR + LINE)
        self._marks(line, [(word, f"{grouped(n)} {tr(word)}", n) for word, n in card.counts.items() if n])
        return line.bottom() + LINE

    def _marks(self, line: QRectF, parts: list[tuple[str, str, int]]) -> None:
        """Mark, number and word of each verdict; numbers alone where the words have no room."""
        wide = self.metrics.horizontalAdvance
        room = sum(_MARK + LINE + wide(text) + PAD for _, text, _ in parts) - PAD
        x = line.left()
        for word, text, n in parts:
            shown = text if room <= line.width() else grouped(n)
            draw_mark(self.painter, word, QPointF(x + _MARK / 2, line.center().y()), _MARK)
            place = QRectF(x + _MARK + LINE, line.top(), wide(shown) + 2.0, line.height())
            self._text(place, Qt.AlignmentFlag.AlignLeft, shown, self.look.foreground)
            x = place.right() + PAD

    def _paragraph(self, text: str, inner: QRectF, y: float, most: int, colour: str) -> float:
        """Up to so many lines, the last one shortened."""
        layout = QTextLayout(text, self.font)
        layout.setTextOption(QTextOption())
        layout.beginLayout()
        starts: list[int] = []
        while (line := layout.createLine()).isValid():
            line.setLineWidth(inner.width())
            starts.append(line.textStart())
        layout.endLayout()
        for k, start in enumerate(starts[:most]):
            stop = starts[k + 1] if k + 1 < min(len(starts), most) else len(text)
            self._text(self._line(inner, y), Qt.AlignmentFlag.AlignLeft, text[start:stop].strip(), colour)
            y += self.metrics.lineSpacing()
        return y + LINE

    def _foot(self, inner: QRectF) -> None:
        card, look = self.card, self.look
        line = self._line(inner, inner.bottom() - self.metrics.lineSpacing())
        wide = self.metrics.horizontalAdvance(card.capability)
        self._text(
            line.adjusted(0, 0, -wide - PAD if wide else 0, 0),
            Qt.AlignmentFlag.AlignLeft,
            card.holds,
            look.foreground,
        )
        self._text(line, Qt.AlignmentFlag.AlignRight, card.capability, look.foreground)
