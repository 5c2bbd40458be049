"""The table of verdicts and the session: one selection, seen in both."""

from __future__ import annotations

from PySide6.QtCore import QObject

from app.session.session import Session
from app.views.table.verdict_view import VerdictView


class TableLink(QObject):
    """The table follows the session, and what is selected in it goes back."""

    def __init__(self, session: Session, table: VerdictView) -> None:
        super().__init__(table)
        self.session = session
        self.table = table
        for signal in (
            session.traces_changed,
            session.results_changed,
            session.visible_changed,
            session.decisions_changed,
        ):
            signal.connect(self.refresh)
        session.chosen_changed.connect(self._show_selection)
        session.view_changed.connect(lambda: table.table.set_units(session.units))
        table.chosen.connect(session.select_mask)

    def refresh(self) -> None:
        """Show the session as it is now."""
        session = self.session
        self.table.keep_selected(session.selected, session.current_row)
        self.table.set_content(
            session.columns, session.margins, session.verdicts, session.visible, session.uncertainties
        )

    def _show_selection(self) -> None:
        self.table.set_selected(self.session.selected, self.session.current_row)
