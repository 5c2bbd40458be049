"""Kernels of older versions are cleared away, once they are surely not used any more."""

from __future__ import annotations

import os
from pathlib import Path

import numpy as np
import pytest

from analysis import compilation, first_run
from analysis.first_run import FIRST_RUN, KEPT_FOR_DAYS, first_run_is_told, remove_unused

NOW_S = 1_800_000_000.0
DAY_S = 86_400.0


def folder(root: Path, name: str, unused_for_days: float) -> Path:
    made = root / name
    (made / "curve_0").mkdir(parents=True)
    (made / "curve_0" / "kernel.code").write_bytes(b"x")
    os.utime(made, (NOW_S, NOW_S - unused_for_days * DAY_S))
    return made


def test_only_kernels_that_nothing_has_used_for_long_are_removed(tmp_path: Path) -> None:
    current = folder(tmp_path, "kernels-00000000000000aa", 400.0)
    gone = folder(tmp_path, "kernels-00000000000000bb", KEPT_FOR_DAYS + 1.0)
    kept = [
        current,
        folder(tmp_path, "kernels-00000000000000cc", KEPT_FOR_DAYS - 1.0),
        folder(tmp_path, "kernels-mine", 400.0),
        folder(tmp_path, "elsewhere", 400.0),
    ]
    remove_unused(current, NOW_S)
    assert not gone.exists()
    assert sorted(tmp_path.iterdir()) == sorted(kept)


def test_a_folder_that_is_not_there_is_no_fault(tmp_path: Path) -> None:
    remove_unused(tmp_path / "absent" / "kernels-00000000000000aa", NOW_S)


def test_compiling_is_told_once_and_only_where_something_is_compiled(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    current = folder(tmp_path, "kernels-00000000000000aa", 400.0)
    monkeypatch.setattr(compilation, "kernel_folder", lambda: current)
    cleared: list[Path] = []
    monkeypatch.setattr(first_run, "remove_unused", lambda used, _now: cleared.append(used))
    told: list[str] = []

    @compilation.kernel
    def double(x: float) -> float:
        return 2.0 * x

    with first_run_is_told(told.append):
        assert double(1.0) == 2.0
        assert double(1) == 2  # another type: compiled again
        assert double(np.float64(3.0)) == 6.0  # the same
    assert told == [FIRST_RUN]
    assert cleared == [current]
    assert current.stat().st_mtime > NOW_S - 399.0 * DAY_S
    with first_run_is_told(told.append):
        double(3.0)
    assert told == [FIRST_RUN]


def test_compiling_in_another_thread_is_told_to_who_comes_later(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(compilation, "kernel_folder", lambda: tmp_path / "kernels-00000000000000aa")
    compilations = compilation.COMPILATIONS
    told: list[str] = []
    monkeypatch.setattr(compilations, "running", 1)
    with first_run_is_told(told.append):
        assert told == [FIRST_RUN]
    assert compilations.heard_by == []
