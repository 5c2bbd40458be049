"""Two kinds of joint in one population are found; one kind is never parted."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.shift.groups import larger_group


@pytest.mark.parametrize("share", [0.25, 0.35, 0.48])
@pytest.mark.parametrize("apart", [6.0, -6.0, 10.0])
def test_a_lot_of_its_own_is_parted_from_the_rest(share: float, apart: float) -> None:
    rng = np.random.default_rng(4)
    n = 400
    lot = np.arange(n) < share * n
    values = rng.normal(0.0, 1.0, n) + np.where(lot, apart, 0.0)
    found = larger_group(values, 0.1)
    assert found is not None
    assert np.mean(found == ~lot) > 0.99


@pytest.mark.parametrize(
    "draw",
    [
        lambda rng, n: rng.normal(0.0, 1.0, n),
        lambda rng, n: rng.uniform(0.0, 1.0, n),
        lambda rng, n: rng.exponential(1.0, n),
        lambda rng, n: rng.standard_t(2.0, n),
        lambda rng, n: np.where(rng.random(n) < 0.08, rng.normal(12.0, 3.0, n), rng.normal(0.0, 1.0, n)),
        lambda rng, n: rng.normal(0.0, 1.0, n) + np.linspace(0.0, 4.0, n),
    ],
    ids=["normal", "even", "exponential", "heavy tails", "a twelfth of odd ones", "drifting"],
)
@pytest.mark.parametrize("n", [30, 100, 1000])
def test_one_population_is_never_parted(draw, n: int) -> None:
    rng = np.random.default_rng(n)
    parted = sum(larger_group(draw(rng, n), 0.01) is not None for _ in range(200))
    assert parted == 0


def test_no_values_and_nothing_known() -> None:
    assert larger_group(np.array([]), 0.1) is None
    assert larger_group(np.full(50, np.nan), 0.1) is None
    assert larger_group(np.full(50, 2.0), 0.1) is None


@pytest.mark.parametrize("share", [0.28, 0.38])
def test_a_lot_of_low_friction_does_not_pass_as_usual(share: float) -> None:
    """A third of a joint's traces from an oiled lot: they are the odd ones, and the joint's note says so."""
    from tests.helpers.oiled_lot import oiled_lot

    analysis, lot = oiled_lot(share)
    flagged = analysis.outliers.flagged
    assert flagged[lot].mean() > 0.95
    assert flagged[~lot].mean() < 0.02
    (population,) = analysis.outliers.populations.values()
    assert "two groups" in population.note
