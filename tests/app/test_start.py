"""From the start of the program to curves that are drawn and judged: nothing is done twice or for nothing."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from pytestqt.qtbot import QtBot

from app.items.coverage import PictureRequest
from app.items.picture_worker import PictureWorker
from app.main_window import MainWindow
from tests.helpers.commands import ROOT, run_python

#: What none of the first screen, reading, judging and drawing needs, and what each would cost: half a second.
UNNEEDED = ("pandas", "pyarrow.compute", "scipy.linalg", "scipy.stats", "scipy.signal", "pyarrow.dataset")

_OPEN_SAMPLE = f"""
import sys, tempfile, time
from pathlib import Path
from app.session.importing import imports_in_one_go
with imports_in_one_go():
    from PySide6.QtWidgets import QApplication
    from app.main_window import MainWindow
    from app.display.preferences import Preferences
    from app.session.session import Session
app = QApplication([])
window = MainWindow(Session(user_name="start"), Preferences(Path(tempfile.mkdtemp()) / "window.ini"))
window.show()
window.menus.files.open_sample()
until = time.monotonic() + 600.0
while window.session.analysis is None or window.session.jobs.running:
    assert time.monotonic() < until
    app.processEvents()
    time.sleep(0.002)
app.processEvents()
assert len(window.session.verdicts) == 1414, len(window.session.verdicts)
print([name for name in {UNNEEDED} if name in sys.modules])
window.close()
"""


def test_opening_and_judging_the_sample_imports_nothing_heavy() -> None:
    done = run_python(_OPEN_SAMPLE)
    assert done.returncode == 0, done.stderr
    assert done.stdout.strip() == "[]"


def test_the_command_imports_nothing_heavy(tmp_path: Path) -> None:
    code = (
        "import sys\n"
        "from app.commands.command_line import main\n"
        "main(sys.argv[1:])\n"
        f"print([name for name in {UNNEEDED} if name in sys.modules])\n"
    )
    shift, joints = (ROOT / "sample_traces" / name for name in ("shift.parquet", "joints.toml"))
    done = run_python(code, "analyse", shift, "--joints", joints, "--results", tmp_path / "r.csv", "--quiet")
    assert done.stdout.strip() == "[]", done.stderr


def test_qt_does_not_read_the_source_of_every_module() -> None:
    code = (
        "import inspect\n"
        "from app.session.importing import imports_in_one_go\n"
        "read = []\n"
        "plain = inspect.getsource\n"
        "inspect.getsource = lambda what: read.append(what) or plain(what)\n"
        "with imports_in_one_go():\n"
        "    import app.main_window\n"
        "    import app.views.help.window\n"
        "late = [m.__name__ for m in read if m.__name__.startswith(('app.views', 'pyqtgraph'))]\n"
        "assert not late, late\n"
    )
    done = run_python(code)
    assert done.returncode == 0, done.stderr


@pytest.fixture
def asked_pictures(monkeypatch: pytest.MonkeyPatch) -> list[PictureRequest]:
    """Every picture of the curves that is asked for."""
    asked: list[PictureRequest] = []
    plain = PictureWorker.ask

    def ask(self: PictureWorker, request: PictureRequest) -> None:
        asked.append(request)
        plain(self, request)

    monkeypatch.setattr(PictureWorker, "ask", ask)
    return asked


def test_the_crowd_is_drawn_once_for_its_arrival_and_once_for_its_verdicts(
    asked_pictures: list[PictureRequest], open_window: Callable[[], MainWindow], qtbot: QtBot
) -> None:
    """Progress, numbers beside the axes and notes come and go meanwhile; the plot keeps its size."""
    window = open_window()
    window.show()
    qtbot.waitExposed(window)
    session = window.session
    window.menus.files.open_sample()
    qtbot.waitUntil(lambda: session.analysis is not None and not session.jobs.running, timeout=600_000)
    qtbot.waitUntil(lambda: window.curves.plot.crowd.is_exact, timeout=60_000)
    sizes = {(one.width, one.height) for one in asked_pictures if one.width > 2}
    views = [(one.view.left(), one.view.right()) for one in asked_pictures if one.width > 2]
    assert len(sizes) == 1, sizes
    assert len(views) == len(set(views)) == 2, views


def test_progress_does_not_push_the_curves(window: MainWindow, qtbot: QtBot) -> None:
    window.show()
    qtbot.waitExposed(window)
    before = window.curves.size()
    for widget in (window.bottom.bar, window.bottom.cancel, window.bottom.recover, window.bottom.skipped):
        widget.show()
    qtbot.wait(20)
    assert window.curves.size() == before
