"""Counts in classes: every value is told to 0.25 %, over all sizes and either sign, whole or merged."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.plant.sketch import merged, sketch


@pytest.mark.parametrize("decades", [0.01, 1.0, 8.0])
@pytest.mark.parametrize("signs", [(1.0,), (-1.0,), (-1.0, 1.0)])
def test_every_order_statistic_is_within_what_is_promised(decades: float, signs: tuple[float, ...]) -> None:
    rng = np.random.default_rng(3)
    values = np.sort(10.0 ** rng.uniform(-4.0, decades - 4.0, 401) * rng.choice(signs, 401))
    whole, parts = sketch(values), merged([sketch(values[::3]), sketch(values[1::3]), sketch(values[2::3])])
    found = [whole.quantile(k / 400) for k in range(401)]
    assert found == pytest.approx(values.tolist(), rel=0.0025)
    assert [parts.quantile(k / 400) for k in range(401)] == found


def test_what_is_smaller_than_any_class_is_zero_and_what_is_absent_is_left_out() -> None:
    counted = sketch(np.array([0.0, 1e-12, -1e-12, np.nan, np.inf]))
    assert counted.counts.tolist() == [3]
    assert counted.quantile(0.5) == 0.0
    assert np.isnan(merged([]).quantile(0.5))
