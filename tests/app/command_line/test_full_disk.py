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
sys.exit(main())
"""


@pytest.mark.skipif(sys.platform == "win32", reason="files cannot be limited like this here")
@pytest.mark.parametrize("ending", [".parquet", ".csv", ".xlsx"])
def test_the_file_that_could_not_be_written_is_named(tmp_path: Path, ending: str) -> None:
    folder = write_small_folder(tmp_path / "shift", 3)
    target = tmp_path / "out" / f"night{ending}"
    target.parent.mkdir()
    target.write_bytes(b"last night's")
    done = run_python(_LIMITED, "analyse", folder, "--joints", folder / "joints.toml", "--results", target)
    assert done.returncode == 3, done.stderr
    assert done.stderr.strip().splitlines()[-1] == f"tautograph: {target}: File too large"
    assert target.read_bytes() == b"last night's"
    assert [one.name for one in target.parent.iterdir()] == [target.name]
