"""A picture of very many curves: each trace counted once per pixel, opacity by the logarithm of the count."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QRectF
from PySide6.QtGui import QColor, QImage

from app.items.flat_curves import FlatCurves

#: Up to this many samples a layer is drawn with smoothed edges (two cells a pixel each way); a time budget:
#: smoothing costs about eight times as many cells, and 400 000 samples then still take some 10 ms.
SMOOTH_SAMPLES = 400_000
#: Above this many samples a layer is counted by two threads (own choice: some 5 ms of counting).
SHARED_SAMPLES = 1_000_000


@dataclass(frozen=True, eq=False)
class Group:
    """Traces of one colour."""

    rows: NDArray[np.int64]
    colour: str


@dataclass(frozen=True, eq=False)
class Layer:
    """Groups that share their pixels; later layers lie over earlier ones."""

    groups: tuple[Group, ...]
    faintest: float  #: Opacity where a single trace passes, 0 to 1; as many as the layer has give 1.

    @property
    def n_traces(self) -> int:
        """Traces of all groups."""
        return sum(len(group.rows) for group in self.groups)


@dataclass(frozen=True, eq=False)
class PictureRequest:
    """All that a worker needs to draw; frozen, so that nothing moves while it draws."""

    curves: FlatCurves
    layers: tuple[Layer, ...]
    view: QRectF  #: What is seen, in plot coordinates; top is the smallest y.
    #: Pixels of the picture.
    width: int
    height: int
    line_width: int = 1  #: Pixels; above 1 for high-density screens and print.


@dataclass(frozen=True, eq=False)
class Picture:
    """The answer to a request: row 0 of the image is the smallest y."""

    request: PictureRequest
    image: QImage


@dataclass
class CellCache:
    """Counts of the last picture's layers: a change of one layer does not count the others again."""

    place: tuple[object, ...] = ()
    cells: dict[int, tuple[Layer, NDArray[np.int32]]] = field(default_factory=dict)

    def renew(self, place: tuple[object, ...], layers: tuple[Layer, ...]) -> None:
        """Forget what was counted for another view or for layers that are gone."""
        kept = {id(layer) for layer in layers} if place == self.place else set()
        self.cells = {key: value for key, value in self.cells.items() if key in kept}
        self.place = place


def opacity_table(n_traces: int, faintest: float) -> NDArray[np.float32]:
    """Opacity by number of traces in a pixel: `faintest` for one, rising with the logarithm to 1 for all.

    The scale depends on the size of the layer, not on what is in view: tones hold still while panning.
    """
    counts = np.arange(max(n_traces, 1) + 1, dtype=np.float64)
    rise = np.log(np.maximum(counts, 1.0)) / np.log(max(n_traces, 2))
    table = faintest + (1.0 - faintest) * rise
    table[0] = 0.0
    return np.asarray(np.minimum(table, 1.0), np.float32)


def draw_picture(
    request: PictureRequest, cache: CellCache | None = None, abandoned: Callable[[], bool] | None = None
) -> Picture | None:
    """Draw all layers of a request; None where `abandoned` turned true between two layers."""
    from analysis.report import coverage_kernel

    cache = cache or CellCache()
    view = (request.view.left(), request.view.top(), request.view.width(), request.view.height())
    cache.renew((request.curves, *view, request.width, request.height, request.line_width), request.layers)
    pixels = np.zeros((request.height, request.width, 4), np.float32)
    for layer in request.layers:
        if abandoned is not None and abandoned():
            return None
        if not layer.n_traces:
            continue
        smooth = 2 if request.curves.samples_of(layer) <= SMOOTH_SAMPLES else 1
        if id(layer) not in cache.cells:
            cache.cells[id(layer)] = (layer, count_layer(request, layer, smooth))
        colours = np.array([_rgb(group.colour) for group in layer.groups], np.float32)
        opacity = opacity_table(layer.n_traces, layer.faintest)
        coverage_kernel.blend(cache.cells[id(layer)][1], smooth, opacity, colours, pixels)
    return Picture(request, _to_image(pixels))


def count_layer(request: PictureRequest, layer: Layer, smooth: int) -> NDArray[np.int32]:
    """Number of traces in each cell, per group; shape (n_groups, columns, rows + 1)."""
    from analysis.report import coverage_kernel

    curves, view = request.curves, request.view
    width, height = request.width * smooth, request.height * smooth
    cells = np.zeros((len(layer.groups), width, height + 1), np.int32)
    corner, scale = (view.left(), view.top()), (width / view.width(), height / view.height())

    def count(rows: NDArray[np.int64], plane: NDArray[np.int32]) -> None:
        samples = (curves.x, curves.y, curves.offsets)
        line_px = request.line_width * smooth
        coverage_kernel.count_traces(*samples, rows, curves.shift, corner, scale, line_px, plane)

    for group, plane in zip(layer.groups, cells, strict=True):
        half = len(group.rows) // 2 if curves.samples_of(layer) > SHARED_SAMPLES else 0
        if half:  # two threads count half of the traces each
            other = np.zeros_like(plane)
            with ThreadPoolExecutor(1) as pool:
                counted = pool.submit(count, group.rows[:half], other)
                count(group.rows[half:], plane)
                counted.result()
            plane += other
        else:
            count(group.rows, plane)
    return cells


def _rgb(colour: str) -> tuple[int, int, int]:
    shade = QColor(colour)
    return shade.red(), shade.green(), shade.blue()


def _to_image(pixels: NDArray[np.float32]) -> QImage:
    from analysis.report import coverage_kernel

    height, width = pixels.shape[:2]
    levels = np.empty((height, width, 4), np.uint8)
    coverage_kernel.round_off(pixels.reshape(-1), levels.reshape(-1))
    # A copy, because the image would otherwise point into memory that numpy frees.
    return QImage(levels.data, width, height, 4 * width, QImage.Format.Format_ARGB32_Premultiplied).copy()
