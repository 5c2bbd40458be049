"""A hand on the mouse: real events at places given in plot coordinates."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise

from pyqtgraph import PlotWidget
from PySide6.QtCore import QEvent, QPointF, Qt
from PySide6.QtGui import QMouseEvent
from PySide6.QtWidgets import QApplication

from app.items.plot_box import PlotBox

NONE = Qt.KeyboardModifier.NoModifier


def place(plot: PlotWidget, x: float, y: float) -> QPointF:
    """Widget pixels of a plot point, once the layout has settled."""
    settle()
    box: PlotBox = plot.plotItem.vb
    return QPointF(plot.mapFromScene(box.mapViewToScene(QPointF(x, y))))


def settle() -> None:
    """Let layouts and axes take their sizes; axes know their width only once painted."""
    for _ in range(3):
        QApplication.processEvents()


def _send(
    plot: PlotWidget,
    kind: QEvent.Type,
    at: QPointF,
    button: Qt.MouseButton,
    held: Qt.MouseButton,
    modifiers: Qt.KeyboardModifier,
) -> None:
    viewport = plot.viewport()
    everywhere = QPointF(viewport.mapToGlobal(at.toPoint()))
    QApplication.sendEvent(viewport, QMouseEvent(kind, at, everywhere, button, held, modifiers))


def _between(points: Sequence[QPointF], steps: int = 6) -> Iterator[QPointF]:
    for start, stop in pairwise(points):
        for k in range(1, steps + 1):
            yield start + (stop - start) * (k / steps)


def drag(
    plot: PlotWidget,
    *points: QPointF,
    button: Qt.MouseButton = Qt.MouseButton.LeftButton,
    modifiers: Qt.KeyboardModifier = NONE,
    let_go: bool = True,
) -> None:
    """Press at the first place, move through the others, let go at the last; widget pixels."""
    nothing = Qt.MouseButton.NoButton
    _send(plot, QEvent.Type.MouseMove, points[0], nothing, nothing, modifiers)
    _send(plot, QEvent.Type.MouseButtonPress, points[0], button, button, modifiers)
    for at in _between(points):
        _send(plot, QEvent.Type.MouseMove, at, nothing, button, modifiers)
    if let_go:
        _send(plot, QEvent.Type.MouseButtonRelease, points[-1], button, nothing, modifiers)


def release(plot: PlotWidget, at: QPointF) -> None:
    """Let go of the left button."""
    _send(plot, QEvent.Type.MouseButtonRelease, at, Qt.MouseButton.LeftButton, Qt.MouseButton.NoButton, NONE)


def click(plot: PlotWidget, at: QPointF, modifiers: Qt.KeyboardModifier = NONE) -> None:
    """Press and let go; widget pixels."""
    left, nothing = Qt.MouseButton.LeftButton, Qt.MouseButton.NoButton
    _send(plot, QEvent.Type.MouseMove, at, nothing, nothing, modifiers)
    _send(plot, QEvent.Type.MouseButtonPress, at, left, left, modifiers)
    _send(plot, QEvent.Type.MouseButtonRelease, at, left, nothing, modifiers)
