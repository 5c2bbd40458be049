"""Whether the parts bear the bolt: threads that strip."""

from __future__ import annotations

import math

from analysis.joint.thread import Thread

#: Share of the pitch that bears in the inner thread at the bolt's nominal diameter: P/2 + (d - d2) tan 30.
BEARING_SHARE = 0.5 + 0.649519 * math.tan(math.radians(30.0))
STRIPPING_SOURCE = "VDI 2230, shear area of the inner thread (recalled, not confirmed), without its factors"


def stripping_load_kn(thread: Thread, engaged_mm: float, shear_strength_mpa: float) -> float:
    """Load at which the inner thread strips, kN.

    Notes
    -----
    A = pi d (m/P)(P/2 + (d - D2) tan 30), F = tau A. Factors for the nut's widening and the bending of its
    threads (0.7 to 1) are left out: the true load is lower.

    Examples
    --------
    >>> from analysis.joint.thread import parse_thread
    >>> round(stripping_load_kn(parse_thread("M10"), 10.0, 200.0), 1)
    55.0
    """
    area = math.pi * thread.diameter_mm * engaged_mm * BEARING_SHARE
    return shear_strength_mpa * area / 1000.0
