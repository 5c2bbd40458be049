"""A plot as SVG: axes by the shared ticks, curves as paths, the bundle as an embedded picture."""

from __future__ import annotations

import base64
import json
import struct
import zlib
from html import escape

import numpy as np
from numpy.typing import NDArray

from analysis.arrays import FloatArray
from analysis.report.palette import BAND_OPACITY, EDGED, colour_of
from analysis.report.plot_spec import Curve, Mark, PlotSpec
from analysis.report.plot_walk import Box, Frame, axis_ticks, draw_figures, draw_ground

#: Size of the drawing in its own units, and the room for labels around the plotting area.
WIDTH = 720.0
LEFT, RIGHT, TOP, BOTTOM = 62.0, 12.0, 16.0, 42.0
_DASHES = ' stroke-dasharray="5 4"'


def svg_plot(spec: PlotSpec, width: float = WIDTH) -> str:
    """One ``<svg>`` element; complete without script, zoomable with the report's script."""
    height = TOP + BOTTOM + max(spec.height_pt * 1.15, 120.0)
    frame = Frame(spec, LEFT, TOP, width - LEFT - RIGHT, height - TOP - BOTTOM)
    canvas = _SvgCanvas(frame)
    draw_ground(frame, canvas)
    draw_figures(frame, canvas)
    name, area = escape(spec.name, quote=True), _box((frame.left, frame.top, frame.width, frame.height))
    return (
        f'<svg class="plot" id="{name}" viewBox="0 0 {_n(width)} {_n(height)}" role="img" '
        f'aria-label="{escape(spec.title, quote=True)}" data-frame="{_data(frame)}"{_names(frame)}>'
        f'<defs><clipPath id="{name}-clip"><rect {area}/></clipPath></defs>'
        f'<g class="axes">{_axes(frame)}</g>'
        f'<g clip-path="url(#{name}-clip)"><g class="content">{"".join(canvas.parts)}</g>'
        f'<g class="labels">{"".join(_labels(frame))}</g></g>'
        f'<rect class="frame" {area}/>{_titles(frame, height)}</svg>'
    )


def _data(frame: Frame) -> str:
    """What the script needs to redraw the ticks: the area and the two ranges."""
    x, y = frame.spec.x, frame.spec.y
    numbers = (frame.left, frame.top, frame.width, frame.height, x.low, x.high, y.low, y.high)
    return " ".join(repr(float(number)) for number in numbers)


def _names(frame: Frame) -> str:
    """Names that stand beside the axis instead of figures, for the script."""
    names = frame.spec.y.names
    return f' data-names="{escape(json.dumps(names), quote=True)}"' if names else ""


class _SvgCanvas:
    """Collects the elements of the drawing."""

    def __init__(self, frame: Frame) -> None:
        self.frame = frame
        self.parts: list[str] = []

    def picture(self, box: Box, levels: NDArray[np.uint8]) -> None:
        data = base64.b64encode(png_bytes(levels)).decode("ascii")
        source = f'preserveAspectRatio="none" href="data:image/png;base64,{data}"'
        self.parts.append(f"<image {_box(box)} {source}/>")

    def zone(self, box: Box, role: str) -> None:
        self.parts.append(f'<rect {_box(box)} fill="{colour_of(role)}"/>')

    def bar(self, box: Box, role: str, count: int) -> None:
        title = f"<title>{escape(role)}: {count}</title>"
        edged = " edged" if role in EDGED else ""
        ink = f'fill="{colour_of(role)}"'
        self.parts.append(f'<rect class="bar{edged}" {_box(box)} {ink}>{title}</rect>')

    def area(self, outline: FloatArray, role: str) -> None:
        ink = f'fill="{colour_of(role)}" fill-opacity="{BAND_OPACITY}"'
        self.parts.append(f'<polygon points="{_points(outline)}" {ink}/>')

    def limit(self, x0: float, y0: float, x1: float, y1: float, role: str) -> None:
        ends = f'x1="{_n(x0)}" x2="{_n(x1)}" y1="{_n(y0)}" y2="{_n(y1)}"'
        self.parts.append(f'<line class="limit" {ends} stroke="{colour_of(role)}"/>')

    def curve(self, curve: Curve) -> None:
        points = _points(self.frame.points(curve.x, curve.y))
        ink = f'stroke="{colour_of(curve.role)}" stroke-width="{_n(curve.width_pt * 1.3)}"'
        title = f"<title>{escape(curve.label)}</title>" if curve.label else ""
        dashes = _DASHES if curve.dashed else ""
        self.parts.append(f'<polyline points="{points}" {ink}{dashes}>{title}</polyline>')


def _points(points: FloatArray) -> str:
    return " ".join(f"{_n(x)},{_n(y)}" for x, y in points.tolist())


def _box(box: Box) -> str:
    return 'x="{}" y="{}" width="{}" height="{}"'.format(*map(_n, box))


