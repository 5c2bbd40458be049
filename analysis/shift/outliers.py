"""How odd each trace is among the traces of its joint: one score, and the parts it is made of."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

from analysis.settings import PopulationSettings
from analysis.shift.band_depth import ranked_points, shape_departure
from analysis.shift.groups import larger_group
from analysis.shift.robust import (
    chi_square_quantile,
    robust_centre,
    robust_covariance,
    side_factors,
    squared_distances,
    wide_spread,
    without_skew,
)

FloatArray = NDArray[np.float64]

#: Quantile of the shape departure among the usual traces, and how many times it a shape is odd
#: (common practice, no source; measured on synthetic shifts).
SHAPE_QUANTILE, SHAPE_TIMES = 0.90, 2.5
#: A trace's own uncertainty widens the spread at most by this factor: doubt must not hide a fault.
MOST_DOUBT = 1.5
#: A smaller departure is not believed: rank noise of a bundle that agrees within its noise.
LEAST_SHAPE = 0.02


#: Share of odd traces from which a joint's traces are said to be several groups (common practice, no source).
MANY_ODD = 0.25


@dataclass(frozen=True, eq=False)
class Population:
    """What is usual among the traces of one joint.

    Attributes
    ----------
    joint : str
    n : int
        Traces of the joint.
    n_used : int
        Those that say what is usual: limit keepers where enough remain; a pinned reference goes first.
    centre, spread : ndarray, shape (k,)
        Robust centre and standard deviation of each feature on its compared scale.
    basis : str
        "the traces that keep the torque limits", "all traces", "the reference ...".
    note : str
        What to know before trusting it ("only 12 traces ..."); empty where nothing speaks against it.
    """

    joint: str
    n: int
    n_used: int
    centre: FloatArray
    spread: FloatArray
    basis: str
    note: str


@dataclass(frozen=True, eq=False)
class OutlierTable:
    """Outlier scores of n traces.

    Attributes
    ----------
    names : tuple of str, length k
        The compared features.
    z : ndarray, shape (n, k)
        Signed robust z-score of each feature; NaN where the trace or the population has none.
    centre, spread : ndarray, shape (n, k)
        What is usual for each trace's joint, on the compared scale.
    end_part, shape_part : ndarray, shape (n,)
        Distance of the end state, and departure of the shape of the whole curve, over their thresholds.
    limit : ndarray, shape (n,)
        The |z| that counts as odd.
    score : ndarray, shape (n,)
        1 is the threshold; NaN where the joint has no population.
    flagged : ndarray of bool, shape (n,)
    populations : dict
        By joint name.
    """

    names: tuple[str, ...]
    z: FloatArray
    centre: FloatArray
    spread: FloatArray
    end_part: FloatArray
    shape_part: FloatArray
    limit: FloatArray
    score: FloatArray
    flagged: NDArray[np.bool_]
    populations: dict[str, Population]

    def parts_of(self, row: int) -> dict[str, float]:
        """The parts of one trace's score, each over its own threshold; NaN where it has none."""
        parts = {"end state": float(self.end_part[row]), "shape of the curve": float(self.shape_part[row])}
        single = np.abs(self.z[row]) / self.limit[row]
        return parts | {name: float(value) for name, value in zip(self.names, single, strict=True)}


@dataclass(frozen=True, eq=False)
class Usual:
    """What a pinned reference says is usual: centre, spread and sides of the features, and its name."""

    centre: FloatArray
    spread: FloatArray
    sides: FloatArray
    n: int
    words: str


def usual_of(features: FloatArray, words: str) -> Usual:
    """What these traces say is usual; features on their compared scales, shape (n, k)."""
    centre = robust_centre(features)
    spread = wide_spread(features, centre)
    return Usual(centre, spread, side_factors(features, centre, spread), len(features), words)


