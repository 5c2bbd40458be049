"""The second process of a first run compiles what the pipeline asks for, and ends with who started it."""

from __future__ import annotations

import subprocess
from pathlib import Path
from typing import Any

import pytest

from analysis import compilation, first_run
from analysis.compiled_beside import use_kernels
from analysis.first_run import first_run_is_told
from analysis.kernel_cache import ENDING
from analysis.operation.standstill_kernel import scan_standstills
from analysis.reading.isolated import process_command
from analysis.verdict.rise_kernel import count_teeth, resample_rises, scan_rises
from tests.helpers.judged_shift import judged_shift

KERNELS: tuple[Any, ...] = (scan_standstills, scan_rises, count_teeth, resample_rises)


def test_its_arrays_are_those_of_the_pipeline() -> None:
    judged_shift()
    asked = [list(kernel.ready) for kernel in KERNELS]
    assert all(asked)
    use_kernels()
    assert [list(kernel.ready) for kernel in KERNELS] == asked


@pytest.fixture
def started(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> list[subprocess.Popen[bytes]]:
    """The processes that were started, in an own place without kernels."""
    monkeypatch.setattr(compilation, "kernel_folder", lambda: tmp_path / "kernels-00000000000000aa")
    monkeypatch.setenv("TAUTOGRAPH_KERNELS", str(tmp_path))
    begin = first_run._compile_beside
    started: list[subprocess.Popen[bytes]] = []

    def kept() -> subprocess.Popen[bytes] | None:
        process = begin()
        if process is not None:
            started.append(process)
        return process

    monkeypatch.setattr(first_run, "_compile_beside", kept)
    monkeypatch.setattr("os.cpu_count", lambda: 2)
    return started


def test_it_is_started_where_nothing_is_compiled_and_ends_with_the_work(
    started: list[subprocess.Popen[bytes]],
) -> None:
    with first_run_is_told(lambda _text: None):
        (process,) = started
        assert process.poll() is None
    assert process.returncode is not None


def test_it_is_not_started_where_kernels_are(started: list[subprocess.Popen[bytes]], tmp_path: Path) -> None:
    there = tmp_path / "kernels-00000000000000aa"
    there.mkdir()
    (there / f"a{ENDING}").write_bytes(b"x")
    with first_run_is_told(lambda _text: None):
        pass
    assert not started


def test_it_ends_by_itself_when_all_is_compiled() -> None:
    judged_shift()  # compiled by now: nothing but loading is left
    command = process_command("", "analysis.compiled_beside")
    with subprocess.Popen(command, stdin=subprocess.PIPE) as process:
        assert process.wait(300) == 0
