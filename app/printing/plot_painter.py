"""A plot on paper: the same data and the same ticks as on the page for the browser."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from analysis.report.curve_reduction import reduce_polyline
from analysis.report.palette import BAND_OPACITY, EDGED, INK, NOTE, PAPER, colour_of
from analysis.report.plot_spec import Curve, Mark, PlotSpec
from analysis.report.plot_walk import Box, Frame, axis_ticks, draw_figures, draw_ground
from app.printing.ink import Ink, text_width
from app.printing.wrapping import wrap

_SIZE = 7.0
_LEFT, _RIGHT, _TOP, _BOTTOM = 44.0, 6.0, 5.0, 27.0
_TITLE, _LINE = 13.0, 9.0
#: A curve is thinned to its extremes within columns of this many to a point, half the width of its line (own
#: choice).
_COLUMNS_PER_POINT = 2.0
#: Steps to a point that curves are drawn on: 1152 an inch, a power of two so that the numbers are round.
_PRINT_GRID = 16.0
#: Room of one tick label, from which the number of ticks follows.
_X_ROOM, _Y_ROOM = 38.0, 21.0
#: Of the white behind a label, so that it can be read on a curve that still shows through (own choice).
_VEIL_OPACITY = 0.75


def plot_height(spec: PlotSpec, width: float) -> float:
    """Height of title, plot, key and caption at a width, points."""
    return _TITLE + spec.height_pt + _LINE * len(_below(spec, width)) + 6.0


def paint_plot(ink: Ink, spec: PlotSpec, x: float, y: float, width: float) -> None:
    """Paint with the upper left corner at (x, y)."""
    ink.text(x, y + 9.0, spec.title, 8.5, bold=True)
    frame = Frame(spec, x + _LEFT, y + _TITLE + _TOP, width - _LEFT - _RIGHT, spec.height_pt - _TOP - _BOTTOM)
    _paint_axes(ink, spec, frame)
    canvas = _InkCanvas(ink, frame)
    ink.clip(frame.left, frame.top, frame.width, frame.height)
    draw_ground(frame, canvas)
    _paint_grid(ink, spec, frame)
    draw_figures(frame, canvas)
    for mark in spec.marks:
        _paint_mark(ink, mark, frame)
    ink.unclip()
    ink.rectangle(frame.left, frame.top, frame.width, frame.height, edge=colour_of("faint"), edge_pt=0.6)
    _paint_labels(ink, spec, frame)
    _paint_below(ink, spec, x, y + _TITLE + spec.height_pt, width)


class _InkCanvas:
    """A plot's content in the ink of a page."""

    def __init__(self, ink: Ink, frame: Frame) -> None:
        self.ink, self.frame = ink, frame

    def picture(self, box: Box, levels: NDArray[np.uint8]) -> None:
        self.ink.grey_picture(*box, levels)

    def zone(self, box: Box, role: str) -> None:
        self.ink.rectangle(*box, fill=colour_of(role))

    def bar(self, box: Box, role: str, count: int) -> None:
        edge, width = (INK, 0.8) if role in EDGED else (PAPER, 0.4)
        self.ink.rectangle(*box, fill=colour_of(role), edge=edge, edge_pt=width)

    def area(self, outline: NDArray[np.float64], role: str) -> None:
        self.ink.polygon(outline, colour_of(role), BAND_OPACITY)

    def limit(self, x0: float, y0: float, x1: float, y1: float, role: str) -> None:
        self.ink.line(x0, y0, x1, y1, colour_of(role), width_pt=0.8, dashes=(5.0, 2.5))

    def curve(self, curve: Curve) -> None:
        thinned = reduce_polyline(curve.x, curve.y, round(_COLUMNS_PER_POINT * self.frame.width))
        points = _on_print_grid(self.frame.points(*thinned))
        dashes = (4.0, 2.5) if curve.dashed else None
        self.ink.polyline(points, colour_of(curve.role), curve.width_pt, dashes)


