"""A view follows the session: shown anew once, soon after one or several changes."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from PySide6.QtCore import QEvent, QObject, QTimer, SignalInstance
from PySide6.QtWidgets import QWidget

if TYPE_CHECKING:
    from app.session.session import Session


def at_once(show: Callable[[], object], *signals: SignalInstance) -> None:
    """Have a view shown anew at each of these signals, before anything else goes on."""
    for signal in signals:
        signal.connect(show)


def changes_of_sight(session: Session) -> tuple[SignalInstance, ...]:
    """The signals of a session that tell of other traces, results, filter or manner of showing."""
    return session.traces_changed, session.results_changed, session.visible_changed, session.view_changed


class Follow(QObject):
    """Calls what shows a view, shortly after any of these signals.

    Parameters
    ----------
    view : QWidget
        The calls end with it.
    after_ms : int
        Rest before it: curves and table are there at once while a key is held, texts follow.
    hidden_too : bool
        Whether it is called while the view is out of sight; else what changed meanwhile is shown when it
        comes into sight.
    """

    def __init__(
        self,
        view: QWidget,
        show: Callable[[], object],
        *signals: SignalInstance,
        after_ms: int = 0,
        hidden_too: bool = False,
    ) -> None:
        super().__init__(view)
        self._view = view
        self._hidden_too = hidden_too
        self._show = show
        self._soon = QTimer(self, singleShot=True, interval=after_ms)
        self._soon.timeout.connect(show)
        if not hidden_too:
            view.installEventFilter(self)
        for signal in signals:
            signal.connect(self.soon)

    def soon(self) -> None:
        """Shortly, and once for all that is asked until then."""
        if (self._hidden_too or self._view.isVisible()) and not self._soon.isActive():
            self._soon.start()

    def now(self) -> None:
        """At once, where something is waiting."""
        if self._soon.isActive():
            self._soon.stop()
            self._show()

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """What changed meanwhile is shown now."""
        if event.type() == QEvent.Type.Show:
            self._soon.start()
        return False
