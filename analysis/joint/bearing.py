"""Where the head rubs: bearing diameter under the head, clearance hole, effective friction diameter."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from analysis.errors import CallError

if TYPE_CHECKING:
    from analysis.joint.thread import Thread

Head = Literal["hex", "flange", "socket"]
Hole = Literal["fine", "medium", "coarse"]
HEADS: tuple[Head, ...] = ("hex", "flange", "socket")
HOLES: tuple[Hole, ...] = ("fine", "medium", "coarse")

RECALLED = "recalled, not confirmed"

#: Smallest bearing diameter of hexagon heads, product grade A, mm: ISO 4014.
_HEX_MM: dict[float, float] = {
    4: 5.88, 5: 6.88, 6: 8.88, 8: 11.63, 10: 14.63, 12: 16.63, 14: 19.37, 16: 22.49, 20: 28.19, 24: 33.61,
}  # fmt: skip
#: Smallest width across flats of hexagon heads whose bearing diameter is computed, mm (ISO 4014 with the
#: tolerances of ISO 4759-1; recalled, not confirmed).
_HEX_SMALLEST_WIDTH_MM: dict[float, float] = {
    18: 26.67, 22: 33.38, 27: 40.0, 30: 45.0, 33: 49.0, 36: 53.8, 39: 58.8,
}  # fmt: skip
#: From M16 up the bearing diameter is this share of the smallest width across flats: read off the seen
#: values of M16 (22.49/23.67), M20 (28.19/29.67), M24 (33.61/35.38), all 0.950.
HEX_BEARING_SHARE = 0.95
#: Further smallest bearing diameters of hexagon heads, mm: recalled, not confirmed.
_HEX_RECALLED_MM: dict[float, float] = {3: 4.57, 7: 9.63}
#: Smallest bearing diameter of hexagon socket heads, mm: ISO 4762, recalled, not confirmed.
_SOCKET_MM: dict[float, float] = {
    3: 5.07, 4: 6.53, 5: 8.03, 6: 9.38, 8: 12.33, 10: 15.33, 12: 17.23, 14: 20.17, 16: 23.17, 20: 28.87,
    24: 34.81, 30: 43.61, 36: 52.54,
}  # fmt: skip
#: Smallest bearing diameter of hexagon flange heads, mm: ISO 4162, recalled, not confirmed.
_FLANGE_MM: dict[float, float] = {6: 11.6, 8: 14.9, 10: 18.7, 12: 22.5, 16: 30.6}

#: Clearance holes fine, medium, coarse, mm: ISO 273.
_HOLES_MM: dict[float, tuple[float, float, float]] = {
    4: (4.3, 4.5, 4.8), 5: (5.3, 5.5, 5.8), 6: (6.4, 6.6, 7.0), 8: (8.4, 9.0, 10.0), 10: (10.5, 11.0, 12.0),
    12: (13.0, 13.5, 14.5), 14: (15.0, 15.5, 16.5), 16: (17.0, 17.5, 18.5),
}  # fmt: skip
#: Medium holes that a recomputation of the fine-thread table of VDI 2230 confirms, mm.
_MEDIUM_HOLES_MM: dict[float, float] = {18: 20.0, 20: 22.0, 22: 24.0, 24: 26.0}
#: Clearance holes fine, medium, coarse, mm: recalled, not confirmed.
_HOLES_RECALLED_MM: dict[float, tuple[float, float, float]] = {
    3: (3.2, 3.4, 3.6), 7: (7.4, 7.6, 8.0), 18: (19.0, 20.0, 21.0), 20: (21.0, 22.0, 24.0),
    22: (23.0, 24.0, 26.0), 24: (25.0, 26.0, 28.0), 27: (28.0, 30.0, 32.0), 30: (31.0, 33.0, 35.0),
    33: (34.0, 36.0, 38.0), 36: (37.0, 39.0, 42.0), 39: (40.0, 42.0, 45.0),
}  # fmt: skip


@dataclass(frozen=True)
class Dimension:
    """A length with where it comes from."""

    value_mm: float
    source: str  #: Standard, or how it was computed.
    #: What to be careful about ("recalled, not confirmed", "outside the tables"); empty where nothing.
    note: str = ""


@dataclass(frozen=True)
class Bearing:
    """The ring on which the head (or the turned nut) rubs."""

    head_mm: Dimension  #: D_w,min, smallest outer diameter of the bearing face.
    hole_mm: Dimension  #: Inner diameter: the clearance hole.

    @property
    def friction_diameter_mm(self) -> float:
        """D_Km = (d_w,min + d_hole)/2, mm (VDI 2230)."""
        return (self.head_mm.value_mm + self.hole_mm.value_mm) / 2.0

    @property
    def area_mm2(self) -> float:
        """Bearing area under the head, mm2."""
        return float(np.pi / 4.0 * (self.head_mm.value_mm**2 - self.hole_mm.value_mm**2))

    @property
    def notes(self) -> tuple[str, ...]:
        """What to be careful about in either diameter."""
        return tuple(d.note for d in (self.head_mm, self.hole_mm) if d.note)


def bearing(
    thread: Thread,
    head: str | None,
    hole: str | None,
    *,
    bearing_diameter_mm: float | None = None,
    hole_diameter_mm: float | None = None,
) -> Bearing:
    """Bearing ring of a head on a clearance hole; given diameters go before the tables.

    Raises
    ------
    CallError
        Where neither a known kind nor a diameter is given, or the hole is not smaller than the bearing face.

    Examples
    --------
    >>> from analysis.joint.thread import parse_thread
    >>> round(bearing(parse_thread("M10"), "hex", "medium").friction_diameter_mm, 3)
    12.815
    """
    outer = _given(bearing_diameter_mm) or head_bearing_mm(thread, head)
    inner = _given(hole_diameter_mm) or hole_mm(thread, hole)
    if inner.value_mm >= outer.value_mm:
        raise CallError(
            f"a hole of {inner.value_mm:g} mm leaves no bearing face under a head of {outer.value_mm:g} mm"
        )
    return Bearing(outer, inner)


def _given(value_mm: float | None) -> Dimension | None:
    return None if value_mm is None else Dimension(value_mm, "given in the joint definition")


def head_bearing_mm(thread: Thread, head: str | None) -> Dimension:
    """Smallest bearing diameter under the head."""
    d = thread.diameter_mm
    if head == "hex":
        if d in _HEX_MM:
            return Dimension(_HEX_MM[d], "ISO 4014, product grade A")
        if d in _HEX_SMALLEST_WIDTH_MM:
            width = _HEX_SMALLEST_WIDTH_MM[d]
            return Dimension(
                round(HEX_BEARING_SHARE * width, 2),
                f"{HEX_BEARING_SHARE:g} x smallest width across flats {width:g} mm (ISO 4014)",
                f"bearing diameter of M{d:g} hexagon heads computed from the width across flats, {RECALLED}",
            )
        if d in _HEX_RECALLED_MM:
            note = f"bearing diameter of M{d:g} hexagon heads {RECALLED}"
            return Dimension(_HEX_RECALLED_MM[d], "ISO 4014", note)
        return _scaled({**_HEX_MM, **_HEX_RECALLED_MM}, d, "hexagon head")
    if head == "socket":
        return _recalled_or_scaled(_SOCKET_MM, d, "socket head", "ISO 4762")
    if head == "flange":
        return _recalled_or_scaled(_FLANGE_MM, d, "flange head", "ISO 4162")
    raise CallError(f"head {head!r} is not one of {', '.join(HEADS)}")


def hole_mm(thread: Thread, hole: str | None) -> Dimension:
    """Clearance hole."""
    if hole not in HOLES:
        raise CallError(f"hole {hole!r} is not one of {', '.join(HOLES)}")
    column = HOLES.index(hole)
    d = thread.diameter_mm
    if d in _HOLES_MM:
        return Dimension(_HOLES_MM[d][column], f"ISO 273, {hole}")
    if hole == "medium" and d in _MEDIUM_HOLES_MM:
        return Dimension(_MEDIUM_HOLES_MM[d], "ISO 273, medium, confirmed by recomputing VDI 2230's table")
    if d in _HOLES_RECALLED_MM:
        return Dimension(
            _HOLES_RECALLED_MM[d][column], f"ISO 273, {hole}", f"{hole} clearance hole of M{d:g} {RECALLED}"
        )
    table = {size: row[column] for size, row in {**_HOLES_MM, **_HOLES_RECALLED_MM}.items()}
    return _scaled(table, d, f"{hole} clearance hole")


def _recalled_or_scaled(table: dict[float, float], d: float, what: str, standard: str) -> Dimension:
    if d in table:
        return Dimension(table[d], standard, f"bearing diameter of M{d:g} {what} {RECALLED}")
    return _scaled(table, d, what)


def _scaled(table: dict[float, float], d: float, what: str) -> Dimension:
    """Ratio to the nominal diameter, straight between the neighbours, constant beyond the ends."""
    sizes = np.array(sorted(table))
    ratio = float(np.interp(d, sizes, [table[size] / size for size in sizes]))
    return Dimension(
        round(ratio * d, 2),
        f"{ratio:.3f} x d, between the neighbouring sizes",
        f"{what} of M{d:g} is outside the tables; computed from the neighbouring sizes",
    )
