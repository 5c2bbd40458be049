"""A plot as SVG: axes by the shared ticks, curves as paths, the bundle as an embedded picture."""

from __future__ import annotations

import base64
import struct
import zlib
from html import escape

import numpy as np
from numpy.typing import NDArray

from analysis.report.palette import BAND_OPACITY, colour_of
from analysis.report.plot_spec import FloatArray, Mark, Picture, PlotSpec
from analysis.report.ticks import ticks

#: Size of the drawing in its own units, and the room for labels around the plotting area.
WIDTH = 720.0
LEFT, RIGHT, TOP, BOTTOM = 62.0, 12.0, 16.0, 42.0
_DASHES = ' stroke-dasharray="5 4"'


def svg_plot(spec: PlotSpec, width: float = WIDTH) -> str:
    """One ``<svg>`` element; complete without script, zoomable with the report's script."""
    frame = _Frame(spec, width)
    inside = [*_picture(spec.picture, frame), *_zones(spec, frame), *_bands(spec, frame), *_bars(spec, frame)]
    inside += _limits(spec, frame) + _curves(spec, frame)
    name = escape(spec.name, quote=True)
    return (
        f'<svg class="plot" id="{name}" viewBox="0 0 {_n(width)} {_n(frame.height)}" role="img" '
        f'aria-label="{escape(spec.title, quote=True)}" data-frame="{frame.data()}">'
        f'<defs><clipPath id="{name}-clip"><rect x="{_n(LEFT)}" y="{_n(TOP)}" width="{_n(frame.plot_width)}" '
        f'height="{_n(frame.plot_height)}"/></clipPath></defs>'
        f'<g class="axes">{_axes(spec, frame)}</g>'
        f'<g clip-path="url(#{name}-clip)"><g class="content">{"".join(inside)}</g>'
        f'<g class="labels">{"".join(_labels(spec, frame))}</g></g>'
        f'<rect class="frame" x="{_n(LEFT)}" y="{_n(TOP)}" width="{_n(frame.plot_width)}" '
        f'height="{_n(frame.plot_height)}"/>{_titles(spec, frame)}</svg>'
    )


class _Frame:
    """The plotting area in drawing units, and the way from data to it."""

    def __init__(self, spec: PlotSpec, width: float) -> None:
        self.spec = spec
        self.width = width
        self.height = TOP + BOTTOM + max(spec.height_pt * 1.15, 120.0)
        self.plot_width = width - LEFT - RIGHT
        self.plot_height = self.height - TOP - BOTTOM

    def x(self, value: float) -> float:
        axis = self.spec.x
        return LEFT + (value - axis.low) / (axis.high - axis.low) * self.plot_width

    def y(self, value: float) -> float:
        axis = self.spec.y
        return TOP + (axis.high - value) / (axis.high - axis.low) * self.plot_height

    def data(self) -> str:
        """What the script needs to redraw the ticks: the area and the two ranges."""
        x, y = self.spec.x, self.spec.y
        numbers = (LEFT, TOP, self.plot_width, self.plot_height, x.low, x.high, y.low, y.high)
        return " ".join(repr(float(number)) for number in numbers)

    def points(self, x: FloatArray, y: FloatArray) -> str:
        sx, sy = self.spec.x, self.spec.y
        px = LEFT + (x - sx.low) / (sx.high - sx.low) * self.plot_width
        py = TOP + (sy.high - y) / (sy.high - sy.low) * self.plot_height
        return " ".join(f"{_n(a)},{_n(b)}" for a, b in zip(px.tolist(), py.tolist(), strict=True))


def _n(value: float) -> str:
    return f"{value:.2f}".rstrip("0").rstrip(".")


def _axes(spec: PlotSpec, frame: _Frame) -> str:
    parts = []
    bottom, right = TOP + frame.plot_height, LEFT + frame.plot_width
    for tick in ticks(spec.x.low, spec.x.high, 8):
        x = _n(frame.x(tick.value))
        parts.append(f'<line x1="{x}" x2="{x}" y1="{_n(TOP)}" y2="{_n(bottom)}"/>')
        parts.append(f'<text class="x" x="{x}" y="{_n(bottom + 14)}">{tick.text}</text>')
    for tick in ticks(spec.y.low, spec.y.high, 6):
        y = _n(frame.y(tick.value))
        parts.append(f'<line x1="{_n(LEFT)}" x2="{_n(right)}" y1="{y}" y2="{y}"/>')
        parts.append(f'<text class="y" x="{_n(LEFT - 5)}" y="{y}" dy="0.35em">{tick.text}</text>')
    return "".join(parts)


def _titles(spec: PlotSpec, frame: _Frame) -> str:
    x, y = LEFT + frame.plot_width / 2, TOP + frame.plot_height / 2
    return (
        f'<text class="title x" x="{_n(x)}" y="{_n(frame.height - 8)}">{escape(spec.x.label)}</text>'
        f'<text class="title x" transform="translate(13 {_n(y)}) rotate(-90)">{escape(spec.y.label)}</text>'
    )


