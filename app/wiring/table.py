"""The table of verdicts and the session: one selection, seen in both."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QObject

from app.display.messages import tr
from app.filtering.text import equals
from app.session.offered import offered_groups
from app.session.session import Session
from app.views.table.verdict_view import VerdictView
from app.wiring.follow import at_once

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
        self._grouped = ("", "")
        at_once(
            self.refresh,
            session.traces_changed,
            session.results_changed,
            session.visible_changed,  # after each decision too
        )
        session.chosen_changed.connect(self._show_selection)
        at_once(self._follow_view, session.view_changed, session.results_changed)
        at_once(self._show_groupings, session.view_changed, session.results_changed, session.traces_changed)
        table.group_wanted.connect(self._show_group)
        table.group_by.activated.connect(lambda _i: self._choose(str(table.group_by.currentData())))
        table.chosen.connect(session.select_mask)

    def refresh(self) -> None:
        """Show the session as it is now."""
        session = self.session
        self.table.keep_selected(session.selected, session.current_row)
        self.table.show_joint(not session.shown_joint)
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
            group_by=session.view.group_by,
            coloured=bool(session.view.group_by) and session.view.group_by == session.view.colour_by,
        )

    def _follow_view(self) -> None:
        """Units, axis, and groups where they are others than before."""
        session = self.session
        self.table.table.set_view(session.units, session.axis)
        grouped = (session.view.group_by, session.view.colour_by)
        if grouped != self._grouped:
            self._grouped = grouped
            self.refresh()
            self._show_selection()

    def _show_groupings(self) -> None:
        self.table.set_groupings(offered_groups(self.session.columns), self.session.view.group_by)
        self.table.group_by.setEnabled(not self.session.is_empty)

    def _choose(self, name: str) -> None:
        """Group by this; the curves get its colours, unless others were chosen for them."""
        view = self.session.view
        colour = name if view.colour_by in ("", view.group_by) else view.colour_by
        self.session.set_view(group_by=name, colour_by=colour)

    def _show_group(self, name: str) -> None:
        """Only this group."""
        column = self.session.columns[self.session.view.group_by]
        words = f"{column.title} {name or tr('not recorded')}"
        self.session.add_condition(equals(column.name, name), words, instead_of=column.name)

    def _show_selection(self) -> None:
        self.table.set_selected(self.session.selected, self.session.current_row)
