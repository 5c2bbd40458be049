"""The many: drawn as lines while they are few, as a coverage picture by a worker when they are not."""

from __future__ import annotations

import numpy as np
import pyqtgraph as pg
from PySide6.QtCore import QObject, QRectF, QTimer, Signal

from app.display.messages import grouped, tr
from app.items.coverage import Picture, PictureRequest, draw_picture
from app.items.flat_curves import FlatCurves
from app.items.framed_plot import FramedPlot
from app.items.line_items import crowd_item, show_crowd
from app.items.note_item import NoteItem
from app.items.picture_item import PictureItem
from app.items.picture_worker import PictureWorker
from app.items.view_history import Range
from app.views.curves.layers import VECTOR_SAMPLES, CurveLayers

#: A first picture that takes longer than this is announced, milliseconds (own choice).
_PATIENCE_MS = 400


class CurveCrowd(QObject):
    """Keeps the crowd of a plot up to date with its layers and its view."""

    drawing_failed = Signal(str)

    def __init__(self, plot: FramedPlot, note: NoteItem, picture_z: float, lines_z: float) -> None:
        super().__init__(plot)
        self._plot = plot
        self._note = note
        self._lines_z = lines_z
        self._layers = CurveLayers((), (), "", 0)
        self._curves: FlatCurves | None = None
        #: The view that shows everything: its picture serves as the overview behind later ones.
        self.fitted: Range | None = None
        self.picture = PictureItem()
        self.picture.setZValue(picture_z)
        plot.box.addItem(self.picture, ignoreBounds=True)
        self.lines: list[pg.PlotCurveItem] = []
        self.worker = PictureWorker(self)
        # Several changes in one turn of the event loop ask for one picture.
        self._soon = QTimer(self, singleShot=True, interval=0)
        self._late = QTimer(self, singleShot=True, interval=_PATIENCE_MS)
        self._soon.timeout.connect(self._ask_now)
        self._late.timeout.connect(self._say_drawing)
        plot.box.sigRangeChanged.connect(self._ask)
        plot.box.sigResized.connect(self._ask)
        self.worker.picture_drawn.connect(self._show_picture)
        self.worker.drawing_failed.connect(self._fail)

    @property
    def draws_vectors(self) -> bool:
        """Whether the curves are few enough to be drawn as lines."""
        return self._layers.n_samples <= VECTOR_SAMPLES

    @property
    def is_exact(self) -> bool:
        """Whether what is shown is the present view and not a moved or stretched picture."""
        return self.draws_vectors or not (self._soon.isActive() or self.worker.busy)

    def show(self, layers: CurveLayers, curves: FlatCurves) -> None:
        """Draw other layers."""
        self._layers, self._curves = layers, curves
        self.picture.forget_overview()
        for item in self.lines:
            self._plot.box.removeItem(item)
        self.lines = []
        if self.draws_vectors:
            self._show_lines(curves)
        else:
            self._ask()

    def draw_now(self, pixels_per_unit: float) -> None:
        """Draw the picture in this thread, for export; few curves stay lines."""
        request = None if self.draws_vectors else self._request(pixels_per_unit)
        if request is not None:
            self.picture.show_picture(draw_picture(request))

    def shut_down(self) -> None:
        """End the worker and the timers."""
        self._soon.stop()
        self._late.stop()
        self.worker.close()

    def _show_lines(self, curves: FlatCurves) -> None:
        self.picture.show_picture(None)
        self._late.stop()
        self._note.set_text("")
        for layer in self._layers.layers:
            for group in layer.groups:
                item = crowd_item(self._lines_z)
                show_crowd(item, *curves.joined(group.rows), group.colour, layer.faintest)
                self._plot.box.addItem(item, ignoreBounds=True)
                self.lines.append(item)

    def _ask(self, *_: object) -> None:
        if not self.draws_vectors and not self._soon.isActive():
            self._soon.start()

    def _ask_now(self) -> None:
        request = None if self.draws_vectors else self._request(self._plot.devicePixelRatioF())
        if request is not None:
            self.worker.ask(request)
            if self.picture.picture is None:
                self._late.start()

    def _request(self, pixels_per_unit: float) -> PictureRequest | None:
        """A request for the present view, or None while the plot has no size."""
        box = self._plot.box
        view, area = box.viewRect(), box.mapRectToScene(box.rect())
        width, height = round(area.width() * pixels_per_unit), round(area.height() * pixels_per_unit)
        if self._curves is None or min(width, height) < 2 or view.width() <= 0 or view.height() <= 0:
            return None
        broad = max(1, round(pixels_per_unit))
        return PictureRequest(self._curves, self._layers.layers, QRectF(view), width, height, broad)

    def _show_picture(self, picture: Picture) -> None:
        request = picture.request
        if request.curves is not self._curves or request.layers is not self._layers.layers:
            return
        self._late.stop()
        self._note.set_text("")
        shown = (request.view.left(), request.view.right(), request.view.top(), request.view.bottom())
        everything = self.fitted is not None and np.allclose(shown, self.fitted)
        self.picture.show_picture(picture, is_overview=everything)

    def _say_drawing(self) -> None:
        """Only when it takes a while: no picture is there yet."""
        if self.picture.picture is None and not self.draws_vectors:
            n_traces = sum(layer.n_traces for layer in self._layers.layers)
            words = tr("Drawing {} curves …", grouped(n_traces))
            once = tr("The first time on a computer this takes up to half a minute.")
            self._note.set_text(f"{words}\n{once}")

    def _fail(self, sentence: str) -> None:
        self._late.stop()
        self._note.set_text(sentence)
        self.drawing_failed.emit(sentence)