def _picture(picture: Picture | None, frame: _Frame) -> list[str]:
    if picture is None:
        return []
    data = base64.b64encode(png_bytes(picture.levels)).decode("ascii")
    x, y = frame.x(picture.x_low), frame.y(picture.y_high)
    return [
        f'<image x="{_n(x)}" y="{_n(y)}" width="{_n(frame.x(picture.x_high) - x)}" '
        f'height="{_n(frame.y(picture.y_low) - y)}" preserveAspectRatio="none" '
        f'href="data:image/png;base64,{data}"/>'
    ]


def _zones(spec: PlotSpec, frame: _Frame) -> list[str]:
    return [
        f'<rect x="{_n(frame.x(zone.low))}" y="{_n(TOP)}" '
        f'width="{_n(frame.x(zone.high) - frame.x(zone.low))}" '
        f'height="{_n(frame.plot_height)}" fill="{colour_of(zone.role)}"/>'
        for zone in spec.zones
    ]


def _bands(spec: PlotSpec, frame: _Frame) -> list[str]:
    return [
        f'<polygon points="{frame.points(band.x, band.high)} {frame.points(band.x[::-1], band.low[::-1])}" '
        f'fill="{colour_of(band.role)}" fill-opacity="{BAND_OPACITY}"/>'
        for band in spec.bands
    ]


def _bars(spec: PlotSpec, frame: _Frame) -> list[str]:
    if spec.bars is None:
        return []
    parts = []
    edges = spec.bars.edges
    base = np.zeros(len(edges) - 1, np.int64)
    for counts, role in zip(spec.bars.counts, spec.bars.roles, strict=True):
        for k in np.flatnonzero(counts):
            x0, x1 = frame.x(float(edges[k])), frame.x(float(edges[k + 1]))
            y0, y1 = frame.y(float(base[k] + counts[k])), frame.y(float(base[k]))
            parts.append(
                f'<rect class="bar" x="{_n(x0)}" y="{_n(y0)}" width="{_n(x1 - x0)}" height="{_n(y1 - y0)}" '
                f'fill="{colour_of(role)}"><title>{role}: {int(counts[k])}</title></rect>'
            )
        base = base + counts
    return parts


def _limits(spec: PlotSpec, frame: _Frame) -> list[str]:
    parts = []
    for limit in spec.limits:
        if limit.axis == "y":
            y, right = _n(frame.y(limit.value)), LEFT + frame.plot_width
            ends = f'x1="{_n(LEFT)}" x2="{_n(right)}" y1="{y}" y2="{y}"'
        else:
            x, bottom = _n(frame.x(limit.value)), TOP + frame.plot_height
            ends = f'x1="{x}" x2="{x}" y1="{_n(TOP)}" y2="{_n(bottom)}"'
        parts.append(f'<line class="limit" {ends} stroke="{colour_of(limit.role)}"/>')
    return parts


def _curves(spec: PlotSpec, frame: _Frame) -> list[str]:
    return [
        f'<polyline points="{frame.points(curve.x, curve.y)}" stroke="{colour_of(curve.role)}" '
        f'stroke-width="{_n(curve.width_pt * 1.3)}"{_DASHES if curve.dashed else ""}>'
        + (f"<title>{escape(curve.label)}</title>" if curve.label else "")
        + "</polyline>"
        for curve in spec.curves
        if len(curve.x)
    ]


def _labels(spec: PlotSpec, frame: _Frame) -> list[str]:
    """Marks and texts keep their size when the plot is zoomed: the script moves them."""
    parts = []
    for zone in spec.zones:
        room = frame.x(zone.high) - frame.x(zone.low)
        if room > 7.0 * len(zone.label):
            parts.append(
                _anchored(
                    (zone.low + zone.high) / 2, None, frame, f'<text class="zone" y="12">{zone.label}</text>'
                )
            )
    for limit in spec.limits:
        words = f"{escape(limit.label)} limit"
        # A low limit is named below its line: two that lie close together stay legible.
        text = f'<text class="limit-text" x="4" y="{11 if limit.label == "low" else -4}">{words}</text>'
        if limit.axis == "y":
            parts.append(_anchored(None, limit.value, frame, text))
        else:
            turned = 'transform="translate(-4 4) rotate(-90)" text-anchor="end"'
            upright = f'<text class="limit-text" {turned}>{words}</text>'
            parts.append(_anchored(limit.value, None, frame, upright))
    for mark in spec.marks:
        title = f"<title>{escape(mark.label or mark.role)}</title>"
        text = f'<text class="mark-text" x="-8" y="-6">{escape(mark.label)}</text>' if mark.label else ""
        parts.append(_anchored(mark.x, mark.y, frame, f"{_shape(mark)}{title}{text}"))
    return parts


def _anchored(x: float | None, y: float | None, frame: _Frame, inner: str) -> str:
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
