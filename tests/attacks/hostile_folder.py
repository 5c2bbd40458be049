"""A folder of recordings that also holds modules, settings and plug-ins named like ours, watched at work.

``python -m tests.attacks.hostile_folder`` lets the commands analyse and report on it, and the window open it,
with the folder as the current one, and traces the system's calls (``strace``, from the package of that name):
nothing of it but recordings and joints may be opened, no network connection made, nothing run. Prints what
was seen; 1 where anything was.
"""

from __future__ import annotations

import argparse
import os
import re
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path

from tests.helpers.commands import ROOT
from tests.journeys.shift_folder import HUB, write_small_folder

#: Modules that are looked for by name, and files that libraries look for where they are started.
MODULES = (
    "analysis", "app", "resources", "sample_traces", "numpy", "scipy", "numba", "pyarrow", "pandas",
    "PySide6", "h5py", "asammdf", "nptdms", "openpyxl", "json", "struct", "tomllib", "sitecustomize",
    "usercustomize", "yaml", "llvmlite",
)  # fmt: skip
FILES = (
    ".numba_config.yaml", "qt.conf", "matplotlibrc", "pyvenv.cfg", "setup.cfg", "pyproject.toml", ".env",
    "report.toml", "settings.toml", "window.ini", "platforms/libqoffscreen.so", "imageformats/libqsvg.so",
    "styles/libqstyle.so", "fonts/Inter.ttf", "fonts.conf", "libhdf5.so", "plugin/libh5zzstd.so",
    "kernels/kernel.nbc", "autosave/kept-1.json", "joints.references.toml", "__pycache__/analysis.pyc",
)  # fmt: skip
#: What may be opened there.
_MEANT = re.compile(r"\.(csv|parquet|h5|json|toml)$")
_OPENED = re.compile(r'^(?:\d+\s+)?(?:openat|open|execve|readlink)\([^"]*"([^"]*)"[^=]*= (-?\d+)')
_NETWORK = re.compile(r"connect\(.*AF_INET|sendto\(.*AF_INET|bind\(.*AF_INET")
_CALLS = "openat,open,execve,connect,sendto,bind"

_WINDOW = """
import sys
from PySide6.QtCore import QTimer
from PySide6.QtWidgets import QApplication
from app.display.preferences import Preferences
from app.main_window import MainWindow
from app.session.session import Session
from pathlib import Path
app = QApplication([])
window = MainWindow(Session(user_name="Tester"), Preferences(Path(sys.argv[1])))
window.show()
window.menus.files.open(["."])
timer = QTimer(interval=200)
timer.timeout.connect(lambda: None if window.session.is_empty else app.quit())
timer.start()
app.exec()
import os
os._exit(0 if not window.session.is_empty else 3)
"""


def hostile_folder(folder: Path) -> Path:
    """Six recordings, one of them HDF5, among baits."""
    write_small_folder(folder, 5)
    try:
        import h5py
        import numpy as np

        with h5py.File(folder / "six.h5", "w") as file:
            file["angle_deg"], file["torque_nm"] = np.arange(50.0), np.arange(50.0)
    except ImportError:
        pass
    mark = f"open({str(folder / 'ran')!r}, 'a').write(__name__ + chr(10))\n"
    for name in MODULES:
        (folder / f"{name}.py").write_text(mark)
    for name in FILES:
        (folder / name).parent.mkdir(exist_ok=True)
        (folder / name).write_text("cache_dir: .\n")
    return folder


def traced(arguments: Sequence[str], folder: Path, log: Path) -> tuple[int, list[str]]:
    """The exit code, and what was opened in the folder, run or connected to though it should not be."""
    settings = log.parent / "home"
    clean = {name: value for name, value in os.environ.items() if not name.startswith(("PYTHON", "QT_"))}
    done = subprocess.run(
        ["strace", "-f", "-qq", "-s", "300", "-e", f"trace={_CALLS}", "-o", str(log), *arguments],
        cwd=folder, capture_output=True, encoding="utf-8", errors="replace", timeout=1500, check=False,
        env={**clean, "HOME": str(settings), "QT_QPA_PLATFORM": "offscreen",
             "TAUTOGRAPH_KERNELS": os.environ.get("TAUTOGRAPH_KERNELS", str(settings / "kernels"))},
    )  # fmt: skip
    if done.returncode not in (0, 1):
        print(done.stderr, file=sys.stderr)
    return done.returncode, wrong_calls(log.read_text("utf-8", "replace"), folder)


