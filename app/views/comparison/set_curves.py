"""The curves of two sets on each other, with the median and the band of each."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import Signal
from PySide6.QtWidgets import QWidget

from analysis.traces import TraceSet
from app.display.group_colours import GROUP_COLOURS
from app.display.look import Look
from app.display.messages import tr
from app.display.spacing import NO_MARGINS
from app.items.set_bands_item import SetBand, SetBandsItem
from app.views.curves.view import CurveView
from app.views.parts.choices import named_choices
from app.views.parts.layouts import column, row
from app.views.parts.plain_label import PlainLabel

if TYPE_CHECKING:
    from analysis.curve.curve_table import CurveTable

Rows = NDArray[np.int64]

_ABOVE_CURVES = 10.0


class SetCurves(QWidget):
    """A curve view that shows two sets and nothing else."""

    alignment_chosen = Signal()

    def __init__(self, look: Look, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.curves = CurveView(look)
        self.curves.setAccessibleName(tr("Curves of both sets"))
        self.bands = SetBandsItem(look, _ABOVE_CURVES)
        self.curves.plot.box.addItem(self.bands, ignoreBounds=True)
        self.curves.plot.overlays += (self.bands,)
        self.curves.strip.show_sentence("")
        self.curves.plot.layers_changed.connect(lambda: self.curves.strip.show_sentence(""))
        alignments = (
            (tr("at snug"), "snug"),
            (tr("at the final point"), "final"),
            (tr("at the start"), "start"),
        )
        self.alignment = named_choices(tr("Alignment"), alignments)
        self.alignment.activated.connect(lambda _i: self.alignment_chosen.emit())
        top = row(PlainLabel(tr("Curves aligned")), self.alignment, None)
        column(top, (self.curves, 1), on=self, margins=NO_MARGINS)
        self._sizes = (0, 0)

    @property
    def alignment_now(self) -> str:
        """Which point of the curves stands at 0."""
        return str(self.alignment.currentData())

    def colours(self) -> tuple[str, str]:
        """Hues of both sets: the curve view gives its first hue to the larger group."""
        first, second = GROUP_COLOURS[:2]
        return (first, second) if self._sizes[0] >= self._sizes[1] else (second, first)

    def set_traces(self, traces: TraceSet, curves: CurveTable | None, torque_unit: str) -> None:
        """The traces that the rows are of, and their points."""
        self.curves.set_torque_unit(torque_unit)
        self.curves.set_data(traces, curves)

    def show_sets(self, sets: tuple[Rows, Rows], labels: tuple[str, str], *, aligned: bool) -> None:
        """Draw these; aligned where points are known."""
        self._sizes = len(sets[0]), len(sets[1])
        n = len(self.curves.plot.state.traces)
        visible = np.zeros(n, bool)
        names: list[str | None] = [None] * n
        for label, rows in zip(labels, sets, strict=True):
            visible[rows] = True
            for trace in rows.tolist():
                names[trace] = label
        self.curves.set_visible(visible)
        self.curves.set_colour_by(names)
        if aligned:
            self.curves.set_alignment(self.alignment_now)  # type: ignore[arg-type]

    def set_bands(self, bands: tuple[SetBand, ...]) -> None:
        """Median and band of each set."""
        self.bands.set_bands(bands)

    def set_look(self, look: Look) -> None:
        """Light or dark."""
        self.curves.set_look(look)

    def shut_down(self) -> None:
        """End the worker of the curves."""
        self.curves.plot.crowd.shut_down()
