"""Short work away from the window's thread that is waited for: drawing and clocks go on, input waits."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor, wait
from typing import TypeVar

from PySide6.QtCore import QEventLoop, QMetaObject, Qt

_Answer = TypeVar("_Answer")
#: What takes no longer is waited for at once: nobody notices (own choice).
_UNNOTICED_S = 0.05


def done_beside(work: Callable[[], _Answer]) -> _Answer:
    """What the work gives, or raises; it must not touch a widget."""
    with ThreadPoolExecutor(1, "beside") as pool:
        future = pool.submit(work)
        if not wait([future], _UNNOTICED_S).done:
            loop = QEventLoop()
            future.add_done_callback(
                lambda _: QMetaObject.invokeMethod(loop, "quit", Qt.ConnectionType.QueuedConnection)
            )
            loop.exec(QEventLoop.ProcessEventsFlag.ExcludeUserInputEvents)
        return future.result()
