"""The curves of two sets on each other, with the median and the band of each."""

from __future__ import annotations

import numpy as np
from PySide6.QtWidgets import QComboBox, QHBoxLayout, QLabel, QVBoxLayout, QWidget

from app.display.look import Look
from app.display.messages import tr
from app.items.set_bands_item import SetBand, SetBandsItem
from app.session.compared_sets import JointSets
from app.session.reference_band import reference_band
from app.session.session import Session
from app.views.curves.layers import GROUP_COLOURS
from app.views.curves.view import CurveView

_ABOVE_CURVES = 10.0
#: Where fewer curves of a set reach, those that ended early would bend the median of the rest (own choice).
_SHARE_REACHING = 0.9


class SetCurves(QWidget):
    """A curve view that shows two sets and nothing else; a pick on it selects in the window."""

    def __init__(self, session: Session, look: Look, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.session = session
        self.curves = CurveView(look)
        self.curves.setAccessibleName(tr("Curves of both sets"))
        self.bands = SetBandsItem(look, _ABOVE_CURVES)
        self.curves.plot.box.addItem(self.bands, ignoreBounds=True)
        self.curves.plot.overlays += (self.bands,)
        self.curves.strip.show_sentence("")
        self.curves.plot.layers_changed.connect(lambda: self.curves.strip.show_sentence(""))
        self.curves.rows_picked.connect(session.select)
        self.alignment = QComboBox()
        self.alignment.setAccessibleName(tr("Alignment"))
        for name, words in (
            ("snug", tr("at snug")),
            ("final", tr("at the final point")),
            ("start", tr("at the start")),
        ):
            self.alignment.addItem(words, name)
        self.alignment.activated.connect(self._align)
        row = QHBoxLayout()
        row.addWidget(QLabel(tr("Curves aligned")))
        row.addWidget(self.alignment)
        row.addStretch(1)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.addLayout(row)
        layout.addWidget(self.curves, 1)
        self.sets: JointSets | None = None
        self.labels = ("A", "B")

    def colours(self) -> tuple[str, str]:
        """Hues of both sets: the curve view gives its first hue to the larger group."""
        if self.sets is None or len(self.sets.first) >= len(self.sets.second):
            return GROUP_COLOURS[0], GROUP_COLOURS[1]
        return GROUP_COLOURS[1], GROUP_COLOURS[0]

    def show_sets(self, sets: JointSets, labels: tuple[str, str]) -> None:
        """Draw these."""
        session = self.session
        others = self.sets is None or {self.sets.joint, *self.labels} != {sets.joint, *labels}
        self.sets, self.labels = sets, labels
        analysis = session.analysis
        visible = np.zeros(len(session.traces), bool)
        visible[sets.first] = visible[sets.second] = True
        names: list[str | None] = [None] * len(session.traces)
        for label, rows in zip(labels, (sets.first, sets.second), strict=True):
            for row in rows.tolist():
                names[row] = label
        self.curves.set_torque_unit(session.view.torque_unit)
        self.curves.set_data(session.traces, None if analysis is None else analysis.curves)
        self.curves.set_visible(visible)
        self.curves.set_colour_by(names)
        self._align()
        if others:
            self.curves.fit_rise()

    def _align(self) -> None:
        alignment = str(self.alignment.currentData())
        if self.session.analysis is not None:
            self.curves.set_alignment(alignment)  # type: ignore[arg-type]
        self._show_bands(alignment)

    def _show_bands(self, alignment: str) -> None:
        session, sets = self.session, self.sets
        if session.analysis is None or sets is None:
            self.bands.set_bands(())
            return
        found = []
        pairs = zip((sets.first, sets.second), self.colours(), (False, True), strict=True)
        for rows, colour, dashed in pairs:
            curves = session.analysis.curves
            band = reference_band(session.traces, curves, rows, alignment, _SHARE_REACHING)
            if band is not None:
                found.append(SetBand(band.x, band.low, band.median, band.high, colour, dashed))
        self.bands.set_bands(tuple(found))

    def set_look(self, look: Look) -> None:
        """Light or dark."""
        self.curves.set_look(look)

    def shut_down(self) -> None:
        """End the worker of the curves."""
        self.curves.plot.crowd.shut_down()
