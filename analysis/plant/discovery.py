"""Steps and drifts of many weekly series, found with a share of false ones that is kept small."""

from __future__ import annotations

from dataclasses import dataclass
from statistics import NormalDist
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from analysis.arrays import FloatArray

#: Share of false ones among the changes that are told (Benjamini and Hochberg 1995; common practice).
FALSE_DISCOVERIES = 0.05
#: Fewest weeks on each side of a step, and in a series that is looked at (own choice).
LEAST_SIDE, LEAST_WEEKS = 2, 6
#: A week counts at most so many standard errors beyond the weeks beside it (own choice: what one odd week may
#: add makes no step, and hardly any week that is none is that far out).
_MOST_BEYOND = 3.0
_NORMAL = NormalDist()


@dataclass(frozen=True)
class Change:
    """One change of a series."""

    kind: Literal["step", "drift"]
    #: A step: first week of the new level, and the week where its stretch ends. A drift: the weeks that it
    #: was seen in.
    start: int
    stop: int
    size: float  #: Of a step; of a drift per week. On the series' scale.
    error: float  #: Standard error of `size`.

    @property
    def z(self) -> float:
        """Size over its standard error."""
        return self.size / self.error if self.error > 0 else 0.0


def benjamini_hochberg(p: FloatArray, share: float = FALSE_DISCOVERIES) -> tuple[NDArray[np.bool_], float]:
    """Which of many are discoveries, and the probability below which they are; NaN counts as not looked at.

    References
    ----------
    Y. Benjamini, Y. Hochberg, J. R. Stat. Soc. B 57 (1995) 289 (recalled, not confirmed).

    Examples
    --------
    >>> found, below = benjamini_hochberg(np.array([0.001, 0.03, 0.6, 0.02]))
    >>> found.tolist(), round(below, 4)
    ([True, True, False, True], 0.0375)
    """
    known = np.flatnonzero(np.isfinite(p))
    ordered = np.sort(p[known])
    steps = share * np.arange(1, len(ordered) + 1) / max(len(ordered), 1)
    met = np.flatnonzero(ordered <= steps)
    below = float(steps[met[-1]]) if len(met) else 0.0
    return np.nan_to_num(p, nan=1.0) <= below, below


def series_probability(values: FloatArray, error: FloatArray) -> float:
    """Chance of as strong a step or drift in a series that does not move; NaN where it is too short."""
    known = np.flatnonzero(np.isfinite(values) & np.isfinite(error) & (error > 0))
    if len(known) < LEAST_WEEKS:
        return float("nan")
    step, drift = best_step(values, error, known), best_drift(values, error, known)
    tried = max(len(known) - 2 * LEAST_SIDE + 1, 1)
    chances = [two_sided(drift.z), min(1.0, tried * two_sided(step.z))]
    return min(1.0, 2.0 * min(chances))


def without_odd_weeks(values: FloatArray, error: FloatArray) -> FloatArray:
    """A series whose single weeks lie no further out than a few standard errors beyond those beside them.

    A few odd tightenings make an odd week, and that is no step: a step lasts. The first week and the last one
    are held against the two next to them.

    Examples
    --------
    >>> without_odd_weeks(np.array([0.0, 9.0, 1.0, 5.0, 5.0]), np.ones(5)).tolist()
    [0.0, 4.0, 2.0, 5.0, 5.0]
    """
    known = np.flatnonzero(np.isfinite(values) & np.isfinite(error))
    if len(known) < 3:
        return values
    x, reach = values[known], _MOST_BEYOND * error[known]
    before, after = np.concatenate((x[1:2], x[:-1])), np.concatenate((x[2:3], x[2:], x[-3:-2]))
    steadied = values.copy()
    steadied[known] = np.clip(x, np.minimum(before, after) - reach, np.maximum(before, after) + reach)
    return steadied


def find_changes(values: FloatArray, error: FloatArray, below: float) -> list[Change]:
    """The changes of a series whose chance is below `below`, in order of time; only steps split it."""
    known = np.flatnonzero(np.isfinite(values) & np.isfinite(error) & (error > 0))
    found: list[Change] = []
    stretches = [known]
    while stretches:
        weeks = stretches.pop()
        if len(weeks) < 2 * LEAST_SIDE + 1:
            continue
        step, drift = best_step(values, error, weeks), best_drift(values, error, weeks)
        tried = max(len(weeks) - 2 * LEAST_SIDE + 1, 1)
        if len(weeks) >= LEAST_WEEKS and abs(drift.z) >= abs(step.z) and 2.0 * two_sided(drift.z) <= below:
            found.append(drift)
        elif 2.0 * tried * two_sided(step.z) <= below:
            found.append(step)
            stretches += [weeks[weeks < step.start], weeks[weeks >= step.start]]
    cuts = sorted(one.start for one in found if one.kind == "step")
    return sorted(
        (_between(values, error, known, cuts, one) if one.kind == "step" else one for one in found),
        key=lambda one: one.start,
    )


def _between(
    values: FloatArray, error: FloatArray, known: NDArray[np.integer], cuts: list[int], step: Change
) -> Change:
    """The step between the levels of the stretches beside it, not of all that lies before and after."""
    at = cuts.index(step.start)
    first = cuts[at - 1] if at else int(known[0])
    stop = cuts[at + 1] if at + 1 < len(cuts) else int(known[-1]) + 1
    parts = [known[(known >= a) & (known < b)] for a, b in ((first, step.start), (step.start, stop))]
    weights = [1.0 / error[part] ** 2 for part in parts]
    levels = [float(np.sum(w * values[p]) / w.sum()) for w, p in zip(weights, parts, strict=True)]
    spread = float(np.sqrt(sum(1.0 / w.sum() for w in weights)))
    return Change("step", step.start, stop, levels[1] - levels[0], spread)


def best_step(values: FloatArray, error: FloatArray, weeks: NDArray[np.integer]) -> Change:
    """The step between weighted means that stands out most."""
    x, weight = values[weeks], 1.0 / error[weeks] ** 2
    total, sums = np.cumsum(weight), np.cumsum(weight * x)
    cut = np.arange(LEAST_SIDE, len(weeks) - LEAST_SIDE + 1)
    left, right = total[cut - 1], total[-1] - total[cut - 1]
    size = (sums[-1] - sums[cut - 1]) / right - sums[cut - 1] / left
    spread = np.sqrt(1.0 / left + 1.0 / right)
    best = int(np.argmax(np.abs(size) / spread))
    return Change("step", int(weeks[cut[best]]), int(weeks[-1]) + 1, float(size[best]), float(spread[best]))


def best_drift(values: FloatArray, error: FloatArray, weeks: NDArray[np.integer]) -> Change:
    """The straight line through the weeks by weighted least squares."""
    x, weight = values[weeks], 1.0 / error[weeks] ** 2
    at = weeks - np.sum(weight * weeks) / np.sum(weight)
    squares = float(np.sum(weight * at**2))
    slope = float(np.sum(weight * at * x) / squares)
    return Change("drift", int(weeks[0]), int(weeks[-1]) + 1, slope, squares**-0.5)


def two_sided(z: float) -> float:
    """Chance of a normal value as far out on either side."""
    return 2.0 * _NORMAL.cdf(-abs(z))
