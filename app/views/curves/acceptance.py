"""The joint's limits on its curves: dragged or typed, tried before they apply."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QObject, Qt, Signal
from PySide6.QtWidgets import QWidget

from analysis.catalogue.units import DisplayUnits
from app.display.messages import tr
from app.display.spacing import BREAK_PX, LINE_MARGINS, TIGHT_PX
from app.items.plot_box import Grip
from app.items.window_item import SIDES, AcceptanceWindow
from app.views.curves.plot import CurvePlot
from app.views.parts.buttons import PushButton
from app.views.parts.layouts import row
from app.views.parts.plain_label import PlainLabel
from app.views.parts.typed_number import TypedNumber

_UNITS = {"torque_nm": "N·m", "angle_deg": "deg"}
#: Decimal places that a dragged limit keeps, by unit: steps finer than a pixel mean nothing (own choice).
_PLACES = {"N·m": 3, "deg": 1}


class AcceptanceControl(QObject):
    """The window that applies, and the one that is tried."""

    changed = Signal()  #: Another window applies or is tried.
    tried = Signal(object)  #: (AcceptanceWindow): what would follow is to be said.
    applied = Signal(object)  #: (AcceptanceWindow)

    def __init__(self, plot: CurvePlot) -> None:
        super().__init__(plot)
        self._plot = plot
        self.window: AcceptanceWindow | None = None
        self.trial: AcceptanceWindow | None = None
        self.text = ""
        self.held = ""
        plot.box.grips.extend(self._grip(side) for side in SIDES)

    @property
    def fits(self) -> bool:
        """Whether the axes are those that the limits are given on."""
        state = self._plot.state
        return (state.alignment, state.x, state.y) == ("snug", "angle", "torque")

    def set_window(self, window: AcceptanceWindow | None) -> None:
        """The limits that apply; None where the curves are of several joints, or of none with limits."""
        if window != self.window:
            self.window, self.trial = window, None
        self.refresh()

    def try_value(self, side: str, value: float) -> None:
        """Show one limit elsewhere, and what would follow; nothing changes."""
        if self.window is None:
            return
        unit = _UNITS[SIDES[side][0]]
        units = DisplayUnits(self._plot.state.torque_unit)
        shown = round(units.shown(value, unit), _PLACES[unit])
        self.trial = (self.trial or self.window).moved(side, units.internal(shown, unit))
        self.tried.emit(self.trial)
        self.refresh()

    def say(self, text: str) -> None:
        """What would follow from what is tried."""
        self.text = text

    def apply(self) -> None:
        """Ask for what is tried."""
        trial, self.trial = self.trial, None
        self.refresh()
        if trial is not None and trial != self.window:
            self.applied.emit(trial)

    def give_up(self) -> bool:
        """Back to what applies; True where something was tried."""
        had, self.trial, self.held = self.trial is not None, None, ""
        self.refresh()
        return had

    def refresh(self) -> None:
        """Draw what is so now."""
        none = AcceptanceWindow()
        applies = self.window if self.window is not None and self.fits else none
        shown = self.trial if self.trial is not None and self.fits else applies
        self._plot.window.set_window(applies, shown, self.text if shown != applies else "", self.held)
        self.changed.emit()

    def _grip(self, side: str) -> Grip:
        upright = side.endswith("torque")

        def drag(x: float, y: float) -> None:
            self.held = side
            self.try_value(side, y if upright else x)

        def drop() -> None:
            self.held = ""
            self.refresh()

        def cancel() -> None:
            self.give_up()

        return Grip(f"{side} limit", lambda: self._plot.window.grip_rect(side), drag, drop, cancel, upright)


class AcceptanceBar(QWidget):
    """One line: the limits to type, what would follow, and whether to apply it."""

    limit_pointed = Signal(str, object)  #: (side, place on the screen): a menu about a limit is wanted.

    def __init__(self, control: AcceptanceControl, plot: CurvePlot) -> None:
        super().__init__()
        self._control = control
        self._plot = plot
        self.setAccessibleName(tr("Limits"))
        tip = tr("Type another limit: what would follow is said before it applies")
        names = {
            "low torque": tr("Lower torque limit"),
            "high torque": tr("Upper torque limit"),
            "low angle": tr("Lower limit of the angle from snug"),
            "high angle": tr("Upper limit of the angle from snug"),
        }
        self.fields = {side: TypedNumber(names[side], tip) for side in SIDES}
        for side, field in self.fields.items():
            field.typed.connect(lambda value, side=side: self._type(side, value))
            field.being_typed.connect(lambda value, side=side: self._follow(side, value))
            field.setContextMenuPolicy(Qt.ContextMenuPolicy.CustomContextMenu)
            field.customContextMenuRequested.connect(
                lambda at, side=side: self.limit_pointed.emit(side, self.fields[side].mapToGlobal(at))
            )
        self._last = self.fields["low torque"]
        self._torque_unit = PlainLabel()
        self.consequence = PlainLabel()
        self.apply = PushButton(tr("Apply"), lambda: self._end(control.apply))
        self.apply.setToolTip(
            tr("The verdicts follow; Ctrl+Z takes it back. Limits are an engineer's decision.")
        )
        self.discard = PushButton(tr("Discard"), lambda: self._end(control.give_up))
        fields = self.fields
        row(
            PlainLabel(tr("Torque")), fields["low torque"], PlainLabel("…"), fields["high torque"],
            self._torque_unit, BREAK_PX,
            PlainLabel(tr("Angle")), fields["low angle"], PlainLabel("…"), fields["high angle"],
            PlainLabel("deg"), BREAK_PX, (self.consequence, 1), self.apply, self.discard,
            on=self, margins=LINE_MARGINS, spacing=TIGHT_PX,
        )  # fmt: skip
        control.changed.connect(self.refresh)
        self.refresh()

    def _end(self, how: Callable[[], object]) -> None:
        """Apply or discard; both buttons go, so the keyboard goes back to the limit that was typed."""
        by_keys = self.apply.hasFocus() or self.discard.hasFocus()
        how()
        if by_keys and self._last.isVisible():
            self._last.setFocus(Qt.FocusReason.OtherFocusReason)

    def _follow(self, side: str, value: float) -> None:
        """Say what would follow while a limit is typed; of half a number, nothing."""
        window, wanted = self._control.trial or self._control.window, self._internal(side, value)
        if window is not None and window.moved(side, wanted).value(side) == wanted:  # not past its other end
            self._type(side, value)
        else:
            self.consequence.clear()

    def _internal(self, side: str, value: float) -> float:
        return DisplayUnits(self._plot.state.torque_unit).internal(value, _UNITS[SIDES[side][0]])

    def _type(self, side: str, value: float) -> None:
        self._last = self.fields[side]
        self._control.try_value(side, self._internal(side, value))

    def refresh(self) -> None:
        """Show what is so now, in the unit that is shown."""
        control, units = self._control, DisplayUnits(self._plot.state.torque_unit)
        window = control.trial or control.window or AcceptanceWindow()
        self._torque_unit.setText(units.symbol("N·m"))
        for side, field in self.fields.items():
            value = window.value(side)
            field.setEnabled(value is not None)
            field.show_value("" if value is None else units.given(value, _UNITS[SIDES[side][0]]))
        tried = control.trial is not None
        self.consequence.setText(control.text if tried else "")
        for button in (self.apply, self.discard):
            button.setVisible(tried)
