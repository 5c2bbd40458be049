"""Compiled kernels in the user's cache folder: told while they are made, and those of older versions cleared
away."""

from __future__ import annotations

import contextlib
import os
import re
import shutil
import subprocess
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from analysis import compilation
from analysis.kernel_cache import not_kept
from analysis.reading.isolated import process_command

#: Said while the kernels are compiled.
FIRST_RUN = "first run on this computer: preparing the fast parts, this takes half a minute, once"
#: Said where they cannot be written, with the folder and the system's words.
NOT_KEPT = "the fast parts could not be kept in {0} ({1}); they are prepared again at the next start"
#: Kernels of other versions that nothing has used for this long are removed (own choice: a machine that is
#: switched back and forth between two versions keeps both).
KEPT_FOR_DAYS = 30.0
#: Word with which a bundle starts itself as the process that compiles (`bundle_start.py`).
COMPILE_BESIDE = "--compile-beside"
#: What each of the processes compiles, in order; both are as long at it (measured).
SHARES = (
    ("fit_range", "scan_rises", "count_teeth"),
    ("find_range", "report_range", "resample_rises", "scan_standstills"),
)
_SECONDS_A_DAY = 86_400.0
_FOLDER_NAME = re.compile(r"kernels-[0-9a-f]{16}")


@contextmanager
def first_run_is_told(tell: Callable[[str], None]) -> Iterator[None]:
    """Say it once when something has to be compiled meanwhile; then there is also something to clear away.

    Parameters
    ----------
    tell : callable (text)
        Called from the thread that compiles, or at once where another thread is compiling already.
    """
    told = False

    def hear() -> None:
        nonlocal told
        if not told:
            told = True
            tell(FIRST_RUN)
            remove_unused(compilation.kernel_folder(), time.time())

    compilations = compilation.COMPILATIONS
    compile_beside()
    mark_as_used(compilation.kernel_folder())
    compilations.heard_by.append(hear)
    try:
        if compilations.running:
            hear()
        yield
    finally:
        compilations.heard_by.remove(hear)
        if not compilations.heard_by:
            _end_beside()
        if not_kept:
            tell(NOT_KEPT.format(compilation.kernel_folder().parent, not_kept[-1]))
            not_kept.clear()


def compile_beside() -> None:
    """Where nothing is compiled yet: processes that do it (`analysis.compiled_beside`), unless they do."""
    there = compilation.COMPILATIONS
    if there.beside or compilation.is_compiled() or (os.cpu_count() or 1) < 2 or compilation.interpreted():
        return
    there.awaited = frozenset(name for names in SHARES for name in names)
    with contextlib.suppress(OSError):  # then it is compiled here
        for share in range(len(SHARES)):
            one = subprocess.Popen(
                process_command(COMPILE_BESIDE, "analysis.compiled_beside"),
                stdin=subprocess.PIPE, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
            )  # fmt: skip
            there.beside.append(one)
            assert one.stdin is not None
            one.stdin.write(bytes([share]))
            one.stdin.flush()


def processors_taken() -> bool:
    """Whether the processes that compile have all processors: what else has to be compiled waits for them."""
    beside = compilation.COMPILATIONS.beside
    return len(beside) >= (os.cpu_count() or 1) and any(one.poll() is None for one in beside)


def _end_beside() -> None:
    for one in compilation.COMPILATIONS.beside:
        with one:  # closes what it waits at
            one.kill()
    compilation.COMPILATIONS.beside = []


def mark_as_used(folder: Path) -> None:
    """Give the folder of these kernels the time of now; where that is not possible it only ages."""
    with contextlib.suppress(OSError):
        os.utime(folder)


def remove_unused(current: Path, now_s: float) -> None:
    """Remove the folders of other versions' kernels that were not used for `KEPT_FOR_DAYS`.

    Parameters
    ----------
    current : Path
        Stays, whatever its age.
    now_s : float
        Seconds since 1970.
    """
    with contextlib.suppress(OSError):
        for folder in current.parent.iterdir():
            ours = _FOLDER_NAME.fullmatch(folder.name) and folder.is_dir() and not folder.is_symlink()
            if ours and folder != current and _age_days(folder, now_s) > KEPT_FOR_DAYS:
                # A program that still runs with them makes them anew when it misses them.
                shutil.rmtree(folder, ignore_errors=True)


def _age_days(folder: Path, now_s: float) -> float:
    return (now_s - folder.stat().st_mtime) / _SECONDS_A_DAY
