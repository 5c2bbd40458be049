"""The menu View: alignment, axes, ranges, what the mouse does, colours and units, look."""

from __future__ import annotations

import math
from dataclasses import replace

from PySide6.QtCore import QObject, Signal
from PySide6.QtWidgets import QComboBox

from app.display.messages import tr
from app.display.preferences import Preferences
from app.menus.action import Action, action
from app.session.moved_points import move_point
from app.session.session import Session
from app.views.curves.view import CurveView
from app.views.frame.top_line import TopLine
from app.views.shift.distribution_view import DistributionView
from app.views.table.verdict_view import VerdictView
from app.wiring.overlays import OverlayLink

_ALIGNMENTS = (
    ("none", "Angles as recorded", "No alignment"),
    ("start", "Align at the start", "First sample at 0"),
    ("snug", "Align at snug", "Snug point at 0"),
    ("final", "Align at the final point", "Final point at 0"),
)
_AXES = (
    ("torque", "angle", "Torque over angle", "The usual picture"),
    ("torque", "time", "Torque over time", "Where time was recorded"),
    ("slope", "angle", "Slope over angle", "Local slope per degree"),
)
_TOOLS = (
    ("move", "Mouse moves the view", "Drag moves, a click selects the curve next to it"),
    ("zoom", "Mouse zooms to a rectangle", "Drag a rectangle to enlarge it"),
    ("line", "Mouse draws a line", "Every curve that crosses the line is selected"),
    ("box", "Mouse draws a box", "Every curve that passes through the box is selected"),
    ("freehand", "Mouse draws a stroke", "Every curve that crosses the stroke is selected"),
)
_LOOKS = (
    ("system", "System colours", "Light or dark as the system says"),
    ("light", "Light", "Light background"),
    ("dark", "Dark", "Dark background"),
)

_FIT, _FIT_SELECTED = "Fit the view to the shown curves", "Fit the view to the selected curves"
_FIT_RISE = "Fit the view to the rise of the shown curves, without the long rundown"
_CURSORS = "Two cursors that read values, differences and slope"
_SNUG = "Moves the snug point of the current trace; the verdict follows"
_FAN = "Lines for the joint's friction range"
_COLOUR = "To the list of attributes that the curves can be coloured by"
_GROUP = "To the list of attributes that the table can be grouped by"
_QUANTITY = "To the list of figures that the histogram and the order of time can show"
_SORT = "To the list of columns; the same column again turns the order round"


