"""What is usual among the traces of one joint: centre, spread and sides of each feature, and its basis."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from analysis.arrays import FloatArray
from analysis.settings import PopulationSettings
from analysis.shift.groups import larger_group
from analysis.shift.robust import side_factors, wide_spread
from analysis.spread import median_along


@dataclass(frozen=True, eq=False)
class Population:
    """What is usual among the traces of one joint."""

    joint: str
    n: int  #: Traces of the joint.
    #: Those that say what is usual: limit keepers where enough remain; a pinned reference goes first.
    n_used: int
    #: Shape (k,). Robust centre and standard deviation of each feature on its compared scale.
    centre: FloatArray
    spread: FloatArray
    basis: str  #: "the traces that keep the torque limits", "all traces", "the reference ...".
    #: What to know before trusting it ("only 12 traces ..."); empty where nothing speaks against it.
    note: str
    #: Share of sound traces that may be called outliers by chance; 0 where nothing is compared.
    chance_share: float = 0.0

    @property
    def chance(self) -> str:
        """The expected number of false alarms, in words; empty where nothing is compared."""
        if not self.chance_share:
            return ""
        most = self.chance_share * self.n
        few = f"fewer than 1 of {self.n} sound traces is" if most < 1.0 else ""
        many = f"at most about {most:.2g} of {self.n} sound traces are"
        return (
            f"By chance alone {few or many} expected to be called an outlier "
            f"({100.0 * self.chance_share:.1g} %, normal scatter)."
        )


@dataclass(frozen=True, eq=False)
class Usual:
    """What a pinned reference says is usual: centre, spread and sides of the features, and its name."""

    centre: FloatArray
    spread: FloatArray
    sides: FloatArray
    n: int
    words: str


@dataclass(frozen=True, eq=False)
class Scales:
    """The compared features and how each is compared; arrays of shape (k,)."""

    names: tuple[str, ...]
    least_spread: FloatArray  #: No feature's spread is taken for less.
    #: Says where the tightening ended; can make a trace an outlier by itself; tells one kind of joint from
    #: another: where it parts a joint's traces into two groups, the larger one says what is usual.
    end_state: NDArray[np.bool_]
    scored: NDArray[np.bool_]
    telling: NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class ComparedTraces:
    """What is compared of n traces."""

    features: FloatArray  #: Shape (n, k). On their compared scales.
    #: Shape (n, k). Their standard uncertainties; what a trace has more of it than is usual widens the spread
    #: for it.
    uncertainty: FloatArray
    #: Shape (n, k). Standard deviation of the difference that the step of the recorded torque alone makes
    #: between two.
    rounding: FloatArray
    rises: FloatArray  #: Shape (n, points). Curves on a common grid, aligned at the final point.
    #: Shape (n,). Joint of each trace as an index into `joints`; negative: none, no score.
    codes: NDArray[np.integer]
    joints: Sequence[str]
    trusted: NDArray[np.bool_]  #: Shape (n,). Traces that may say what is usual.

    @cached_property
    def known_rises(self) -> NDArray[np.bool_]:
        """Traces whose curve is whole."""
        return np.asarray(np.isfinite(self.rises.sum(axis=1)))

    def least_spread(self, rows: NDArray[np.integer], scales: Scales) -> FloatArray:
        """No spread among these traces is taken for less, shape (k,)."""
        return np.asarray(np.fmax(scales.least_spread, np.median(self.rounding[rows], axis=0)))


@dataclass(frozen=True, eq=False)
class FoundPopulation:
    """What is usual, the traces that it was read from, and how far its sides reach (`side_factors`)."""

    population: Population
    used: NDArray[np.integer]
    sides: FloatArray


def usual_of(features: FloatArray, words: str) -> Usual:
    """What these traces say is usual; features on their compared scales, shape (n, k)."""
    centre = median_along(features, 0)
    spread = wide_spread(features, centre)
    return Usual(centre, spread, side_factors(features, centre, spread), len(features), words)


def find_population(
    traces: ComparedTraces,
    code: int,
    scales: Scales,
    settings: PopulationSettings,
    reference: Usual | None = None,
) -> FoundPopulation:
    """What is usual among the traces of joint `code`: of those that keep the limits where enough do, else of
    all; a pinned reference goes first."""
    joint, rows = traces.joints[code], np.flatnonzero(traces.codes == code).astype(np.int64)
    features, fewest = traces.features, settings.smallest_population
    least = traces.least_spread(rows, scales)
    keepers = rows[traces.trusted[rows]]
    enough = len(keepers) >= fewest
    used: NDArray[np.integer] = keepers if enough else rows
    if reference is not None:
        spread = np.fmax(reference.spread, least)
        population = Population(joint, len(rows), reference.n, reference.centre, spread, reference.words, "")
        return FoundPopulation(population, used, reference.sides)
    basis = "the traces that keep the limits" if enough else "all traces"
    used, note = _one_kind(features, used, replace(scales, least_spread=least), fewest)
    centre = median_along(features[used], 0)
    spread = np.fmax(wide_spread(features[used], centre), least)
    if len(used) < fewest:
        note = (
            f"{len(rows)} {'trace of this joint is' if len(rows) == 1 else 'traces of this joint are'} "
            f"too few to say what is usual (fewer than {fewest})"
        )
    population = Population(joint, len(rows), len(used), centre, spread, basis, note)
    return FoundPopulation(population, used, side_factors(features[used], centre, spread))


def _one_kind(
    features: FloatArray, used: NDArray[np.integer], scales: Scales, fewest: int
) -> tuple[NDArray[np.integer], str]:
    """The larger of two groups of traces, and the words for it; all of them where there is one group."""
    for column in np.flatnonzero(scales.telling):
        name = scales.names[column]
        group = larger_group(features[used, column], scales.least_spread[column])
        if group is None or np.sum(group) < fewest:
            continue
        words = name.split("_nm")[0].replace("_", " ")
        note = (
            f"two groups by {words}, {np.sum(group)} and {np.sum(~group)} traces: compared with the larger "
            f"one; torque and angle do not say which is right, a pinned reference does"
        )
        return used[group], note
    return used, ""
