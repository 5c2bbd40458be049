"""Pictures of a study as they print; on dark ground where the window is dark."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QSize
from PySide6.QtGui import QColor, QPainter, QPaintEvent, QResizeEvent
from PySide6.QtWidgets import QSizePolicy, QWidget

from analysis.report.palette import FAINT, GRID, GROUND, INK, NOTE, PAPER, ROLE_COLOURS
from analysis.report.plot_spec import PlotSpec
from app.display.look import DARK
from app.display.spacing import PX_PER_POINT
from app.printing.ink import Ink
from app.printing.plot_painter import paint_plot, plot_height

#: Narrowest sheet, and the room about and between the pictures, points (own choices).
_NARROWEST_PT, _MARGIN_PT, _GAP_PT = 330.0, 8.0, 12.0
#: Colours of the paper on dark ground; those that are not named stand out on both.
_ON_DARK = {
    INK: DARK.foreground,
    FAINT: DARK.faint,
    NOTE: DARK.faint,
    GRID: DARK.grid,
    GROUND: DARK.panel,
    PAPER: DARK.background,
    ROLE_COLOURS["crowd"]: DARK.crowd,
    ROLE_COLOURS["reference band"]: ROLE_COLOURS["reference median"],
    ROLE_COLOURS["reference median"]: DARK.reference_median,
    **{ROLE_COLOURS[name]: tint for name, tint in DARK.zone_tints.items()},
}


class PlotSheet(QWidget):
    """Rows of pictures, one below the other; the pictures of a row stand side by side."""

    def __init__(self, name: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.rows: tuple[tuple[PlotSpec, ...], ...] = ()
        self.setAccessibleName(name)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)

    def set_rows(self, rows: Sequence[Sequence[PlotSpec]]) -> None:
        """Show these pictures; without any there is no sheet either."""
        self.rows = tuple(tuple(row) for row in rows if row)
        specs = [spec for row in self.rows for spec in row]
        self.setAccessibleDescription("\n".join(f"{spec.title}: {spec.caption}" for spec in specs))
        self.setVisible(bool(self.rows))
        self._take_height()
        self.update()

    def sizeHint(self) -> QSize:
        """As wide as is readable, as high as the pictures are."""
        width = max(self.width() / PX_PER_POINT, _NARROWEST_PT)
        return QSize(round(_NARROWEST_PT * PX_PER_POINT), round(self._height_pt(width) * PX_PER_POINT))

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Captions break anew."""
        super().resizeEvent(event)
        self._take_height()

    def paintEvent(self, _event: QPaintEvent) -> None:
        """The ground, and the pictures."""
        painter = QPainter(self)
        dark = self.palette().base().color() == QColor(DARK.background)
        painter.fillRect(self.rect(), QColor(DARK.background if dark else PAPER))
        painter.scale(PX_PER_POINT, PX_PER_POINT)
        ink, width, y = Ink(painter, _ON_DARK if dark else None), self.width() / PX_PER_POINT, _MARGIN_PT
        for row in self.rows:
            own = self._own_width(width, row)
            for place, spec in enumerate(row):
                paint_plot(ink, spec, _MARGIN_PT + place * (own + _GAP_PT), y, own)
            y += max(plot_height(spec, own) for spec in row) + _GAP_PT / 2

    def _take_height(self) -> None:
        height = round(self._height_pt(self.width() / PX_PER_POINT) * PX_PER_POINT)
        if height != self.height():
            self.setFixedHeight(height)

    def _height_pt(self, width: float) -> float:
        rows = sum(
            max(plot_height(spec, self._own_width(width, row)) for spec in row) + _GAP_PT / 2
            for row in self.rows
        )
        return 2 * _MARGIN_PT + rows

    def _own_width(self, width: float, row: Sequence[PlotSpec]) -> float:
        return (width - 2 * _MARGIN_PT - (len(row) - 1) * _GAP_PT) / len(row)
