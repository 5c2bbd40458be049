"""Where does this one sit.

One figure of all shown traces, as a histogram and in order of time, with limits.
"""

from __future__ import annotations

import numpy as np
from PySide6.QtCore import QSignalBlocker, QTimer, Signal
from PySide6.QtWidgets import QComboBox, QHBoxLayout, QLabel, QPushButton, QTabWidget, QVBoxLayout, QWidget

from analysis.joint_diagnosis import LEAST_STEP
from analysis.shift.course import find_course
from app.display.columns import Column
from app.display.look import Look
from app.display.margins import JUDGED
from app.display.messages import tr
from app.filtering.text import equals
from app.session.course_words import course_words
from app.session.deciding import set_limits
from app.session.session import JUDGING, READING, Session
from app.session.state import Limits
from app.views.shift.histogram_limits import consequence, outside
from app.views.shift.histogram_view import HistogramView
from app.views.shift.order_panel import OrderPanel
from app.views.shift.order_view import OrderView

_KEY_OF = {quantity: key for key, quantity, *_ in JUDGED}
#: The plots follow another selection after this time (own choice: about one frame).
_FOLLOW_MS = 15
#: Figures that are offered first, in this order; the rest follows by title.
_FIRST = (
    "final_torque_nm",
    "joint_rate_deg",
    "prevailing_torque_nm",
    "elastic_slope_nm_per_deg",
    "clamp_force_kn",
    "outlier_score",
)


