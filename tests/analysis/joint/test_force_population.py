"""Clamp force over tightenings: counts, chances and scatter of made-up populations whose truth is known."""

from __future__ import annotations

import math
from statistics import NormalDist

import numpy as np
import pytest

from analysis.joint.clamp_table import ClampTable
from analysis.joint.force_population import force_population, holding, stress_population

MIDDLE_KN, SCATTER, SHARED = 30.0, 0.06, 0.05


def table(best: np.ndarray, own: float, common: float) -> ClampTable:
    reach = math.exp(2.0 * math.hypot(own, common))
    return ClampTable(
        clamp_force_kn=best,
        clamp_force_low_kn=best / reach,
        clamp_force_high_kn=best * reach,
        utilisation=best / 40.0,
        reason=("",) * len(best),
        utilisation_low=best / 40.0 / math.sqrt(reach),
        utilisation_high=best / 40.0 * math.sqrt(reach),
        common_spread=np.full(len(best), common),
    )


def shrunk(n: int, own: float, seed: int) -> np.ndarray:
    """Best values of forces of known scatter, each uncertain for itself: they scatter less than truth."""
    kept = math.sqrt(SCATTER**2 - own**2)
    return MIDDLE_KN * np.exp(np.random.default_rng(seed).normal(0.0, kept, n))


def test_each_tightening_is_counted_once_and_on_the_limit_it_holds() -> None:
    low = np.array([22.0, 25.0, 21.9, 10.0, 21.0, np.nan])
    high = np.array([30.0, 31.0, 26.0, 21.99, 22.0, np.nan])
    found = holding(low, high, 22.0)
    assert (found.n, found.surely, found.surely_not, found.untold, found.without) == (6, 2, 1, 3, 1)


def test_scatter_is_that_of_the_forces_and_not_of_their_best_values() -> None:
    best = shrunk(4000, 0.05, 1)
    found = force_population(table(best, 0.05, SHARED), np.arange(4000))
    assert found is not None
    assert found.scatter == pytest.approx(SCATTER, rel=0.03)
    assert np.log(best).std() < 0.6 * SCATTER
    assert found.common == pytest.approx(SHARED)
    assert found.scatter_share == pytest.approx(math.sqrt(math.expm1(SCATTER**2)), rel=0.03)


def test_the_share_is_of_the_forces_themselves_where_a_lot_lies_apart() -> None:
    best = np.concatenate([np.full(230, 50.0), np.full(26, 73.0)])
    found = force_population(table(best, 0.02, 0.0), np.arange(256))
    assert found is not None
    true = math.hypot(best.std(ddof=1), 0.02 * math.sqrt(np.mean(best**2))) / best.mean()
    assert found.scatter_share == pytest.approx(true, rel=1e-6)
    assert found.scatter_share > 1.05 * math.sqrt(math.expm1(found.scatter**2))


@pytest.mark.parametrize("limit_kn", [24.0, 27.0, 30.0, 34.0])
def test_chance_below_a_limit_is_the_true_one(limit_kn: float) -> None:
    found = force_population(table(shrunk(4000, 0.04, 2), 0.04, 0.0), np.arange(4000))
    assert found is not None
    true = NormalDist(math.log(MIDDLE_KN), SCATTER).cdf(math.log(limit_kn))
    chance = found.below(limit_kn)
    assert chance.value == pytest.approx(true, rel=0.15, abs=1e-4)
    assert chance.low <= true <= chance.high
    assert chance.opposite.value == pytest.approx(1.0 - chance.value)


def test_interval_holds_the_chance_of_populations_that_are_all_off_alike() -> None:
    """Each joint has one shared error and some tightenings: more of these do not average it out."""
    rng, n, inside = np.random.default_rng(3), 60, 0
    true = NormalDist().cdf((math.log(26.0) - math.log(MIDDLE_KN)) / SCATTER)
    for seed in range(300):
        best = shrunk(n, 0.03, seed) * math.exp(rng.normal(0.0, SHARED))
        found = force_population(table(best, 0.03, SHARED), np.arange(n))
        assert found is not None
        chance = found.below(26.0)
        inside += chance.low <= true <= chance.high
    assert 0.92 <= inside / 300 <= 0.99
    many = force_population(table(shrunk(20000, 0.03, 1), 0.03, SHARED), np.arange(20000))
    assert many is not None
    chance = many.below(26.0)
    # Derived: with endless tightenings the limit still lies 2 common/s to either side.
    z = math.log(26.0 / MIDDLE_KN) / SCATTER
    assert chance.high == pytest.approx(NormalDist().cdf(z + 2.0 * SHARED / SCATTER), rel=0.05)
    assert chance.high > 0.2


def test_too_few_best_values_give_no_chance() -> None:
    best = shrunk(8, 0.03, 1)
    best[4:] = np.nan
    assert force_population(table(best, 0.03, SHARED), np.arange(8)) is None
    assert stress_population(table(best, 0.03, SHARED), np.arange(8)) is None


def test_stress_grows_slower_than_force_and_so_does_its_uncertainty() -> None:
    found = stress_population(table(shrunk(400, 0.04, 4), 0.04, SHARED), np.arange(400))
    assert found is not None
    assert found.common == pytest.approx(0.5 * SHARED)
    assert found.middle == pytest.approx(MIDDLE_KN / 40.0, rel=0.02)
