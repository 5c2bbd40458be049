"""Ties the plotting widgets, which know nothing of the session, to it."""

from __future__ import annotations

from typing import Any

import numpy as np
from PySide6.QtCore import QObject

from analysis.catalogue.points import MOVABLE_POINTS
from app.display.look import Look
from app.session.moved_points import move_point
from app.session.session import Session


class CurveLink(QObject):
    """The curves follow the session, and what the user picks on them goes back to it."""

    def __init__(self, session: Session, curves: Any, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.session = session
        self.curves = curves
        session.traces_changed.connect(self._show_traces)
        session.results_changed.connect(self._show_results)
        session.visible_changed.connect(self._show_visible)
        session.chosen_changed.connect(self._show_selection)
        session.decisions_changed.connect(self._show_selection)
        session.view_changed.connect(self._show_view)
        curves.rows_picked.connect(self._picked)
        curves.zone_edge_moved.connect(self._edge_moved)
        session.curve_view = self._view_now

    def set_look(self, look: Look) -> None:
        """Colours."""
        self.curves.set_look(look)

    def _show_traces(self) -> None:
        session = self.session
        curves = session.analysis.curves if session.analysis is not None else None
        if session.is_empty:
            self.curves.set_alignment("none")  # until there are points to align at
        self.curves.set_data(session.traces, curves)
        if session.analysis is not None:
            self.curves.set_verdicts(session.analysis.verdict)
        self._show_visible()
        self._show_colours()
        self._show_selection()

    def _show_results(self) -> None:
        """Points and verdicts; the view moves only where the first results make an alignment possible."""
        session = self.session
        if session.analysis is None:
            return
        self.curves.set_data(session.traces, session.analysis.curves)
        self.curves.set_verdicts(session.analysis.verdict)
        self._show_visible()
        self._show_colours()
        self._show_selection()
        self.curves.set_alignment(session.alignment)
        if session.wanted_curve_view:
            self.curves.set_view_range(session.wanted_curve_view)
            session.wanted_curve_view = ()

    def _view_now(self) -> tuple[float, ...]:
        """What the curves show, for a workspace; nothing before there are points to align at."""
        known = self.session.analysis is not None and not self.session.is_empty
        return tuple(self.curves.view_range()) if known else self.session.wanted_curve_view

    def _show_visible(self) -> None:
        if len(self.session.visible) == len(self.session.traces):
            self.curves.set_visible(self.session.visible)

    def _show_selection(self) -> None:
        session = self.session
        rows = session.selected_rows()
        if session.current_row >= 0:  # the one looked at stands last
            rows = np.append(rows[rows != session.current_row], session.current_row)
        self.curves.set_selected(rows)
        self.curves.set_moved(tuple(session.decisions.of(session.current_id).edges))

    def _show_view(self) -> None:
        view = self.session.view
        self.curves.set_torque_unit(view.torque_unit)
        if self.session.analysis is not None:
            self.curves.set_alignment(self.session.alignment)
        self.curves.set_axes(x=view.axis_x, y=view.axis_y)
        self._show_colours()

    def _show_colours(self) -> None:
        column = self.session.columns.get(self.session.view.colour_by)
        self.curves.set_colour_by(list(map(str, column.values)) if column is not None else None)

    def _picked(self, rows: Any, mode: str) -> None:
        self.session.select(rows, mode)

    def _edge_moved(self, row: int, edge: str, angle_deg: float) -> None:
        session = self.session
        point = next((name for name in MOVABLE_POINTS if edge.startswith(name)), "")
        if point:
            move_point(session, row, point, angle_deg)
