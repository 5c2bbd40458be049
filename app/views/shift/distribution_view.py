"""Where does this one sit.

One figure of all shown traces, as a histogram and in order of time, with limits.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import Signal
from PySide6.QtWidgets import QWidget

from analysis.catalogue.units import DisplayUnits
from analysis.shift.course import Course
from app.display.columns import Column
from app.display.consequence import consequence, outside
from app.display.look import Look
from app.display.messages import tr
from app.display.spacing import LINE_MARGINS, NO_MARGINS, TIGHT_PX
from app.views.parts.buttons import PushButton
from app.views.parts.choices import fill, named_choices
from app.views.parts.focus_frame import TabPages
from app.views.parts.layouts import column, row
from app.views.parts.plain_label import PlainLabel
from app.views.shift.histogram_view import HistogramView
from app.views.shift.order_panel import OrderPanel
from app.views.shift.order_view import OrderView

Limits = tuple[float, float]


@dataclass(frozen=True, eq=False)
class Distribution:
    """What is shown."""

    column: Column | None  #: The figure; None where there is none.
    visible: NDArray[np.bool_]  #: Shape (n,).
    verdicts: NDArray[np.int8] | None  #: Shape (n,).
    #: Shape (n,). When each trace was tightened; None where the recordings do not say.
    times: NDArray[np.datetime64] | None
    units: DisplayUnits
    joint: str  #: The joint of all shown traces; empty where they have several.
    limits: Limits | None  #: (low, high): what applies to the figure in that joint.


_NOTHING = Distribution(None, np.zeros(0, bool), None, None, DisplayUnits(), "", None)


class DistributionView(QWidget):
    """Histogram and time order of the chosen figure; limits are tried by hand and applied when said so."""

    quantity_chosen = Signal(str)  #: (column name)
    joint_chosen = Signal(str)  #: (name, empty for all)
    rows_picked = Signal(object, str)  #: (rows, mode)
    #: (name, place): a menu about a limit is wanted, at a place on the screen.
    limit_pointed = Signal(str, object)
    limits_wanted = Signal(float, float)  #: (low, high): the tried limits are to apply.
    #: (row): what was tightened before this trace is to be compared with the rest.
    split_wanted = Signal(int)
    course_wanted = Signal()  #: The order of time comes into sight.

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.shown = _NOTHING
        self.quantity = named_choices(tr("Figure"))
        self.joint = named_choices(tr("Joint"))
        self.quantity.setToolTip(tr("The figure that is counted (Ctrl+G)"))
        self.joint.setToolTip(tr("Show one joint, or all"))
        self.histogram = HistogramView()
        self.order = OrderView()
        self.tabs = TabPages(tr("Histogram, or order of time"))
        self.tabs.addTab(self.histogram, tr("Histogram"))
        self.order_panel = OrderPanel(self.order)
        self.tabs.addTab(self.order_panel, tr("In order of time"))
        self.apply = PushButton(tr("Apply"), self.apply_tried, tr("The verdicts follow; Ctrl+Z undoes"))
        self.discard = PushButton(tr("Discard"), self.discard_tried)
        self.tried = PlainLabel()
        self._tried: dict[str, float] = {}
        self._key = ("", "", 0)
        self._lay_out()
        self._connect()
        self._forget_tried()

    def _lay_out(self) -> None:
        choices = row((self.quantity, 2), (self.joint, 1), margins=LINE_MARGINS)
        offer = row((self.tried, 1), self.apply, self.discard, margins=LINE_MARGINS)
        column(choices, (self.tabs, 1), offer, on=self, margins=NO_MARGINS, spacing=TIGHT_PX)
        self.setFocusProxy(self.quantity)

    def _connect(self) -> None:
        self.quantity.activated.connect(self._choose_quantity)
        self.joint.activated.connect(lambda _i: self.joint_chosen.emit(str(self.joint.currentData())))
        for plot in self._plots:
            plot.rows_picked.connect(self.rows_picked)
            plot.limit_released.connect(self._try_limit)
            plot.limit_pointed.connect(self.limit_pointed)
        self.order_panel.row_wanted.connect(lambda row: self.rows_picked.emit([row], "replace"))
        self.order_panel.split_wanted.connect(self.split_wanted)
        self.tabs.currentChanged.connect(lambda _i: self.course_wanted.emit())

    @property
    def _plots(self) -> tuple[HistogramView, OrderView]:
        return self.histogram, self.order

    def set_look(self, look: Look) -> None:
        """Colours."""
        for plot in self._plots:
            plot.set_look(look)

    def set_quantities(self, entries: Sequence[tuple[str, str | None]], chosen: str) -> None:
        """Figures that can be shown: words and column names, headings without a name."""
        if [self.quantity.itemData(i) for i in range(self.quantity.count())] != [name for _, name in entries]:
            fill(self.quantity, entries, chosen, default=-1)
        else:
            self.quantity.setCurrentIndex(self.quantity.findData(chosen))

    def set_joints(self, names: Sequence[str], chosen: str) -> None:
        """Joints that can be shown alone."""
        fill(self.joint, [(tr("all joints"), ""), *((name, name) for name in names)], chosen)

    def set_content(self, shown: Distribution) -> None:
        """Show this; the range stays where figure, joint and traces are the same."""
        self.shown = shown
        column, n = shown.column, len(shown.visible)
        # The bars are made for what is shown: those of another joint would leave one bar for this one.
        values = np.where(shown.visible, column.values if column is not None else np.nan, np.nan)
        title, unit = (column.title, column.unit) if column is not None else ("", "")
        with self.histogram.quiet(), self.order.quiet():
            for plot in self._plots:
                plot.set_units(shown.units)
            self.histogram.set_data(values, title, unit)
            self.order.set_data(values, title, unit, shown.times)
            for plot in self._plots:
                plot.set_verdicts(shown.verdicts)
                plot.set_visible(shown.visible)
        # Other values or other traces: tried limits mean nothing there, and the old range shows nothing.
        key = (title, shown.joint, n)
        others = key != self._key and n > 0
        if others:
            self._forget_tried()
        self._show_limits()
        if others:
            self._key = key
            for plot in self._plots:
                plot.fit()

    def set_sentence(self, words: str) -> None:
        """One sentence in place of an empty frame; empty where there is something to draw."""
        for plot in self._plots:
            if plot.sentence.text() != words:
                plot.set_sentence(words)

    def set_selected(self, rows: NDArray[np.int64]) -> None:
        """Mark these traces."""
        for plot in self._plots:
            plot.set_selected(rows)

    def set_course(self, course: Course | None, words: str) -> None:
        """Steps over time, in words and as lines."""
        self.order_panel.set_course(course, words)

    @property
    def order_is_shown(self) -> bool:
        """Whether the order of time is in sight."""
        return self.tabs.currentWidget() is self.order_panel

    def show_order(self) -> None:
        """To the order in time, with the keyboard."""
        self.tabs.setCurrentWidget(self.order_panel)
        self.order.setFocus()

    def _choose_quantity(self) -> None:
        self._forget_tried()
        self.quantity_chosen.emit(str(self.quantity.currentData()))

    def _show_limits(self) -> None:
        if not self._tried:
            low, high = self.shown.limits or (None, None)
            for plot in self._plots:
                plot.set_limits(low, high)

    def _tried_limits(self, limits: Limits) -> Limits:
        return self._tried.get("low", limits[0]), self._tried.get("high", limits[1])

    def _try_limit(self, name: str, value: float) -> None:
        """Both views show what is tried, and what it would flag; nothing applies before it is said so."""
        limits, column = self.shown.limits, self.shown.column
        if limits is None or column is None:
            return
        self._tried[name] = float(value)
        low, high = self._tried_limits(limits)
        values = column.values[self.shown.visible & ~column.missing]
        self.tried.setText(consequence(outside(values, *limits), outside(values, low, high)))
        for plot in self._plots:
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
        """Ask for the tried limits."""
        limits = self.shown.limits
        if limits is None:
            self.discard_tried()
            return
        low, high = self._tried_limits(limits)
        self._forget_tried()
        self.limits_wanted.emit(low, high)
        self._show_limits()

    def discard_tried(self) -> None:
        """Back to the limits that apply."""
        self._forget_tried()
        self._show_limits()

    def give_up(self) -> bool:
        """Let go of a limit that is taken or tried; True where there was one."""
        held = bool(self._tried)
        for plot in self._plots:
            held = plot.give_up() or held
        self.discard_tried()
        return held

    def _forget_tried(self) -> None:
        self._tried.clear()
        for widget in (self.apply, self.discard, self.tried):
            widget.hide()
