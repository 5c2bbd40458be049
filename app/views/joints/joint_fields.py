"""Entry fields of the joint form, one kind for each kind of key; empty means "not given"."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from typing import Any

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QComboBox, QHBoxLayout, QLabel, QLineEdit, QWidget

from analysis.catalogue.units import DisplayUnits
from analysis.figure_text import given_text
from analysis.joint.definition_keys import Key
from app.display.messages import plain_tip, tr
from app.views.parts.plain_label import PlainLabel

_NUMBER_WIDTH_PX = 84
#: Significant digits, at the least, of a value in another unit than the file's: it may be typed again.
_TYPED_DIGITS = 6


class FieldError(ValueError):
    """What stands in a field is no value; says what is wrong."""


class JointField(QWidget):
    """Base: a value in the key's internal unit, or None."""

    edited = Signal()

    def __init__(self, key: Key, units: DisplayUnits) -> None:
        super().__init__()
        self.key = key
        self.units = units
        self.unit: QLabel | None = None
        self.row = QHBoxLayout(self)
        self.row.setContentsMargins(0, 0, 0, 0)
        self.setToolTip(tr(key.help))

    def value(self) -> Any:
        """The value.

        Raises
        ------
        FieldError
            Where what was typed is none.
        """
        raise NotImplementedError

    def written(self, value: Any) -> Any:
        """A value as the file has it."""
        return value

    def set_value(self, value: Any) -> None:
        """Show a value; None empties the field."""
        raise NotImplementedError

    def set_units(self, units: DisplayUnits) -> None:
        """Another unit; the value stays the same and is to be shown anew with `set_value`."""
        self.units = units
        if self.unit is not None:
            self.unit.setText(units.symbol(self.key.unit))

    def mark(self, reason: str) -> None:
        """Show that what stands here was refused, and why; nothing where the reason is empty."""
        self.setToolTip(plain_tip(reason or tr(self.key.help)))
        for edit in self.findChildren(QLineEdit):
            edit.setProperty("refused", "true" if reason else "")
            edit.style().unpolish(edit)
            edit.style().polish(edit)

    def add_unit(self) -> None:
        """The unit behind the entry."""
        symbol = self.units.symbol(self.key.unit)
        if symbol:
            self.unit = PlainLabel(symbol)
            self.unit.setObjectName("quiet")
            self.row.addWidget(self.unit)


class TextField(JointField):
    """Words, or a thread."""

    def __init__(self, key: Key, units: DisplayUnits) -> None:
        super().__init__(key, units)
        self.edit = QLineEdit()
        self.edit.setAccessibleName(tr(key.title))
        self.edit.textEdited.connect(lambda _text: self.edited.emit())
        self.row.addWidget(self.edit)
        self.setFocusProxy(self.edit)

    def value(self) -> Any:
        """The words, None where empty."""
        return self.edit.text().strip() or None

    def set_value(self, value: Any) -> None:
        """Show words."""
        self.edit.setText("" if value is None else str(value))
        self.edit.setCursorPosition(0)  # the beginning is seen of what is too long


class LabelsField(TextField):
    """Names of positions: one after the other, and from one number to another."""

    def value(self) -> Any:
        """The names; ``1 … 4`` stands for all numbers between."""
        names: list[str] = []
        for one in (text.strip() for text in re.split(r"[,;]", self.edit.text())):
            span = re.fullmatch(r"(\d{1,4})\s*(?:…|\.\.+|–|-)\s*(\d{1,4})", one)
            if span is not None:
                names += [str(number) for number in range(int(span[1]), int(span[2]) + 1)]
            elif one:
                names.append(one)
        return tuple(names) or None

    def written(self, value: Any) -> Any:
        """Numbers where all of them are."""
        return [int(one) for one in value] if value and all(one.isdigit() for one in value) else value

    def set_value(self, value: Any) -> None:
        """Show the names."""
        super().set_value(", ".join(value or ()))


class RowsField(TextField):
    """Numbers in rows, such as ``0 40; 40 0``, or a word that stands for some."""

    def value(self) -> Any:
        """The rows as the definition keeps them, a word as it is; None where empty."""
        text = self.edit.text().strip()
        if not text or text.lower() in self.key.choices:
            return text.lower() or None
        return tuple(tuple(map(_typed_number, _pieces(row))) for row in text.split(";") if row.strip())

    def written(self, value: Any) -> Any:
        """Rows as lists; where there is one row of no pairs, the row alone."""
        if not isinstance(value, tuple):
            return value
        rows = [list(row) for row in value]
        return rows[0] if len(rows) == 1 and not self.key.choices else rows

    def set_value(self, value: Any) -> None:
        """Show the rows."""
        if isinstance(value, tuple):
            value = "; ".join(" ".join(given_text(number, 1.0) for number in row) for row in value)
        super().set_value(value)


