"""How many audits are needed: for a share that is sound, and for a mean of given sharpness."""

from __future__ import annotations

import math
from statistics import NormalDist

from analysis.errors import CallError


def zero_failures(sound_share: float, confidence: float) -> int:
    """Audits without a single failure that show at least this share to be sound.

    Notes
    -----
    n = ln(1 - C)/ln(p), p the sound share: the chance to see no failure among n is p^n.

    Raises
    ------
    CallError
        Where share or confidence is not between 0 and 1.

    Examples
    --------
    >>> [zero_failures(share, 0.95) for share in (0.90, 0.95, 0.99)]
    [29, 59, 299]
    """
    if not (0.0 < sound_share < 1.0 and 0.0 < confidence < 1.0):
        raise CallError(f"share {sound_share} and confidence {confidence} are to lie between 0 and 1")
    return math.ceil(round(math.log(1.0 - confidence) / math.log(sound_share), 9))


def for_mean(spread: float, half_width: float, confidence: float = 0.95) -> int:
    """Audits whose mean ratio is known to plus or minus `half_width`, both in the same unit.

    Notes
    -----
    n = (t s/E)^2 with Student's t of n - 1 degrees, by iteration.

    Examples
    --------
    >>> for_mean(0.05, 0.02), for_mean(0.05, 0.01), for_mean(0.08, 0.02)
    (27, 99, 64)
    """
    from scipy.special import stdtrit

    if not (spread > 0.0 and half_width > 0.0):
        raise CallError(f"spread {spread} and half width {half_width} are to be above zero")
    n = max(2, math.ceil((NormalDist().inv_cdf(0.5 + confidence / 2.0) * spread / half_width) ** 2))
    while n < (float(stdtrit(n - 1, 0.5 + confidence / 2.0)) * spread / half_width) ** 2:
        n += 1
    return n
