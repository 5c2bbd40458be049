"""The menu View: alignment, axes, zoom, look, layout, and the way round the areas."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from PySide6.QtCore import QObject, Qt, Signal
from PySide6.QtWidgets import QApplication, QWidget

from app.display.preferences import Preferences
from app.items.plot_box import TOOLS
from app.session.session import Session
from app.session.state import ALIGNMENTS
from app.views.frame.area import Area, first_focusable
from app.wiring.compared_with import ComparisonLink


class Viewing(QObject):
    """What the View menu does, and F6."""

    look_chosen = Signal(str)
    layout_reset = Signal()

    def __init__(
        self,
        session: Session,
        preferences: Preferences,
        curves: Any,
        areas: Sequence[QWidget],
        comparison: ComparisonLink,
        parent: QObject,
    ) -> None:
        super().__init__(parent)
        self.session = session
        self.preferences = preferences
        self.curves = curves
        self.areas = tuple(areas)
        self.comparison = comparison

    def handlers(self) -> dict[str, Callable[[], object]]:
        """By action name."""
        aligned = {
            f"align-{name}": (lambda n=name: self.session.set_view(alignment=n)) for name in ALIGNMENTS
        }
        axes = {
            f"axes-{y}-{x}": (lambda x=x, y=y: self.session.set_view(axis_x=x, axis_y=y))
            for y, x in (("torque", "angle"), ("torque", "time"), ("slope", "angle"))
        }
        tools = {f"tool-{name}": (lambda n=name: self.curves.set_tool(n)) for name in TOOLS}
        looks = {f"look-{name}": (lambda n=name: self.choose_look(n)) for name in ("system", "light", "dark")}
        return {
            **aligned,
            **axes,
            **looks,
            **tools,
            "cursors": lambda: self.curves.set_cursors_visible(not self.curves.cursors_visible()),
            "fit-rise": self.curves.fit_rise,
            "fit": self.curves.fit,
            "fit-selected": self.comparison.fit_selected,
            "zoom-back": self.curves.zoom_back,
            "zoom-forward": self.curves.zoom_forward,
            "expected-fan": lambda: self.comparison.switch_fan(not self.comparison.fan_wanted),
            "reset-layout": self.layout_reset.emit,
            "next-area": lambda: self.step_area(+1),
            "previous-area": lambda: self.step_area(-1),
        }

    def choose_look(self, name: str) -> None:
        """Remember and apply a look."""
        self.preferences.look = name
        self.look_chosen.emit(name)

    def step_area(self, by: int) -> None:
        """Move the keyboard to the next area that can be seen and has something for it."""
        shown = [area for area in self.areas if area.isVisible() and first_focusable(area) is not None]
        if not shown:
            return
        focus = QApplication.focusWidget()
        here = next(
            (i for i, area in enumerate(shown) if focus is not None and _holds(area, focus)),
            -1 if by > 0 else 0,
        )
        target = shown[(here + by) % len(shown)]
        if isinstance(target, Area):
            target.take_focus()
        else:
            inner = first_focusable(target)
            if inner is not None:  # a sentence marks its first link, as after Tab
                inner.setFocus(Qt.FocusReason.TabFocusReason)


def _holds(area: QWidget, focus: QWidget) -> bool:
    return bool(area is focus or area.isAncestorOf(focus))
