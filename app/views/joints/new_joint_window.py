"""A new joint from traces: target and limits as the traces show them, to be confirmed or changed."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QCheckBox, QComboBox, QDialog, QDoubleSpinBox, QGridLayout, QLineEdit, QWidget

from analysis.catalogue.rules import WINDOWS
from analysis.catalogue.units import DisplayUnits
from analysis.joint.key_tables import MOST_NM
from analysis.joint.property_class import PROPERTY_CLASSES
from app.display.messages import tr
from app.display.spacing import SMALL_WINDOW
from app.views.parts.buttons import PushButton
from app.views.parts.choices import named_choices
from app.views.parts.layouts import column, row, small_text
from app.views.parts.plain_label import PlainLabel

_WIDTH_PX = SMALL_WINDOW[0]
_CAUTION = (
    "Limits from data say what is usual, not what the joint needs: the product's specification takes "
    "precedence. Confirm target and limits, or type those of the drawing."
)


class NewJointWindow(QDialog):
    """Proposes; nothing is judged before "Create and judge".

    Parameters
    ----------
    lead : str
        Which traces it is about.
    proposed : Mapping of limit key to (low, high) or None
    outside : callable (key, low, high) to the number of traces outside
    """

    confirmed = Signal(str, object)  #: (name, values)

    def __init__(
        self,
        name: str,
        lead: str,
        target_nm: float,
        *,
        proposed: Mapping[str, tuple[float, float] | None],
        how: Mapping[str, str],
        outside: Callable[[str, float, float], int],
        units: DisplayUnits,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self.units, self._outside = units, outside
        self.setWindowTitle(tr("New joint from these traces"))
        self.name = QLineEdit(name)
        self.target = self._spin(target_nm, "N·m", tr("Target torque"))
        self.use: dict[str, QCheckBox] = {}
        self.ends: dict[str, tuple[QDoubleSpinBox, QDoubleSpinBox]] = {}
        self.said: dict[str, PlainLabel] = {}
        self.thread_text = QLineEdit()
        self.thread_text.setPlaceholderText(tr("such as M10x1.5"))
        self.property_class = _classes()
        self.problem = small_text(kind="refusal")
        self.create_joint = PushButton(tr("Create and judge"), self.confirm)
        self.create_joint.setDefault(True)
        self.cancel = PushButton(tr("Cancel"), self.reject)
        self._lay_out(lead, proposed, how)
        self._say_outside()
        layout = self.layout()
        self.resize(_WIDTH_PX, layout.heightForWidth(_WIDTH_PX) if layout is not None else 0)
        self.create_joint.setFocus()

    def _spin(self, value: float, unit: str, name: str) -> QDoubleSpinBox:
        box = QDoubleSpinBox()
        box.setRange(0.0, MOST_NM)
        shown = self.units.shown(value, unit) if value == value else 0.0
        text = f"{shown:.6g}"
        box.setDecimals(min(max(len(text.partition(".")[2]), 1), 4))
        box.setValue(shown)
        box.setSuffix(f" {self.units.symbol(unit)}")
        box.setAccessibleName(name)
        box.setKeyboardTracking(False)
        return box

    def _lay_out(
        self, lead: str, proposed: Mapping[str, tuple[float, float] | None], how: Mapping[str, str]
    ) -> None:
        grid = QGridLayout()
        grid.setColumnStretch(3, 1)
        grid.addWidget(PlainLabel(tr("Name")), 0, 0)
        grid.addWidget(self.name, 0, 1, 1, 2)
        grid.addWidget(PlainLabel(tr("Target torque")), 1, 0)
        grid.addWidget(self.target, 1, 1)
        grid.addWidget(small_text(how["target"]), 1, 3)
        for number, (key, limits) in enumerate(proposed.items(), 2):
            self._add_limits(grid, number, key, limits, how[key])
        after = grid.rowCount()
        for number, (words, field, why) in enumerate(
            (
                (tr("Thread"), self.thread_text, tr("optional; needed for clamp force")),
                (tr("Property class"), self.property_class, tr("optional; needed for clamp force")),
            ),
            after,
        ):
            field.setAccessibleName(words)
            grid.addWidget(PlainLabel(words), number, 0)
            grid.addWidget(field, number, 1, 1, 2)
            grid.addWidget(small_text(why), number, 3)
        self.name.setAccessibleName(tr("Name"))
        foot = row((self.problem, 1), self.create_joint, self.cancel)
        column(small_text(lead, kind=""), grid, small_text(tr(_CAUTION)), None, foot, on=self)

    def _add_limits(
        self, grid: QGridLayout, number: int, key: str, limits: tuple[float, float] | None, how: str
    ) -> None:
        rule = WINDOWS[key]
        title = rule.limits[0].upper() + rule.limits[1:]
        box = QCheckBox(title)
        box.setChecked(limits is not None)
        low, high = (
            self._spin(value, rule.figure.unit, tr(words, title))
            for value, words in zip(limits or (0.0, 0.0), ("{0}: lowest", "{0}: highest"), strict=True)
        )
        said = PlainLabel()
        said.setObjectName("quiet")
        self.use[key], self.ends[key], self.said[key] = box, (low, high), said
        line = 2 * number
        grid.addWidget(box, line, 0)
        grid.addWidget(low, line, 1)
        grid.addWidget(high, line, 2)
        grid.addWidget(said, line, 3)
        grid.addWidget(small_text(how), line + 1, 1, 1, 3)
        for spin in (low, high):
            spin.setEnabled(box.isChecked())
            box.toggled.connect(spin.setEnabled)
            spin.valueChanged.connect(lambda _value: self._say_outside())
        box.toggled.connect(lambda _on: self._say_outside())

    def _window(self, key: str) -> tuple[float, float]:
        unit = WINDOWS[key].figure.unit
        low, high = (self.units.internal(spin.value(), unit) for spin in self.ends[key])
        return low, high

    def _say_outside(self) -> None:
        """What each window would do, before anything is judged."""
        for key, label in self.said.items():
            n = self._outside(key, *self._window(key)) if self.use[key].isChecked() else 0
            words = tr("{0} of these traces would lie outside", n)
            label.setText(words if self.use[key].isChecked() else tr("not judged"))

    def values(self) -> dict[str, Any]:
        """Keys of the joint as they are given now."""
        given: dict[str, Any] = {
            "thread": self.thread_text.text().strip() or None,
            "property_class": self.property_class.currentData(),
            "target_torque_nm": self.units.internal(self.target.value(), "N·m"),
        }
        for key, box in self.use.items():
            given[key] = list(self._window(key)) if box.isChecked() else None
        return {key: _plain(value) for key, value in given.items()}

    def refuse(self, reason: str) -> None:
        """Say why the joint cannot be made like this."""
        self.problem.setText(reason)

    def confirm(self) -> None:
        """Hand the joint over; the window closes where it was taken."""
        name = self.name.text().strip()
        if not name:
            self.refuse(tr("Give the joint a name."))
        elif self.target.value() <= 0.0:
            self.refuse(tr("Give a target torque."))
        else:
            self.refuse("")
            self.confirmed.emit(name, self.values())


def _plain(value: Any) -> Any:
    """Figures to six digits: those of another unit have no end."""
    if isinstance(value, float):
        return float(f"{value:.6g}")
    return [_plain(one) for one in value] if isinstance(value, list) else value


def _classes() -> QComboBox:
    entries = [(name, name) for name in PROPERTY_CLASSES]
    return named_choices(tr("Property class"), [(tr("not given"), None), *entries])
