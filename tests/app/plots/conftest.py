"""What the drawing tests share."""

from __future__ import annotations

import gc
import threading
from collections.abc import Callable

import pytest
from PySide6.QtCore import QCoreApplication, QEvent, QObject
from pytestqt.qtbot import QtBot

from tests.helpers.every_move import every_move_counts

__all__ = ["every_move_counts"]


@pytest.fixture
def live_objects(qtbot: QtBot) -> Callable[[], dict[str, int]]:
    """Counts of what must not pile up: views, plots, timers and threads that are alive."""

    def count() -> dict[str, int]:
        for _ in range(3):
            QCoreApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)
            QCoreApplication.processEvents()
            gc.collect()
        # By type: asking a weak reference whose object is gone for what it is would raise.
        found = [type(item).__name__ for item in gc.get_objects() if issubclass(type(item), QObject)]
        names = ("CurveView", "CurvePlot", "PictureWorker", "QTimer", "QPropertyAnimation")
        return {name: found.count(name) for name in names} | {"threads": threading.active_count()}

    return count
