"""How much steeper a joint's rise would still become: parts that are not yet pulled together at its end."""

from __future__ import annotations

import numpy as np

from analysis.arrays import FloatArray

#: Degrees per torque fall to what bolt and firm parts take as c + a exp(-(x/b)^p), x the share of the usual
#: torque: exponents and widths that are tried (own choice).
EXPONENTS, WIDTHS = (0.7, 1.0, 1.5, 2.0), np.geomspace(0.03, 1.0, 18)
#: Share of the usual torque from which on the rise is looked at, and levels that are needed (own choices).
FROM_SHARE, FEWEST = 0.25, 6
#: Scatter of a level that is believed, as a share of the degrees per torque there (own choice).
LEAST_SCATTER = 0.01
#: Mean square of the best curve's departures, in their uncertainties, beyond which it says nothing: a stop
#: between stages is no bend (own choice).
WORST_FIT = 8.0
#: Neighbouring levels that say the same thing (own choice).
SAID_TOGETHER = 2.0
#: Share of the curves that fit which have less still to come than what is taken: nearly the least (own
#: choice).
TAKEN = 0.1
#: Share of what is still to come that is taken off, the other half its uncertainty: it is an extrapolation.
#: Smallest bend that is taken for one, of the logarithm, and its uncertainty as a share of it (own choices).
HALF, LEAST_BEND, UNCERTAIN = 0.5, 0.03, 0.25
#: Share of the usual torque from which on the end of the rise is read.
END_SHARE = 0.75


def slope_still_to_come(
    slope_nm_per_deg: float, torque_share: FloatArray, per_torque: FloatArray, scatter: FloatArray
) -> tuple[float, float]:
    """ln of the slope as read over the one that parts pulled together would have, 0 or less; its uncertainty.

    Parameters
    ----------
    slope_nm_per_deg : float
        Middle of the joint's elastic slopes.
    torque_share, per_torque, scatter
        As `left_to_bend` takes them.
    """
    end = np.isfinite(per_torque) & (torque_share > END_SHARE)
    if not end.any() or not slope_nm_per_deg > 0.0:
        return 0.0, 0.0
    # Of a rise that is straight, or yields at its end, the slope as read is the steepest.
    seen = min(float(np.log(slope_nm_per_deg * np.mean(per_torque[end]))), 0.0)
    to_come = left_to_bend(torque_share, per_torque, scatter)
    total = seen + HALF * to_come
    return (total, float(np.hypot(UNCERTAIN * seen, HALF * to_come))) if total < -LEAST_BEND else (0.0, 0.0)


def left_to_bend(torque_share: FloatArray, per_torque: FloatArray, scatter: FloatArray) -> float:
    """ln of the degrees per torque once all is pulled together, over those of the last quarter; 0 or less.

    Parameters
    ----------
    torque_share : ndarray, shape (levels,)
        Torque of each level over the usual final one.
    per_torque, scatter : ndarray, shape (levels,)
        Degrees per torque there, and their standard uncertainty.

    Examples
    --------
    >>> x = np.linspace(0.05, 1.0, 30)
    >>> left_to_bend(x, np.full(30, 2.0), np.full(30, 0.02))
    0.0
    """
    used = np.isfinite(per_torque) & (torque_share > FROM_SHARE)
    x, y = torque_share[used], per_torque[used]
    if len(x) < FEWEST:
        return 0.0
    weight = 1.0 / np.fmax(scatter[used], LEAST_SCATTER * y) ** 2
    misfit, firm = _fits(x, y, weight)
    best, spare = float(misfit.min()), max(len(x) - 3, 1)
    if not best <= WORST_FIT * spare:
        return 0.0
    likely = np.exp(-0.5 * (misfit - best) / (SAID_TOGETHER * max(best / spare, 1.0)))
    order = np.argsort(-firm)
    reached = np.cumsum(likely[order]) >= TAKEN * likely.sum()
    last = float(y[x > END_SHARE].mean()) if (x > END_SHARE).any() else float(y[-1])
    left = float(np.log(firm[order][int(reached.argmax())] / last))
    return left if left < -LEAST_BEND else 0.0


def _fits(x: FloatArray, y: FloatArray, weight: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Weighted squares that each width and exponent leaves, and its firm degrees per torque."""
    falling = np.array([np.exp(-((x / b) ** p)) for p in EXPONENTS for b in WIDTHS])
    total = weight.sum()
    middle_y, middle = (weight * y).sum() / total, falling @ weight / total
    apart = falling - middle[:, None]
    square = (apart**2) @ weight
    slope = np.fmax((apart @ (weight * (y - middle_y))) / np.fmax(square, 1e-12 * total), 0.0)
    firm = middle_y - slope * middle
    left = y - middle_y - slope[:, None] * apart
    sound = firm > 0.2 * float(y.min())
    return np.asarray(((left**2) @ weight)[sound]), np.asarray(firm[sound])
