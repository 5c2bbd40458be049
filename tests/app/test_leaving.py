"""Leaving the program while something runs that cannot be stopped."""

from __future__ import annotations

from tests.helpers.commands import run_python

CODE = """
import time
from PySide6.QtCore import QTimer
from PySide6.QtWidgets import QApplication
from app.commands.event_loop import run
from app.main_window import MainWindow

app = QApplication([])

def leave():
    (window,) = [w for w in app.topLevelWidgets() if isinstance(w, MainWindow)]
    window.session.jobs.submit("stuck", None, lambda *_: time.sleep(100_000))
    window.session.close = lambda: False  # its patience is tried elsewhere
    QTimer.singleShot(200, window.close)

QTimer.singleShot(0, leave)
code = run([])
raise SystemExit("came back although a thread is running")
"""


def test_nobody_waits_for_what_cannot_be_stopped() -> None:
    done = run_python(CODE, QT_QPA_PLATFORM="offscreen", timeout_s=300)
    assert done.returncode == 0, done.stderr
