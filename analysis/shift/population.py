"""What is usual among the traces of one joint: centre, spread and sides of each feature, and its basis."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analysis.settings import PopulationSettings
from analysis.shift.groups import larger_group
from analysis.shift.robust import robust_centre, side_factors, wide_spread

FloatArray = NDArray[np.float64]


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


def find_population(
    joint: str,
    features: FloatArray,
    rows: NDArray[np.integer],
    trusted: NDArray[np.bool_],
    least_spread: FloatArray,
    settings: PopulationSettings,
    reference: Usual | None,
    kinds: Mapping[str, int],
) -> tuple[Population, NDArray[np.integer], FloatArray]:
    """What is usual among a joint's traces: of those that keep the limits where enough do, else of all.

    A pinned reference goes first.

    Parameters
    ----------
    joint : str
    features : ndarray, shape (n, k)
        Of all traces, on their compared scales.
    rows : ndarray of int, shape (m,)
        The joint's traces.
    trusted : ndarray of bool, shape (n,)
        Traces that may say what is usual.
    least_spread : ndarray, shape (k,)
        No feature's spread is taken for less.
    settings : PopulationSettings
    reference : Usual or None
    kinds : Mapping of name to int
        Columns of the features that tell one kind of joint from another.

    Returns
    -------
    Population
    ndarray of int
        The traces that it was read from.
    ndarray
        How far its sides reach (`side_factors`).
    """
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
