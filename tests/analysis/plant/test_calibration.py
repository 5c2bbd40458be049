"""Intervals of calibration by how tools were found, and from when on to look back."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from analysis.plant.calibration import (
    Calibration,
    calibration_plans,
    calibrations_of,
    interval_days,
    standings,
)
from analysis.plant.reading_back import ArchiveError, read_events

HEAD = "time,tool,kind,text,as_found_percent,tolerance_percent\n"


@pytest.mark.parametrize(
    ("shares", "days"),
    [
        ((), 365.0),
        ((0.7,), 365.0),
        ((0.5, 0.5), 547.5),
        ((0.4, 0.6, 0.4), 365.0),  # not two in a row
        ((0.81,), 255.5),
        ((1.0,), 255.5),  # at the tolerance is within it
        ((1.01,), 182.5),
        ((1.5, 0.2, 0.2), 273.75),
        ((2.0,) * 9, 30.0),
        ((0.1,) * 20, 1095.0),
    ],
)
def test_staircase(shares: tuple[float, ...], days: float) -> None:
    """Factors 1.5, 0.7 and 0.5 within 50 %, beyond 80 % and out of tolerance (recalled, not confirmed)."""
    assert interval_days(shares) == pytest.approx(days)


def test_a_tool_that_was_out_is_looked_back_on_since_it_was_good() -> None:
    found = [
        Calibration(date(2026, 3, 1), "T1", -4.4),
        Calibration(date(2025, 3, 1), "T1", 1.0),
        Calibration(date(2026, 1, 1), "T2", 1.0, 2.0),
        Calibration(date(2026, 2, 1), "T3", 5.0),
    ]
    plans = {one.last.tool: one for one in calibration_plans(found)}
    assert (plans["T1"].last_good, plans["T1"].due) == (date(2025, 3, 1), date(2026, 8, 30))
    told = plans["T1"].sentence(date(2026, 9, 1))
    assert (
        "as found −4.4 % of ± 4 % allowed: out; look back at all that it tightened since 2025-03-01" in told
    )
    assert told.endswith("by 2026-08-30: overdue")
    assert "overdue" not in plans["T1"].sentence(date(2026, 8, 30))
    assert "look back" not in plans["T2"].sentence(date(2026, 8, 30))
    out_before = [*found, Calibration(date(2025, 9, 1), "T1", 5.0)]
    again = next(one for one in calibration_plans(out_before) if one.last.tool == "T1")
    assert again.last_good == date(2025, 3, 1), "a calibration that found it out is none to count from"
    assert "since its first tightening" in plans["T3"].sentence(date(2026, 3, 1))


def test_events_with_and_without_what_was_found(tmp_path: Path) -> None:
    file = tmp_path / "_events.csv"
    file.write_text(
        f"{HEAD}2026-03-14T06:00Z,T1,calibration,yearly,1.2,\n2026-03-15T06:00Z,T2,service,oil,,\n"
    )
    (found,) = calibrations_of(read_events(tmp_path).to_pylist())
    assert (found.day, found.as_found_percent, found.tolerance_percent) == (date(2026, 3, 14), 1.2, 4.0)
    file.write_text("time,tool,kind,text\n2026-03-14T06:00Z,T1,calibration,yearly\n")
    assert calibrations_of(read_events(tmp_path).to_pylist()) == []
    file.write_text(f"{HEAD}2026-03-14T06:00Z,T1,calibration,yearly,1.2,0\n")
    with pytest.raises(ArchiveError, match="no tolerance above zero"):
        read_events(tmp_path)


def test_each_tool_is_overdue_due_later_or_cannot_be_told(tmp_path: Path) -> None:
    (tmp_path / "_events.csv").write_text(
        f"{HEAD}2025-01-01T06:00Z,T1,calibration,,1.0,\n2025-04-01T06:00Z,T2,calibration,,1.0,\n"
        "2026-01-01T06:00Z,T3,calibration,,1.0,\n2025-01-01T06:00Z,T4,calibration,,1.0,\n"
        "2025-12-01T06:00Z,T4,calibration,,,\n2025-12-01T06:00Z,T6,service,oil,,\n"
    )
    told = standings(read_events(tmp_path).to_pylist(), ("T5", "T1"), date(2026, 3, 20))
    assert [(one.tool, one.word) for one in told] == [
        ("T1", "overdue"), ("T2", "due"), ("T3", "later"), ("T4", "cannot be told"), ("T5", "cannot be told"),
    ]  # fmt: skip
    assert told[0].words.endswith("by 2026-01-01: overdue")
    assert told[3].words == (
        "T4: calibrated 2025-12-01, how it was found is not written down; when it is due cannot be told"
    )
    assert told[4].words.startswith("T5: no calibration is written down")