def find_outliers(
    features: FloatArray,
    doubt: FloatArray,
    names: Sequence[str],
    rises: FloatArray,
    codes: NDArray[np.integer],
    joints: Sequence[str],
    trusted: NDArray[np.bool_],
    least_spread: FloatArray,
    end_state: NDArray[np.bool_],
    scored: NDArray[np.bool_],
    settings: PopulationSettings,
    references: Mapping[str, Usual] | None = None,
    notes: Mapping[str, str] | None = None,
    telling: NDArray[np.bool_] | None = None,
) -> OutlierTable:
    """Compare every trace with the usual ones of its joint.

    The score is the distance of the end state (final torque and total angle together) over its threshold;
    where a single feature, or the shape of the whole curve, is beyond its own threshold and further out, that
    counts instead. What stays within its threshold on the way to the end is natural scatter and adds nothing.
    Where a feature's natural scatter is skewed, its longer side is measured by its own length.

    Parameters
    ----------
    features : ndarray, shape (n, k)
        On their compared scales.
    doubt : ndarray, shape (n, k)
        Their standard uncertainties; what a trace has more of it than is usual widens the spread for it.
    names : sequence of str, length k
    rises : ndarray, shape (n, points)
        Curves on a common grid, aligned at the final point.
    codes : ndarray, shape (n,)
        Joint of each trace as an index into `joints`; negative: none, no score.
    trusted : ndarray of bool, shape (n,)
        Traces that may say what is usual.
    least_spread : ndarray, shape (k,)
    end_state : ndarray of bool, shape (k,)
        The features that say where the tightening ended.
    scored : ndarray of bool, shape (k,)
        The features that can make a trace an outlier by themselves.
    settings : PopulationSettings
    references : Mapping of joint name to Usual, optional
    notes : Mapping of joint name to str, optional
        What is already known to speak against a joint's traces.
    telling : ndarray of bool, shape (k,), optional
        The features that tell one kind of joint from another: where they part a joint's traces into two
        groups, the larger one says what is usual.
    """
    n, k = features.shape
    table = OutlierTable(
        names=tuple(names),
        z=np.full((n, k), np.nan),
        centre=np.full((n, k), np.nan),
        spread=np.full((n, k), np.nan),
        end_part=np.full(n, np.nan),
        shape_part=np.full(n, np.nan),
        limit=np.full(n, np.nan),
        score=np.full(n, np.nan),
        flagged=np.zeros(n, np.bool_),
        populations={},
    )
    kinds = {name: column for column, name in enumerate(names) if telling is not None and telling[column]}
    share = settings.outlier_share / (np.sum(scored) + 1)
    known_rises = np.isfinite(rises.sum(axis=1))
    for code, joint in enumerate(joints):
        rows = np.flatnonzero(codes == code)
        reference = (references or {}).get(joint)
        population, used, sides = _population(
            joint, features, rows, trusted, least_spread, settings, reference, kinds
        )
        known = (notes or {}).get(joint, "")
        table.populations[joint] = replace(population, note=_joined(known, population.note))
        table.centre[rows], table.spread[rows] = population.centre, population.spread
        if population.n_used < settings.smallest_population:
            continue
        table.limit[rows] = NormalDist().inv_cdf(1.0 - share / 2.0)
        more = np.maximum(doubt[rows] ** 2 - np.median(doubt[used], axis=0) ** 2, 0.0)
        spread = np.minimum(np.sqrt(population.spread**2 + more), MOST_DOUBT * population.spread)
        even = without_skew(features, population.centre, sides)
        table.z[rows] = (even[rows] - population.centre) / spread
        table.end_part[rows] = _end_parts(even[:, end_state], rows, used, least_spread[end_state], share)
        if len(used) >= settings.smallest_population:
            table.shape_part[rows] = _shape_parts(rises, known_rises, rows, used)
    _score(table, scored)
    for code, joint in enumerate(joints):
        rows = np.flatnonzero(codes == code)
        odd = int(table.flagged[rows].sum())
        if odd > MANY_ODD * len(rows):
            population = table.populations[joint]
            words = (
                f"{odd} of {len(rows)} traces are unusual: these are several groups, not one with odd ones"
            )
            table.populations[joint] = replace(population, note=_joined(population.note, words))
    return table


def _joined(*notes: str) -> str:
    return "; ".join(note for note in notes if note)


