"""Sizes of metric fasteners for drawn joints: pitch, bearing faces, clearance hole."""

from __future__ import annotations

from tests.world.fastener import Fastener

#: Coarse pitch, ISO 273 medium hole, and outer diameter of each head's bearing face: hex ISO 4014, flange ISO
#: 4162 and socket ISO 4762 (the latter two recalled), mm.
_SIZES = {
    6.0: (1.0, 6.6, {"hex": 8.88, "flange": 11.6, "socket": 9.38}),
    8.0: (1.25, 9.0, {"hex": 11.63, "flange": 14.9, "socket": 12.33}),
    10.0: (1.5, 11.0, {"hex": 14.63, "flange": 18.7, "socket": 15.33}),
    12.0: (1.75, 13.5, {"hex": 16.63, "flange": 22.5, "socket": 17.23}),
    16.0: (2.0, 17.5, {"hex": 22.49, "flange": 30.6, "socket": 23.17}),
}
#: Smallest yield strength of a class, MPa (ISO 898-1, up to M16).
YIELD_MPA = {"8.8": 640.0, "10.9": 940.0, "12.9": 1100.0}
DIAMETERS_MM = tuple(_SIZES)
HEADS = ("hex", "flange", "socket")


def fastener_of(diameter_mm: float, head: str) -> Fastener:
    """Coarse thread with a medium clearance hole.

    Examples
    --------
    >>> fastener_of(10.0, "hex")
    Fastener(diameter_mm=10.0, pitch_mm=1.5, bearing_mm=14.63, hole_mm=11.0)
    """
    pitch, hole, faces = _SIZES[diameter_mm]
    return Fastener(diameter_mm, pitch, faces[head], hole)