def _n(value: float) -> str:
    return f"{value:.2f}".rstrip("0").rstrip(".")


def _axes(frame: Frame) -> str:
    parts = []
    left, right, bottom = _n(frame.left), _n(frame.right), frame.bottom
    for tick in axis_ticks(frame.spec.x, 8):
        x = _n(frame.x(tick.value))
        parts.append(f'<line x1="{x}" x2="{x}" y1="{_n(TOP)}" y2="{_n(bottom)}"/>')
        parts.append(f'<text class="x" x="{x}" y="{_n(bottom + 14)}">{escape(tick.text)}</text>')
    for tick in axis_ticks(frame.spec.y, 6):
        y = _n(frame.y(tick.value))
        parts.append(f'<line x1="{left}" x2="{right}" y1="{y}" y2="{y}"/>')
        parts.append(
            f'<text class="y" x="{_n(frame.left - 5)}" y="{y}" dy="0.35em">{escape(tick.text)}</text>'
        )
    return "".join(parts)


def _titles(frame: Frame, height: float) -> str:
    x, y = frame.left + frame.width / 2, frame.top + frame.height / 2
    across, upward = escape(frame.spec.x.label), escape(frame.spec.y.label)
    return (
        f'<text class="title x" x="{_n(x)}" y="{_n(height - 8)}">{across}</text>'
        f'<text class="title x" transform="translate(13 {_n(y)}) rotate(-90)">{upward}</text>'
    )


def _labels(frame: Frame) -> list[str]:
    """Marks and texts keep their size when the plot is zoomed: the script moves them."""
    parts = []
    for zone in frame.spec.zones:
        room = frame.x(zone.high) - frame.x(zone.low)
        if room > 7.0 * len(zone.label):
            parts.append(
                _anchored(
                    (zone.low + zone.high) / 2,
                    None,
                    frame,
                    f'<text class="zone" y="12">{escape(zone.label)}</text>',
                )
            )
    for limit in frame.spec.limits:
        words = escape(limit.words)
        # A low limit is named below its line: two that lie close together stay legible.
        text = f'<text class="limit-text" x="4" y="{11 if limit.label == "low" else -4}">{words}</text>'
        if limit.axis == "y":
            parts.append(_anchored(None, limit.value, frame, text))
        else:
            turned = 'transform="translate(-4 4) rotate(-90)" text-anchor="end"'
            upright = f'<text class="limit-text" {turned}>{words}</text>'
            parts.append(_anchored(limit.value, None, frame, upright))
    for mark in frame.spec.marks:
        title = f"<title>{escape(mark.label or mark.role)}</title>"
        text = f'<text class="mark-text" x="-8" y="-6">{escape(mark.label)}</text>' if mark.label else ""
        parts.append(_anchored(mark.x, mark.y, frame, f"{_shape(mark)}{title}{text}"))
    for note in frame.spec.notes:
        end = ' text-anchor="end"' if note.ends else ""
        text = f'<text class="note" x="{-4 if note.ends else 4}" dy="0.35em"{end}>{escape(note.text)}</text>'
        parts.append(_anchored(note.x, note.y, frame, text))
    return parts


def _anchored(x: float | None, y: float | None, frame: Frame, inner: str) -> str:
    """A group at a place in data coordinates; None means the left or the top edge, whatever the zoom."""
    place = f"translate({_n(LEFT if x is None else frame.x(x))} {_n(TOP if y is None else frame.y(y))})"
    at = f' data-x="{x!r}"' if x is not None else ""
    at += f' data-y="{y!r}"' if y is not None else ""
    return f'<g transform="{place}"{at}>{inner}</g>'


def _shape(mark: Mark) -> str:
    colour = colour_of(mark.role)
    style = f'fill="{colour}" stroke="#FFFFFF" stroke-width="0.8"'
    if mark.shape == "circle":
        return f'<circle r="3.6" {style}/>'
    if mark.shape == "cross":
        return f'<path d="M-4 0H4M0 -4V4" stroke="{colour}" stroke-width="1.6"/>'
    path = {
        "triangle": "M0 -4.4L4.2 3.4H-4.2Z",
        "square": "M-3.4 -3.4H3.4V3.4H-3.4Z",
        "diamond": "M0 -4.6L4.6 0L0 4.6L-4.6 0Z",
    }
    return f'<path d="{path[mark.shape]}" {style}/>'


def png_bytes(levels: NDArray[np.uint8]) -> bytes:
    """An 8-bit grey picture as PNG (ISO/IEC 15948), row filter 0."""
    rows, columns = levels.shape
    raw = np.zeros((rows, columns + 1), np.uint8)
    raw[:, 1:] = levels

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    header = struct.pack(">IIBBBBB", columns, rows, 8, 0, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n"
        + chunk(b"IHDR", header)
        + chunk(b"IDAT", zlib.compress(raw.tobytes(), 9))
        + chunk(b"IEND", b"")
    )
