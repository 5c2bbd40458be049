"""Two kinds of joint in one population: a bad lot must not widen what is usual."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from analysis.arrays import FloatArray
from analysis.spread import robust_deviation

#: Share of the values that the smaller group must hold; fewer are a minority of odd ones, which robust
#: estimates bear by themselves (own choice).
SMALLEST_SHARE = 0.2
#: Distance of the groups' medians over their own standard deviation from which they are two. The halves of
#: one normal population lie 2.3 apart by this measure, those of an even spread 2.7 (own choice).
APART = 5.0
#: Width of the valley between them, from the ninth tenth of the lower to the first tenth of the upper, over
#: the same deviation; one population has none, however skewed (own choice; normal groups `APART` have 2.4).
VALLEY = 2.0
#: Fewer values than this have valleys by chance (own choice; see the tests).
FEWEST = 40
#: Values beyond these quantiles do not say where the groups part.
_LOW, _HIGH = 0.02, 0.98


def larger_group(values: FloatArray, least_spread: float) -> NDArray[np.bool_] | None:
    """Which values belong to the larger of two clearly separate groups; None where there is one group.

    The values are parted where the variance between the parts is largest (Otsu 1979, on sorted values), with
    at least `SMALLEST_SHARE` of them on each side; the parts are two groups where their medians lie `APART`
    standard deviations (by the median absolute deviation, the wider of the two) from each other with a valley
    between.

    Parameters
    ----------
    values : ndarray, shape (n,)
        One compared quantity; NaN belongs to no group.
    least_spread : float
        Smallest standard deviation that is believed.

    References
    ----------
    N. Otsu, IEEE Trans. Systems, Man, and Cybernetics 9 (1979) 62 (recalled, not confirmed).

    Examples
    --------
    >>> values = np.concatenate([np.linspace(0.9, 1.1, 30), np.linspace(1.9, 2.1, 20)])
    >>> int(larger_group(values, 0.01).sum())
    30
    >>> larger_group(np.linspace(0.0, 1.0, 50), 0.01) is None
    True
    """
    known = np.sort(values[~np.isnan(values)])
    n = len(known)
    fewest = int(np.ceil(SMALLEST_SHARE * n))
    if n < FEWEST:
        return None
    at = _parting(known, fewest)
    below, above = known[:at], known[at:]
    spread = max(robust_deviation(below), robust_deviation(above), least_spread)
    valley = np.quantile(above, 0.1) - np.quantile(below, 0.9)
    if np.median(above) - np.median(below) < APART * spread or valley < VALLEY * spread:
        return None
    edge = 0.5 * (below[-1] + above[0])
    with np.errstate(invalid="ignore"):
        return np.asarray(values < edge if len(below) >= len(above) else values > edge)


def _parting(ordered: FloatArray, fewest: int) -> int:
    """Number of values below the parting of largest variance between the parts."""
    n = len(ordered)
    held = np.clip(ordered, ordered[int(_LOW * n)], ordered[min(int(_HIGH * n), n - 1)])
    total = np.cumsum(held)
    sizes = np.arange(fewest, n - fewest + 1)
    means = total[sizes - 1] / sizes
    rest = (total[-1] - total[sizes - 1]) / (n - sizes)
    return int(sizes[np.argmax(sizes * (n - sizes) * (rest - means) ** 2)])
