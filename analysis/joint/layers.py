"""Clamped parts of several layers, each with its own modulus; bolts with several sections."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from analysis.joint.bearing import Bearing
    from analysis.joint.thread import Thread

#: (thickness mm, modulus GPa) from the head on; (length mm, diameter mm) of a bolt from the head on.
Layers = Sequence[tuple[float, float]]
Sections = Sequence[tuple[float, float]]


def layered_compliance_mm_per_n(
    layers: Layers, ring: Bearing, parts_diameter_mm: float, tangent: float, *, through: bool
) -> float:
    """Shortening of layered parts per newton, mm/N: the cone of one material, each layer with its modulus.

    Parameters
    ----------
    tangent : float
        Of the cone's angle (`analysis.joint.stiffness.cone_tangent`); zero for parts narrower than the
        bearing face, which are a sleeve.
    through : bool
        A through bolt has a cone from either end, a tapped one from the head alone.

    Notes
    -----
    The integral of dz/(E A) over the cone, and over the sleeve where the cone has reached the parts'
    diameter. The cone's angle is that of one material.

    References
    ----------
    VDI 2230, compliance of the clamped parts; layers by the same integral (derived).
    """
    length = sum(thickness for thickness, _ in layers)
    half = length / 2.0 if through else length
    whole = _up_to(half, ring, parts_diameter_mm, tangent)

    def softness(depth: float) -> float:
        """Integral of dz/A from the head to a depth, 1/mm."""
        if depth <= half:
            return _up_to(depth, ring, parts_diameter_mm, tangent)
        return 2.0 * whole - _up_to(length - depth, ring, parts_diameter_mm, tangent)

    total, depth = 0.0, 0.0
    for thickness, modulus_gpa in layers:
        total += (softness(depth + thickness) - softness(depth)) / (modulus_gpa * 1000.0)
        depth += thickness
    return total


def _up_to(depth: float, ring: Bearing, parts_diameter_mm: float, tangent: float) -> float:
    """Integral of dz/A from a bearing face to a depth."""
    face, hole = ring.head_mm.value_mm, ring.hole_mm.value_mm
    sleeve = math.pi / 4.0 * (parts_diameter_mm**2 - hole**2)
    if tangent <= 0.0:
        return depth / sleeve
    reached = min(face + 2.0 * depth * tangent, parts_diameter_mm)
    ratio = (reached - hole) * (face + hole) / ((reached + hole) * (face - hole))
    cone = math.log(ratio) / (math.pi * hole * tangent)
    return cone + (depth - (reached - face) / (2.0 * tangent)) / sleeve


def sections_per_mm(sections: Sections) -> float:
    """Sum of length over area of a bolt's plain or waisted sections, 1/mm.

    Examples
    --------
    >>> round(sections_per_mm([(10.0, 10.0), (20.0, 8.0)]), 4)
    0.5252
    """
    return sum(length / (math.pi / 4.0 * diameter**2) for length, diameter in sections)


def stressed_thread(thread: Thread, sections: Sections) -> Thread:
    """The thread of a bolt that yields in its waist where that is smaller, as VDI 2230 counts waisted bolts.

    Examples
    --------
    >>> from analysis.joint.thread import parse_thread
    >>> waisted = stressed_thread(parse_thread("M10"), [(10.0, 10.0), (8.0, 7.5)])
    >>> waisted.is_waisted, round(waisted.stress_area_mm2, 1)
    (True, 44.2)
    """
    return replace(thread, waist_mm=min((diameter for _, diameter in sections), default=math.inf))
