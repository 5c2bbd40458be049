"""What traces share, how they drift, and how two sets differ."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from scipy import stats

from analysis.shift.comparison import compare
from analysis.shift.drift import find_steps, find_trend
from analysis.shift.sharing import Shared, find_shared, fisher_exact_greater


@pytest.mark.parametrize(
    "table", [(3, 1, 1, 3), (29, 2, 4, 96), (0, 5, 3, 9), (6, 0, 0, 400), (50, 70, 300, 900)]
)
def test_fisher_against_scipy(table: tuple[int, int, int, int]) -> None:
    a, b, c, d = table
    expected = stats.fisher_exact([[a, b], [c, d]], alternative="greater").pvalue
    assert fisher_exact_greater(a, b, c, d) == pytest.approx(expected, rel=1e-8)


def test_shared_lot_is_found_with_its_counts() -> None:
    rng = np.random.default_rng(1)
    n, chosen = 300, np.zeros(300, np.bool_)
    chosen[:31] = True
    lot = ["B" if (i < 29 or 31 <= i < 42) else "A" for i in range(n)]
    shared = find_shared(
        {
            "trace_id": [str(i) for i in range(n)],
            "lot": lot,
            "spindle": [str(s) for s in rng.integers(1, 5, n)],
            "operator": ["X" if c else "Y" for c in chosen],
            "serial": [f"s{i}" for i in range(n)],
        },
        chosen,
    )
    first = shared[0]
    assert (first.attribute, first.value) == ("lot", "B")
    assert (first.chosen_with, first.chosen, first.others_with, first.others) == (29, 31, 11, 269)
    assert first.is_significant
    assert first.sentence() == "29 of 31 share lot B, 4 % of the others do"
    # Persons and names of single traces are never compared; chance is not called a finding.
    assert {one.attribute for one in shared} <= {"lot", "spindle"}
    assert not any(one.is_significant for one in shared if one.attribute == "spindle")


def test_chances_are_corrected_for_all_values_that_were_looked_at() -> None:
    """Holm's step-down, as statsmodels has it; found below a corrected chance of 1 %."""
    from statsmodels.stats.multitest import multipletests

    rng = np.random.default_rng(6)
    chosen = rng.random(400) < 0.2
    given = {
        f"a{k}": [str(v) for v in rng.integers(0, 4, 400) + 2 * (chosen & (rng.random(400) < 0.1 * k))]
        for k in range(6)
    }
    shared = find_shared(given, chosen)
    assert len(shared) > 8
    expected = multipletests([one.probability for one in shared], method="holm")[1]
    assert [one.corrected for one in shared] == pytest.approx(expected.tolist())
    one = shared[0]
    assert replace(one, corrected=0.009).is_significant
    assert not replace(one, corrected=0.011).is_significant


@pytest.mark.parametrize(("length", "found"), [(9, True), (6, False)])
def test_a_level_of_eight_values_at_least_is_a_step(length: int, found: bool) -> None:
    values = np.random.default_rng(3).normal(size=60)
    values[-length:] += 30.0
    steps = [step.index for step in find_steps(values)]
    assert (60 - length in steps) == found


def test_what_is_rare_among_the_others_never_reads_as_none() -> None:
    one = Shared("washer_lot", "B", 29, 31, 1, 900, 1e-9, 1e-9)
    assert one.sentence() == "29 of 31 share washer lot B, less than 1 % of the others do"
    assert replace(one, others_with=0).sentence().endswith("0 % of the others do")
    assert replace(one, others_with=0, others=0).sentence().endswith("there are no others")


def test_shared_hour_of_day() -> None:
    start = datetime(2024, 3, 12, 6, tzinfo=UTC)
    times = [start + timedelta(minutes=2 * i) for i in range(200)]
    chosen = np.array([t.hour == 9 for t in times])
    first = find_shared({"started_at": times}, chosen)[0]
    assert (first.attribute, first.value) == ("hour", "09:00-09:59 UTC")
    assert first.is_significant


def test_nothing_chosen_shares_nothing() -> None:
    assert find_shared({"lot": ["A", "B"]}, np.zeros(2, np.bool_)) == []
    assert find_shared({"lot": ["A", "B"]}, np.ones(2, np.bool_)) == []


def test_step_is_found_where_it_is_and_noise_has_none() -> None:
    rng = np.random.default_rng(11)
    level = rng.normal(0.0, 1.0, 400)
    assert find_steps(level) == []
    level[250:] += 3.0
    level[17] = 500.0
    level[90] = np.nan
    (step,) = find_steps(level)
    assert abs(step.index - 250) <= 2
    assert step.after - step.before == pytest.approx(3.0, abs=0.3)
    assert step.strength == pytest.approx(3.0, abs=0.7)


def test_two_steps() -> None:
    rng = np.random.default_rng(12)
    level = np.concatenate([rng.normal(m, 0.5, 100) for m in (0.0, 2.0, 0.5)])
    assert [round(s.index / 100) for s in find_steps(level)] == [1, 2]


def test_trend_against_scipy() -> None:
    rng = np.random.default_rng(13)
    values = 0.02 * np.arange(120) + rng.normal(0.0, 1.0, 120)
    trend = find_trend(values)
    assert trend.slope == pytest.approx(stats.theilslopes(values).slope, rel=1e-9)
    assert trend.probability == pytest.approx(
        stats.kendalltau(np.arange(120), values, method="asymptotic").pvalue, rel=0.05
    )
    assert find_trend(rng.normal(size=200)).probability > 0.05


def test_difference_of_two_sets_has_an_interval_that_covers() -> None:
    rng = np.random.default_rng(14)
    covered = 0
    for _ in range(200):
        found = compare(rng.normal(0, 1, 40), rng.normal(1, 1, 60), "final torque", "N·m", ("A", "B"))
        covered += found.low <= 1.0 <= found.high
    assert 180 <= covered <= 199  # 95 % of 200 is 190
    same = compare(rng.normal(size=50), rng.normal(size=50), "final torque", "N·m", ("A", "B"))
    assert not same.differs
    assert "no difference is shown" in same.sentence()
