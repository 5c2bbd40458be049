"""A painter that works in points: text, lines and shapes in the report's fonts and colours."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from functools import lru_cache
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QBrush, QColor, QFontMetricsF, QImage, QPainter, QPen, QPolygonF, qRgb

from analysis.report.palette import INK, PAPER
from analysis.shown_text import harmless
from app.printing.fonts import UNITS_PER_POINT, font

TextAlign = Literal["left", "right", "centre"]
Points = Sequence[tuple[float, float]] | NDArray[np.float64]


@lru_cache(maxsize=100_000)
def text_width(text: str, size_pt: float, bold: bool = False) -> float:
    """Advance width of a text, points."""
    return QFontMetricsF(font(size_pt, bold)).horizontalAdvance(text) / UNITS_PER_POINT


class Ink:
    """Draws in points on a painter whose unit is a point; y grows downward.

    Parameters
    ----------
    instead : Mapping, optional
        Colours of the paper to those that stand for them on other ground.
    """

    def __init__(self, painter: QPainter, instead: Mapping[str, str] | None = None) -> None:
        self._painter = painter
        self._instead = instead or {}
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setRenderHint(QPainter.RenderHint.TextAntialiasing)
        painter.setRenderHint(QPainter.RenderHint.LosslessImageRendering)

    def text(
        self,
        x: float,
        y: float,
        text: str,
        size_pt: float,
        *,
        bold: bool = False,
        colour: str = INK,
        align: TextAlign = "left",
        degrees: float = 0.0,
    ) -> None:
        """A line of text with its base line at y; turned about (x, y) by `degrees` where given."""
        painter = self._painter
        painter.save()
        painter.translate(x, y)
        if degrees:
            painter.rotate(degrees)
        painter.scale(1 / UNITS_PER_POINT, 1 / UNITS_PER_POINT)
        painter.setFont(font(size_pt, bold))
        painter.setPen(self._colour(colour))
        shift = {"left": 0.0, "right": 1.0, "centre": 0.5}[align] * text_width(text, size_pt, bold)
        painter.drawText(QPointF(-shift * UNITS_PER_POINT, 0.0), harmless(text))
        painter.restore()

    def line(
        self,
        x0: float,
        y0: float,
        x1: float,
        y1: float,
        colour: str,
        *,
        width_pt: float = 0.5,
        dashes: tuple[float, float] | None = None,
    ) -> None:
        """A straight line; dashes in points."""
        self._painter.setPen(self._pen(colour, width_pt, dashes))
        self._painter.drawLine(QPointF(x0, y0), QPointF(x1, y1))

    def polyline(
        self, points: Points, colour: str, width_pt: float, dashes: tuple[float, float] | None = None
    ) -> None:
        """A line through points."""
        self._painter.setPen(self._pen(colour, width_pt, dashes))
        self._painter.setBrush(Qt.BrushStyle.NoBrush)
        self._painter.drawPolyline(_polygon(points))

    def polygon(
        self, points: Points, fill: str, opacity: float = 1.0, edge: str | None = None, edge_pt: float = 0.5
    ) -> None:
        """A filled area."""
        colour = self._colour(fill)
        colour.setAlphaF(opacity)
        self._painter.setPen(QPen(Qt.PenStyle.NoPen) if edge is None else self._pen(edge, edge_pt))
        self._painter.setBrush(QBrush(colour))
        self._painter.drawPolygon(_polygon(points))
        self._painter.setBrush(Qt.BrushStyle.NoBrush)

    def rectangle(
        self,
        x: float,
        y: float,
        width: float,
        height: float,
        *,
        fill: str | None = None,
        edge: str | None = None,
        edge_pt: float = 0.5,
    ) -> None:
        """A rectangle, filled or outlined."""
        self._painter.setPen(QPen(Qt.PenStyle.NoPen) if edge is None else self._pen(edge, edge_pt))
        self._painter.setBrush(QBrush(Qt.BrushStyle.NoBrush) if fill is None else QBrush(self._colour(fill)))
        self._painter.drawRect(QRectF(x, y, width, height))
        self._painter.setBrush(Qt.BrushStyle.NoBrush)

    def circle(
        self, x: float, y: float, radius: float, fill: str, edge: str, *, edge_pt: float = 0.5
    ) -> None:
        """A filled circle."""
        self._painter.setPen(self._pen(edge, edge_pt))
        self._painter.setBrush(QBrush(self._colour(fill)))
        self._painter.drawEllipse(QPointF(x, y), radius, radius)
        self._painter.setBrush(Qt.BrushStyle.NoBrush)

    def grey_picture(
        self, x: float, y: float, width: float, height: float, levels: NDArray[np.uint8]
    ) -> None:
        """A grey picture stretched over a rectangle."""
        rows, columns = levels.shape
        data = np.ascontiguousarray(levels)
        image = QImage(data.data, columns, rows, columns, QImage.Format.Format_Grayscale8).copy()
        if self._instead:  # from the ink's colour to the ground's
            ink, ground = self._colour(INK), self._colour(PAPER)
            parts = (QColor.red, QColor.green, QColor.blue)
            shades = np.stack([np.linspace(part(ink), part(ground), 256) for part in parts], axis=1)
            image = QImage(data.data, columns, rows, columns, QImage.Format.Format_Indexed8).copy()
            image.setColorTable([qRgb(*shade) for shade in np.rint(shades).astype(int).tolist()])
        self._painter.drawImage(QRectF(x, y, width, height), image)

    def picture(self, x: float, y: float, width: float, height: float, image: QImage) -> None:
        """Any picture stretched over a rectangle."""
        self._painter.drawImage(QRectF(x, y, width, height), image)

    @contextmanager
    def scaled(self, x: float, y: float, scale: float) -> Iterator[None]:
        """Draw in another size, with the origin at (x, y)."""
        self._painter.save()
        self._painter.translate(x, y)
        self._painter.scale(scale, scale)
        try:
            yield
        finally:
            self._painter.restore()

    def clip(self, x: float, y: float, width: float, height: float) -> None:
        """Draw only inside this rectangle until `unclip`."""
        self._painter.save()
        self._painter.setClipRect(QRectF(x, y, width, height))

    def unclip(self) -> None:
        """Undo the last `clip`."""
        self._painter.restore()

    def _colour(self, name: str) -> QColor:
        return QColor(self._instead.get(name, name))

    def _pen(self, colour: str, width_pt: float, dashes: tuple[float, float] | None = None) -> QPen:
        pen = QPen(self._colour(colour), width_pt)
        pen.setJoinStyle(Qt.PenJoinStyle.RoundJoin)
        pen.setCapStyle(Qt.PenCapStyle.FlatCap)
        if dashes is not None:
            pen.setDashPattern([part / width_pt for part in dashes])
        return pen


def _polygon(points: Points) -> QPolygonF:
    # Hundredths of a point are finer than any printer, and short in the file.
    rounded = np.round(np.asarray(points, np.float64), 2)
    return QPolygonF([QPointF(x, y) for x, y in rounded.tolist()])