class ChoiceField(JointField):
    """One of several words, or none of them."""

    def __init__(self, key: Key, units: DisplayUnits, choices: Sequence[tuple[str, Any]]) -> None:
        super().__init__(key, units)
        self.box = QComboBox()
        self.box.setAccessibleName(tr(key.title))
        self.box.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
        self.box.addItem(tr("not given"), None)
        for words, value in choices:
            self.box.addItem(words, value)
        self.box.activated.connect(lambda _index: self.edited.emit())
        self.row.addWidget(self.box)
        self.setFocusProxy(self.box)

    def value(self) -> Any:
        """The chosen value."""
        return self.box.currentData()

    def set_value(self, value: Any) -> None:
        """Choose a value."""
        for index in range(self.box.count()):
            if self.box.itemData(index) == value:
                self.box.setCurrentIndex(index)
                return
        self.box.addItem(str(value), value)
        self.box.setCurrentIndex(self.box.count() - 1)


class NumberField(JointField):
    """One number, or the two ends of a range."""

    def __init__(self, key: Key, units: DisplayUnits) -> None:
        super().__init__(key, units)
        self.edits = [QLineEdit() for _ in range(2 if key.kind == "range" else 1)]
        for position, edit in enumerate(self.edits):
            words = (tr("lowest"), tr("highest"))[position] if len(self.edits) == 2 else ""
            edit.setAccessibleName(f"{tr(key.title)} {words}".strip())
            edit.setPlaceholderText(words)
            edit.setMaximumWidth(_NUMBER_WIDTH_PX)
            edit.textEdited.connect(lambda _text: self.edited.emit())
            if position:
                self.row.addWidget(PlainLabel("…"))
            self.row.addWidget(edit)
        self.add_unit()
        self.row.addStretch(1)
        self.setFocusProxy(self.edits[0])
        #: What is shown, and what it stands for: an untouched figure keeps all its digits.
        self._shown: tuple[tuple[str, ...], Any] = (("",) * len(self.edits), None)

    def value(self) -> Any:
        """The number or the pair, internal unit; None where empty."""
        texts = tuple(edit.text().strip() for edit in self.edits)
        if texts == self._shown[0]:
            return self._shown[1]
        if not any(texts):
            return None
        if not all(texts):
            raise FieldError(tr("both ends of the range are needed"))
        numbers = [self._number(text) for text in texts]
        if self.key.kind == "whole number":
            if not numbers[0].is_integer():
                raise FieldError(tr("{0} is not a whole number", texts[0]))
            return int(numbers[0])
        return numbers[0] if len(numbers) == 1 else (numbers[0], numbers[1])

    def _number(self, text: str) -> float:
        return self.units.internal(_typed_number(text), self.key.unit)

    def set_value(self, value: Any) -> None:
        """Show a number or a pair."""
        numbers = [] if value is None else list(value) if isinstance(value, tuple | list) else [value]
        texts = tuple(self._text(float(number)) for number in numbers) or ("",) * len(self.edits)
        for edit, text in zip(self.edits, texts, strict=True):
            edit.setText(text)
        self._shown = (texts, value)

    def _text(self, number: float) -> str:
        if math.isinf(number):
            return f"{number:g}"  # a limit on one side alone
        factor = self.units.factor(self.key.unit)
        return given_text(number, factor, least=_TYPED_DIGITS)


def _typed_number(text: str) -> float:
    try:
        return float(text.replace(",", ".").replace("\N{MINUS SIGN}", "-"))
    except ValueError:
        raise FieldError(tr("{0!r} is not a number", text)) from None


def _pieces(row: str) -> list[str]:
    """What stands between spaces and between commas that are no decimal ones."""
    parts = re.split(r",\s+|\s+", row.strip())
    return [one for part in parts for one in (part.split(",") if "." in part else [part]) if one]


def make_field(key: Key, units: DisplayUnits) -> JointField:
    """The entry field that fits a key."""
    if key.kind == "choice":
        return ChoiceField(key, units, [(tr(choice), choice) for choice in key.choices])
    if key.kind == "flag":
        return ChoiceField(key, units, [(tr("yes"), True), (tr("no"), False)])
    if key.kind in ("number", "range", "whole number"):
        return NumberField(key, units)
    kinds = {"labels": LabelsField, "rows": RowsField}
    return kinds.get(key.kind, TextField)(key, units)
