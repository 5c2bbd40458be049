"""What pip installs is complete: the wheel runs with no checkout at hand."""

from __future__ import annotations

import shutil
import subprocess
import sys
import zipfile
from pathlib import Path

import pyarrow.parquet as pq
import pytest

from tests.helpers.commands import run_python

ROOT = Path(__file__).resolve().parents[1]
SHIPPED = ("analysis", "app", "resources", "sample_traces")


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A wheel built from a copy of the sources, so that the checkout stays as it is."""
    copy = tmp_path_factory.mktemp("sources")
    for name in SHIPPED:
        shutil.copytree(ROOT / name, copy / name, ignore=shutil.ignore_patterns("__pycache__"))
    for name in ("pyproject.toml", "README.md"):
        shutil.copy(ROOT / name, copy / name)
    out = tmp_path_factory.mktemp("wheel")
    command = [
        sys.executable,
        "-m",
        "pip",
        "wheel",
        "--no-deps",
        "--no-build-isolation",
        "-q",
        "-w",
        str(out),
        str(copy),
    ]
    done = subprocess.run(command, capture_output=True, encoding="utf-8", check=False)
    assert done.returncode == 0, done.stdout + done.stderr
    return next(out.glob("tautograph-*.whl"))


def test_the_wheel_holds_every_file_of_the_packages(wheel: Path) -> None:
    with zipfile.ZipFile(wheel) as archive:
        packed = set(archive.namelist())
    wanted = {
        file.relative_to(ROOT).as_posix()
        for name in SHIPPED
        for file in (ROOT / name).rglob("*")
        if file.is_file() and "__pycache__" not in file.parts
    }
    assert wanted <= packed, sorted(wanted - packed)
    assert not [name for name in packed if name.startswith("tests")]


def test_traces_of_the_installed_sample_are_judged_without_a_checkout(wheel: Path, tmp_path: Path) -> None:
    unpacked = tmp_path / "installed"
    with zipfile.ZipFile(wheel) as archive:
        archive.extractall(unpacked)
    code = """
import sys
from pathlib import Path
import analysis, app
assert Path(analysis.__file__).is_relative_to(sys.argv[1]), analysis.__file__
from analysis.reading import read_paths, write_parquet
from sample_traces.sample_paths import sample_paths
from app.commands.command_line import main
sample = sample_paths()
assert Path(sample.traces).is_relative_to(sys.argv[1])
traces = read_paths([sample.traces]).traces
write_parquet(traces.take(list(range(0, len(traces), len(traces) // 5))), "few.parquet")
sys.exit(main(["analyse", "few.parquet", "--joints", str(sample.joints), "--results", "results.parquet"]))
"""
    # As plain Python: compiling for a place that is used once would take longer than all the rest.
    done = run_python(code, unpacked, PYTHONPATH=str(unpacked), NUMBA_DISABLE_JIT="1", cwd=tmp_path)
    assert done.returncode in (0, 1), done.stdout + done.stderr
    assert pq.read_table(tmp_path / "results.parquet").num_rows >= 5
