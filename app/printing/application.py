"""A Qt application where there is none yet, without a display where there is none."""

from __future__ import annotations

import os
import sys

from PySide6.QtGui import QGuiApplication

from app.printing.fonts import font_family

_DISPLAY_VARIABLES = ("DISPLAY", "WAYLAND_DISPLAY")


def ensure_gui_application() -> QGuiApplication:
    """The running application, or a new one; fonts and pictures need one even on paper.

    Without a display (no X nor Wayland server named) and without a platform chosen by the user the
    "offscreen" platform is used.
    """
    running = QGuiApplication.instance()
    if isinstance(running, QGuiApplication):
        return running
    on_unix = sys.platform not in ("win32", "darwin")
    if on_unix and not any(os.environ.get(name) for name in _DISPLAY_VARIABLES):
        os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
    return QGuiApplication(["tautograph"])


def ready_to_print() -> None:
    """What has to be done in the thread of the application before any other thread paints pages.

    A painter on a picture or a PDF may work in any thread, and any thread may measure and draw text; the
    application and its fonts belong to the first (Qt's documentation, "Thread-Support in Qt Modules").
    """
    ensure_gui_application()
    font_family()
