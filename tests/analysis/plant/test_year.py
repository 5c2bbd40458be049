"""What moved in a simulated year is found early, with size, time and owner, and hardly anything else."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest
from scipy import stats
from statsmodels.stats.multitest import multipletests

from analysis.plant.day_rows import day_rows
from analysis.plant.discovery import benjamini_hochberg, find_changes, series_probability
from analysis.plant.tool_care import care_of_tools
from analysis.plant.weekly import FOLLOWED, Traces, traces_of, weekly_means, weeks_of, weeks_of_days
from analysis.plant.year import Event, Year, look_at_year, lots_of
from tests.world.plant_year import (
    DRIFT_A_WEEK,
    DRIFTING,
    FIRST,
    LOT_JOINT,
    LOT_STEP,
    LOT_WEEK,
    MISREAD,
    MISREAD_BY,
    MISREAD_WEEKS,
    SEEDED,
    YearPlan,
    as_rows,
    make_year,
)

CALIBRATED = Event(FIRST + timedelta(weeks=MISREAD_WEEKS[1]), MISREAD, "calibration", "found 3 % high")
LOT = Event(FIRST + timedelta(weeks=LOT_WEEK, days=-11), LOT_JOINT, "lot", "W-130")


@pytest.fixture(scope="module")
def traces() -> Traces:
    return make_year()


@pytest.fixture(scope="module")
def year(traces: Traces) -> Year:
    return look_at_year(weeks_of(traces), [CALIBRATED], [LOT])


def test_what_was_seeded_is_found_and_nothing_else(year: Year) -> None:
    told = {one.name for one in year.changes}
    assert told >= SEEDED
    assert len([one for one in year.changes if one.name not in SEEDED]) <= 0.05 * len(year.changes)


def test_the_drift_is_found_before_it_has_come_to_one_per_cent(traces: Traces) -> None:
    weeks = int(0.01 / DRIFT_A_WEEK) - 1
    early = look_at_year(weeks_of(traces.until(weeks)))
    (found,) = early.changes
    assert (found.name, found.whose, found.change.kind) == (DRIFTING, "tool", "drift")


def test_each_change_has_its_size_its_time_and_its_owner(year: Year) -> None:
    torque = {(one.name, one.day): one for one in year.changes if one.followed is FOLLOWED[0]}
    slope = {(one.name, one.day): one for one in year.changes if one.followed is FOLLOWED[1]}
    drift = torque[DRIFTING, FIRST]
    assert drift.change.size == pytest.approx(DRIFT_A_WEEK, abs=3 * drift.change.error)
    up, down = (torque[MISREAD, FIRST + timedelta(weeks=week)] for week in MISREAD_WEEKS)
    assert up.change.size == pytest.approx(MISREAD_BY, abs=0.002)
    assert down.change.size == pytest.approx(-MISREAD_BY, abs=0.002)
    assert (up.whose, down.event) == ("tool", CALIBRATED)
    lot = slope[LOT_JOINT, FIRST + timedelta(weeks=LOT_WEEK)]
    assert lot.change.size == pytest.approx(LOT_STEP, abs=0.006)
    assert (lot.whose, lot.event) == ("joint", LOT)
    assert "rose by 6" in lot.sentence()
    assert "11 days after lot W-130" in lot.sentence()
    assert "false alarms a week" in year.control_sentence()


def test_where_nothing_moves_hardly_anything_is_told() -> None:
    plan = YearPlan(a_week=8, seeded=False)
    told = [len(look_at_year(weeks_of(make_year(seed, plan))).changes) for seed in range(2, 6)]
    assert sum(one > 0 for one in told) <= 1, "5 % of such years tell something"


def test_a_joint_with_one_spindle_cannot_tell_tool_from_joint() -> None:
    plan = YearPlan(joints=6, spindles_each=1, a_week=60, seeded=False)
    made = make_year(3, plan)
    moved = np.where((made.joint == 2) & (made.week >= 20), 1.02, 1.0)
    values = {name: one * (moved if name == "final_torque_nm" else 1.0) for name, one in made.values.items()}
    found = look_at_year(weeks_of(replace(made, values=values)))
    assert {(one.whose, one.name) for one in found.changes} == {("tool or joint", "spindle 002")}


def test_rows_and_day_rows_of_an_archive_tell_the_same() -> None:
    made = make_year(1, YearPlan(joints=12, weeks=30, a_week=60, seeded=False))
    moved = np.where((made.spindle == 7) & (made.week >= 12), 1.02, 1.0)
    made = replace(made, values={name: one * moved for name, one in made.values.items()})
    rows = as_rows(made)
    again = traces_of(rows)
    assert (again.joints, again.first) == (made.joints, FIRST)
    days = day_rows(rows)
    by_rows, by_days = (
        {(one.name, one.day, one.whose) for one in look_at_year(weeks).changes if one.followed is FOLLOWED[0]}
        for weeks in (weeks_of(again), weeks_of_days(days))
    )
    assert by_rows == by_days
    assert ("spindle 007", FIRST + timedelta(weeks=12), "tool") in by_days
    assert lots_of(days) == []


def test_care_of_tools_forecasts_the_drifting_one_first(year: Year, traces: Traces) -> None:
    first = care_of_tools(year)[0]
    assert (first.name, first.weeks_left) == (DRIFTING, 0.0)
    early = care_of_tools(look_at_year(weeks_of(traces.until(9))))
    drifting = next(one for one in early if one.name == DRIFTING)
    assert drifting.weeks_left is not None
    assert drifting.weeks_left_low is not None
    assert drifting.weeks_left_low <= 0.01 / DRIFT_A_WEEK - 8
    assert drifting.weeks_left_high is None or drifting.weeks_left_high >= 0.01 / DRIFT_A_WEEK - 8
    whole = DRIFT_A_WEEK * 52 / first.cycles * 100_000
    assert first.drift == pytest.approx(whole, rel=0.05)


def test_discoveries_are_those_of_an_independent_package() -> None:
    p = np.random.default_rng(4).uniform(size=200) ** 3
    found, _ = benjamini_hochberg(p)
    assert found.tolist() == multipletests(p, 0.05, "fdr_bh")[0].tolist()


def test_weekly_means_are_trimmed_means_and_their_errors_cover() -> None:
    made = make_year(5, YearPlan(joints=3, weeks=60, a_week=40, seeded=False))
    weekly = weekly_means(made, FOLLOWED[0])
    cell = np.log(made.values["final_torque_nm"][(made.spindle == 4) & (made.week == 7)])
    assert weekly.mean[4, 7] == pytest.approx(stats.trim_mean(cell, 0.1))
    away = (weekly.mean - np.log(65.0)) / weekly.error
    assert np.mean(np.abs(away) < 1.96) == pytest.approx(0.95, abs=0.02)


def test_a_series_that_is_short_or_empty_says_nothing() -> None:
    error = np.full(12, 0.1)
    assert np.isnan(series_probability(np.full(12, np.nan), error))
    assert np.isnan(series_probability(np.arange(5.0), error[:5]))
    assert find_changes(np.full(12, np.nan), error, 0.01) == []


def test_monday_is_the_first_day() -> None:
    assert date(2025, 12, 29).weekday() == 0
