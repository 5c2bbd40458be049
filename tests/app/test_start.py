"""From the start of the program to curves that are drawn and judged: nothing is done twice or for nothing."""

from __future__ import annotations

import os
import threading
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from pytestqt.qtbot import QtBot

from analysis import compilation
from app.items.coverage import PictureRequest
from app.items.picture_worker import PictureWorker
from app.main_window import MainWindow
from app.session import loading
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


def _open_sample(window: MainWindow, qtbot: QtBot) -> None:
    window.show()
    qtbot.waitExposed(window)
    session = window.session
    window.menus.files.open_sample()
    qtbot.waitUntil(lambda: session.analysis is not None and not session.jobs.running, timeout=600_000)
    qtbot.waitUntil(lambda: window.curves.plot.crowd.is_exact, timeout=60_000)


def test_the_crowd_is_drawn_once_for_its_arrival_and_once_for_its_verdicts(
    asked_pictures: list[PictureRequest],
    open_window: Callable[[], MainWindow],
    qtbot: QtBot,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Progress, numbers beside the axes and notes come and go meanwhile; the plot keeps its size."""
    monkeypatch.setattr("app.session.session.VERDICTS_AWAITED_MS", 0)
    _open_sample(open_window(), qtbot)
    sizes = {(one.width, one.height) for one in asked_pictures if one.width > 2}
    views = [(one.view.left(), one.view.right()) for one in asked_pictures if one.width > 2]
    assert len(sizes) == 1, sizes
    assert len(views) == len(set(views)) == 2, views


def test_verdicts_that_come_soon_are_shown_with_their_traces(
    asked_pictures: list[PictureRequest],
    open_window: Callable[[], MainWindow],
    qtbot: QtBot,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Every view is then filled once, and the crowd drawn once."""
    monkeypatch.setattr("app.session.session.VERDICTS_AWAITED_MS", 600_000)
    window = open_window()
    unjudged: list[int] = []
    session = window.session
    session.traces_changed.connect(lambda: session.analysis is None and unjudged.append(len(session.traces)))
    _open_sample(window, qtbot)
    assert set(unjudged) <= {0}, unjudged
    assert len([one for one in asked_pictures if one.width > 2]) == 1


def test_traces_do_not_wait_long_for_their_verdicts(
    window: MainWindow, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    go_on = threading.Event()
    analyse = loading.analyse

    def late(*arguments: Any) -> Any:
        assert go_on.wait(600.0)
        return analyse(*arguments)

    monkeypatch.setattr(loading, "analyse", late)
    session = window.session
    window.menus.files.open_sample()
    qtbot.waitUntil(lambda: len(session.traces) == 1414)
    assert session.analysis is None
    go_on.set()
    qtbot.waitUntil(lambda: session.analysis is not None, timeout=600_000)
    assert len(session.verdicts) == len(session.traces) == 1414


def test_reading_begins_before_the_window_is_loaded() -> None:
    """And is judged: what the window gets once it asks is what was done meanwhile."""
    code = f"""
import sys
from app.commands.window import begin_to_read
from sample_traces.sample_paths import sample_paths
early = begin_to_read([str(sample_paths().traces)])
assert early is not None
from analysis.traces import row_ranges
threads = [row_ranges.most_threads]
from app.session.loading import AnalysisRequest, ReadRequest
from app.session.state import Decisions
from analysis.settings import Settings
class Quiet:
    def __call__(self, *way): pass
    def partly(self, answer): pass
never = lambda: False
read = early.read(ReadRequest(early.paths), Quiet(), never)
threads.append(row_ranges.most_threads)
asked = AnalysisRequest(read.traces, read.joints, Settings(), Decisions())
done = early.analyse(asked, Quiet(), never)
assert done.request is asked and done.analysis.traces is read.traces
unneeded = ("PySide6.QtWidgets", "pyqtgraph", *{UNNEEDED})
print(len(done.analysis.verdict), *threads, [name for name in unneeded if name in sys.modules])
"""
    done = run_python(code)
    # One processor is left to the making of the window, until it asks.
    processors = os.cpu_count() or 1
    found = done.stdout.split(maxsplit=3)
    assert found == ["1414", str(max(1, processors - 1)), str(processors), "[]\n"], done.stderr


def test_no_thread_begins_before_qt_has_begun() -> None:
    """It goes through all modules then, and ends the program where a thread loads another meanwhile."""
    code = """
import sys, threading
begun = []
plain = threading.Thread.start
def start(thread):
    begun.append("shiboken6.Shiboken" in sys.modules)
    plain(thread)
threading.Thread.start = start
from app.commands.window import begin_to_read
from sample_traces.sample_paths import sample_paths
begin_to_read([str(sample_paths().traces)])
print(bool(begun) and all(begun))
"""
    done = run_python(code)
    assert done.stdout.strip() == "True", done.stderr


def test_the_program_reads_once_and_judges_once(tmp_path: Path) -> None:
    """What was begun early is what the window shows; neither is done again for it."""
    code = """
import sys
from PySide6.QtCore import QTimer
import analysis.pipeline, analysis.reading.reading
calls = []
for module, name in ((analysis.pipeline, "analyse"), (analysis.reading, "read_paths")):
    def counted(*a, _plain=getattr(module, name), _name=name, **k):
        if _name == "read_paths" or len(a[0]) > 2:
            calls.append(_name)
        return _plain(*a, **k)
    setattr(module, name, counted)
from app.commands.command_line import main
from app.session.session import Session
def leave(session):
    from PySide6.QtWidgets import QApplication
    print(sorted(calls), len(session.verdicts), session.joints_path != "")
    QTimer.singleShot(0, QApplication.instance().closeAllWindows)
shown = Session._take_judgement
def take(self, answer):
    shown(self, answer)
    leave(self)
Session._take_judgement = take
sys.exit(main(["sample"]))
"""
    home = {f"XDG_{kind}_HOME": str(tmp_path / kind) for kind in ("CONFIG", "DATA", "STATE")}
    done = run_python(code, QT_QPA_PLATFORM="offscreen", **home)
    assert done.stdout.strip() == "['analyse', 'read_paths'] 1414 True", done.stderr


def test_pyqtgraph_takes_the_names_of_qt_when_they_are_asked_for() -> None:
    """All of them at once are 600 enumerations and as many classes: a tenth of a second."""
    code = (
        "from app.session.importing import imports_in_one_go\n"
        "with imports_in_one_go():\n"
        "    import app.main_window\n"
        "import pyqtgraph.Qt as copied\n"
        "from PySide6 import QtCore, QtGui, QtWidgets\n"
        "for one, other in ((copied.QtCore, QtCore), (copied.QtGui, QtGui), (copied.QtWidgets, QtWidgets)):\n"
        "    assert len(vars(one)) < 60, (one, len(vars(one)))\n"
        "assert copied.QtWidgets.QUndoView is QtWidgets.QUndoView\n"
        "assert not hasattr(copied.QtCore, 'QNothing')\n"
    )
    done = run_python(code)
    assert done.returncode == 0, done.stderr


class Compiling:
    """A process that compiles until it is let go."""

    def __init__(self) -> None:
        self.over = False

    def poll(self) -> int | None:
        return 0 if self.over else None


def test_on_the_first_run_pictures_wait_for_what_judges(
    qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    beside = Compiling()
    monkeypatch.setattr(compilation.COMPILATIONS, "beside", [beside])
    monkeypatch.setattr("os.cpu_count", lambda: 1)
    worker = PictureWorker()
    drawn: list[object] = []
    worker.picture_drawn.connect(drawn.append)
    worker.warm_up()
    qtbot.wait(300)
    assert not drawn
    beside.over = True
    qtbot.waitUntil(lambda: bool(drawn))
    worker.close()


def test_a_picture_that_waits_does_not_keep_the_window_open(
    qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(compilation.COMPILATIONS, "beside", [Compiling()])
    monkeypatch.setattr("os.cpu_count", lambda: 1)
    worker = PictureWorker()
    worker.warm_up()
    worker.close()
    assert not worker.busy


def test_progress_does_not_push_the_curves(window: MainWindow, qtbot: QtBot) -> None:
    window.show()
    qtbot.waitExposed(window)
    before = window.curves.size()
    for widget in (window.bottom.bar, window.bottom.cancel, window.bottom.recover, window.bottom.skipped):
        widget.show()
    qtbot.wait(20)
    assert window.curves.size() == before
