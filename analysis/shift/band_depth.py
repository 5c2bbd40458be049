"""How deep a whole curve lies among others, and whether its shape is odd although its level is not."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from analysis.traces.row_ranges import in_row_ranges

FloatArray = NDArray[np.float64]

#: Curves that others are ranked against; more of them change the depth by less than 1 % (measured).
MOST_REFERENCES = 500
#: Of more curves than this only so many points are ranked, evenly over the rise (own choice).
CROWD, CROWD_POINTS = 1000, 50
#: Curves that are ranked at once (own choice: some 60 MB of what is needed on the way).
_AT_ONCE = 50_000
#: Look-ups that are worth a thread of their own (own choice).
LEAST_RANKED = 100_000


def ranked_points(n_curves: int, n_points: int) -> slice:
    """Which of `n_points` of so many curves are worth ranking: the departure is a mean over them."""
    return slice(None, None, max(1, n_points // CROWD_POINTS) if n_curves > CROWD else 1)


def shape_departures(
    curves: FloatArray, rows: NDArray[np.integer], references: NDArray[np.integer]
) -> FloatArray:
    """`shape_departure` of some curves from others, both by their rows in `curves`; some at a time."""
    points = ranked_points(len(rows), curves.shape[1])
    usual = curves[references[:: -(-len(references) // MOST_REFERENCES)], points]
    parts = [rows[k : k + _AT_ONCE] for k in range(0, len(rows), _AT_ONCE)]
    return np.concatenate([shape_departure(curves[part, points], usual) for part in parts])


def shape_departure(curves: FloatArray, references: FloatArray) -> FloatArray:
    """How far each curve's shape departs from the references', whatever its level; shape (n,), 0 to 1/2.

    A curve that keeps its rank from end to end has the largest depth that its mean rank allows; one that
    crosses the others has less. The departure is that difference: twice the variance of the rank share along
    the curve. It finds an odd curve inside the pointwise band.

    Parameters
    ----------
    curves : ndarray, shape (n, points)
    references : ndarray, shape (m, points)
        Curves that say what is usual.

    References
    ----------
    The modified band depth of S. Lopez-Pintado, J. Romo, J. Am. Stat. Assoc. 104 (2009) 718, and its relation
    to the mean rank: A. Arribas-Gil, J. Romo, Biostatistics 15 (2014) 603 (recalled, not confirmed).
    """
    step = -(-len(references) // MOST_REFERENCES)
    # Point by point in memory: what is sorted and looked up then lies side by side.
    by_point = np.ascontiguousarray(curves.T)
    ordered = np.sort(np.ascontiguousarray(references[::step].T), axis=1)
    share = np.empty(by_point.shape)

    def rank(start: int, stop: int) -> None:
        for point in range(start, stop):
            share[point] = _mid_ranks(ordered[point], by_point[point]) / ordered.shape[1]

    in_row_ranges(len(by_point), rank, least=-(-LEAST_RANKED // max(len(curves), 1)))
    return np.asarray(2.0 * share.var(axis=0))


def _mid_ranks(ordered: FloatArray, values: FloatArray) -> FloatArray:
    """How many of the ordered values lie below each value, equal ones counted half."""
    below = np.searchsorted(ordered, values, side="left")
    if np.all(ordered[1:] > ordered[:-1]):  # each value equals one of them at most: no second look-up
        upto = below + (ordered[np.minimum(below, len(ordered) - 1)] == values)
    else:
        upto = np.searchsorted(ordered, values, side="right")
    return np.asarray((below + upto) / 2.0, np.float64)
