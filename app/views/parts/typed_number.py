"""A number that is shown and can be typed."""

from __future__ import annotations

import math

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QSizePolicy

from app.views.parts.undo_keys import LineEdit

#: The longest number that it has room for.
_LONGEST = "\N{MINUS SIGN}00000.000"


class TypedNumber(LineEdit):
    """One line that takes a number, with a comma or a point; what is none changes nothing."""

    typed = Signal(float)  #: (value)
    being_typed = Signal(float)  #: (value): NaN while what stands there is no number.

    def __init__(self, name: str, tip: str) -> None:
        super().__init__()
        self._shown = ""
        self.setAccessibleName(name)
        self.setToolTip(tip)
        self.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Fixed)
        self.setFixedWidth(self.fontMetrics().horizontalAdvance(_LONGEST) + 16)
        self.setAlignment(Qt.AlignmentFlag.AlignRight)
        self.editingFinished.connect(self._read)
        self.textEdited.connect(lambda _text: self.being_typed.emit(self._value()))

    def show_value(self, text: str) -> None:
        """Show a number, unless the user is typing one."""
        self._shown = text
        if not (self.hasFocus() and self.isModified()):
            self.setText(text)

    def _read(self) -> None:
        if not self.isModified():
            return
        value = self._value()
        self.setText(self.text())  # what was typed counts from here on: undo means the decision
        if math.isfinite(value):
            self.typed.emit(value)
        else:
            self.setText(self._shown)

    def _value(self) -> float:
        try:
            return float(self.text().strip().replace("\N{MINUS SIGN}", "-").replace(",", "."))
        except ValueError:
            return math.nan
