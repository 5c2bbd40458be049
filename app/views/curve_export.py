"""Pictures of the curve plot: PNG, SVG, PDF and the clipboard, on white paper whatever the screen shows."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import QMarginsF, QRect, QRectF, QSize, QSizeF
from PySide6.QtGui import QColor, QImage, QPageLayout, QPageSize, QPainter, QPdfWriter
from PySide6.QtSvg import QSvgGenerator

from analysis.errors import TautographError
from app.look import LIGHT, Look
from app.messages import tr
from app.views.curve_plot import CurvePlot

#: Dots per inch at which one scene unit is one dot: the plot's ticks and texts are laid out for it, and at
#: any other resolution they would be laid out anew, and wrongly.
_SCREEN_DPI = 96
#: Pixels per unit of the crowd's picture on paper.
_PAPER_PIXELS = 3.0
_POINTS_PER_INCH = 72.0


class PictureError(TautographError):
    """The picture could not be written; says why."""


def twin(plot: CurvePlot, width: int, height: int, look: Look, pixels_per_unit: float) -> CurvePlot:
    """A second plot of the same state, range, cursors and evidence, at another size and in another look.

    Drawing a plot laid out for the paper's size keeps ticks, texts and overlays right, which scaling the one
    on the screen does not. The caller closes it.
    """
    copy = CurvePlot(look)
    copy.resize(width, height)
    copy.setFont(plot.font())
    copy.show_state(plot.state)
    copy.box.show_range(plot.box.range())
    copy.cursors.set_positions(plot.cursors.positions)
    copy.cursors.setVisible(plot.cursors.isVisible())
    copy.evidence.set_evidence(plot.evidence.pieces)
    copy.lay_out()
    copy.box.show_range(plot.box.range())
    copy.draw_now(pixels_per_unit)
    return copy


def picture_of(plot: CurvePlot, width: int, height: int, look: Look, scale: float) -> QImage:
    """An image of `width` x `height` units at `scale` pixels each."""
    copy = twin(plot, width, height, look, scale)
    try:
        image = QImage(round(width * scale), round(height * scale), QImage.Format.Format_ARGB32_Premultiplied)
        image.fill(QColor(look.background))
        painter = QPainter(image)
        painter.setRenderHints(QPainter.RenderHint.Antialiasing | QPainter.RenderHint.SmoothPixmapTransform)
        copy.scene().render(painter, QRectF(0, 0, width * scale, height * scale), QRectF(0, 0, width, height))
        painter.end()
        image.setDevicePixelRatio(scale)
        return image
    finally:
        copy.shut_down()


def export_picture(plot: CurvePlot, path: Path, width: int, height: int) -> None:
    """Write a picture by the file's ending: ``.png``, ``.svg`` or ``.pdf``.

    Raises
    ------
    PictureError
        Where the ending is another, or the file cannot be written.
    """
    ending = path.suffix.lower()
    if ending == ".png":
        image = picture_of(plot, width, height, LIGHT, _PAPER_PIXELS)
        written = image.save(str(path), "PNG")  # type: ignore[call-overload]
    elif ending in (".svg", ".pdf"):
        copy = twin(plot, width, height, LIGHT, _PAPER_PIXELS)
        try:
            written = (_write_svg if ending == ".svg" else _write_pdf)(copy, path, width, height)
        finally:
            copy.shut_down()
    else:
        raise PictureError(tr("{}: a picture ends in .png, .svg or .pdf", path))
    if not written:
        raise PictureError(tr("{} could not be written; is the folder there, and may you write to it?", path))


def _write_svg(plot: CurvePlot, path: Path, width: int, height: int) -> bool:
    generator = QSvgGenerator()
    generator.setFileName(str(path))
    generator.setSize(QSize(width, height))
    generator.setViewBox(QRect(0, 0, width, height))
    generator.setResolution(_SCREEN_DPI)
    generator.setTitle(tr("Tightening curves"))
    return _render(plot, QPainter(generator), width, height)


def _write_pdf(plot: CurvePlot, path: Path, width: int, height: int) -> bool:
    writer = QPdfWriter(str(path))
    writer.setResolution(_SCREEN_DPI)
    inch = _POINTS_PER_INCH / _SCREEN_DPI
    size = QSizeF(width * inch, height * inch)
    writer.setPageSize(QPageSize(size, QPageSize.Unit.Point, "", QPageSize.SizeMatchPolicy.ExactMatch))
    writer.setPageMargins(QMarginsF(), QPageLayout.Unit.Point)
    writer.setTitle(tr("Tightening curves"))
    return _render(plot, QPainter(writer), width, height)


def _render(plot: CurvePlot, painter: QPainter, width: int, height: int) -> bool:
    if not painter.isActive():
        return False
    area = QRectF(0, 0, width, height)
    painter.fillRect(area, QColor(plot.look.background))
    plot.scene().render(painter, area, area)
    return painter.end()