def _paint_axes(ink: Ink, spec: PlotSpec, frame: Frame) -> None:
    bottom = frame.top + frame.height
    faint = colour_of("faint")
    for tick in axis_ticks(spec.x, max(2, int(frame.width / _X_ROOM))):
        x = frame.x(tick.value)
        ink.line(x, bottom, x, bottom + 2.5, faint, width_pt=0.6)
        ink.text(x, bottom + 10.0, tick.text, _SIZE, align="centre")
    for tick in axis_ticks(spec.y, max(2, int(frame.height / _Y_ROOM))):
        y = frame.y(tick.value)
        ink.line(frame.left - 2.5, y, frame.left, y, faint, width_pt=0.6)
        ink.text(frame.left - 4.5, y + 2.5, tick.text, _SIZE, align="right")
    ink.text(frame.left + frame.width / 2, bottom + 20.0, spec.x.label, _SIZE, align="centre")
    ink.text(
        frame.left - 35.0, frame.top + frame.height / 2, spec.y.label, _SIZE, align="centre", degrees=-90.0
    )


def _on_print_grid(points: NDArray[np.float64]) -> NDArray[np.float64]:
    """Points rounded to the grid of a printer, repeated ones dropped; a file of round numbers is a third
    smaller."""
    rounded = np.round(points * _PRINT_GRID) / _PRINT_GRID
    moved = np.any(rounded[1:] != rounded[:-1], axis=1)
    return np.asarray(rounded[np.concatenate(([True], moved))])


def _paint_grid(ink: Ink, spec: PlotSpec, frame: Frame) -> None:
    """Grid lines, but not over the picture of the curves, where they would read as curves, nor through names'
    rows, where they would read as ranges."""
    if spec.picture is not None or spec.y.names:
        return
    for tick in axis_ticks(spec.y, max(2, int(frame.height / _Y_ROOM))):
        y = frame.y(tick.value)
        ink.line(frame.left, y, frame.left + frame.width, y, colour_of("grid"), width_pt=0.3)


def _paint_mark(ink: Ink, mark: Mark, frame: Frame) -> None:
    x, y = frame.x(mark.x), frame.y(mark.y)
    colour, size = colour_of(mark.role), 2.6
    if mark.shape == "circle":
        ink.circle(x, y, size, colour, PAPER)
    elif mark.shape == "cross":
        ink.line(x - size, y, x + size, y, colour, width_pt=1.2)
        ink.line(x, y - size, x, y + size, colour, width_pt=1.2)
    else:
        offsets = {
            "triangle": ((0.0, -1.2), (1.1, 0.9), (-1.1, 0.9)),
            "square": ((-0.9, -0.9), (0.9, -0.9), (0.9, 0.9), (-0.9, 0.9)),
            "diamond": ((0.0, -1.25), (1.25, 0.0), (0.0, 1.25), (-1.25, 0.0)),
        }[mark.shape]
        ink.polygon([(x + size * dx, y + size * dy) for dx, dy in offsets], colour, edge=PAPER)


def _paint_labels(ink: Ink, spec: PlotSpec, frame: Frame) -> None:
    faint = NOTE
    named: list[tuple[float, float]] = []  # where the names of zones stand, from left to right
    for zone in spec.zones:
        left, right = frame.x(zone.low), frame.x(zone.high)
        half = text_width(zone.label, 6.5) / 2
        if right - left > 2 * half + 4.0:
            middle = (left + right) / 2
            ink.text(middle, frame.top + 8.0, zone.label, 6.5, align="centre", colour=faint)
            named.append((middle - half, middle + half))
    for limit in spec.limits:
        text = limit.words
        if limit.axis == "y" and spec.y.low <= limit.value <= spec.y.high:
            line = frame.y(limit.value)
            # A low limit is named below its line: two that lie close together stay legible.
            below = (limit.label == "low" and frame.top + frame.height - line > 8.0) or line - frame.top < 8.0
            base = line + (6.5 if below else -2.0)
            x = frame.left + 3.0
            if abs(base - frame.top - 8.0) < 7.0:
                x = _beside_names(x, text_width(text, 6.0), named)
            ink.text(x, base, text, 6.0, colour=faint)
        elif limit.axis == "x" and spec.x.low <= limit.value <= spec.x.high:
            place = frame.x(limit.value) + (6.5 if limit.value < (spec.x.low + spec.x.high) / 2 else -2.0)
            ink.text(place, frame.top + 3.0, text, 6.0, align="right", degrees=-90.0, colour=faint)
    for note in spec.notes:
        x, y = frame.x(note.x) + (-3.0 if note.ends else 3.0), frame.y(note.y) + 2.4
        extent = text_width(note.text, _SIZE)
        _paint_behind(ink, x - (extent if note.ends else 0.0) - 1.0, y - 6.2, extent + 2.0, 8.0)
        ink.text(x, y, note.text, _SIZE, align="right" if note.ends else "left")
    _paint_mark_labels(ink, spec, frame)


