"""A program that opens a folder, decides one thing after another, and waits to be killed.

``python killed_program.py SETTINGS FOLDER``: prints how many traces
have a decision in the file, each time that it was written.
"""

from __future__ import annotations

import sys
from pathlib import Path

from PySide6.QtCore import QTimer
from PySide6.QtWidgets import QApplication

from app.display.preferences import Preferences
from app.main_window import MainWindow
from app.session.session import Session
from app.workspace.workspace_file import read_workspace


def main(settings: str, folder: str) -> None:
    """Work until killed."""
    app = QApplication([])
    window = MainWindow(Session(user_name="Tester"), Preferences(Path(settings)))
    window.show()
    window.menus.files.open([folder])
    session, timer = window.session, QTimer(interval=60)
    done = 0

    def decide() -> None:
        nonlocal done
        if session.analysis is None:
            return
        session.select([done % len(session.traces)])
        if not done:
            window.book["set-a"].trigger()
        window.book[f"disposition-{1 + done % 5}"].trigger()
        done += 1

    timer.timeout.connect(decide)
    timer.start()
    kept = window.menus.autosave

    def tell(words: str) -> None:
        print(words, len(read_workspace(kept.file).decisions.traces), flush=True)

    kept.state_changed.connect(tell)
    app.exec()


if __name__ == "__main__":
    main(*sys.argv[1:])