def _population(
    joint: str,
    features: FloatArray,
    rows: NDArray[np.integer],
    trusted: NDArray[np.bool_],
    least_spread: FloatArray,
    settings: PopulationSettings,
    reference: Usual | None,
    kinds: Mapping[str, int],
) -> tuple[Population, NDArray[np.integer], FloatArray]:
    """The population, the traces that it was read from, and how far its sides reach (`side_factors`)."""
    keepers = rows[trusted[rows]]
    enough = len(keepers) >= settings.smallest_population
    used = keepers if enough else rows
    if reference is not None:
        spread = np.fmax(reference.spread, least_spread)
        return (
            Population(joint, len(rows), reference.n, reference.centre, spread, reference.words, ""),
            used,
            reference.sides,
        )
    basis = "the traces that keep the limits" if enough else "all traces"
    used, note = _one_kind(features, used, least_spread, kinds, settings.smallest_population)
    centre = robust_centre(features[used])
    spread = np.fmax(wide_spread(features[used], centre), least_spread)
    if len(used) < settings.smallest_population:
        note = (
            f"{len(rows)} {'trace of this joint is' if len(rows) == 1 else 'traces of this joint are'} "
            "too few to say what is usual "
            f"(fewer than {settings.smallest_population})"
        )
    sides = side_factors(features[used], centre, spread)
    return Population(joint, len(rows), len(used), centre, spread, basis, note), used, sides


def _one_kind(
    features: FloatArray,
    used: NDArray[np.integer],
    least_spread: FloatArray,
    kinds: Mapping[str, int],
    fewest: int,
) -> tuple[NDArray[np.integer], str]:
    """The larger of two groups of traces, and the words for it; all of them where there is one group."""
    for name, column in kinds.items():
        group = larger_group(features[used, column], least_spread[column])
        if group is None or np.sum(group) < fewest:
            continue
        words = name.split("_nm")[0].replace("_", " ")
        note = (
            f"two groups by {words}, {np.sum(group)} and {np.sum(~group)} traces: compared with the larger "
            f"one; torque and angle do not say which is right, a pinned reference does"
        )
        return used[group], note
    return used, ""


def _end_parts(
    values: FloatArray,
    rows: NDArray[np.integer],
    used: NDArray[np.integer],
    least_spread: FloatArray,
    share: float,
) -> FloatArray:
    """Distance of the end state over the distance that a share of good traces exceeds."""
    whole = used[~np.isnan(values[used]).any(axis=1)]
    if len(whole) < 2:
        return np.full(len(rows), np.nan)
    centre, covariance = robust_covariance(values[whole])
    covariance = covariance + np.diag(np.maximum(least_spread**2 - np.diag(covariance), 0.0))
    squared = squared_distances(values[rows], centre, covariance)
    return np.sqrt(squared / chi_square_quantile(1.0 - share, values.shape[1]))


def _shape_parts(
    rises: FloatArray, known_rises: NDArray[np.bool_], rows: NDArray[np.integer], used: NDArray[np.integer]
) -> FloatArray:
    whole = used[known_rises[used]]
    parts = np.full(len(rows), np.nan)
    known = known_rises[rows]
    if len(whole) < 2:
        return parts
    points = ranked_points(int(known.sum()))
    departure = shape_departure(rises[rows[known], points], rises[whole, points])
    inside = np.isin(rows[known], whole)
    usual = max(float(np.quantile(departure[inside], SHAPE_QUANTILE)), LEAST_SHAPE)
    parts[known] = departure / (SHAPE_TIMES * usual)
    return parts


def _score(table: OutlierTable, scored: NDArray[np.bool_]) -> None:
    """Fill score and flags from the parts."""
    single = np.abs(table.z[:, scored]) / table.limit[:, None]
    others = np.column_stack([single, table.shape_part])
    beyond = np.where(others > 1.0, others, 0.0).max(axis=1, initial=0.0)
    score = np.fmax(np.nan_to_num(table.end_part, nan=0.0), beyond)
    table.score[:] = np.where(np.isnan(table.limit), np.nan, score)
    table.flagged[:] = table.score > 1.0
