"""What is given of a joint: a field for every key, under the heading of its section."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QFormLayout, QWidget

from analysis.catalogue.units import DisplayUnits
from analysis.joint import JointDefinition
from analysis.joint.thread import parse_thread
from app.display.messages import tr
from app.views.joints.joint_fields import FieldError, JointField, make_field
from app.views.joints.joint_sections import SECTIONS, LubricantPicker, class_words
from app.views.joints.table_keys import FORM_KEYS, TABLE_SECTIONS
from app.views.parts.plain_label import PlainLabel


@dataclass(frozen=True)
class Refusal:
    """What was typed into one field cannot be used, and why."""

    key: str
    reason: str


class JointSheet(QWidget):
    """Every key with its field; explanations and pickers beside their keys."""

    edited = Signal()  #: Something was typed or chosen.

    def __init__(self, units: DisplayUnits) -> None:
        super().__init__()
        self.fields: dict[str, JointField] = {}
        self.marking = PlainLabel()
        self.marking.setObjectName("quiet")
        self.marking.setWordWrap(True)
        self.lubricant = LubricantPicker()
        self.lubricant.range_chosen.connect(self._take_friction)
        form = QFormLayout(self)
        for heading, names in (*SECTIONS, *TABLE_SECTIONS):
            title = PlainLabel(tr(heading))
            title.setObjectName("areaTitle")
            form.addRow(title)
            for name in names:
                field = make_field(FORM_KEYS[name], units)
                field.edited.connect(self.edited)
                self.fields[name] = field
                form.addRow(tr(FORM_KEYS[name].title), field)
                if name == "property_class":
                    form.addRow("", self.marking)
                if name == "friction":
                    form.addRow("", self.lubricant)

    def allow(self, known: bool) -> None:
        """Fields can be written in only where there is a joint."""
        for widget in (*self.fields.values(), self.lubricant):
            widget.setEnabled(known)

    def set_definition(self, definition: JointDefinition) -> None:
        """Show what a joint gives."""
        for name, field in self.fields.items():
            field.set_value(value_of(definition, name))

    def set_units(self, units: DisplayUnits) -> None:
        """Another torque unit."""
        for field in self.fields.values():
            field.set_units(units)

    def mark(self, name: str, reason: str) -> None:
        """A reason beside the field of this key; none beside the others."""
        for key, field in self.fields.items():
            field.mark(reason if key == name else "")

    def explain_class(self, definition: JointDefinition) -> None:
        """Say what the marking of the property class means."""
        thread = definition.thread
        diameter = parse_thread(thread).diameter_mm if thread is not None else 0.0
        self.marking.setText(class_words(definition.property_class, diameter))

    def changed_values(self, definition: JointDefinition) -> dict[str, Any] | Refusal:
        """What is written here and differs from the definition, by key; or the first that cannot be used."""
        values: dict[str, Any] = {}
        for name, field in self.fields.items():
            try:
                value = field.value()
            except FieldError as error:
                return Refusal(name, f"{tr(field.key.title)}: {error}")
            if value != value_of(definition, name):
                values[name] = field.written(value)
        return values

    def _take_friction(self, low: float, high: float) -> None:
        """The range of a lubricant into the field; the user sees and confirms it."""
        self.fields["friction"].set_value((low, high))
        self.edited.emit()


def value_of(definition: JointDefinition, name: str) -> Any:
    """The value of a key, wherever the definition keeps it; None where it is not given."""
    if FORM_KEYS[name].part:
        table, _, key = name.rpartition(".")
        return (definition.parts.get(table, {}) if table else definition.parts).get(key)
    value = getattr(definition, name)
    return None if value == "" else value
