"""Two sets of traces side by side: medians, spread, and the difference with its interval."""

from __future__ import annotations

from dataclasses import dataclass
from statistics import NormalDist

import numpy as np

from analysis.arrays import FloatArray
from analysis.shift.robust import robust_spread
from analysis.spread import CONFIDENCE, median_along

#: Values of each set that differences are formed of; more are thinned evenly by rank.
MOST_FOR_PAIRS = 1500


@dataclass(frozen=True)
class Comparison:
    """One quantity of two sets."""

    quantity: str
    unit: str
    labels: tuple[str, str]
    n: tuple[int, int]  #: Values present in each.
    #: Robust; NaN where a set has no value.
    medians: tuple[float, float]
    spreads: tuple[float, float]
    difference: float  #: Hodges and Lehmann: median of all differences second less first.
    #: Interval of the difference at `CONFIDENCE`.
    low: float
    high: float

    @property
    def differs(self) -> bool:
        """Whether the interval leaves out zero."""
        return self.low > 0.0 or self.high < 0.0

    def sentence(self) -> str:
        """What a colleague would say."""
        first, second = self.labels
        if min(self.n) < 2:
            return f"{self.quantity}: too few values to compare ({first} {self.n[0]}, {second} {self.n[1]})"
        text = (
            f"{self.quantity}: median {self.medians[0]:.4g} {self.unit} ({first}, n = {self.n[0]}) and "
            f"{self.medians[1]:.4g} {self.unit} ({second}, n = {self.n[1]}); median of pairwise "
            f"differences "
            f"{self.difference:+.3g} "
            f"{self.unit}, {100 * CONFIDENCE:.0f} % interval {self.low:+.3g} to {self.high:+.3g}"
        )
        return text + ("" if self.differs else "; no difference is shown")


def compare(
    first: FloatArray, second: FloatArray, quantity: str, unit: str, labels: tuple[str, str]
) -> Comparison:
    """Compare one quantity of two sets, NaN left out.

    References
    ----------
    J. L. Hodges, E. L. Lehmann, Ann. Math. Stat. 34 (1963) 598 (recalled, not confirmed). The interval is
    that of the Mann-Whitney test: its normal approximation gives the ranks of the ordered differences.
    """
    x, y = (_present(values) for values in (first, second))
    columns = [values[:, None] for values in (x, y)]
    centres = [median_along(column, 0) for column in columns]
    medians = (float(centres[0][0]), float(centres[1][0]))
    spreads = [float(robust_spread(c, m)[0]) for c, m in zip(columns, centres, strict=True)]
    difference, low, high = _hodges_lehmann(x, y)
    return Comparison(
        quantity, unit, labels, (len(x), len(y)), medians, (spreads[0], spreads[1]), difference, low, high
    )


def _present(values: FloatArray) -> FloatArray:
    values = np.asarray(values, np.float64)
    return np.sort(values[np.isfinite(values)])


def _hodges_lehmann(x: FloatArray, y: FloatArray) -> tuple[float, float, float]:
    if len(x) < 2 or len(y) < 2:
        return float("nan"), float("nan"), float("nan")
    n, m = len(x), len(y)
    x, y = _thinned(x), _thinned(y)
    differences = (y[:, None] - x[None, :]).ravel()
    # Thinned sets stand for all: the interval's share of the ranks is that of the full sets.
    half = NormalDist().inv_cdf(0.5 + CONFIDENCE / 2.0) * np.sqrt(n * m * (n + m + 1) / 12.0)
    share = max(0.5 - half / (n * m), 0.0)
    last = len(differences) - 1
    rank = int(np.floor(share * len(differences)))
    # Five of the ordered differences are wanted: a partition finds them in a fraction of a sort's time.
    wanted = (rank, last // 2, (last + 1) // 2, last - rank)
    differences.partition(sorted(set(wanted)))
    low, below, above, high = (float(differences[place]) for place in wanted)
    return (below + above) / 2.0, low, high


def _thinned(ordered: FloatArray) -> FloatArray:
    if len(ordered) <= MOST_FOR_PAIRS:
        return ordered
    return ordered[np.linspace(0, len(ordered) - 1, MOST_FOR_PAIRS).round().astype(np.int64)]
