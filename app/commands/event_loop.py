"""The window's process: opened on what was named, and left when the window is closed."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import NoReturn

from PySide6.QtCore import QTimer
from PySide6.QtGui import QIcon
from PySide6.QtWidgets import QApplication

from app.display.messages import install_excepthook
from app.display.preferences import Preferences
from app.main_window import MainWindow
from app.session.early_work import EarlyWork
from app.session.garbage import GarbageSearch
from app.session.importing import no_search_for_garbage
from app.session.session import Session
from app.views.frame.theme import load_fonts

#: After the first screen has come up.
_PREPARE_AFTER_MS = 200


def run(
    paths: Sequence[str],
    *,
    joints: str = "",
    sample: bool = False,
    early: EarlyWork | None = None,
) -> int:
    """Open the window on these paths and stay until it is closed; gives the exit code.

    Parameters
    ----------
    paths : sequence of str
        Files and folders; none: the first screen.
    joints : str
        Joints file; empty where none is named.
    sample : bool
        Open the built-in sample shift.
    early : EarlyWork or None
        What reads and judges it already.
    """
    with no_search_for_garbage():
        app, window = open_window(Preferences, paths, joints=joints, sample=sample, early=early)
    garbage = GarbageSearch(window)
    restore_hook = install_excepthook(window.session.messages)
    try:
        code = int(app.exec())
    finally:
        restore_hook()
        garbage.stop()
    if not window.session.jobs.close(0):
        end_at_once(code)
    return code


def open_window(
    preferences: Callable[[], Preferences],
    paths: Sequence[str],
    *,
    joints: str = "",
    sample: bool = False,
    early: EarlyWork | None = None,
) -> tuple[QApplication, MainWindow]:
    """The window as it comes up; what is to be opened follows once it is seen."""
    app = QApplication.instance() or QApplication(sys.argv[:1])
    assert isinstance(app, QApplication)
    app.setApplicationName("tautograph")
    app.setApplicationDisplayName("Tautograph")
    app.setDesktopFileName("tautograph")
    load_fonts()
    icon = Path(__file__).resolve().parents[2] / "resources" / "icons" / "tautograph.svg"
    if icon.is_file():
        app.setWindowIcon(QIcon(str(icon)))
    kept = preferences()
    session = Session(user_name=kept.user_name)
    session.early = early
    window = MainWindow(session, kept)
    window.show()

    def begin() -> None:
        window.menus.mappings.load()
        if sample:
            window.menus.files.open_sample()
        elif paths or joints:
            window.menus.files.open(paths, joints=joints)
        else:
            QTimer.singleShot(_PREPARE_AFTER_MS, window.prepare)
        window.menus.autosave.offer_recovery()

    QTimer.singleShot(0, begin)
    return app, window


def end_at_once(code: int) -> NoReturn:
    """Leave with what cannot be stopped still running: compiling the kernels takes half a minute.

    All that a clean exit keeps has been kept by then, and files are only ever put in place whole.
    """
    sys.stdout.flush()
    sys.stderr.flush()
    os._exit(code)
