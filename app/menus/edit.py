"""The menu Edit: undo, selecting, preferences."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray

from analysis.catalogue.verdicts import FLAGGED
from app.display.messages import count_words, tr
from app.display.preferences import Preferences
from app.menus.action import action
from app.menus.side_windows import SideWindows
from app.session.session import Session
from app.views.table.verdict_view import VerdictView

_SHOWN, _FLAGGED_SHOWN = "All traces that meet the conditions", "All shown that are not ok or suspect"
_NOTHING = "Clear the selection; where nothing is selected, stop what is running"
_PREFERENCES = "Your name on decisions, the time zone, rules for points"


class EditMenu:
    """What the menu Edit does, apart from copying.

    Parameters
    ----------
    give_up : callable
        What Esc abandons before it clears the selection; True where there was something.
    """

    def __init__(
        self,
        session: Session,
        preferences: Preferences,
        table: VerdictView,
        beside: SideWindows,
        *,
        give_up: Callable[[], bool],
    ) -> None:
        self.session = session
        self.preferences = preferences
        self.table = table
        self.beside = beside
        self._give_up = give_up

    def select(self, mask: NDArray[np.bool_]) -> None:
        """Select these; the one looked at stays where it is among them."""
        session = self.session
        current = session.current_row
        if current < 0 or not bool(mask[current]):
            ordered = self.table.table.order[mask[self.table.table.order]]
            current = int(ordered[0]) if len(ordered) else -1
        session.select_mask(mask, current)
        session.messages.note(tr("{0} selected.", count_words(int(mask.sum()), "trace", "traces")))

    @action("undo", "Undo", "Undo the last decision", "Ctrl+Z", part="undo")
    def undo(self) -> None:
        """Back by one decision."""
        self.session.undo_stack.undo()

    @action("redo", "Redo", "Redo the decision", "Ctrl+Shift+Z Ctrl+Y", part="undo")
    def redo(self) -> None:
        """Forward by one decision."""
        self.session.undo_stack.redo()

    @action("select-shown", "Select all shown", _SHOWN, "Ctrl+A", needs="traces", begins_part=True)
    def select_shown(self) -> None:
        """All that meet the conditions."""
        self.select(self.session.visible)

    @action("select-flagged", "Select all flagged", _FLAGGED_SHOWN, "Ctrl+Shift+A", needs="results")
    def select_flagged(self) -> None:
        """Those of them that are not ok or suspect."""
        self.select(self.session.visible & flagged_traces(self.session))

    @action("invert-selection", "Invert selection", "Among the shown traces", "Ctrl+I", needs="traces")
    def invert(self) -> None:
        """The shown ones that are not selected."""
        self.select(self.session.visible & ~self.session.selected)

    @action("clear-selection", "Select nothing", _NOTHING, "Esc", needs="selection or work")
    def clear(self) -> None:
        """Give up what is being drawn or tried; where nothing is, select nothing."""
        if not self._give_up():
            self.session.clear_selection()

    @action("preferences", "Preferences …", _PREFERENCES, "Ctrl+,", begins_part=True)
    def show_preferences(self) -> None:
        """Name and rules."""
        from app.views.frame.preferences_window import PreferencesWindow

        session = self.session
        dialog = PreferencesWindow(session.user_name, session.settings, session.units, self.beside.window)
        dialog.accepted.connect(
            lambda: self._take_preferences(dialog.user_name, dialog.zone, dialog.settings)
        )
        self.beside.keep("preferences", dialog)

    def _take_preferences(self, name: str, zone: str, settings: Any) -> None:
        self.preferences.user_name = name
        self.session.user_name = self.preferences.user_name
        self.session.set_view(time_zone=zone)
        self.session.set_settings(settings)


def flagged_traces(session: Session) -> NDArray[np.bool_]:
    """Traces that are not ok or suspect."""
    if session.verdicts is None:
        return np.zeros(len(session.traces), bool)
    return np.isin(session.verdicts, FLAGGED)
