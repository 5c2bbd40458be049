"""Compiled code on disk: damaged, not to be written, misled by settings; the figures are the same."""

from __future__ import annotations

import contextlib
import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from analysis.kernel_cache import ENDING, sealed, unsealed
from tests.helpers.commands import ROOT

#: A kernel of its own, what it gives, whether the compiler was loaded for it, and what could not be kept.
PROGRAM = """
import sys
import numpy as np
from analysis.compilation import kernel
from analysis.kernel_cache import not_kept

@kernel
def total(values):
    sum = 0.0
    for value in values:
        sum += value
    return sum

print(total(np.arange(5.0)), "numba" in sys.modules, len(not_kept))
"""


def run(kernels: Path, folder: Path | None = None) -> tuple[float, bool, bool]:
    """Figure, whether it was compiled, whether it could not be kept."""
    script = kernels.parent / "program.py"
    if not script.is_file():
        script.write_text(PROGRAM)
    done = subprocess.run(
        [sys.executable, str(script)],
        env={**os.environ, "PYTHONPATH": str(ROOT), "TAUTOGRAPH_KERNELS": str(kernels)},
        cwd=folder or kernels.parent, capture_output=True, encoding="utf-8", timeout=300, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    figure, compiled, lost = done.stdout.split()
    return float(figure), compiled == "True", lost != "0"


def test_damage_of_any_kind_is_thrown_away_and_made_again(tmp_path: Path) -> None:
    kernels = tmp_path / "kernels"
    assert run(kernels) == (10.0, True, False)
    assert run(kernels) == (10.0, False, False)
    (code,) = kernels.rglob(f"*{ENDING}")
    whole = code.read_bytes()
    half = len(whole) // 2
    for damaged in (
        b"",
        whole[:half],
        whole[:half] + bytes([whole[half] ^ 1]) + whole[half + 1 :],
        os.urandom(999),
        sealed(b"?"),
    ):
        code.write_bytes(damaged)
        assert run(kernels) == (10.0, True, False)
        assert unsealed(code) is not None
    assert run(kernels) == (10.0, False, False)


def test_a_place_that_cannot_be_written_costs_time_and_nothing_else(tmp_path: Path) -> None:
    kernels = tmp_path / "kernels"
    kernels.write_text("a file where the folder belongs")
    assert run(kernels) == (10.0, True, True)


def test_a_settings_file_in_the_folder_of_the_data_is_not_read(tmp_path: Path) -> None:
    folder = tmp_path / "data"
    folder.mkdir()
    (folder / ".numba_config.yaml").write_text("read by whatever is called yaml")
    (tmp_path / "yaml.py").write_text("def safe_load(file): return {'disable_jit': 1}\n")
    assert run(tmp_path / "kernels", folder) == (10.0, True, False), "a kernel, not plain Python"


def test_a_seal_tells_every_change(tmp_path: Path) -> None:
    file = tmp_path / "a"
    file.write_bytes(sealed(b"code"))
    assert unsealed(file) == b"code"
    for place in range(file.stat().st_size):
        data = bytearray(sealed(b"code"))
        data[place] ^= 1
        file.write_bytes(data)
        assert unsealed(file) is None
    assert unsealed(tmp_path / "absent") is None


def test_two_programs_that_compile_at_once_do_not_harm_each_other(tmp_path: Path) -> None:
    kernels = tmp_path / "kernels"
    with ThreadPoolExecutor() as pool:
        both = list(pool.map(run, [kernels] * 2))
    assert [figure for figure, _compiled, _lost in both] == [10.0, 10.0]
    assert not any(lost for _figure, _compiled, lost in both)
    assert [one.suffix for one in kernels.rglob("*") if one.is_file()] == [ENDING], (
        "one code, nothing unfinished"
    )
    assert run(kernels) == (10.0, False, False)


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A file system of 128 kB that holds the program; skipped where none may be mounted."""
    place = tmp_path / "small"
    place.mkdir()
    mounted = shutil.which("mount") and subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=128k", "tmpfs", str(place)], capture_output=True, check=False
    )
    if not mounted or mounted.returncode:
        pytest.skip("no file system may be mounted here")
    (place / "program.py").write_text(PROGRAM)
    yield place
    subprocess.run(["umount", str(place)], check=True)


def test_a_disk_that_is_full_while_compiling_costs_time_and_nothing_else(small_disk: Path) -> None:
    kernels, rest = small_disk / "kernels", small_disk / "full"
    with contextlib.suppress(OSError), rest.open("wb", buffering=0) as stream:
        while True:
            stream.write(bytes(4096))
    assert run(kernels, small_disk) == (10.0, True, True)
    assert not list(kernels.rglob(f"*{ENDING}")), "half a file"
    rest.unlink()
    assert run(kernels, small_disk) == (10.0, True, False)
    assert run(kernels, small_disk) == (10.0, False, False)


def test_linking_holds_the_lock_of_compiling(tmp_path: Path) -> None:
    """Compiler's and linker's own locks are taken in either order: without this one two threads that began at
    either end would wait for each other."""
    program = f"""
from analysis import compilation
linked, held = compilation.callable_from, []

def watched(*given):
    held.append(compilation._COMPILING._is_owned())
    return linked(*given)

compilation.callable_from = watched
{PROGRAM.replace("print(", "kept = (")}
total.ready.clear()
total(np.arange(5.0))
print(held)
"""
    script = tmp_path / "program.py"
    script.write_text(program)
    done = subprocess.run(
        [sys.executable, str(script)],
        env={**os.environ, "PYTHONPATH": str(ROOT), "TAUTOGRAPH_KERNELS": str(tmp_path / "kernels")},
        capture_output=True, encoding="utf-8", timeout=300, check=False,
    )  # fmt: skip
    assert done.stdout == "[True, True]\n", done.stderr
