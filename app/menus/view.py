"""The menu View: alignment, axes, ranges, what the mouse does, colours and units, look."""

from __future__ import annotations

from PySide6.QtCore import QObject, Signal
from PySide6.QtWidgets import QComboBox

from app.display.preferences import Preferences
from app.menus.action import Action
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
    ("system", "Look of the system", "Light or dark as the system says"),
    ("light", "Light", "Light background"),
    ("dark", "Dark", "Dark background"),
)


class ViewMenu(QObject):
    """What the menu View does."""

    look_chosen = Signal(str)
    layout_reset = Signal()

    def __init__(
        self, session: Session, preferences: Preferences, curves: CurveView, comparison: OverlayLink
    ) -> None:
        super().__init__(comparison)
        self.session = session
        self.preferences = preferences
        self.curves = curves
        self.comparison = comparison

    def curve_actions(self) -> list[Action]:
        """How the curves are shown."""
        session, curves = self.session, self.curves
        rows = [
            Action(f"align-{n}", text, tip, lambda n=n: session.set_view(alignment=n), group="align")  # type: ignore[misc]
            for n, text, tip in _ALIGNMENTS
        ]
        rows += [
            Action(
                f"axes-{y}-{x}",
                text,
                tip,
                lambda x=x, y=y: session.set_view(axis_x=x, axis_y=y),  # type: ignore[misc]
                group="axes",
                begins_part=y == "torque" and x == "angle",
            )
            for y, x, text, tip in _AXES
        ]
        every, chosen = "Fit the view to the shown curves", "Fit the view to the selected curves"
        rise = "Fit the view to the rise of the shown curves, without the long rundown"
        back = "One step back in the zoom history"
        rows += [
            Action("fit", "Show everything", every, curves.fit, "Alt+0", "traces", begins_part=True),
            Action(
                "fit-selected",
                "Show selected",
                chosen,
                self.comparison.fit_selected,
                "Alt+Shift+0",
                "selection",
            ),
            Action("fit-rise", "Show the rise", rise, curves.fit_rise, "Alt+9", "traces"),
            Action("zoom-back", "Previous view", back, curves.zoom_back, "Alt+Left", "traces"),
            Action(
                "zoom-forward", "Next view", "One step forward", curves.zoom_forward, "Alt+Right", "traces"
            ),
        ]
        rows += [
            Action(
                f"tool-{tool}",
                text,
                tip,
                lambda tool=tool: curves.set_tool(tool),  # type: ignore[misc]
                f"Alt+{number}",
                group="tool",
                begins_part=number == 1,
            )
            for number, (tool, text, tip) in enumerate(_TOOLS, 1)
        ]
        return rows

    def overlay_actions(self) -> list[Action]:
        """What is drawn over the curves."""
        read, lines = (
            "Two cursors that read values, differences and slope",
            "Lines for the joint's friction range",
        )

        def cursors() -> None:
            self.curves.set_cursors_visible(not self.curves.cursors_visible())

        def fan() -> None:
            self.comparison.switch_fan(not self.comparison.fan_wanted)

        return [
            Action("cursors", "Cursors", read, cursors, "Ctrl+K", "traces", "check", begins_part=True),
            Action("expected-fan", "Expected slopes of the joint", lines, fan, "", "traces", "check"),
        ]

    def look_actions(self) -> list[Action]:
        """Colours of the window, and its layout."""
        rows = [
            Action(
                f"look-{n}",
                text,
                tip,
                lambda n=n: self.choose_look(n),  # type: ignore[misc]
                group="look",
                begins_part=n == "system",
            )
            for n, text, tip in _LOOKS
        ]
        tip = "Areas as they came"
        return [*rows, Action("reset-layout", "Reset layout", tip, self.layout_reset.emit, begins_part=True)]

    def choose_look(self, name: str) -> None:
        """Remember and apply a look."""
        self.preferences.look = name
        self.look_chosen.emit(name)


def list_actions(top: TopLine, distribution: DistributionView, table: VerdictView) -> list[Action]:
    """For the menu View: lists of choices, opened for the keyboard."""
    colour, unit = (
        "To the list of attributes that the curves can be coloured by",
        "To the list of torque units",
    )
    quantity = "To the list of figures that the histogram and the order of time can show"
    order = "To the list of columns; the same column again turns the order round"
    lists = {
        box: lambda box=box: _open_list(box) for box in (top.colour_by, top.units, distribution.quantity)
    }
    return [
        Action(
            "choose-colour", "Colour by …", colour, lists[top.colour_by], "Ctrl+B", "traces", begins_part=True
        ),
        Action("choose-unit", "Torque unit …", unit, lists[top.units], "Ctrl+U"),
        Action(
            "choose-quantity", "Histogram of …", quantity, lists[distribution.quantity], "Ctrl+G", "results"
        ),
        Action("sort-table", "Sort table by …", order, table.choose_order, "Ctrl+Alt+S", "traces"),
    ]


def _open_list(box: QComboBox) -> None:
    """Move the keyboard to a list of choices and open it."""
    box.setFocus()
    box.showPopup()
