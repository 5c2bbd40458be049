"""Bolts of one flange loosen one another: what is left of each, in which order, and what loads end even.

Tightening bolt j by dF_j takes c_ij dF_j from bolt i: the elastic interaction coefficient method (Bibel and
Ezell 1992, recalled, not confirmed). Elastic: it holds for a flange without a gasket that creeps.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import permutations

import numpy as np

from analysis.arrays import FloatArray, IntArray

#: Up to so many bolts every order is tried; with more, those that people use.
_MOST_TRIED = 6
#: Passes after which no further one is tried; a pass is the last where the forces differ by less than this.
MOST_PASSES, EVEN_ENOUGH = 10, 0.01
#: Rounds in which what is not known is filled in.
_FILLED_IN = 6
#: Crosswise orders tell next bolts and those three apart in sum only. From the third distance on coefficients
#: are therefore held, by this standard uncertainty, to fall on as they do before; of a load this share is the
#: uncertainty of what is read as lost (own choices).
_FALL_ON, _READ_SHARE = 0.005, 0.005
#: Distances are the same within this share.
_SAME_DISTANCE = 0.01


def passes(loads: FloatArray, order: Sequence[int], c: FloatArray, count: int = 1) -> FloatArray:
    """Clamp force of each bolt at the end of each pass, shape (count, n).

    Parameters
    ----------
    loads : ndarray, shape (n,)
        What each bolt is tightened to.
    order : sequence of int
    c : ndarray, shape (n, n)
        Loss of bolt i over the gain of bolt j.

    Examples
    --------
    >>> ring = 0.1 * (np.abs(np.subtract.outer(range(4), range(4))) % 2)
    >>> passes(np.ones(4), [0, 1, 2, 3], ring, 2).round(4).tolist()
    [[0.8, 0.9, 0.9, 1.0], [0.9849, 0.9888, 0.9969, 1.0]]
    """
    force, ends = np.zeros(len(loads)), []
    for _ in range(count):
        for j in order:
            gain = loads[j] - force[j]
            force = np.maximum(force - c[:, j] * gain, 0.0)  # a loose bolt has none to lose
            force[j] = loads[j]
        ends.append(force.copy())
    return np.array(ends)


def even_loads(order: Sequence[int], c: FloatArray, wanted: float = 1.0) -> FloatArray:
    """Loads that leave every bolt at the wanted force after one pass.

    Examples
    --------
    >>> ring = 0.1 * (np.abs(np.subtract.outer(range(4), range(4))) % 2)
    >>> even_loads([0, 2, 1, 3], ring).round(6).tolist()
    [1.2, 1.0, 1.2, 1.0]
    """
    loads = np.full(len(c), wanted)
    for place in reversed(range(len(order))):
        later = list(order[place + 1 :])
        loads[order[place]] = wanted + float(c[order[place], later] @ loads[later])
    return loads


def evenness(force: FloatArray) -> tuple[float, float]:
    """Highest over lowest, and standard deviation (of all n) over mean."""
    with np.errstate(divide="ignore", invalid="ignore"):  # a bolt that the others loosened altogether
        return float(force.max() / force.min()), float(force.std() / force.mean())


@dataclass(frozen=True, eq=False)
class Advice:
    """Order and passes that end even."""

    order: tuple[int, ...]
    ends: FloatArray  #: Shape (passes, n). Of loads of one, at the end of each pass.
    loads: FloatArray  #: Shape (n,). That end even after one pass, as multiples of what is wanted.

    @property
    def passes(self) -> int:
        """How many it takes."""
        return len(self.ends)


def advise(c: FloatArray) -> Advice:
    """The order that ends most even after one pass, and the passes until the forces differ by less than 1 %.

    Every order is tried up to six bolts; with more the one around, the one across, and every second first.
    """
    n = len(c)
    one = np.ones(n)
    order = min(_orders(n), key=lambda order: (round(evenness(passes(one, order, c)[-1])[1], 9), order))
    ends = passes(one, order, c, MOST_PASSES)
    even = [evenness(end)[1] < EVEN_ENOUGH for end in ends]
    count = even.index(True) + 1 if True in even else MOST_PASSES
    return Advice(order, ends[:count], even_loads(order, c))


def _orders(n: int) -> list[tuple[int, ...]]:
    if n <= _MOST_TRIED:
        return [(0, *rest) for rest in permutations(range(1, n))]
    around, second = tuple(range(n)), (*range(0, n, 2), *range(1, n, 2))
    half = (n + 1) // 2
    across = [k for i in _spread_out(half) for k in (i, i + half) if k < n]
    return [around, second, tuple(across)]


def _spread_out(n: int) -> list[int]:
    """0 to n - 1, each as far from those before as can be.

    Examples
    --------
    >>> _spread_out(4)
    [0, 2, 1, 3]
    """
    bits = max(n - 1, 1).bit_length()
    return [k for k in (int(f"{i:0{bits}b}"[::-1], 2) for i in range(2**bits)) if k < n]


def distance_classes(places: FloatArray) -> IntArray:
    """Number of the distance between each two places, nearest first, shape (n, n); -1 on the diagonal.

    Examples
    --------
    >>> distance_classes(np.array([[0.0, 1.0], [1.0, 0.0], [0.0, -1.0], [-1.0, 0.0]])).tolist()
    [[-1, 0, 1, 0], [0, -1, 0, 1], [1, 0, -1, 0], [0, 1, 0, -1]]
    """
    n = len(places)
    apart = np.hypot(*(places[:, None, :] - places[None, :, :]).transpose(2, 0, 1))
    classes = np.full((n, n), -1, np.int64)
    number, last = -1, -np.inf
    for i, j in sorted(((i, j) for i in range(n) for j in range(n) if i != j), key=lambda ij: apart[ij]):
        if apart[i, j] > last * (1.0 + _SAME_DISTANCE) or number < 0:
            number, last = number + 1, float(apart[i, j])
        classes[i, j] = number
    return classes


@dataclass(frozen=True)
class Loading:
    """One bolt brought from one clamp force to another; in the unit of all others."""

    bolt: int
    before: float
    after: float


@dataclass(frozen=True, eq=False)
class Interaction:
    """Coefficients, and where they are from."""

    c: FloatArray  #: Shape (n, n).
    by_class: FloatArray  #: Shape (k,). Of each distance, nearest first; empty where they are stated.
    uncertainty: FloatArray  #: Shape (k,).
    origin: str


def estimate_interaction(rounds: Sequence[Sequence[Loading]], classes: IntArray) -> Interaction | None:
    """Coefficients by distance from parts whose bolts were turned on in a second pass.

    What a bolt has lost when it is turned on again is the sum over all that were loaded in between; least
    squares over all bolts of all parts. A bolt whose force before is not known (NaN) says nothing itself;
    what it took from others then counts from what the coefficients say that it had.

    Parameters
    ----------
    rounds : sequence of sequences of Loading
        Of each part, in order of time; `before` is zero for a bolt that was loose.
    classes : ndarray of int, shape (n, n)

    Returns
    -------
    Interaction or None
        None where the loadings do not tell the coefficients.
    """
    count = int(classes.max()) + 1
    every = [one for loadings in rounds for one in loadings]
    values = np.zeros(count)
    for _ in range(_FILLED_IN):
        told = [_equations(loadings, classes, values) for loadings in rounds]
        design = np.array([row for rows, _ in told for row in rows]).reshape(-1, count)
        lost = np.array([value for _, lost in told for value in lost])
        if len(design) <= count:
            return None
        held, wanted = _falling_on(
            values, _READ_SHARE / _FALL_ON * float(np.median([one.after for one in every]))
        )
        design, lost = np.vstack((design, held)), np.append(lost, wanted)
        if np.linalg.matrix_rank(design) < count:
            return None
        values = np.linalg.lstsq(design, lost, rcond=None)[0]
    left = lost - design @ values
    turned_on = len(left) - len(held)
    variance = float(left @ left) / (len(left) - count)
    spread = np.sqrt(variance * np.diag(np.linalg.inv(design.T @ design)))
    c = np.where(classes >= 0, values[np.maximum(classes, 0)], 0.0)
    parts = "1 part" if len(rounds) == 1 else f"{len(rounds)} parts"
    return Interaction(c, values, spread, f"estimated from {turned_on} bolts turned on again, on {parts}")


def _falling_on(values: FloatArray, weight: float) -> tuple[FloatArray, FloatArray]:
    """Equations that hold each coefficient from the third on to the ratio of the two before it."""
    far = np.arange(2, len(values))
    before, last = values[far - 2], values[far - 1]
    ratio = np.clip(np.divide(last, before, out=np.zeros(len(far)), where=before > 0.0), 0.0, 1.0)
    return weight * np.eye(len(values))[far], weight * ratio * np.maximum(last, 0.0)


def _equations(
    loadings: Sequence[Loading], classes: IntArray, values: FloatArray
) -> tuple[list[FloatArray], list[float]]:
    """What each bolt has lost since it was loaded, and the gains of the others at each distance."""
    rows, lost = [], []
    since: dict[int, FloatArray] = {}
    after: dict[int, float] = {}
    for one in loadings:
        i, before = one.bolt, one.before
        if i in since and np.isfinite(before):
            rows.append(since[i].copy())
            lost.append(after[i] - before)
        elif i in since:
            before = after[i] - float(since[i] @ values)
        for k, gains in since.items():
            if k != i:
                gains[classes[k, i]] += one.after - before
        since[i], after[i] = np.zeros(len(values)), one.after
    return rows, lost