def _beside_names(x: float, width: float, named: Sequence[tuple[float, float]]) -> float:
    """The first place from `x` on where a text of this width meets no name of a zone."""
    for left, right in named:
        if x < right + 3.0 and left < x + width + 3.0:
            x = right + 3.0
    return x


def _paint_mark_labels(ink: Ink, spec: PlotSpec, frame: Frame) -> None:
    """Above to the left of the mark, or below to the right where another label stands; else not at all."""
    taken: list[tuple[float, float, float]] = []
    for mark in reversed(spec.marks):  # final and snug say most
        if not mark.label:
            continue
        extent = text_width(mark.label, 6.8, True)
        left_end = max(frame.x(mark.x) - 4.0 - extent, frame.left + 2.0)
        right_end = min(frame.x(mark.x) + 5.0, frame.left + frame.width - extent - 2.0)
        for x, base in ((left_end, frame.y(mark.y) - 4.0), (right_end, frame.y(mark.y) + 8.5)):
            if not any(x < b and a < x + extent and abs(base - other) < 7.0 for a, b, other in taken):
                _paint_behind(ink, x - 1.0, base - 6.2, extent + 2.0, 8.0)
                ink.text(x, base, mark.label, 6.8, bold=True)
                taken.append((x, x + extent, base))
                break


def _paint_behind(ink: Ink, x: float, y: float, width: float, height: float) -> None:
    """A veil over what a label would lie on."""
    corners = [(x, y), (x + width, y), (x + width, y + height), (x, y + height)]
    ink.polygon(corners, PAPER, _VEIL_OPACITY)


def _below(spec: PlotSpec, width: float) -> list[str]:
    """Lines for key and caption: the key's entries are one line, as far as they fit."""
    lines = [""] * _key_lines(spec, width)
    return lines + (wrap(spec.caption, width, _SIZE) if spec.caption else [])


def _key_lines(spec: PlotSpec, width: float) -> int:
    lines, used = (1 if spec.key else 0), 0.0
    for _, _, text in spec.key:
        need = _key_width(text)
        if used and used + need > width:
            lines, used = lines + 1, 0.0
        used += need
    return lines


def _key_width(text: str) -> float:
    return 14.0 + text_width(text, _SIZE) + 10.0


def _paint_below(ink: Ink, spec: PlotSpec, x: float, y: float, width: float) -> None:
    base, used = y + 5.0, 0.0
    for role, kind, text in spec.key:
        need = _key_width(text)
        if used and used + need > width:
            base, used = base + _LINE, 0.0
        _paint_swatch(ink, x + used, base, role, kind, edged=spec.bars is not None and role in EDGED)
        ink.text(x + used + 14.0, base, text, _SIZE, colour=NOTE)
        used += need
    base += _LINE if spec.key else 0.0
    for line in wrap(spec.caption, width, _SIZE) if spec.caption else []:
        ink.text(x, base, line, _SIZE, colour=NOTE)
        base += _LINE


def _paint_swatch(ink: Ink, x: float, base: float, role: str, kind: str, *, edged: bool) -> None:
    middle = base - 2.5
    if kind == "line":
        ink.line(x, middle, x + 11.0, middle, colour_of(role), width_pt=1.6)
    elif kind == "band":
        ink.polygon(
            [(x, middle - 3), (x + 11, middle - 3), (x + 11, middle + 3), (x, middle + 3)],
            colour_of(role),
            BAND_OPACITY,
        )
    elif kind == "square":
        edge = INK if edged else None
        ink.rectangle(x + 3.0, middle - 3.0, 6.0, 6.0, fill=colour_of(role), edge=edge, edge_pt=0.8)
    else:
        size, colour = 3.0, colour_of(role)
        centre = x + 6.0
        if kind == "circle":
            ink.circle(centre, middle, size, colour, PAPER)
        else:
            top = [(centre, middle - size), (centre + size, middle + size), (centre - size, middle + size)]
            turned = [
                (centre, middle - size),
                (centre + size, middle),
                (centre, middle + size),
                (centre - size, middle),
            ]
            ink.polygon(top if kind == "triangle" else turned, colour)
