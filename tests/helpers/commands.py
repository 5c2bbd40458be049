"""The command line run as a user runs it, in a process of its own; in this one where that changes nothing."""

from __future__ import annotations

import contextlib
import io
import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]

#: Ends a process that hangs; a busy machine that compiles the kernels in it stays far below.
HANGS_AFTER_S = 800.0

#: Put before a program: from then on importing Qt (or anything that draws with it) raises.
BLOCK_QT = """
import sys
class _NoQt:
    def find_spec(self, name, path=None, target=None):
        if name.partition(".")[0] in {"PySide6", "shiboken6", "pyqtgraph"}:
            raise ImportError(f"{name} must not be imported here")
sys.meta_path.insert(0, _NoQt())
"""


def run_python(
    code: str, *arguments: str | Path, cwd: Path = ROOT, timeout_s: float = HANGS_AFTER_S, **environment: str
) -> subprocess.CompletedProcess[str]:
    """Run a program text in a fresh interpreter, with the checkout importable."""
    return subprocess.run(
        [sys.executable, "-c", code, *map(str, arguments)],
        capture_output=True,
        encoding="utf-8",
        timeout=timeout_s,
        stdin=subprocess.DEVNULL,
        env={**os.environ, "PYTHONPATH": str(ROOT), "PYTHONIOENCODING": "utf-8", **environment},
        cwd=cwd,
        check=False,
    )


def run_command(
    *arguments: str | Path, cwd: Path = ROOT, **environment: str
) -> subprocess.CompletedProcess[str]:
    """Run ``tautograph ...`` in a fresh interpreter."""
    code = "import sys\nfrom app.commands.command_line import main\nsys.exit(main())"
    return run_python(code, *arguments, cwd=cwd, **environment)


def run_here(*arguments: str | Path, cwd: Path, **environment: str) -> subprocess.CompletedProcess[str]:
    """Run ``tautograph ...`` in this process: what a start of its own, or the lack of Qt, does not change."""
    from app.commands.command_line import main

    words, told, error = list(map(str, arguments)), io.StringIO(), io.StringIO()
    with pytest.MonkeyPatch.context() as patch, contextlib.chdir(cwd):
        for name, value in environment.items():
            patch.setenv(name, value)
        with contextlib.redirect_stdout(told), contextlib.redirect_stderr(error):
            code = main(words)
    return subprocess.CompletedProcess(words, code, told.getvalue(), error.getvalue())


def run_installed(*arguments: str | Path, cwd: Path) -> subprocess.CompletedProcess[str]:
    """Run the installed command; ``python -m app`` where no script stands beside this interpreter."""
    script = Path(sys.executable).with_name("tautograph")
    command = [str(script)] if script.is_file() else [sys.executable, "-m", "app"]
    return subprocess.run(
        [*command, *map(str, arguments)],
        capture_output=True,
        encoding="utf-8",
        timeout=HANGS_AFTER_S,
        stdin=subprocess.DEVNULL,
        env={**os.environ, "PYTHONPATH": str(ROOT), "PYTHONIOENCODING": "utf-8"},
        cwd=cwd,
        check=False,
    )


def run_without_qt(
    *arguments: str | Path, cwd: Path = ROOT, **environment: str
) -> subprocess.CompletedProcess[str]:
    """Run ``tautograph ...`` where importing Qt raises."""
    code = BLOCK_QT + "from app.commands.command_line import main\nsys.exit(main())"
    return run_python(code, *arguments, cwd=cwd, **environment)
