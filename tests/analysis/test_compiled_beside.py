"""The processes of a first run compile what the pipeline asks for, and end with who started them."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from analysis import compilation
from analysis.compiled_beside import use_kernels
from analysis.curve.fit_kernel import fit_range
from analysis.curve.kernel import find_range
from analysis.curve.report_kernel import report_range
from analysis.first_run import SHARES, first_run_is_told
from analysis.kernel_cache import ENDING
from analysis.operation.standstill_kernel import scan_standstills
from analysis.reading.isolated import process_command
from analysis.verdict.rise_kernel import count_teeth, resample_rises, scan_rises
from tests.helpers.judged_shift import judged_shift

KERNELS: tuple[Any, ...] = (
    find_range, fit_range, report_range, scan_standstills, scan_rises, count_teeth, resample_rises,
)  # fmt: skip


def test_its_arrays_are_those_of_the_pipeline(monkeypatch: pytest.MonkeyPatch) -> None:
    """Whatever other tests have asked for: each kernel begins with nothing that is loaded."""

    def asked(work: Callable[[], object]) -> dict[str, set[tuple[str, ...]]]:
        for kernel in KERNELS:
            monkeypatch.setattr(kernel, "ready", {})
        work()
        return {kernel.__name__: set(kernel.ready) for kernel in KERNELS}

    names = [name for share in SHARES for name in share]
    assert sorted(names) == sorted(kernel.__name__ for kernel in KERNELS)
    by_pipeline = asked(judged_shift.__wrapped__)
    assert all(by_pipeline.values())
    assert asked(lambda: use_kernels(names)) == by_pipeline


@pytest.fixture
def started(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> list[subprocess.Popen[bytes]]:
    """The processes that were started, in an own place without kernels."""
    monkeypatch.setattr(compilation, "kernel_folder", lambda: tmp_path / "kernels-00000000000000aa")
    monkeypatch.setenv("TAUTOGRAPH_KERNELS", str(tmp_path))
    monkeypatch.setattr(compilation, "COMPILATIONS", compilation.Compilations())
    monkeypatch.setattr("os.cpu_count", lambda: 2)
    return compilation.COMPILATIONS.beside


def test_they_are_started_once_where_nothing_is_compiled_and_end_with_the_work(
    started: list[subprocess.Popen[bytes]],
) -> None:
    with first_run_is_told(lambda _text: None):
        with first_run_is_told(lambda _text: None):
            pass
        processes = list(started)
        assert [one.poll() for one in processes] == [None, None]
    assert all(one.returncode is not None for one in processes)
    assert not compilation.COMPILATIONS.beside


def test_what_they_make_is_waited_for_and_used(
    started: list[subprocess.Popen[bytes]], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    @compilation.kernel
    def twice(x: float) -> float:
        return 2.0 * x

    assert twice(1.0) == 2.0  # kept
    twice.ready.clear()  # type: ignore[attr-defined]
    (code,) = (tmp_path / "kernels-00000000000000aa").iterdir()
    aside = code.rename(tmp_path / "aside")
    monkeypatch.setattr(compilation.COMPILATIONS, "awaited", {"twice"})
    slow = subprocess.Popen([sys.executable, "-c", "import time; time.sleep(300)"])
    started.append(slow)
    told: list[int] = []

    def arrive() -> None:
        told.append(1)
        aside.rename(code)

    compilation.COMPILATIONS.heard_by.append(arrive)
    monkeypatch.setattr("analysis.kernel_parts.compiled", None)
    with slow:
        assert twice(1.0) == 2.0
        slow.kill()
    assert told


def test_who_waits_for_one_that_is_killed_compiles_itself(
    started: list[subprocess.Popen[bytes]], monkeypatch: pytest.MonkeyPatch
) -> None:
    @compilation.kernel
    def thrice(x: float) -> float:
        return 3.0 * x

    monkeypatch.setattr(compilation.COMPILATIONS, "awaited", {"thrice"})
    with subprocess.Popen([sys.executable, "-c", "import time; time.sleep(300)"]) as slow:
        started.append(slow)
        compilation.COMPILATIONS.heard_by.append(slow.kill)
        assert thrice(1.0) == 3.0


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
    for share in range(len(SHARES)):
        with subprocess.Popen(command, stdin=subprocess.PIPE) as process:
            assert process.stdin is not None
            process.stdin.write(bytes([share]))
            process.stdin.flush()
            assert process.wait(300) == 0
