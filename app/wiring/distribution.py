"""Where does this one sit, and the session: the chosen figure of what is shown, limits that are applied."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QObject, Signal

from analysis.account.joint import LEAST_STEP
from analysis.audit.settings import audit_settings
from analysis.catalogue.figures import RESIDUAL_TORQUE
from analysis.shift.course import find_course
from app.display.columns import Column
from app.display.consequence import applied_words
from app.display.messages import tr
from app.display.shown_axis import is_place
from app.filtering.text import equals
from app.session.course_words import course_words
from app.session.deciding import limits_key, set_limits
from app.session.offered import offered_figures
from app.session.session import JUDGING, READING, Session
from app.session.state import Limits
from app.views.shift.distribution_view import Distribution, DistributionView
from app.wiring.follow import Follow, at_once, changes_of_sight

#: The plots follow another selection after this time (own choice: about one frame).
_FOLLOW_MS = 15


class DistributionLink(QObject):
    """Shows the chosen figure, and takes limits as decisions."""

    #: (row): what was tightened before this trace is to be compared with the rest.
    split_wanted = Signal(int)

    def __init__(self, session: Session, view: DistributionView) -> None:
        super().__init__(view)
        self.session = session
        self.view = view
        at_once(self.refresh, *changes_of_sight(session))
        session.jobs.running_changed.connect(self._say_what_is_absent)
        # Shortly after the curves and the table, so that those are there at once while a key is held.
        self._follow = Follow(
            view, self._show_selection, session.selection_changed, after_ms=_FOLLOW_MS, hidden_too=True
        )
        view.rows_picked.connect(session.select)
        view.quantity_chosen.connect(lambda name: session.set_view(quantity=name))
        view.joint_chosen.connect(self._choose_joint)
        view.limits_wanted.connect(self._apply)
        view.split_wanted.connect(self.split_wanted)
        view.course_wanted.connect(self._show_course)

    def refresh(self) -> None:
        """Show the session as it is now."""
        session, view = self.session, self.view
        if len(session.visible) != len(session.traces):
            return
        joint, names = self.session.shown_joint, session.columns.get("joint")
        view.set_quantities(offered_figures(session.columns), session.view.quantity)
        view.set_joints(names.distinct if names is not None else (), joint)
        view.set_content(
            Distribution(
                self._column(),
                session.visible,
                session.verdicts,
                self._times(),
                session.units,
                joint,
                self._limits(joint),
            )
        )
        self._say_what_is_absent()
        self._show_course()
        self._show_selection()

    def _times(self) -> NDArray[np.datetime64] | None:
        moments = self.session.columns.get("started_at")
        if moments is None or moments.kind != "time" or not len(moments.values):
            return None
        return np.where(moments.missing, np.nan, moments.values * 1e6).astype("datetime64[us]")

    def _say_what_is_absent(self) -> None:
        session, column = self.session, self._column()
        words = ""
        if session.is_empty:
            pass
        elif not session.visible.any():
            words = tr("No trace meets the conditions.")
        elif column is None and session.analysis is None:
            at_work = {READING, JUDGING} & set(session.jobs.running)
            words = (
                tr("The verdicts are being worked out; this figure will be drawn here then.")
                if at_work
                else tr("The verdicts were not worked out; F5 reads the files again and judges them.")
            )
        elif column is None or bool(np.all(column.missing[session.visible])):
            words = tr("None of the traces shown has this figure.")
        self.view.set_sentence(words)

    def _show_course(self) -> None:
        """Steps over time, looked for in one joint only: several joints differ by more than any step."""
        session, view, column = self.session, self.view, self._column()
        if not view.order_is_shown:
            return
        if column is None or session.is_empty:
            view.set_course(None, "")
        elif not self.session.shown_joint:
            names = session.columns.get("joint")
            view.set_course(
                None,
                tr("Steps are looked for in one joint: choose one above.")
                if names is not None and names.distinct
                else tr("Steps are looked for in one joint, and these traces name none."),
            )
        else:
            course = find_course(view.order.values, view.order.places, LEAST_STEP)
            times = session.columns.get("started_at") if view.order.is_timed else None
            words = course_words(course, column, session.units, times, session.traces.trace_ids)
            view.set_course(course, words)

    def _column(self) -> Column | None:
        session = self.session
        column = session.columns.get(session.view.quantity)
        if column is None or column.kind != "number":
            return None
        axis = session.axis
        if not is_place(column.name) or not axis.is_shown:
            return column
        return replace(column, title=f"{column.title} {axis.words}", values=axis.values(column.values))

    def _choose_joint(self, name: str) -> None:
        session = self.session
        if name:
            session.add_condition(equals("joint", name), name, instead_of="joint")
        else:
            session.set_conditions([c for c in session.view.conditions if not session.is_about(c, "joint")])

    def _limits(self, joint: str) -> Limits | None:
        """The limits that apply to what is shown: those of its one joint."""
        quantity, analysis = self.session.view.quantity, self.session.analysis
        if not joint or analysis is None or joint not in analysis.joints:
            return None
        if quantity == RESIDUAL_TORQUE.name:
            return audit_settings(analysis.joints[joint]).limits_nm
        key = limits_key(quantity)
        if key is None:
            return None
        limits: Limits | None = getattr(analysis.joints[joint], key)
        return limits

    def _show_selection(self) -> None:
        if len(self.session.selected) == len(self.view.histogram.values):
            self.view.set_selected(self.session.selected_rows())

    def _apply(self, low: float, high: float) -> None:
        """Take limits as a decision; the verdicts follow."""
        session, joint = self.session, self.session.shown_joint
        key = limits_key(session.view.quantity)
        if session.view.quantity == RESIDUAL_TORQUE.name:
            session.messages.problem(tr("Limits of audits are set in the joint's form; nothing was changed."))
        if key is None or not joint:
            return
        if low < high:
            session.decide(set_limits(session.decisions, joint, key, (low, high)))
            session.messages.note(applied_words(joint))
        else:
            session.messages.problem(tr("The lower limit must be below the upper; nothing was changed."))
