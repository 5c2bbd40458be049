"""The defaults are those of the definitions, and the steps between kinds lie where they say."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.catalogue.point_rules import hardness_meaning
from analysis.curve.hardness import judged_rate_deg, line_rate_deg
from analysis.errors import SettingsFileError
from analysis.pipeline import analyse
from analysis.settings import CurveSettings, PopulationSettings, Settings
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


#: Basis, joint rate (derived: 41.25 N·m at 43 deg; 4.125 N·m at 7.425 deg, 20.625 N·m at 26.5 deg), word.
BASES = (
    ("snug-to-final", 43.0 - 18.0, "hard"),
    ("10-100 %", (43.0 - 7.425) / 0.9, "medium"),
    ("50-100 %", (43.0 - 26.5) / 0.5, "medium"),
)


@pytest.mark.parametrize(("basis", "rate_deg", "word"), BASES)
def test_hardness_is_judged_on_its_basis(basis: str, rate_deg: float, word: str) -> None:
    """Drawdown of 18 deg up to 10 N·m, then 1.25 N·m/deg; a spike in the rundown is not the rise."""
    angle = np.arange(-300.0, 43.01, 0.1)
    torque = np.interp(angle, [-300.0, 0.0, 18.0, 50.0], [0.0, 0.0, 10.0, 50.0])
    torque[500:502] = 30.0
    settings = Settings().with_values({"curve": {"hardness_basis": basis}}, "settings.toml")
    found = analyse(TraceSet.from_lists(["t"], [angle], [torque]), {}, settings=settings)
    rate = judged_rate_deg(found.traces, found.curves, settings.curve)
    assert rate[0] == pytest.approx(rate_deg, abs=1.0 if basis == "snug-to-final" else 0.05)
    row = found.results().to_pylist()[0]
    assert (row["hardness"], row["hardness_basis"]) == (word, basis)
    assert f"Hardness ({basis}" in hardness_meaning(settings.curve)


def test_a_recording_that_starts_in_the_rise_has_no_line_rate() -> None:
    assert np.isnan(line_rate_deg(np.array([0.0, 5.0, 10.0]), np.array([6.0, 8.0, 10.0]), 0.5))


def test_an_unknown_basis_is_refused() -> None:
    with pytest.raises(SettingsFileError, match="expected one of snug-to-final, 10-100 %, 50-100 %"):
        Settings().with_values({"curve": {"hardness_basis": "30-100 %"}}, "settings.toml")