class ViewMenu(QObject):
    """What the menu View does."""

    look_chosen = Signal(str)
    layout_reset = Signal()

    def __init__(
        self, session: Session, preferences: Preferences, curves: CurveView, overlays: OverlayLink
    ) -> None:
        super().__init__(overlays)
        self.session = session
        self.preferences = preferences
        self.curves = curves
        self.overlays = overlays

    def axis_actions(self) -> list[Action]:
        """Alignments and axes."""
        show = self.session.set_view
        aligned = [
            Action(f"align-{n}", text, tip, lambda n=n: show(alignment=n), group="align")  # type: ignore[misc]
            for n, text, tip in _ALIGNMENTS
        ]
        axes = [
            Action(f"axes-{y}-{x}", text, tip, lambda x=x, y=y: show(axis_x=x, axis_y=y), group="axes")  # type: ignore[misc]
            for y, x, text, tip in _AXES
        ]
        return [*aligned, *_as_part(axes)]

    @action("fit", "Show everything", _FIT, "Alt+0", needs="traces", begins_part=True)
    def fit(self) -> None:
        """All that is shown."""
        self.curves.fit()

    @action("fit-selected", "Show selected", _FIT_SELECTED, "Alt+Shift+0", needs="selection")
    def fit_selected(self) -> None:
        """The selected curves."""
        self.overlays.fit_selected()

    @action("fit-rise", "Show the rise", _FIT_RISE, "Alt+9", needs="traces")
    def fit_rise(self) -> None:
        """Without the long rundown."""
        self.curves.fit_rise()

    @action("zoom-back", "Previous view", "One step back in the zoom history", "Alt+Left", needs="traces")
    def zoom_back(self) -> None:
        """To the view before."""
        self.curves.zoom_back()

    @action("zoom-forward", "Next view", "One step forward", "Alt+Right", needs="traces")
    def zoom_forward(self) -> None:
        """To the view after."""
        self.curves.zoom_forward()

    def tool_actions(self) -> list[Action]:
        """What the mouse does."""
        hold, group = self.curves.set_tool, "tool"
        return _as_part(
            [
                Action(f"tool-{t}", text, tip, lambda t=t: hold(t), f"Alt+{n}", group=group)  # type: ignore[misc]
                for n, (t, text, tip) in enumerate(_TOOLS, 1)
            ]
        )

    @action(
        "cursors", "Cursors", _CURSORS, "Ctrl+K", needs="traces", group="check", begins_part=True, part="over"
    )
    def switch_cursors(self) -> None:
        """Show them, or not."""
        self.curves.set_cursors_visible(not self.curves.cursors_visible())

    @action("set-snug", "Set snug at cursor A", _SNUG, "Alt+S", needs="current", part="over")
    def set_snug(self) -> None:
        """The snug point of the trace that is looked at, where cursor A stands or was typed."""
        session, reading = self.session, self.curves.cursor_reading()
        row = session.current_row
        if not self.curves.cursors_visible() or not math.isfinite(reading.x_a):
            self.curves.set_cursors_visible(True)
            session.messages.note(
                tr("Place cursor A at the snug point, or type its angle; then choose this again.")
            )
            return
        angle = self.curves.plot.geometry_now.angle_of_x(row, reading.x_a)
        move_point(session, row, "snug", float(angle))

    @action("expected-fan", "Expected slopes of the joint", _FAN, needs="traces", group="check", part="over")
    def switch_fan(self) -> None:
        """Show them, or not."""
        self.overlays.switch_fan(not self.overlays.fan_wanted)

    def look_actions(self) -> list[Action]:
        """Colours of the window."""
        choose, group = self.choose_look, "look"
        return _as_part(
            [Action(f"look-{n}", text, tip, lambda n=n: choose(n), group=group) for n, text, tip in _LOOKS]  # type: ignore[misc]
        )

    @action("reset-layout", "Reset layout", "Restore the original layout", begins_part=True, part="look")
    def reset_layout(self) -> None:
        """Areas as they came."""
        self.layout_reset.emit()

    def choose_look(self, name: str) -> None:
        """Remember and apply a look."""
        self.preferences.look = name
        self.look_chosen.emit(name)


def _as_part(rows: list[Action]) -> list[Action]:
    """The rows, with a separator before the first."""
    return [replace(rows[0], begins_part=True), *rows[1:]]


class ChoiceLists:
    """For the menu View: lists of choices, opened for the keyboard."""

    def __init__(self, top: TopLine, distribution: DistributionView, table: VerdictView) -> None:
        self.top = top
        self.distribution = distribution
        self.table = table

    @action("choose-colour", "Colour by …", _COLOUR, "Ctrl+B", needs="traces", begins_part=True)
    def choose_colour(self) -> None:
        """The attributes."""
        _open_list(self.top.colour_by)

    @action("choose-group", "Group by …", _GROUP, "Ctrl+Alt+B", needs="traces")
    def choose_group(self) -> None:
        """The attributes."""
        _open_list(self.table.group_by)

    @action("choose-unit", "Torque unit …", "To the list of torque units", "Ctrl+U")
    def choose_unit(self) -> None:
        """The torque units."""
        _open_list(self.top.units)

    @action("choose-quantity", "Histogram of …", _QUANTITY, "Ctrl+G", needs="results")
    def choose_quantity(self) -> None:
        """The figures."""
        _open_list(self.distribution.quantity)

    @action("sort-table", "Sort table by …", _SORT, "Ctrl+Alt+S", needs="traces")
    def choose_order(self) -> None:
        """The columns."""
        self.table.choose_order()


def _open_list(box: QComboBox) -> None:
    """Move the keyboard to a list of choices and open it."""
    box.setFocus()
    box.showPopup()
