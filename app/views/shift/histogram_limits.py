"""Limits that are tried before they apply: dragged or moved by keys, their consequence said meanwhile."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QObject, Qt, Signal

from app.display.consequence import consequence, outside
from app.items.limit_item import Limit, LimitsItem
from app.items.plot_box import Grip, PlotBox

NAMES = ("low", "high")
#: Share of the view that one arrow key moves a limit by; ten times as far with Shift (own choice).
_KEY_SHARE = 1.0 / 200.0


class LimitControl(QObject):
    """The two limits of a quantity and the one that is being tried."""

    moved = Signal(str, float)  #: (name, value): while a limit is tried; nothing is changed yet.
    released = Signal(str, float)  #: (name, value): where it was let go: the window may apply it.

    def __init__(
        self, item: LimitsItem, box: PlotBox, judged: Callable[[], NDArray[np.float64]], parent: QObject
    ) -> None:
        super().__init__(parent)
        self._item = item
        self._box = box
        self._judged = judged
        self._values: dict[str, float | None] = dict.fromkeys(NAMES)
        self._tried: tuple[str, float] | None = None
        self.focused: str | None = None
        box.grips.extend(self._grip(name) for name in NAMES)

    def set_limits(self, low: float | None, high: float | None) -> None:
        """The limits that apply; None for none."""
        self._values = {"low": low, "high": high}
        self._tried = None
        self._redraw()

    def limits(self) -> tuple[float | None, float | None]:
        """The limits that apply."""
        return self._values["low"], self._values["high"]

    def try_value(self, name: str, value: float) -> None:
        """Show what a limit at this value would do."""
        other = self._values["high" if name == "low" else "low"]
        if other is not None:  # the two never change sides
            value = min(value, other) if name == "low" else max(value, other)
        self._tried = (name, value)
        self._redraw()
        self.moved.emit(name, value)

    def apply(self) -> None:
        """Let go: tell the value that was tried; the lines go back until the window sets new limits."""
        tried, self._tried = self._tried, None
        self._redraw()
        if tried is not None and tried[1] != self._values[tried[0]]:
            self.released.emit(*tried)

    def give_up(self) -> None:
        """Back to where it was."""
        self._tried = None
        self._redraw()

    def tried_text(self) -> str:
        """What the tried limit would do; empty while none is tried."""
        if self._tried is None:
            return ""
        values, trial = self._judged(), dict(self._values)
        trial[self._tried[0]] = self._tried[1]
        was = outside(values, self._values["low"], self._values["high"])
        return consequence(was, outside(values, trial["low"], trial["high"]))

    def take_key(self, key: Qt.Key, shift: bool) -> bool:
        """L and H take a limit, arrows move it, Enter applies, Escape gives up; True where a key was used."""
        chosen = {Qt.Key.Key_L: "low", Qt.Key.Key_H: "high"}.get(key)
        if chosen is not None and self._values[chosen] is not None:
            self.focused = chosen
            self._redraw()
            return True
        if self.focused is None:
            return False
        level = self._item.level
        ahead, behind = (Qt.Key.Key_Up, Qt.Key.Key_Down) if level else (Qt.Key.Key_Right, Qt.Key.Key_Left)
        if key in (ahead, behind):
            rect = self._box.viewRect()
            step = (rect.height() if level else rect.width()) * _KEY_SHARE * (10 if shift else 1)
            self.try_value(self.focused, self._shown(self.focused) + (step if key == ahead else -step))
        elif key in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self.apply()
        elif key == Qt.Key.Key_Escape:
            self.focused = None
            self.give_up()
        else:
            return False
        return True

    def _shown(self, name: str) -> float:
        if self._tried is not None and self._tried[0] == name:
            return self._tried[1]
        value = self._values[name]
        return math.nan if value is None else value

    def _redraw(self) -> None:
        limits = []
        for name in NAMES:
            value = self._values[name]
            if value is None:
                continue
            tried = self._tried is not None and self._tried[0] == name
            limits.append(
                Limit(name, value, self._shown(name), self.tried_text()) if tried else Limit(name, value)
            )
        self._item.set_limits(tuple(limits), self.focused)

    def _grip(self, name: str) -> Grip:
        def drag(x: float, y: float) -> None:
            self.try_value(name, y if self._item.level else x)

        return Grip(
            f"{name} limit",
            lambda: self._item.grip_rect(name),
            drag,
            self.apply,
            self.give_up,
            upright=self._item.level,
        )
