"""A plot as data: axes, curves, bands, limits and marks in data coordinates; no pixels, no colours."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from analysis.arrays import FloatArray
from analysis.figure_text import titled

#: What a thing stands for; `analysis.report.palette` gives it a colour.
Role = str
#: Height of a plot with its axes on paper, points: below 45 mm it cannot be read (own choice).
LEAST_HEIGHT_PT = 45.0 * 72.0 / 25.4
Shape = Literal["circle", "triangle", "square", "diamond", "cross"]


@dataclass(frozen=True)
class Axis:
    """Range and title of an axis; the unit stands behind the title.

    An axis of `names` has these at their places instead of figures.
    """

    title: str
    unit: str
    low: float
    high: float
    names: tuple[tuple[float, str], ...] = ()

    @property
    def label(self) -> str:
        """Title and unit as printed."""
        return titled(self.title, self.unit)


@dataclass(frozen=True, eq=False)
class Curve:
    """A polyline; `label` is shown at hover and in the key where not empty."""

    x: FloatArray
    y: FloatArray
    role: Role
    width_pt: float = 0.8
    dashed: bool = False
    label: str = ""


@dataclass(frozen=True, eq=False)
class Area:
    """The area between two curves over the same x."""

    x: FloatArray
    low: FloatArray
    high: FloatArray
    role: Role
    label: str = ""


@dataclass(frozen=True)
class Zone:
    """A vertical stripe over the whole height, named at its top."""

    low: float
    high: float
    role: Role
    label: str


#: Lines that are called by what they stand for.
_NAMED = ("wanted", "proof load", "yield", "stripping", "wanted mean")


@dataclass(frozen=True)
class LimitLine:
    """A straight line across the plot at one value of one axis."""

    axis: Literal["x", "y"]
    value: float
    label: str
    role: Role = "limit"

    @property
    def words(self) -> str:
        """As it is named beside the line: low and high are those of a limit, others name themselves."""
        return self.label if self.role == "event" or self.label in _NAMED else f"{self.label} limit"


def limit_lines(axis: Literal["x", "y"], limits: tuple[float, float] | None) -> tuple[LimitLine, ...]:
    """The limits of a figure; none where it has none."""
    named = zip(limits or (), ("low", "high"), strict=False)
    return tuple(LimitLine(axis, value, name) for value, name in named if math.isfinite(value))


@dataclass(frozen=True)
class Mark:
    """A point with a shape and a label."""

    x: float
    y: float
    shape: Shape
    role: Role
    label: str = ""


@dataclass(frozen=True)
class Note:
    """Words at a place, centred on its height; to the right of it, or ending there."""

    x: float
    y: float
    text: str
    ends: bool = False


@dataclass(frozen=True, eq=False)
class Bars:
    """Stacked counts over shared edges; one row of `counts` per role, drawn from the bottom up."""

    edges: FloatArray
    counts: NDArray[np.int64]
    roles: tuple[Role, ...]


@dataclass(frozen=True, eq=False)
class Bundle:
    """Grey levels over a rectangle of the plot: 255 is paper; row 0 is at the top."""

    levels: NDArray[np.uint8]
    x_low: float
    x_high: float
    y_low: float
    y_high: float


@dataclass(frozen=True, eq=False)
class PlotSpec:
    """All of one plot; drawn in the order picture, zones, bands, bars, limits, curves, marks."""

    name: str  #: Unique within the report.
    #: The caption says what is drawn and what is not.
    title: str
    caption: str
    x: Axis
    y: Axis
    height_pt: float  #: Height of the whole plot on paper, points.
    picture: Bundle | None = None
    zones: tuple[Zone, ...] = ()
    bands: tuple[Area, ...] = ()
    bars: Bars | None = None
    curves: tuple[Curve, ...] = ()
    limits: tuple[LimitLine, ...] = ()
    marks: tuple[Mark, ...] = ()
    notes: tuple[Note, ...] = ()
    #: (role, kind, text): explanation of colours; kind is "line", "band", "square" or a mark's shape.
    key: tuple[tuple[Role, str, str], ...] = ()
    #: On paper the plot may be made lower or higher, so that its section fills one page.
    flexible: bool = False
