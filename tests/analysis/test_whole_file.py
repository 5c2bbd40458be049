"""Files are written whole, whoever else writes; what is no file is not read."""

from __future__ import annotations

import os
import stat
import sys
from pathlib import Path

import pytest

from analysis.checked_text import UnusableTextError
from analysis.whole_file import whole_file


@pytest.mark.skipif(sys.platform == "win32", reason="permissions and links of other systems")
def test_a_written_file_keeps_permissions_and_stays_a_link(tmp_path: Path) -> None:
    target = tmp_path / "there" / "real.csv"
    target.parent.mkdir()
    target.write_text("old")
    target.chmod(0o664)
    link = tmp_path / "link.csv"
    link.symlink_to(target)
    with whole_file(link) as unfinished:
        assert unfinished.parent == target.parent, "beside what the link leads to, on its file system"
        unfinished.write_text("new")
    assert link.is_symlink()
    assert target.read_text() == "new"
    assert stat.S_IMODE(target.stat().st_mode) == 0o664
    assert [path.name for path in target.parent.iterdir()] == ["real.csv"]


def test_two_runs_never_write_to_one_name(tmp_path: Path) -> None:
    file = tmp_path / "a.xlsx"
    with whole_file(file) as one, whole_file(file) as other:
        assert one != other
        one.write_bytes(b"one")
        other.write_bytes(b"other")
    assert file.read_bytes() == b"one", "the last to end"


def test_what_a_kill_left_is_cleared_away_after_a_day(tmp_path: Path) -> None:
    file = tmp_path / "a.csv"
    left = [tmp_path / f".a.{n}.unfinished.csv" for n in range(2)]
    for path in left:
        path.write_text("half")
    os.utime(left[0], (1.0, 1.0))
    with whole_file(file) as unfinished:
        unfinished.write_text("new")
    assert [path.exists() for path in left] == [False, True]


def test_the_door_refuses_pipes_and_names_that_cannot_be(tmp_path: Path) -> None:
    from analysis.checked_text import read_text

    if hasattr(os, "mkfifo"):
        os.mkfifo(tmp_path / "pipe")
        with pytest.raises(UnusableTextError, match="plain file"):
            read_text(tmp_path / "pipe")
    with pytest.raises(UnusableTextError, match="name"):
        read_text("a\0b")
