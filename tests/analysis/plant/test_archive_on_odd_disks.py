"""An archive and a log of records among links, full disks, and folders that are renamed or gone."""

from __future__ import annotations

import os
import shutil
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

from analysis.joint import load_joints
from analysis.parts.one_writer import held_alone
from analysis.parts.record_log import add_records, read_log
from analysis.plant.archive import add_recordings
from analysis.plant.names import DAYS, INPUTS, UNFINISHED
from analysis.plant.one_writer import LOCK
from analysis.plant.pieces import Job
from analysis.plant.reading_back import read_days, read_rows
from analysis.plant.workers import Alone
from tests.journeys.shift_folder import write_small_folder

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="links need rights there")


@pytest.fixture(scope="module")
def shift(tmp_path_factory: pytest.TempPathFactory) -> tuple[str, Job]:
    folder = write_small_folder(tmp_path_factory.mktemp("recordings") / "shift", 3)
    return str(folder), Job(load_joints(folder / "joints.toml"))


def content(folder: Path) -> dict[str, bytes]:
    return {str(one.relative_to(folder)): one.read_bytes() for one in folder.rglob("*") if one.is_file()}


@contextmanager
def room(n_bytes: int) -> Iterator[None]:
    """No file of this process may grow beyond so many bytes."""
    limits: Any = pytest.importorskip("resource")
    before = limits.getrlimit(limits.RLIMIT_FSIZE)
    limits.setrlimit(limits.RLIMIT_FSIZE, (n_bytes, before[1]))
    try:
        yield
    finally:
        limits.setrlimit(limits.RLIMIT_FSIZE, before)


@pytest.mark.parametrize("n_bytes", [0, 2_000, 20_000])
def test_a_full_disk_is_told_and_what_was_there_stays(
    shift: tuple[str, Job], tmp_path: Path, n_bytes: int
) -> None:
    path, job = shift
    first = next(str(one) for one in sorted(Path(path).glob("*.parquet")))
    folder = tmp_path / "archive"
    add_recordings(folder, [first], job, Alone())
    before = content(folder)
    (more := tmp_path / "more").mkdir()
    text = "angle_deg,torque_nm\n" + "".join(f"{k},{k / 10}\n" for k in range(400))
    (more / "a.csv").write_text(text)
    with room(n_bytes), pytest.raises(OSError) as told:
        add_recordings(folder, [str(more)], job, Alone())
    assert told.value.filename, "the file is named"
    assert "archive" in str(told.value.filename)
    assert {name: data for name, data in content(folder).items() if UNFINISHED not in name} == before
    assert add_recordings(folder, [str(more)], job, Alone()).new == 1, "goes on once there is room"
    assert before.items() <= content(folder).items()


def test_folders_of_an_archive_that_lie_elsewhere_are_links_that_stay(
    shift: tuple[str, Job], tmp_path: Path
) -> None:
    path, job = shift
    other = Path("/dev/shm")
    if not other.is_dir() or os.stat(other).st_dev == os.stat(tmp_path).st_dev:
        pytest.skip("no second file system here")
    elsewhere = other / f"archive-{os.getpid()}"
    folder = tmp_path / "archive"
    try:
        for name in (DAYS, INPUTS):
            (elsewhere / name).mkdir(parents=True)
            folder.mkdir(exist_ok=True)
            (folder / name).symlink_to(elsewhere / name)
        assert add_recordings(folder, [path], job, Alone()).new
        assert (folder / DAYS).is_symlink()
        assert not list((elsewhere / DAYS).glob(".*")), "nothing unfinished is left"
        n = sum(read_days(folder, ["n"]).column("n").to_pylist())
        assert n == read_rows(folder, ["trace_id"]).num_rows > 0
    finally:
        shutil.rmtree(elsewhere, ignore_errors=True)


def test_a_link_in_the_place_of_the_lock_costs_nobody_a_file(shift: tuple[str, Job], tmp_path: Path) -> None:
    path, job = shift
    precious, folder = tmp_path / "precious", tmp_path / "archive"
    precious.write_text("work of a year")
    folder.mkdir()
    (folder / LOCK).symlink_to(precious)
    with pytest.raises(OSError, match=LOCK):
        add_recordings(folder, [path], job, Alone())
    assert precious.read_text() == "work of a year"


@pytest.mark.parametrize("kind", ["file", "link"])
def test_what_lies_among_unfinished_work_and_is_none_is_left_alone(
    shift: tuple[str, Job], tmp_path: Path, kind: str
) -> None:
    path, job = shift
    (folder := tmp_path / "archive" / UNFINISHED).mkdir(parents=True)
    (outside := tmp_path / "outside").mkdir()
    stray = folder / ".stray"
    if kind == "file":
        stray.write_text("")
    else:
        stray.symlink_to(outside)
    os.utime(stray, (0, 0))
    assert add_recordings(folder.parent, [path], job, Alone()).new
    assert stray.exists()
    assert outside.exists()


def test_an_archive_that_is_renamed_or_gone_is_told(shift: tuple[str, Job], tmp_path: Path) -> None:
    path, job = shift
    folder = tmp_path / "archive"

    class Leaving(Alone):
        def run(self, *words: Any) -> Any:
            if folder.exists() and (folder / UNFINISHED).exists():
                folder.rename(tmp_path / "renamed")
            return super().run(*words)

    with pytest.raises(OSError) as told:
        add_recordings(folder, [path], job, Leaving())
    assert "archive" in str(told.value)
    shutil.rmtree(folder, ignore_errors=True)
    (tmp_path / "renamed").rename(folder)
    assert add_recordings(folder, [path], job, Alone()).new
    assert read_rows(folder, ["trace_id"]).num_rows > 0


def test_a_log_that_is_renamed_while_another_writes_is_one_chain_each(tmp_path: Path) -> None:
    log, old = tmp_path / "log.jsonl", tmp_path / "old.jsonl"
    add_records(log, [{"part": "a"}])
    with held_alone(log):
        other = threading.Thread(target=add_records, args=(log, [{"part": "b"}]))
        other.start()
        time.sleep(0.2)
        log.rename(old)
        add_records(log, [{"part": "c"}])
    other.join()
    kept, new = read_log(old), read_log(log)
    assert kept.problems == new.problems == ()
    assert [one["part"] for one in kept.records] == ["a"]
    assert [one["part"] for one in new.records] == ["c", "b"]


def test_a_log_that_is_a_link_stays_one_with_its_mode(tmp_path: Path) -> None:
    target, link = tmp_path / "kept" / "log.jsonl", tmp_path / "log.jsonl"
    target.parent.mkdir()
    add_records(target, [{"part": "a"}])
    target.chmod(0o664)
    link.symlink_to(target)
    add_records(link, [{"part": "b"}])
    assert link.is_symlink()
    assert target.stat().st_mode & 0o777 == 0o664
    assert [one["part"] for one in read_log(target).records] == ["a", "b"]
    before = target.read_bytes()
    with room(len(before) + 20), pytest.raises(OSError):
        add_records(link, [{"part": "c" * 100}])
    assert target.read_bytes() == before