class DistributionView(QWidget):
    """Histogram and time order of the chosen figure; limits are tried by hand and applied as a decision.

    Signals
    -------
    split_wanted(row)
        What was tightened before this trace is to be compared with the rest.
    """

    split_wanted = Signal(int)

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.session = session
        self.quantity = QComboBox()
        self.quantity.setAccessibleName(tr("Figure"))
        self.joint = QComboBox()
        self.joint.setAccessibleName(tr("Joint"))
        self.histogram = HistogramView()
        self.order = OrderView()
        self.tabs = QTabWidget()
        self.tabs.setAccessibleName(tr("Histogram, or order of time"))
        self.tabs.setDocumentMode(True)
        self.tabs.addTab(self.histogram, tr("Histogram"))
        self.order_panel = OrderPanel(self.order)
        self.tabs.addTab(self.order_panel, tr("In order of time"))
        self.apply = QPushButton(tr("Apply"))
        self.discard = QPushButton(tr("Discard"))
        self.tried = QLabel()
        self._tried: dict[str, float] = {}
        self._key = ("", "", 0)
        self._build()
        self._connect()
        self._forget_tried()

    def _build(self) -> None:
        row, offer = QHBoxLayout(), QHBoxLayout()
        row.setContentsMargins(6, 0, 6, 0)
        offer.setContentsMargins(6, 0, 6, 2)
        row.addWidget(self.quantity, 2)
        row.addWidget(self.joint, 1)
        offer.addWidget(self.tried, 1)
        offer.addWidget(self.apply)
        offer.addWidget(self.discard)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(2)
        layout.addLayout(row)
        layout.addWidget(self.tabs, 1)
        layout.addLayout(offer)
        self.setFocusProxy(self.quantity)

    def _connect(self) -> None:
        session = self.session
        self.quantity.activated.connect(self._choose_quantity)
        self.joint.activated.connect(self._choose_joint)
        self.apply.clicked.connect(self.apply_tried)
        self.discard.clicked.connect(self.discard_tried)
        for plot in (self.histogram, self.order):
            plot.rows_picked.connect(session.select)
            plot.limit_released.connect(self._try_limit)
        self.order_panel.row_wanted.connect(lambda row: session.select([row]))
        self.order_panel.split_wanted.connect(self.split_wanted)
        self.tabs.currentChanged.connect(self._show_course)
        session.traces_changed.connect(self.refresh)
        session.results_changed.connect(self.refresh)
        session.visible_changed.connect(self.refresh)
        session.view_changed.connect(self.refresh)
        session.jobs.running_changed.connect(self._say_what_is_absent)
        self._soon = QTimer(self, singleShot=True, interval=_FOLLOW_MS)
        self._soon.timeout.connect(self._show_selection)
        session.selection_changed.connect(self._follow_selection)

    def set_look(self, look: Look) -> None:
        """Colours."""
        self.histogram.set_look(look)
        self.order.set_look(look)

    def refresh(self) -> None:
        """Show the session as it is now."""
        session = self.session
        if len(session.visible) != len(session.traces):
            return
        self._fill_quantities()
        self._fill_joints()
        column = self._column()
        values = column.values if column is not None else np.full(len(session.traces), np.nan)
        # The bars are made for what is shown: those of another joint would leave one bar for this one.
        values = np.where(session.visible, values, np.nan)
        title, unit = (column.title, column.unit) if column is not None else ("", "")
        moments = session.columns.get("started_at")
        times = None
        if moments is not None and moments.kind == "time" and len(moments.values):
            times = np.where(moments.missing, np.nan, moments.values * 1e6).astype("datetime64[us]")
        with self.histogram.quiet(), self.order.quiet():
            for plot in (self.histogram, self.order):
                plot.set_torque_unit(session.view.torque_unit)
            self.histogram.set_data(values, title, unit)
            self.order.set_data(values, title, unit, times)
            for plot in (self.histogram, self.order):
                plot.set_verdicts(session.verdicts)
                plot.set_visible(session.visible)
        self._say_what_is_absent()
        # Other values or other traces: tried limits mean nothing there, and the old range shows nothing.
        key = (title, self.shown_joint(), len(session.traces))
        others = key != self._key and len(session.traces) > 0
        if others:
            self._forget_tried()
        self._show_limits()
        self._show_course()
        self._show_selection()
        if others:
            self._key = key
            self.histogram.fit()
            self.order.fit()

    def _say_what_is_absent(self) -> None:
        """One sentence in place of an empty frame."""
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
        for plot in (self.histogram, self.order):
            if plot.sentence.text() != words:
                plot.set_sentence(words)

    def _show_course(self) -> None:
        """Steps over time, looked for in one joint only: several joints differ by more than any step."""
        if self.tabs.currentWidget() is not self.order_panel:
            return
        session, column = self.session, self._column()
        if column is None or session.is_empty:
            self.order_panel.set_course(None, "")
        elif not self.shown_joint():
            named = self.joint.count() > 1
            self.order_panel.set_course(
                None,
                tr("Steps are looked for in one joint: choose one above.")
                if named
                else tr("Steps are looked for in one joint, and these traces name none."),
            )
        else:
            course = find_course(self.order.values, self.order.places, LEAST_STEP)
            times = session.columns.get("started_at") if self.order.is_timed else None
            words = course_words(course, column, session.units, times, session.traces.trace_ids)
            self.order_panel.set_course(course, words)

    def show_order(self) -> None:
        """To the order in time, with the keyboard."""
        self.tabs.setCurrentWidget(self.order_panel)
        self.order.setFocus()

    def _column(self) -> Column | None:
        column = self.session.columns.get(self.session.view.quantity)
        return column if column is not None and column.kind == "number" else None

    def _fill_quantities(self) -> None:
        columns = {column.name: column for column in self.session.columns.quantities}
        names = [name for name in _FIRST if name in columns]
        names += sorted((n for n in columns if n not in names), key=lambda n: columns[n].title.lower())
        if [self.quantity.itemData(i) for i in range(self.quantity.count())] != names:
            with QSignalBlocker(self.quantity):
                self.quantity.clear()
                for name in names:
                    self.quantity.addItem(columns[name].title, name)
        with QSignalBlocker(self.quantity):
            self.quantity.setCurrentIndex(self.quantity.findData(self.session.view.quantity))

    def _fill_joints(self) -> None:
        column = self.session.columns.get("joint")
        names = ["", *(column.distinct if column is not None else ())]
        with QSignalBlocker(self.joint):
            self.joint.clear()
            for name in names:
                self.joint.addItem(name or tr("all joints"), name)
            self.joint.setCurrentIndex(max(self.joint.findData(self.shown_joint()), 0))

    def shown_joint(self) -> str:
        """The joint of all shown traces; empty where they have several."""
        column = self.session.columns.get("joint")
        if column is None or not self.session.visible.any():
            return ""
        names = column.values[self.session.visible]
        return str(names[0]) if bool(np.all(names == names[0])) else ""

    def _choose_quantity(self) -> None:
        self._forget_tried()
        self.session.set_view(quantity=str(self.quantity.currentData()))

    def _choose_joint(self) -> None:
        name = str(self.joint.currentData())
        session = self.session
        if name:
            session.add_condition(equals("joint", name), name, instead_of="joint")
        else:
            session.set_conditions([c for c in session.view.conditions if not session.is_about(c, "joint")])

    def _limits(self) -> Limits | None:
        """The limits that apply to what is shown: those of its one joint."""
        key, joint = _KEY_OF.get(self.session.view.quantity), self.shown_joint()
        analysis = self.session.analysis
        if key is None or not joint or analysis is None or joint not in analysis.joints:
            return None
        limits: Limits | None = getattr(analysis.joints[joint], key)
        return limits

    def _show_limits(self) -> None:
        if self._tried:
            return
        low, high = self._limits() or (None, None)
        self.histogram.set_limits(low, high)
        self.order.set_limits(low, high)

    def _follow_selection(self) -> None:
        """Shortly after the curves and the table, so that those are there at once while a key is held."""
        if not self._soon.isActive():
            self._soon.start()

    def _show_selection(self) -> None:
        rows = self.session.selected_rows()
        if len(self.session.selected) == len(self.histogram.values):
            self.histogram.set_selected(rows)
            self.order.set_selected(rows)

    def _try_limit(self, name: str, value: float) -> None:
        """Both views show what is tried, and what it would flag; nothing applies before it is said so."""
        limits, column = self._limits(), self._column()
        if limits is None or column is None:
            return
        self._tried[name] = float(value)
        low, high = self._tried.get("low", limits[0]), self._tried.get("high", limits[1])
        values = column.values[self.session.visible & ~column.missing]
        self.tried.setText(consequence(outside(values, *limits), outside(values, low, high)))
        for plot in (self.histogram, self.order):
            plot.set_limits(low, high)
        for widget in (self.apply, self.discard, self.tried):
            widget.show()

    def try_limits(self, low: float, high: float) -> None:
        """Show both limits as tried, with what they would flag; nothing applies before it is said so."""
        self.tabs.setCurrentWidget(self.histogram)
        self._tried["low"] = float(low)
        self._try_limit("high", high)
        self.histogram.fit()

    def apply_tried(self) -> None:
        """Take the tried limits as a decision; the verdicts follow."""
        session, limits = self.session, self._limits()
        key, joint = _KEY_OF.get(session.view.quantity), self.shown_joint()
        if limits is None or key is None:
            self.discard_tried()
            return
        low, high = self._tried.get("low", limits[0]), self._tried.get("high", limits[1])
        self._forget_tried()
        if low < high:
            session.decide(set_limits(session.decisions, joint, key, (low, high)))
        else:
            session.messages.problem(tr("The lower limit must be below the upper; nothing was changed."))
            self._show_limits()

    def discard_tried(self) -> None:
        """Back to the limits that apply."""
        self._forget_tried()
        self._show_limits()

    def give_up(self) -> bool:
        """Let go of a limit that is taken or tried; True where there was one."""
        held = bool(self._tried)
        for plot in (self.histogram, self.order):
            held = plot.give_up() or held
        self.discard_tried()
        return held

    def _forget_tried(self) -> None:
        self._tried.clear()
        for widget in (self.apply, self.discard, self.tried):
            widget.hide()
