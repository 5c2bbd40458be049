"""A folder full of baits is opened by the window, and nothing of it is loaded, run or told to anybody."""

from __future__ import annotations

import shutil
import sys
from pathlib import Path

import pytest

from tests.attacks.hostile_folder import main, wrong_calls


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="calls are traced on Linux")
def test_nothing_of_the_folder_is_loaded_and_no_network_is_opened(capsys: pytest.CaptureFixture[str]) -> None:
    if shutil.which("strace") is None:
        pytest.skip("strace is not installed")
    assert main(["--quick"]) == 0, capsys.readouterr().out


def test_what_should_not_be_there_is_seen(tmp_path: Path) -> None:
    (tmp_path / "numpy.py").write_text("")
    (tmp_path / "a.csv").write_text("")
    line = f'77 openat(AT_FDCWD, "{tmp_path}/{{}}", O_RDONLY) = {{}}'
    assert wrong_calls(line.format("numpy.py", 3), tmp_path)
    assert not wrong_calls(line.format("numpy.py", "-1 ENOENT"), tmp_path)
    assert not wrong_calls(line.format("a.csv", 3), tmp_path)
    assert wrong_calls("77 connect(3, {sa_family=AF_INET, sin_port=htons(80)}, 16) = 0", tmp_path)
