"""The curves of each joint as one small picture: which stretch it shows, and what lies over what."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QRectF, QSize

from analysis.arrays import FloatArray
from app.items.coverage import PictureRequest
from app.views.curves.geometry import CurveGeometry
from app.views.curves.layers import build_layers
from app.views.curves.state import Alignment, CurveState

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from app.display.look import Look
    from app.session.session import Session
    from app.views.overview.card import JointCard


#: Share of the curves whose ends a picture must hold: what runs far beyond must not shrink the rest, and one
#: in so many may be turned backward (own choices, by eye).
_HELD, _BACKWARD = 0.98, 0.1
#: Room around, and rundown ahead of the rise, as shares of the rise (own choice).
_MARGIN, _AHEAD = 0.08, 0.25


class Bundles:
    """Requests for the pictures of joints: aligned at snug, or at their starts where none has that point."""

    def __init__(self, session: Session) -> None:
        curves = session.analysis.curves if session.analysis is not None else None
        traces = session.traces
        alignments: tuple[Alignment, ...] = ("start",) if curves is None else ("snug", "start")
        self.geometries = [CurveGeometry(traces, curves, "angle", "torque", one) for one in alignments]
        self.state = CurveState(traces, np.zeros(len(traces), bool), curves, session.verdicts)
        self._lowest, self._highest = _ends(traces.torque_nm, traces.offsets)

    def requests(
        self, cards: Sequence[JointCard], size: QSize, density: float, look: Look
    ) -> Iterator[tuple[str, PictureRequest]]:
        """A picture for each card that has curves to show."""
        width, height = round(size.width() * density), round(size.height() * density)
        for card in cards:
            view = self.view_of(card)
            if view is None or min(width, height) < 2:
                continue
            visible = np.zeros(len(self.state.visible), bool)
            visible[card.rows] = True
            geometry = self._geometry_of(card)
            layers = build_layers(replace(self.state, visible=visible), geometry, look).layers
            request = PictureRequest(geometry.flat, layers, view, width, height, max(1, round(density)))
            yield card.joint, request

    def view_of(self, card: JointCard) -> QRectF | None:
        """The rise of its curves and its acceptance window; None where no curve can be placed."""
        geometry = self._geometry_of(card)
        rows = geometry.placed(card.rows)
        if not len(rows):
            return None
        right = float(np.nanquantile(_last_x(geometry, rows), _HELD))
        start = geometry.rise_start(rows)
        left = 0.0 if start is None else start
        top = float(np.nanquantile(self._highest[rows], _HELD))
        bottom = min(float(np.nanquantile(self._lowest[rows], _BACKWARD)), 0.0)
        if card.angle_deg is not None:
            right = max(right, card.angle_deg[1])
        if card.torque_nm is not None:
            top = max(top, card.torque_nm[1])
        wide, high = (right - left) or 1.0, (top - bottom) or 1.0
        if not np.isfinite([wide, high]).all() or wide < 0.0:
            return None
        left -= _AHEAD * wide if start is not None else 0.0
        return QRectF(
            left, bottom - _MARGIN / 2 * high, right + _MARGIN * wide - left, (1.0 + 1.5 * _MARGIN) * high
        )

    def made(self, request: PictureRequest) -> bool:
        """Whether a picture is of these curves."""
        return any(request.curves is one.flat for one in self.geometries)

    def _geometry_of(self, card: JointCard) -> CurveGeometry:
        """Audits and loosenings have no snug point: a joint of nothing else is laid at its starts."""
        placing = (one for one in self.geometries if len(one.placed(card.rows)))
        return next(placing, self.geometries[0])


def _last_x(geometry: CurveGeometry, rows: NDArray[np.int64]) -> FloatArray:
    flat, curves = geometry.flat, geometry.curves
    ends = flat.x[flat.offsets[rows + 1] - 1]
    if curves is not None:
        final = curves.final_angle_deg[rows]
        ends = np.where(np.isfinite(final), final, ends)
    return np.asarray(ends - flat.shift[rows])


def _ends(values: FloatArray, offsets: NDArray[np.int64]) -> tuple[FloatArray, FloatArray]:
    """Lowest and highest value of each trace; NaN where it has none."""
    filled = np.flatnonzero(np.diff(offsets) > 0)
    found = np.full((2, len(offsets) - 1), np.nan)
    if len(filled):
        for k, reduce in enumerate((np.fmin, np.fmax)):
            found[k, filled] = reduce.reduceat(values, offsets[:-1][filled])
    return found[0], found[1]
