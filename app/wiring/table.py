"""The table of verdicts and the session: one selection, seen in both."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QObject

from app.session.session import Session
from app.views.table.verdict_view import VerdictView

if TYPE_CHECKING:
    from analysis.pipeline import Analysis
    from analysis.verdict.joint_rows import JointRows


def class_places(rows: JointRows) -> NDArray[np.int64]:
    """Place of each trace by the class of its joint: class A first, those without one last."""
    from analysis.joint.joint_class import class_order

    places = np.array([class_order(one) for one in (*rows.definitions, None)], np.int64)
    return places[rows.codes]


class TableLink(QObject):
    """The table follows the session, and what is selected in it goes back."""

    def __init__(self, session: Session, table: VerdictView) -> None:
        super().__init__(table)
        self.session = session
        self.table = table
        #: Analysis that the places by class belong to: worked out once for each.
        self._places_of: Analysis | None = None
        self._places: NDArray[np.int64] | None = None
        for signal in (
            session.traces_changed,
            session.results_changed,
            session.visible_changed,
            session.decisions_changed,
        ):
            signal.connect(self.refresh)
        session.chosen_changed.connect(self._show_selection)
        for signal in (session.view_changed, session.results_changed):
            signal.connect(lambda: table.table.set_view(session.units, session.axis))
        table.chosen.connect(session.select_mask)

    def refresh(self) -> None:
        """Show the session as it is now."""
        session = self.session
        self.table.keep_selected(session.selected, session.current_row)
        if self._places_of is not session.analysis:
            self._places_of = session.analysis
            self._places = None if self._places_of is None else class_places(self._places_of.joint_rows)
        self.table.set_content(
            session.columns,
            session.margins,
            session.verdicts,
            session.visible,
            uncertainties=session.uncertainties,
            class_places=self._places,
        )

    def _show_selection(self) -> None:
        self.table.set_selected(self.session.selected, self.session.current_row)
