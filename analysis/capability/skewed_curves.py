"""Lognormal curves that begin anywhere, on either side: how well each fits, and the percentiles it gives."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analysis.arrays import FloatArray
from analysis.capability.indices import HIGH_SHARE

#: Where a curve may begin: this far beyond the outermost value, in ranges of the values. Nearer, its
#: likelihood grows without bound; farther, it is normal.
_BEGINS = np.geomspace(0.03, 30.0, 24)


@dataclass(frozen=True, eq=False)
class SkewedCurves:
    """Curves fitted to n values, shape (curves,) each."""

    n: int
    begin: FloatArray  #: Where the curve begins.
    side: FloatArray  #: 1 where it runs upward from there, -1 downward.
    #: Of the logarithms of the distance from there.
    mean: FloatArray
    deviation: FloatArray
    share: FloatArray  #: How much the values and an even belief in every skew give to each; they sum to one.

    @property
    def log_likelihood(self) -> FloatArray:
        """Of each curve, but for a constant."""
        return np.asarray(-self.n * (np.log(self.deviation) + self.mean))

    def percentiles(
        self, which: NDArray[np.int64], mean: FloatArray, deviation: FloatArray
    ) -> tuple[FloatArray, FloatArray, FloatArray]:
        """X0.135, X50, X99.865 of some of the curves with these means and deviations of logarithms."""
        from scipy.special import ndtri

        reach, side, middle = float(ndtri(HIGH_SHARE)), self.side[which], np.exp(mean)
        # Differences by expm1: where a curve begins far away its percentiles lie close together.
        far, near = middle * np.expm1(reach * deviation), -middle * np.expm1(-reach * deviation)
        x50 = self.begin[which] + side * middle
        return x50 - np.where(side > 0, near, far), x50, x50 + np.where(side > 0, far, near)

    def likeliest(self) -> tuple[FloatArray, FloatArray, FloatArray]:
        """X0.135, X50, X99.865 of the likeliest curve, shape (1,) each."""
        best = np.array([np.argmax(self.log_likelihood)])
        return self.percentiles(best, self.mean[best], self.deviation[best])


def lognormal_curve(values: FloatArray) -> SkewedCurves:
    """The one curve that begins at zero; `values` above zero."""
    logs = np.log(values)
    one = np.ones(1)
    mean, deviation = np.array([logs.mean()]), np.array([logs.std(ddof=1)])
    return SkewedCurves(len(values), np.zeros(1), one, mean, deviation, one)


def skewed_curves(values: FloatArray, *, zero_share: float = 0.0) -> SkewedCurves:
    """Curves from a row of beginnings on either side, and the one from zero where `zero_share` is above zero.

    Parameters
    ----------
    zero_share : float
        Belief in the beginning at zero before the values speak; then they are above zero.

    Notes
    -----
    With m and s mean and deviation of the logarithms of the distances, D = e^m: all means and deviations
    that the values allow, integrated with the measure dm D ds/s (the same for every beginning), leave
    (s D)^-(n - 1). The skew goes with the values' deviation over D: an even belief in it, from a tail
    upward over none to a tail downward, is d(beginning)/D^2 in the row of beginnings.
    """
    low, high = float(values.min()), float(values.max())
    width = high - low
    sides = np.stack([(values - low) / width, (high - values) / width])
    logs = np.log((sides[:, None, :] + _BEGINS[:, None]).reshape(-1, len(values)))
    mean, deviation = logs.mean(axis=1), logs.std(axis=1, ddof=1)
    belief = np.tile(_BEGINS, 2) * np.exp(-2.0 * mean)
    belief *= (1.0 - zero_share) / belief.sum()
    side, mean = np.repeat([1.0, -1.0], len(_BEGINS)), mean + np.log(width)
    begin = np.concatenate([low - _BEGINS * width, high + _BEGINS * width])
    if zero_share:
        zero = lognormal_curve(values)
        begin, side, mean, deviation, belief = (
            np.append(row, one)
            for row, one in (
                (begin, 0.0), (side, 1.0), (mean, zero.mean), (deviation, zero.deviation),
                (belief, zero_share),
            )
        )  # fmt: skip
    weight = np.log(belief) - (len(values) - 1.0) * (np.log(deviation) + mean)
    share = np.exp(weight - weight.max())
    return SkewedCurves(len(values), begin, side, mean, deviation, share / share.sum())
