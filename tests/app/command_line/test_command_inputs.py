"""Which files a command takes, and what counts as recorded since a moment."""

from __future__ import annotations

import os
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from analysis.traces import TraceSet
from app.commands.inputs import InputError, input_paths, moment, rows_since

NOW = datetime(2026, 3, 3, 6, 0, tzinfo=UTC)


@pytest.fixture
def archive(tmp_path: Path) -> Path:
    """Files of three days in two folders, one of them hidden."""
    for age_days, name in enumerate(("new.csv", "day/old.csv", "day/older.parquet", ".trash/new.csv")):
        file = tmp_path / name
        file.parent.mkdir(exist_ok=True)
        file.write_text("x")
        changed = (NOW - timedelta(days=age_days % 3)).timestamp()
        os.utime(file, (changed, changed))
    return tmp_path


def names(paths: list[Path], archive: Path) -> list[str]:
    return [path.relative_to(archive).as_posix() for path in paths]


def test_folders_are_left_to_the_readers_unless_something_is_chosen(archive: Path) -> None:
    assert input_paths([str(archive)], [], None) == [archive]


def test_patterns_choose_by_name_in_all_subfolders_but_hidden_ones(archive: Path) -> None:
    assert names(input_paths([str(archive)], ["*.csv"], None), archive) == ["day/old.csv", "new.csv"]
    assert names(input_paths([str(archive)], ["*.csv", "*.parquet"], None), archive) == [
        "day/old.csv",
        "day/older.parquet",
        "new.csv",
    ]


def test_a_file_named_twice_is_read_once(archive: Path) -> None:
    twice = input_paths([str(archive), str(archive / "new.csv")], ["*"], None)
    assert names(twice, archive).count("new.csv") == 1


def test_wildcards_are_expanded_here_as_not_every_shell_does(archive: Path) -> None:
    assert names(input_paths([str(archive / "**/*.csv")], [], None), archive) == ["day/old.csv", "new.csv"]


def test_a_file_whose_name_looks_like_a_pattern_is_that_file(tmp_path: Path) -> None:
    odd = tmp_path / "station[4].csv"
    odd.write_text("x")
    assert input_paths([str(odd)], [], None) == [odd]


def test_older_files_are_not_opened(archive: Path) -> None:
    since = NOW - timedelta(hours=30)
    assert names(input_paths([str(archive)], [], since), archive) == ["day/old.csv", "new.csv"]
    with pytest.raises(InputError, match="none of the 3 files"):
        input_paths([str(archive)], [], NOW + timedelta(days=1))


@pytest.mark.parametrize("text", ["", "soon", "24", "24 weeks", "2026-13-01", "99999999999999d"])
def test_what_is_no_moment_is_refused(text: str) -> None:
    with pytest.raises(InputError, match="no point in time"):
        moment(text, NOW)


def test_a_time_without_zone_is_this_computers(monkeypatch: pytest.MonkeyPatch) -> None:
    assert moment("2026-03-02T06:00", NOW) == datetime(2026, 3, 2, 6).astimezone(UTC)


def test_traces_are_chosen_by_their_own_start_and_kept_without_one() -> None:
    started = [NOW - timedelta(hours=2), NOW - timedelta(minutes=5), None, NOW]
    traces = TraceSet.from_lists(list("abcd"), [[0, 1]] * 4, [[0, 1]] * 4, {"started_at": started})
    assert rows_since(traces, NOW - timedelta(minutes=5)) == [1, 2, 3]
