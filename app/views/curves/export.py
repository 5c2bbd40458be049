"""Pictures of the curve plot: PNG, SVG, PDF and the clipboard, on white paper whatever the screen shows."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import QBuffer, QIODevice, QMarginsF, QRect, QRectF, QSize, QSizeF
from PySide6.QtGui import QColor, QImage, QPageLayout, QPageSize, QPainter, QPdfWriter
from PySide6.QtSvg import QSvgGenerator

from analysis.errors import TautographError
from analysis.whole_file import whole_file
from app.display.look import LIGHT, Look
from app.display.messages import tr
from app.views.curves.plot import CurvePlot

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
    copy.names.set_zones(copy.names.bands, ())  # paper has no grips
    copy.window.set_window(plot.window.applies, plot.window.applies, "", "", grips=False)
    copy.set_caption(_caption(plot))
    copy.selected.set_colours(look.selected, look.faint, look.background)
    copy.lay_out()
    copy.box.show_range(plot.box.range())
    copy.crowd.draw_now(pixels_per_unit)
    return copy


def _caption(plot: CurvePlot) -> str:
    """The trace that is drawn bold, and the file that it comes from."""
    state = plot.state
    if state.primary is None:
        return ""
    traces, row = state.traces, state.primary
    source = int(traces.source_index[row]) if len(traces.source_index) else -1
    file = Path(traces.sources[source].path).name if 0 <= source < len(traces.sources) else ""
    return " · ".join(filter(None, (traces.trace_ids[row], file)))


def picture_of(plot: CurvePlot, width: int, height: int, look: Look, scale: float) -> QImage:
    """An image of `width` x `height` units at `scale` pixels each."""
    copy = twin(plot, width, height, look, scale)
    copy.selected.set_colours(look.selected, look.faint, look.background, scale)
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
    content = picture_bytes(plot, path.suffix.lower(), width, height)
    if content is None:
        raise PictureError(tr("{}: a picture ends in .png, .svg or .pdf", path))
    try:
        with whole_file(path) as unfinished:  # what stood there before is not lost to a full disk
            unfinished.write_bytes(content)
    except OSError as problem:
        raise PictureError(tr("{} could not be written: {}.", path, problem.strerror)) from problem


def picture_bytes(plot: CurvePlot, ending: str, width: int, height: int) -> bytes | None:
    """The file's content for an ending; None for an ending that is no picture's."""
    if ending not in (".png", ".svg", ".pdf"):
        return None
    buffer = QBuffer()
    buffer.open(QIODevice.OpenModeFlag.WriteOnly)
    if ending == ".png":
        picture_of(plot, width, height, LIGHT, _PAPER_PIXELS).save(buffer, "PNG")  # type: ignore[call-overload]
    else:
        copy = twin(plot, width, height, LIGHT, _PAPER_PIXELS)
        try:
            device = _svg(buffer, width, height) if ending == ".svg" else _pdf(buffer, width, height)
            _render(copy, QPainter(device), width, height)
        finally:
            copy.shut_down()
    return bytes(buffer.data().data())


def _svg(buffer: QBuffer, width: int, height: int) -> QSvgGenerator:
    generator = QSvgGenerator()
    generator.setOutputDevice(buffer)
    generator.setSize(QSize(width, height))
    generator.setViewBox(QRect(0, 0, width, height))
    generator.setResolution(_SCREEN_DPI)
    generator.setTitle(tr("Tightening curves"))
    return generator


def _pdf(buffer: QBuffer, width: int, height: int) -> QPdfWriter:
    writer = QPdfWriter(buffer)
    writer.setResolution(_SCREEN_DPI)
    inch = _POINTS_PER_INCH / _SCREEN_DPI
    size = QSizeF(width * inch, height * inch)
    writer.setPageSize(QPageSize(size, QPageSize.Unit.Point, "", QPageSize.SizeMatchPolicy.ExactMatch))
    writer.setPageMargins(QMarginsF(), QPageLayout.Unit.Point)
    writer.setTitle(tr("Tightening curves"))
    return writer


def _render(plot: CurvePlot, painter: QPainter, width: int, height: int) -> None:
    area = QRectF(0, 0, width, height)
    painter.fillRect(area, QColor(plot.look.background))
    plot.scene().render(painter, area, area)
    painter.end()
