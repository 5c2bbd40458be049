"""A window that decides at a rhythm, and saves where it is told a file, until it is killed.

``python -m tests.attacks.killed SETTINGS FOLDER RHYTHM_MS [WORKSPACE]``: a line for each decision and each
saving, with the time, as it is made.
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

from PySide6.QtCore import QTimer
from PySide6.QtWidgets import QApplication

from app.display.preferences import Preferences
from app.main_window import MainWindow
from app.session.deciding import set_note
from app.session.session import Session


def main(settings: str, folder: str, rhythm_ms: str, workspace: str = "") -> None:
    """Work until killed."""
    app = QApplication([])
    window = MainWindow(Session(user_name="Tester"), Preferences(Path(settings)))
    window.show()
    window.menus.autosave.offer_recovery()
    window.menus.files.open([folder])
    session, timer = window.session, QTimer(interval=int(rhythm_ms))
    done = 0

    def work() -> None:
        nonlocal done
        if session.is_empty:
            return
        trace_id = session.traces.trace_ids[done % len(session.traces)]
        step = set_note(session.decisions, [trace_id], f"note {done}", session.signature())
        session.decide(step)
        print(f"decided {done} {time.time():.3f}", flush=True)
        if workspace and done % 3 == 2 and window.menus.files.save_to(Path(workspace)):
            print(f"saved {done} {time.time():.3f}", flush=True)
        done += 1

    timer.timeout.connect(work)
    timer.start()
    app.exec()


if __name__ == "__main__":
    main(*sys.argv[1:])
