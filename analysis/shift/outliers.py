"""How odd each trace is among the traces of its joint: one score, and the parts it is made of."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

from analysis.settings import PopulationSettings
from analysis.shift.band_depth import shape_departures
from analysis.shift.population import (
    ComparedTraces,
    FoundPopulation,
    Population,
    Scales,
    Usual,
    find_population,
)
from analysis.shift.robust import (
    chi_square_quantile,
    raised_limit,
    robust_covariance,
    squared_distances,
    without_skew,
)

FloatArray = NDArray[np.float64]

#: Quantile of the shape departure among the usual traces, and how many times it a shape is odd
#: (common practice, no source; measured on synthetic shifts).
SHAPE_QUANTILE, SHAPE_TIMES = 0.90, 2.5
#: A trace's own uncertainty widens the spread at most by this factor: uncertainty must not hide a fault.
MOST_WIDENING = 1.5
#: A smaller departure is not believed: rank noise of a bundle that agrees within its noise.
LEAST_SHAPE = 0.02


#: Share of odd traces from which a joint's traces are said to be several groups (common practice, no source).
MANY_ODD = 0.25


@dataclass(frozen=True, eq=False)
class OutlierTable:
    """Outlier scores of n traces."""

    names: tuple[str, ...]  #: Length k. The compared features.
    #: Shape (n, k). Signed robust z-score of each feature; NaN where the trace or the population has none.
    z: FloatArray
    #: Shape (n, k). What is usual for each trace's joint, on the compared scale.
    centre: FloatArray
    spread: FloatArray
    #: Shape (n,). Distance of the end state, and departure of the shape of the whole curve, over their
    #: thresholds.
    end_part: FloatArray
    shape_part: FloatArray
    limit: FloatArray  #: Shape (n,). The |z| that counts as odd.
    score: FloatArray  #: Shape (n,). 1 is the threshold; NaN where the joint has no population.
    flagged: NDArray[np.bool_]  #: Shape (n,).
    populations: dict[str, Population]  #: By joint name.

    def without(self, rows: NDArray[np.bool_]) -> OutlierTable:
        """The table without a score of these traces, shape (n,): they are not compared."""
        return replace(self, score=np.where(rows, np.nan, self.score), flagged=self.flagged & ~rows)


def find_outliers(
    traces: ComparedTraces,
    scales: Scales,
    settings: PopulationSettings,
    references: Mapping[str, Usual] | None = None,
    notes: Mapping[str, str] | None = None,
) -> OutlierTable:
    """Compare every trace with the usual ones of its joint.

    The score is the distance of the end state (final torque and total angle together) over its threshold;
    where a single feature, or the shape of the whole curve, is beyond its own threshold and further out, that
    counts instead. What stays within its threshold on the way to the end is natural scatter and adds nothing.
    Where a feature's natural scatter is skewed, its longer side is measured by its own length.

    Parameters
    ----------
    notes : Mapping of joint name to str, optional
        What is already known to speak against a joint's traces.
    """
    table = _empty_table(scales.names, len(traces.features))
    share = settings.outlier_share / (np.sum(scales.scored) + 1)
    for code, joint in enumerate(traces.joints):
        rows = np.flatnonzero(traces.codes == code)
        found = find_population(traces, code, scales, settings, (references or {}).get(joint))
        population, known = found.population, (notes or {}).get(joint, "")
        compared = population.n_used >= settings.smallest_population
        table.populations[joint] = replace(
            population,
            note=_joined(known, population.note),
            chance_share=settings.outlier_share if compared else 0.0,
        )
        table.centre[rows], table.spread[rows] = population.centre, population.spread
        if compared:
            _compare(table, traces, scales, rows, found, share=share, fewest=settings.smallest_population)
    _score(table, scales.scored)
    for code, joint in enumerate(traces.joints):
        _note_many_odd(table, joint, np.flatnonzero(traces.codes == code))
    return table


def _empty_table(names: Sequence[str], n: int) -> OutlierTable:
    """No score yet for any of n traces."""
    k = len(names)
    return OutlierTable(
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


def _compare(
    table: OutlierTable,
    traces: ComparedTraces,
    scales: Scales,
    rows: NDArray[np.integer],
    found: FoundPopulation,
    *,
    share: float,
    fewest: int,
) -> None:
    """Fill limits, z-scores and parts of one joint's traces."""
    end, population, used = scales.end_state, found.population, found.used
    least = traces.least_spread(rows, scales)
    raised = raised_limit(population.n_used, together=False)
    table.limit[rows] = NormalDist().inv_cdf(1.0 - share / 2.0) * raised
    more = np.maximum(traces.uncertainty[rows] ** 2 - np.median(traces.uncertainty[used], axis=0) ** 2, 0.0)
    spread = np.minimum(np.sqrt(population.spread**2 + more), MOST_WIDENING * population.spread)
    even = without_skew(traces.features, population.centre, found.sides)
    table.z[rows] = (even[rows] - population.centre) / spread
    table.end_part[rows] = _end_parts(even[:, end], rows, used, least[end], share)
    if len(used) >= fewest:
        table.shape_part[rows] = _shape_parts(traces.rises, traces.known_rises, rows, used)


def _note_many_odd(table: OutlierTable, joint: str, rows: NDArray[np.integer]) -> None:
    """Say of a joint with many odd traces that they are several groups."""
    odd = int(table.flagged[rows].sum())
    if odd > MANY_ODD * len(rows):
        population = table.populations[joint]
        words = f"{odd} of {len(rows)} traces are unusual: these are several groups, not one with odd ones"
        table.populations[joint] = replace(population, note=_joined(population.note, words))


def _joined(*notes: str) -> str:
    return "; ".join(note for note in notes if note)


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
    limit = np.sqrt(chi_square_quantile(1.0 - share, values.shape[1]))
    return np.asarray(np.sqrt(squared) / (limit * raised_limit(len(whole), together=True)))


def _shape_parts(
    rises: FloatArray, known_rises: NDArray[np.bool_], rows: NDArray[np.integer], used: NDArray[np.integer]
) -> FloatArray:
    whole = used[known_rises[used]]
    parts = np.full(len(rows), np.nan)
    known = known_rises[rows]
    if len(whole) < 2:
        return parts
    departure = shape_departures(rises, rows[known], whole)
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
