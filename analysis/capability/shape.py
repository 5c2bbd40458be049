"""The shape of a distribution: test for normal values, skew, two populations."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from analysis.capability.skewed_curves import lognormal_curve, skewed_curves
from analysis.capability.spread import without_ties
from analysis.figure_text import p_words
from analysis.shift.groups import larger_group

FloatArray = NDArray[np.float64]
Family = Literal["normal", "lognormal", "shifted lognormal", "two populations"]

#: A shape is contradicted where values of that shape would fit worse than these by a chance below this (own
#: choice: one normal run in two hundred is then not taken for normal).
SIGNIFICANCE = 0.005
#: One shape is taken rather than another from this gain of the log likelihood on (own choice: seven to one);
#: within it neither is ruled out.
LIKELIER = 2.0
#: Fewer values than this do not tell the percentiles of a shape that is not normal (own choice).
FEWEST_SHAPED = 10
#: Values taken for normal may as well be lognormal where their logarithms scatter by at least so much (own
#: choice): there X99.865 of the two lie 15 % of their distance apart, below that less.
CURVED = 0.1
#: Shapes that a joint or a study may state from what it knows of the process.
STATED: tuple[Family, ...] = ("normal", "lognormal", "shifted lognormal")


@dataclass(frozen=True)
class Shape:
    """What the values look like."""

    family: Family  #: The simplest shape that the values do not contradict.
    #: Anderson and Darling's test for normal values, adjusted for n, and its chance.
    statistic: float
    probability: float
    #: Kurtosis in excess of the normal one.
    skew: float
    kurtosis: float
    is_stated: bool = False  #: Whether the family was stated, and not found.
    rival: Family | None = None  #: Another family that the values allow as well and whose percentiles differ.

    def words(self) -> str:
        """In a sentence."""
        test = f"Anderson-Darling {self.statistic:.2f}, {p_words(self.probability)}, skew {self.skew:+.2f}"
        if self.is_stated:
            return f"{self.family} values, as stated ({test})"
        if self.rival is not None:
            return f"normal or {self.rival} values, not told apart: intervals hold for both ({test})"
        curve = f"; the outer percentiles are extrapolated by that curve ({test})"
        return {
            "normal": f"nothing speaks against normal values ({test})",
            "lognormal": f"not normal: taken as lognormal{curve}",
            "shifted lognormal": f"not normal: taken as lognormal with a shifted origin{curve}",
            "two populations": "two populations: no index stands for both; find out what parts them",
        }[self.family]


def find_shape(values: FloatArray, stated: str = "auto") -> Shape:
    """The shape of n values that scatter; a stated one is taken, unless there are two populations.

    Values of a coarse record stand for all within its step: equal ones are no populations of their own.
    """
    values = without_ties(values)
    statistic, probability = anderson_darling(values)
    z = (values - values.mean()) / values.std()
    skew, kurtosis = float(np.mean(z**3)), float(np.mean(z**4)) - 3.0
    family = _family(values, probability, stated)
    rival = _rival(values) if family == "normal" != stated else None
    return Shape(family, statistic, probability, skew, kurtosis, family == stated, rival)


def _rival(values: FloatArray) -> Family | None:
    """Lognormal where values that were found normal may as well be that."""
    if len(values) < FEWEST_SHAPED or not np.all(values > 0.0) or float(np.log(values).std()) < CURVED:
        return None
    return "lognormal" if _gain(values) > -LIKELIER else None


def _family(values: FloatArray, probability: float, stated: str) -> Family:
    if larger_group(values, 0.0) is not None:
        return "two populations"
    positive = bool(np.all(values > 0.0))
    for family in STATED:
        if stated == family and (positive or family != "lognormal"):
            return family
    if positive and _gain(values) > LIKELIER and _begins_at_zero(values):
        return "lognormal"
    return "normal" if probability >= SIGNIFICANCE else "shifted lognormal"


def _begins_at_zero(values: FloatArray) -> bool:
    """Whether logarithms are not contradicted, and no other beginning is likelier."""
    if anderson_darling(np.log(values))[1] < SIGNIFICANCE:
        return False
    gain = skewed_curves(values).log_likelihood.max() - lognormal_curve(values).log_likelihood[0]
    return bool(gain <= LIKELIER)


def _gain(values: FloatArray) -> float:
    """Log likelihood of lognormal values over that of normal ones."""
    logs = np.log(values)
    return float(len(values) * (np.log(values.std()) - np.log(logs.std()) - logs.mean()))


def anderson_darling(values: FloatArray) -> tuple[float, float]:
    """Anderson and Darling's statistic for normal values, mean and deviation estimated, and its chance.

    Notes
    -----
    A^2 (1 + 0.75/n + 2.25/n^2); the chance by D'Agostino and Stephens' fitted exponentials.

    References
    ----------
    R. B. D'Agostino, M. A. Stephens, Goodness-of-Fit Techniques (1986) (recalled, not confirmed); checked
    against statsmodels in the tests.
    """
    from scipy.special import log_ndtr

    n = len(values)
    z = np.sort((values - values.mean()) / values.std(ddof=1))
    odd = 2.0 * np.arange(1, n + 1) - 1.0
    square = -n - float(np.mean(odd * (log_ndtr(z) + log_ndtr(-z[::-1]))))
    a = square * (1.0 + 0.75 / n + 2.25 / n**2)
    for beyond, c0, c1, c2, upper in _CHANCE:
        if a >= beyond:
            chance = math.exp(c0 + c1 * a + c2 * a * a) if a < 13.0 else 0.0
            return a, chance if upper else 1.0 - chance
    raise AssertionError(a)


#: From which statistic on: exponent's coefficients, and whether it gives the upper tail.
_CHANCE = (
    (0.6, 1.2937, -5.709, 0.0186, True),
    (0.34, 0.9177, -4.279, -1.38, True),
    (0.2, -8.318, 42.796, -59.938, False),
    (-math.inf, -13.436, 101.14, -223.73, False),
)
