"""How exactly a mean of rounded values is known: the step they are written in bounds its standard error."""

from __future__ import annotations

import numpy as np

from analysis.arrays import FloatArray, IntArray

#: Values closer than this are equal, relative or in N·m and degrees: single precision (IEEE 754, 24 bits).
_EQUAL = 1e-6
#: Step over standard deviation of values that are uniform within it (JCGM 100:2008, 4.3.7 and F.2.2.1).
_STEP_TO_SIGMA = 12.0**-0.5
#: Scatter, in steps, from which rounding averages out: the mean of rounded normal values is off by at most
#: exp(-2 pi^2 r^2) / pi steps where they scatter by r, here 0.2 % of one (derived: Fourier series of
#: rounding).
_AVERAGING = 0.5


def steps_of(level: FloatArray, stream: IntArray, cell: IntArray, means: FloatArray) -> FloatArray:
    """The step in which each stream's values are written: the smallest by which two of them differ.

    Parameters
    ----------
    level, stream, cell : ndarray, shape (n,)
        Values, rising within each cell, with the codes of their stream and of their stream's week.
    means : ndarray, shape (streams, weeks)

    Returns
    -------
    ndarray, shape (streams,)
        Where no week holds two values, from one week to another; of a stream of one value, as the others'
        usual step. 0 where all have but one.
    """
    gap = np.diff(level)
    apart = (cell[1:] == cell[:-1]) & (gap > _EQUAL)
    step = np.full(len(means), np.inf)
    np.minimum.at(step, stream[1:][apart], gap[apart])
    between = np.diff(np.sort(means, axis=1), axis=1)  # NaN come last
    between = np.where(between > _EQUAL, between, np.inf).min(axis=1, initial=np.inf)
    step = np.where(np.isfinite(step), step, between)
    known = np.isfinite(step)
    return np.where(known, step, np.median(step[known]) if known.any() else 0.0)


def error_with_rounding(
    error: FloatArray, scatter: FloatArray, step: FloatArray, n: FloatArray | IntArray
) -> FloatArray:
    """Standard error of means of n values that scatter so and are rounded to a step; NaN where it would be 0.

    Rounding that does not average out stays whole, however many values there are.
    """
    of_one = _STEP_TO_SIGMA * step
    with np.errstate(divide="ignore", invalid="ignore"):
        least = np.where(scatter < _AVERAGING * step, of_one, of_one / np.sqrt(n))
        found = np.fmax(error, least)
    return np.asarray(np.where(found > 0, found, np.nan))