def wrong_calls(log: str, folder: Path) -> list[str]:
    """Lines of a trace that should not be there."""
    wrong = []
    for line in log.splitlines():
        if _NETWORK.search(line):
            wrong.append(line)
        opened = _OPENED.match(line)
        if opened is None or opened[2].startswith("-"):
            continue
        path = Path(os.path.normpath(folder / opened[1]))
        if path.is_relative_to(folder) and path.is_file():
            bait = str(path.relative_to(folder)) in FILES and path.suffix != ".json"
            if bait or not _MEANT.search(path.name):
                wrong.append(line)
    return wrong


def start(root: Path) -> list[str]:
    """The program as its installed command starts it: not from the current folder."""
    begin = f"import sys; sys.path[0] = {str(root)!r}; "
    return [sys.executable, "-c", begin + "from app.commands.command_line import main; sys.exit(main())"]


def _further(words: Sequence[str], place: Path) -> dict[str, list[str]]:
    """The other commands; an archive is made before its year is looked at."""
    archive, shared = str(place / "archive"), place / "shared.toml"
    shared.write_text('[library]\ntitle = "Shared"\nrevision = "1"\n[joints.clip]\ntarget_torque_nm = 2.0\n')
    told = {
        "archive": ["analyse", *words, "--results", archive + "/", "--workers", "2"],
        "look-back": [
            *("look-back", archive, "--joints", "joints.toml", "--only-joint", HUB, "--error-percent", "3"),
            *("--out", str(place / "back.html")),
        ],
        "year": ["year", archive, "--out", str(place / "year.html")],
        "parts": ["parts", *words, "--out", str(place / "parts.xlsx"), "--log", str(place / "log.jsonl")],
        "library": ["library", str(shared), "--joints", "joints.toml", "--take", "clip"],
        "study": ["study", *words, "--out", str(place / "study.html")],
        "strategy": ["strategy", *words, "--joint", "drive-unit", "--out", str(place / "strategy.html")],
    }
    return {name: [*start(ROOT), *command] for name, command in told.items()}


def main(arguments: Sequence[str] | None = None) -> int:
    """Trace all, print, and tell."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--quick", action="store_true", help="the window only reads; nothing is judged")
    chosen = parser.parse_args(arguments)
    if shutil.which("strace") is None:
        print("strace is not installed")
        return 2
    with tempfile.TemporaryDirectory() as place:
        folder, log = hostile_folder(Path(place) / "data"), Path(place) / "calls"
        window = [
            "-c",
            f"import sys; sys.path[0] = {str(ROOT)!r}\n{_WINDOW}",
            str(Path(place) / "w" / "window.ini"),
        ]
        runs = {"window": [sys.executable, *window]}
        if not chosen.quick:
            results = str(Path(place) / "results.csv")
            words = [".", "--joints", "joints.toml"]
            runs["analyse"] = [*start(ROOT), "analyse", *words, "--results", results]
            runs["report"] = [*start(ROOT), "report", *words, "--out", str(Path(place) / "report.pdf")]
            runs |= _further(words, Path(place))
        bad = False
        for name, command in runs.items():
            code, wrong = traced(command, folder, log)
            ran = (folder / "ran").read_text() if (folder / "ran").exists() else ""
            calls = len(log.read_text("utf-8", "replace").splitlines())
            ran_words = ", ".join(ran.split()) or "nothing"
            print(f"{name}: exit {code}, {calls} calls traced, {len(wrong)} wrong; run: {ran_words}")
            print("\n".join(wrong[:20]))
            bad |= bool(wrong or ran or code not in (0, 1, 2))
    return 1 if bad else 0


if __name__ == "__main__":
    raise SystemExit(main())
