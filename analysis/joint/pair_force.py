"""What the torque of loosening tells: clamp force from a pair of tightening and loosening torques."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from analysis.arrays import FloatArray
from analysis.joint.clamp_routes import TORQUE_UNCERTAINTY
from analysis.joint.thread import Thread

CAUTION = (
    "estimated from the difference of two torques, not measured; presumes the same friction both ways and "
    "no loss of clamp force in between"
)


def force_from_pair_kn(thread: Thread, tightening_nm: ArrayLike, loosening_nm: ArrayLike) -> FloatArray:
    """Clamp force from the tightening and the loosening torque of one bolt, whatever the friction, kN.

    Parameters
    ----------
    tightening_nm, loosening_nm : array_like
        Both positive; prevailing torque taken off both.

    Notes
    -----
    F = pi (T_on - T_off)/P. The difference of two large torques: an error of 2 % in one of them is 5-10 % in
    F. Presumes the same friction both ways and no loss of clamp force in between.
    """
    difference = np.asarray(tightening_nm, np.float64) - np.asarray(loosening_nm, np.float64)
    return np.asarray(math.pi * difference / thread.pitch_mm, np.float64)


@dataclass(frozen=True)
class PairEstimate:
    """Clamp force of one bolt from its tightening and its loosening."""

    force_kn: float | None
    uncertainty_kn: float | None  #: Standard uncertainty from that of the two torques.
    #: What was put in: prevailing torque taken off, both positive.
    tightening_nm: float
    loosening_nm: float
    reason: str = ""  #: Why there is no force; empty where there is one.
    caution: str = CAUTION
    #: The loosening torque is a breakaway peak, higher than what runs: the force is a lower bound.
    at_least: bool = False


#: What a breakaway may differ from the running torque, over the friction torque: static over kinetic friction
#: of 1.05 already makes the pair read 15 % low (M10, mu 0.12, derived).
BREAKAWAY_UNCERTAINTY = 0.05


def estimate_force_from_pair(
    thread: Thread,
    tightening_nm: float,
    loosening_nm: float,
    *,
    prevailing_on_nm: float = 0.0,
    prevailing_off_nm: float = 0.0,
    torque_uncertainty: float = TORQUE_UNCERTAINTY,
    running: bool = True,
) -> PairEstimate:
    """Clamp force of one bolt from T_on - T_off = F P/pi, with the uncertainty that the difference carries.

    Parameters
    ----------
    tightening_nm, loosening_nm : float
        Final torque, and torque at which the bolt begins to come loose (positive), N·m.
    prevailing_on_nm, prevailing_off_nm : float
        Prevailing torque of either turn, taken off first, N·m.
    torque_uncertainty : float
        Standard uncertainty of each torque, as a share.
    running : bool
        The loosening torque is that of the running bolt, drawn back to the first movement; a breakaway peak
        is not: static friction makes it higher, and the force a lower bound.

    Examples
    --------
    >>> from analysis.joint.thread import parse_thread
    >>> round(estimate_force_from_pair(parse_thread("M10"), 48.34, 34.21).force_kn, 1)
    29.6
    """
    on, off = tightening_nm - prevailing_on_nm, loosening_nm - prevailing_off_nm
    if not (math.isfinite(on) and math.isfinite(off)) or on <= 0.0 or off <= 0.0:
        return PairEstimate(None, None, on, off, "not evaluated: a torque is missing or not above prevailing")
    if off >= on:
        reason = "not evaluated: the bolt came loose at no less than it was tightened with"
        return PairEstimate(None, None, on, off, reason)
    force = float(force_from_pair_kn(thread, on, off))
    spread = math.hypot(tightening_nm, loosening_nm) * torque_uncertainty
    if not running:
        spread = math.hypot(spread, BREAKAWAY_UNCERTAINTY * 0.5 * (on + off))
    return PairEstimate(force, math.pi / thread.pitch_mm * spread, on, off, at_least=not running)
