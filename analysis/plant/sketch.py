"""Counts of values in narrow classes whose width grows with the value: percentiles of merged sets to 0.25 %.

Two sketches merge by adding their counts, so that the parts give exactly what the whole would give.

References
----------
C. Masson, J. E. Rim, H. K. Lee, "DDSketch", Proc. VLDB Endow. 12 (2019) 2195 (recalled, not confirmed).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from analysis.arrays import FloatArray, IntArray

#: Largest error of a percentile, as a share of the value (own choice: half of what is asked of merged rows).
ACCURACY = 0.0025
_GAMMA = (1.0 + ACCURACY) / (1.0 - ACCURACY)
#: Classes are numbered from here on; smaller values of either sign count as zero.
_SMALLEST = 1e-9
_FIRST = int(np.floor(np.log(_SMALLEST) / np.log(_GAMMA))) - 1


@dataclass(frozen=True, eq=False)
class Sketch:
    """How many values lie in which class; both shape (m,), classes rising as the values do.

    Examples
    --------
    >>> whole = sketch(np.arange(1.0, 1001.0))
    >>> parts = merged([sketch(np.arange(1.0, 301.0)), sketch(np.arange(301.0, 1001.0))])
    >>> parts.quantile(0.5) == whole.quantile(0.5), abs(whole.quantile(0.5) / 500.5 - 1.0) < ACCURACY
    (True, True)
    """

    classes: IntArray
    counts: IntArray

    def quantile(self, share: float) -> float:
        """The value below which this share lies, between two neighbours as numpy has it; NaN where empty."""
        if not len(self.counts):
            return float("nan")
        last = np.cumsum(self.counts) - 1
        place = share * float(last[-1])
        lower, upper = np.searchsorted(last, (np.floor(place), np.ceil(place))).tolist()
        values = _middle(self.classes[[lower, upper]])
        return float(values[0] + (place - np.floor(place)) * (values[1] - values[0]))


def sketch(values: FloatArray) -> Sketch:
    """The sketch of finite values; others are left out."""
    known = values[np.isfinite(values)]
    return Sketch(*(one.astype(np.int64) for one in np.unique(classes_of(known), return_counts=True)))


def classes_of(values: FloatArray) -> IntArray:
    """The class of each finite value."""
    size = np.abs(values)
    large = size > _SMALLEST
    number = np.ceil(np.log(np.where(large, size, 1.0)) / np.log(_GAMMA)).astype(np.int64) - _FIRST
    return np.where(large, np.sign(values).astype(np.int64) * number, 0)


def merged(sketches: Iterable[Sketch]) -> Sketch:
    """The sketch of all values together."""
    parts = list(sketches)
    if not parts:
        return Sketch(np.empty(0, np.int64), np.empty(0, np.int64))
    classes, place = np.unique(np.concatenate([part.classes for part in parts]), return_inverse=True)
    counts = np.zeros(len(classes), np.int64)
    np.add.at(counts, place, np.concatenate([part.counts for part in parts]))
    return Sketch(classes, counts)


def _middle(classes: IntArray) -> FloatArray:
    """A value of each class that lies no further than `ACCURACY` from any other in it."""
    size = 2.0 * _GAMMA ** (np.abs(classes) + _FIRST) / (_GAMMA + 1.0)
    return np.where(classes == 0, 0.0, np.sign(classes) * size)
