"""A folder full of baits is opened by the window, and nothing of it is loaded, run or told to anybody."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from tests.attacks.hostile_folder import hostile_folder, main, wrong_calls
from tests.helpers.commands import ROOT


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="calls are traced on Linux")
def test_nothing_of_the_folder_is_loaded_and_no_network_is_opened(capsys: pytest.CaptureFixture[str]) -> None:
    if shutil.which("strace") is None:
        pytest.skip("strace is not installed")
    assert main(["--quick"]) == 0, capsys.readouterr().out


_BESIDE = """
import sys
sys.path[0] = sys.argv[1]
from analysis.plant.workers import Processes
if __name__ == "__main__":
    team = Processes(2)
    print([team._started().submit(abs, -k).result() for k in range(3)])
    team._pool.shutdown()
"""


def test_processes_beside_load_nothing_from_the_current_folder(tmp_path: Path) -> None:
    folder = hostile_folder(tmp_path / "data")
    script = tmp_path / "script" / "start.py"
    script.parent.mkdir()
    script.write_text(_BESIDE)
    clean = {name: value for name, value in os.environ.items() if not name.startswith("PYTHON")}
    done = subprocess.run(
        [sys.executable, str(script), str(ROOT)],
        cwd=folder, env=clean, capture_output=True, encoding="utf-8", timeout=300, check=False,
    )  # fmt: skip
    assert done.stdout == "[0, 1, 2]\n", done.stderr
    assert not (folder / "ran").exists()


def test_what_should_not_be_there_is_seen(tmp_path: Path) -> None:
    (tmp_path / "numpy.py").write_text("")
    (tmp_path / "a.csv").write_text("")
    line = f'77 openat(AT_FDCWD, "{tmp_path}/{{}}", O_RDONLY) = {{}}'
    assert wrong_calls(line.format("numpy.py", 3), tmp_path)
    assert not wrong_calls(line.format("numpy.py", "-1 ENOENT"), tmp_path)
    assert not wrong_calls(line.format("a.csv", 3), tmp_path)
    assert wrong_calls("77 connect(3, {sa_family=AF_INET, sin_port=htons(80)}, 16) = 0", tmp_path)
