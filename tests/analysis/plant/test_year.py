"""What moved in a simulated year is found early, with size, time and owner, and hardly anything else."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import numpy as np
import pyarrow.parquet as pq
import pytest
from scipy import stats
from statsmodels.stats.multitest import multipletests

from analysis.figure_text import count_text
from analysis.plant.day_rows import day_rows
from analysis.plant.discovery import benjamini_hochberg, find_changes, series_probability
from analysis.plant.followed import FOLLOWED
from analysis.plant.names import DAYS
from analysis.plant.reading_back import read_days
from analysis.plant.tool_care import care_of_tools
from analysis.plant.weekly import weekly_means, weeks_of, weeks_of_days
from analysis.plant.weekly_capability import capability_plot, weekly_capability
from analysis.plant.year import Event, Year, look_at_year, lots_of
from analysis.plant.year_charts import charts_of, standardised, year_chart_plots
from analysis.plant.year_plots import course_of, course_plot, weeks_axis
from analysis.plant.year_report import year_report
from analysis.plant.year_tables import weeks_table, write_year
from analysis.plant.year_traces import Traces, traces_of
from analysis.report import to_html
from analysis.report.svg_plot import svg_plot
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
    write_archive,
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
    assert "noise" not in year.control_sentence(), "nothing was looked at that is not there"


def test_where_nothing_moves_hardly_anything_is_told() -> None:
    plan = YearPlan(a_week=8, seeded=False)
    told = [len(look_at_year(weeks_of(make_year(seed, plan))).changes) for seed in range(2, 6)]
    assert sum(one > 0 for one in told) <= 1, "5 % of such years tell something"


def test_a_few_tightenings_that_went_wrong_make_no_step() -> None:
    plan = YearPlan(a_week=20, seeded=False)
    told = []
    for seed in (31, 32, 33):
        made, rng = make_year(seed, plan), np.random.default_rng(seed)
        torque = made.values["final_torque_nm"]
        lost = np.where(rng.random(len(torque)) < 0.01, rng.uniform(0.5, 0.95, len(torque)), 1.0)
        odd = replace(made, values=made.values | {"final_torque_nm": torque * lost})
        told += look_at_year(weeks_of(odd)).changes
    assert len(told) <= 1


def test_a_tool_whose_noise_grows_is_told_with_the_weeks_that_are_left(tmp_path: Path) -> None:
    made = make_year(5, YearPlan(joints=4, spindles_each=4, weeks=30, a_week=20, seeded=False))
    rng = np.random.default_rng(5)
    grown = np.where(made.spindle == 6, np.exp(0.01 * made.week), 1.0)
    noise = 0.1 * grown * np.exp(0.1 * rng.standard_normal(len(grown)))
    made = replace(made, values=made.values | {"torque_noise_nm": noise})
    year = look_at_year(weeks_of(made))
    care = care_of_tools(year)
    assert len(care) == 17
    first = care[0]
    assert (first.name, first.sign) == ("spindle 006", "noise")
    assert first.now == pytest.approx(np.expm1(0.29), abs=0.08)
    assert first.weeks_left is not None
    assert first.weeks_left == pytest.approx((np.log(1.5) - 0.29) / 0.01, rel=0.5)
    assert first.weeks_left_low is not None
    assert first.weeks_left_low < first.weeks_left
    assert "noise drifts by +0.9" in first.sentence()
    write_year(year, care, tmp_path / "year.xlsx")
    html = to_html([year_report(year, care, "plant", datetime(2026, 12, 1, tzinfo=UTC))])
    assert "50 % of noise" in html


def test_days_of_an_earlier_version_have_no_noise(tmp_path: Path) -> None:
    made = make_year(1, YearPlan(joints=1, spindles_each=3, weeks=3, a_week=6, seeded=False))
    write_archive(made, tmp_path)
    (file,) = (tmp_path / DAYS).glob("*.parquet")
    days = pq.read_table(file)
    older = [one for one in days.column_names if not one.startswith("torque_noise_nm")]
    pq.write_table(days.select(older), file)
    again = read_days(tmp_path)
    assert again.schema.names == days.schema.names
    assert again.column("torque_noise_nm_mean").null_count == len(days)
    assert again.select(older).equals(days.select(older).replace_schema_metadata())


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


def test_a_tool_that_moved_says_nothing_of_its_joint(traces: Traces, year: Year) -> None:
    """Of five spindles the middle goes a little along with the one that drifts: the joint must not."""
    joint = traces.joints[int(traces.joint[traces.spindle == traces.spindles.index(DRIFTING)][0])]
    effects = year.effects[0]
    z = effects.joint[traces.joints.index(joint)] / effects.joint_error[traces.joints.index(joint)]
    first, last = z[:13].mean(), z[-13:].mean()
    assert abs(last - first) < 4.0 * np.sqrt(2.0 / 13.0)
    assert joint not in {one.name for one in year.changes}


def test_a_forecast_is_made_only_of_drifts_that_chance_does_not_make(year: Year) -> None:
    timed = {one.name for one in care_of_tools(year) if one.weeks_left is not None}
    assert DRIFTING in timed
    assert len(timed) <= 2, "of 200 tools a tenth has an interval of 90 % beside zero"
    stepped = next(one for one in care_of_tools(year) if one.name == MISREAD)
    assert stepped.drift_low is not None
    assert stepped.drift_high is not None
    assert stepped.drift_low < 0 < stepped.drift_high, "since its last step it stands still"


def test_charts_cry_out_where_it_moved_and_state_their_false_alarms(year: Year) -> None:
    joint, spindle = "joint 20", MISREAD
    z = standardised(year, 0, joint, spindle)[1]
    average, sums = charts_of(z)
    for chart in (average, sums):
        assert not chart.alarms[: MISREAD_WEEKS[0]].any()
        assert chart.alarms[MISREAD_WEEKS[0] + 1]
    assert (round(average.run_length), round(sums.run_length)) == (560, 465)
    plots = year_chart_plots(year, 0, joint, spindle)
    assert [one.title for one in plots] == [
        "Weighted average (EWMA), final torque",
        "Cumulative sum (CUSUM), final torque",
    ]
    assert "where nothing moves one in 465 points is false (0.1 to be expected here)" in plots[1].caption
    assert plots[0].x.names == weeks_axis(year).names
    assert charts_of(z[:5]) == ()


def test_charts_of_what_stands_still_give_as_many_false_alarms_as_they_state() -> None:
    still = look_at_year(weeks_of(make_year(6, YearPlan(a_week=8, seeded=False))))
    spans, begun = 0, 0
    for code in range(len(still.weeks.spindles)):
        z = standardised(still, 0, "", still.weeks.spindles[code])[1]
        for chart in charts_of(z)[1:]:
            spans += len(z) / chart.run_length
            begun += int(np.sum(chart.alarms & ~np.roll(chart.alarms, 1)))
    assert begun <= 2.0 * spans


def test_the_year_as_pages_has_what_moved_tools_and_charts(year: Year) -> None:
    now = datetime(2027, 1, 2, tzinfo=UTC)
    html = to_html([year_report(year, care_of_tools(year), "plant", now, events=[CALIBRATED])])
    for words in (
        "Archive plant: 998\u202f400 traces of 40 joints and 200 spindles",
        "in the week of calibration found 3 % high",
        "Cumulative-sum charts, each by itself",
        "Weighted average (EWMA), final torque",
        "calibration found 3 % high</text>",
        "judgement of a qualified engineer",
    ):
        assert words in html
    assert "high limit" not in html.replace("upper control limit", "").replace("lower control limit", "")


def test_a_week_s_capability_from_day_rows_is_that_of_its_traces() -> None:
    made = make_year(8, YearPlan(joints=3, weeks=10, a_week=30, seeded=False))
    days, limits = day_rows(as_rows(made)), (62.0, 67.5)
    year = look_at_year(weeks_of_days(days))
    index, bound = weekly_capability(year, days, "final_torque_nm", "joint 01", "", limits=limits)
    values = made.values["final_torque_nm"][(made.joint == 1) & (made.week == 4)]
    mean, s = values.mean(), values.std(ddof=1)
    assert index[4] == pytest.approx(min(67.5 - mean, mean - 62.0) / (3.0 * s), rel=1e-9)
    half = 1.6449 * np.sqrt(1 / (9 * len(values)) + index[4] ** 2 / (2 * (len(values) - 1)))
    assert bound[4] == pytest.approx(index[4] - half, rel=1e-4)
    plot = capability_plot(year, days, "final_torque_nm", "joint 01", "spindle 006", limits=limits)
    assert plot is not None
    assert capability_plot(year, days, "final_torque_nm", "joint 01", "", limits=(None, None)) is None


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


def test_intervals_of_the_weeks_hold_the_truth_nineteen_times_of_twenty() -> None:
    made = make_year(5, YearPlan(joints=3, weeks=60, a_week=40, seeded=False))
    table = weeks_table(look_at_year(weeks_of(made)))
    rows = [one for one in table.to_pylist() if one["figure"] == "final_torque_nm" and one["mean_low"]]
    assert len(rows) > 500
    inside = np.mean([one["mean_low"] < 65.0 < one["mean_high"] for one in rows])
    assert inside == pytest.approx(0.95, abs=0.02)


def test_a_series_that_is_short_or_empty_says_nothing() -> None:
    error = np.full(12, 0.1)
    assert np.isnan(series_probability(np.full(12, np.nan), error))
    assert np.isnan(series_probability(np.arange(5.0), error[:5]))
    assert find_changes(np.full(12, np.nan), error, 0.01) == []


def test_monday_is_the_first_day() -> None:
    assert date(2025, 12, 29).weekday() == 0


def _rounded(traces: Traces, step: float) -> Traces:
    torque = np.round(traces.values["final_torque_nm"] / step) * step
    return replace(traces, values=traces.values | {"final_torque_nm": torque})


@pytest.mark.parametrize("step", [0.1, 0.5, 2.0])
def test_rounded_torque_tells_what_is_seeded_and_nothing_else(traces: Traces, step: float) -> None:
    told = {one.name for one in look_at_year(weeks_of(_rounded(traces, step))).changes}
    assert told == SEEDED


@pytest.mark.parametrize("step", [0.1, 0.5])
def test_the_middles_of_rounded_days_tell_nothing_false(step: float) -> None:
    made = make_year(1, YearPlan(joints=40, weeks=30, a_week=40))
    told = {one.name for one in look_at_year(weeks_of_days(day_rows(as_rows(_rounded(made, step))))).changes}
    assert {DRIFTING, MISREAD} <= told <= SEEDED


@pytest.mark.parametrize("step", [0.5, 5.0])
def test_values_that_hardly_leave_their_step_tell_nothing_false(step: float) -> None:
    """A tool that scatters by far less than a step: rounding does not average out over a week."""
    made = make_year(2, YearPlan(weeks=30, a_week=40, torque_s=0.0008, seeded=False))
    # Levels beside the middle between two steps, where rounding makes most of little.
    wander = 1.0 + 0.0003 * np.sin(made.week / 4.0 + made.spindle)
    torque = made.values["final_torque_nm"] / 65.0 * (64.75 if step < 1.0 else 62.5) * wander
    made = replace(made, values=made.values | {"final_torque_nm": torque})
    year = look_at_year(weeks_of(_rounded(made, step)))
    assert len(year.changes) <= 0.05 * len(made.spindles)


def test_where_all_values_are_equal_nothing_is_told(tmp_path: Path) -> None:
    made = make_year(2, YearPlan(joints=4, weeks=20, a_week=10, seeded=False))
    even = replace(made, values={name: np.full_like(one, 65.0) for name, one in made.values.items()})
    year = look_at_year(weeks_of(even))
    assert year.changes == ()
    for ending in (".xlsx", ".csv", ".parquet"):
        write_year(year, care_of_tools(year), tmp_path / f"year{ending}")
    course = course_of(year, 0, made.joints[0], made.spindles[0])
    assert "nan" not in svg_plot(course_plot(course, weeks_axis(year)), 600.0)
    assert look_at_year(weeks_of_days(day_rows(as_rows(even)))).changes == ()


@pytest.mark.parametrize("step", [0.1, 0.25, 0.5, 1.0])
def test_the_error_of_rounded_means_covers(step: float) -> None:
    """A scatter of 0.26 N·m, the true level on a step, between two and anywhere; 95 % are asked."""
    made = make_year(5, YearPlan(joints=20, weeks=60, a_week=40, torque_s=0.004, seeded=False))
    values = made.values["final_torque_nm"] / 65.0
    for level in (65.0, 65.0 + 0.25 * step, 65.0 + 0.5 * step, 65.37):
        own = replace(made, values=made.values | {"final_torque_nm": values * level})
        weekly = weekly_means(_rounded(own, step), FOLLOWED[0])
        known = np.isfinite(weekly.mean)
        inside = (np.abs(weekly.mean - np.log(level)) < 1.96 * weekly.error)[known].mean()
        assert inside >= 0.945, level
        # Where rounding averages out, an interval that is always right would say nothing.
        assert step > 0.1 or inside <= 0.985, level


def test_a_drift_is_told_per_no_more_cycles_than_were_made(year: Year) -> None:
    care = care_of_tools(year)
    assert any(one.drift is not None and one.cycles < 100_000 for one in care)
    for one in care:
        assert one.told_per <= one.cycles < 10 * one.told_per or one.told_per == 100_000
        if one.drift is not None:
            assert f"% per {count_text(one.told_per)} cycles" in one.sentence()
            told = one.told_drift(one.drift)
            assert told == pytest.approx(one.drift / 100_000 * one.told_per)
