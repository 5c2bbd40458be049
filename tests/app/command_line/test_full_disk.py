"""A disk that fills up while a command writes: told with the file's name, and nothing half is left."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from tests.helpers.commands import run_python
from tests.journeys.shift_folder import write_small_folder

#: Every file that grows beyond this many bytes fails, as on a full disk.
_LIMITED = """
import resource, signal, sys
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
resource.setrlimit(resource.RLIMIT_FSIZE, (200, 200))
from app.commands.command_line import main
*words, folder = sys.argv[1:]
for ending in ("parquet", "csv", "xlsx"):
    print(main([*words, f"{folder}/night.{ending}"]))
"""


@pytest.mark.skipif(sys.platform == "win32", reason="files cannot be limited like this here")
def test_the_file_that_could_not_be_written_is_named(tmp_path: Path) -> None:
    folder, out = write_small_folder(tmp_path / "shift", 3), tmp_path / "out"
    targets = [out / f"night.{ending}" for ending in ("parquet", "csv", "xlsx")]
    out.mkdir()
    for target in targets:
        target.write_bytes(b"last night's")
    words = ("analyse", folder, "--joints", folder / "joints.toml", "--quiet", "--results", out)
    done = run_python(_LIMITED, *words)
    assert done.stdout.split() == ["3", "3", "3"]
    assert done.stderr.splitlines() == [f"tautograph: {target}: File too large" for target in targets]
    assert {target.read_bytes() for target in targets} == {b"last night's"}
    assert sorted(out.iterdir()) == sorted(targets)
