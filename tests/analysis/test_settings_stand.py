"""The defaults are those of the definitions, and the steps between kinds lie where they say."""

from __future__ import annotations

import pytest

from analysis.pipeline import analyse
from analysis.settings import CurveSettings, PopulationSettings
from analysis.traces import TraceSet
from tests.analysis.curve.curve_making import clean_curve


def test_the_defaults_are_the_definitions() -> None:
    """Slope shares 0.80, 0.50 and 2/3; hard at most 30 deg, soft at least 720 (common practice)."""
    c = CurveSettings()
    assert (c.snug_rule, c.yield_rule) == ("slope-ratio", "half-slope")
    assert (c.snug_slope_ratio, c.yield_slope_ratio) == (0.80, 0.50)
    assert CurveSettings(yield_rule="two-thirds-slope").yield_slope_ratio == pytest.approx(2.0 / 3.0)
    assert (c.hard_limit_deg, c.soft_limit_deg) == (30.0, 720.0)
    assert (PopulationSettings().smallest_population, PopulationSettings().outlier_share) == (20, 0.006)


@pytest.mark.parametrize(
    ("rate_deg", "kind"), [(27.0, "hard"), (33.0, "medium"), (690.0, "medium"), (750.0, "soft")]
)
def test_hard_medium_soft(rate_deg: float, kind: str) -> None:
    """Snug lies at 0.8 of the 10 deg of drawdown: the rate is the elastic part and 2 deg."""
    angle, torque = clean_curve(drawdown_deg=10.0, elastic_deg=rate_deg - 2.0, step_deg=0.25)
    table = analyse(TraceSet.from_lists(["t"], [angle], [torque]), {}).results()
    assert table["joint_rate_deg"][0].as_py() == pytest.approx(rate_deg, rel=0.01)
    assert table["hardness"][0].as_py() == kind
