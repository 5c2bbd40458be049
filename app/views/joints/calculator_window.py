"""Torque for a wanted clamp force, and the reverse, with the formulae written out and the numbers put in.

What the joint's own tightenings tell, all routes to the clamp force fused, comes first where there are any.
"""

from __future__ import annotations

import html
from collections.abc import Callable, Mapping, Sequence

from PySide6.QtCore import QSignalBlocker
from PySide6.QtWidgets import (
    QComboBox,
    QDialog,
    QDoubleSpinBox,
    QFormLayout,
    QTextBrowser,
    QWidget,
)

from analysis.catalogue.units import DisplayUnits
from analysis.errors import TautographError
from analysis.joint.calculation import CAUTION, Calculation, shown
from analysis.joint.calculator import force_for_torque, torque_for_force
from analysis.joint.definition import JointDefinition
from analysis.joint.force_population import Population
from app.display.look import Look
from app.display.messages import tr
from app.display.spacing import TEXT_WINDOW
from app.views.parts.buttons import closing
from app.views.parts.layouts import column, row

#: The joint that the calculator starts with where none is open; a common size, made up.
_EXAMPLE = JointDefinition(
    "example", 48.0, "Example", "M10", "8.8", "hex", "medium", friction=(0.10, 0.16), clamp_length_mm=30.0
)


class CalculatorWindow(QDialog):
    """Stays beside the window; reads the joint's data, changes nothing."""

    def __init__(
        self,
        joints: Mapping[str, JointDefinition],
        chosen: str,
        *,
        units: DisplayUnits,
        faint: str,
        parent: QWidget | None = None,
        learnt_of: Callable[[str], Population | None] = lambda joint: None,
    ) -> None:
        super().__init__(parent)
        self.setWindowTitle(tr("Torque and clamp force"))
        self._learnt_of = learnt_of
        self.resize(*TEXT_WINDOW)
        self.joints = dict(joints) or {_EXAMPLE.name: _EXAMPLE}
        self.units = units
        self._faint = faint
        self.joint = QComboBox()
        self._list_joints(chosen)
        self.direction = QComboBox()
        self.direction.addItem(tr("clamp force that a torque gives"), "force")
        self.direction.addItem(tr("torque that a clamp force needs"), "torque")
        self.value = QDoubleSpinBox()
        self.value.setRange(0.0, 1e7)
        self.value.setDecimals(3)
        self.prevailing = QDoubleSpinBox()
        self.prevailing.setRange(0.0, 1e6)
        self.prevailing.setDecimals(3)
        self.page = QTextBrowser()
        self.page.setAccessibleName(tr("Calculation"))
        self._form = QFormLayout()
        self._build()
        self.joint.currentIndexChanged.connect(self._begin)
        self.direction.currentIndexChanged.connect(self._begin)
        self.value.valueChanged.connect(self.refresh)
        self.prevailing.valueChanged.connect(self.refresh)
        self._begin()

    def _build(self) -> None:
        for words, widget in (
            (tr("Joint"), self.joint),
            (tr("Calculate"), self.direction),
            (tr("From"), self.value),
            (tr("Prevailing torque"), self.prevailing),
        ):
            widget.setAccessibleName(words)
            self._form.addRow(words, widget)
        column(self._form, (self.page, 1), row(None, closing(self)), on=self)

    def _list_joints(self, chosen: str) -> None:
        with QSignalBlocker(self.joint):
            self.joint.clear()
            for name, joint in self.joints.items():
                self.joint.addItem(f"{name} – {joint.title}" if joint.title else name, name)
            self.joint.setCurrentIndex(max(self.joint.findData(chosen), 0))

    def set_joints(self, joints: Mapping[str, JointDefinition]) -> None:
        """Other or edited joints; figure and direction stay where the joint is still there."""
        chosen = str(self.joint.currentData())
        self.joints = dict(joints) or {_EXAMPLE.name: _EXAMPLE}
        self._list_joints(chosen)
        if chosen in self.joints:
            self.refresh()
        else:
            self._begin()

    def set_look(self, look: Look) -> None:
        """Other colours."""
        self._faint = look.faint
        self.refresh()

    def set_units(self, units: DisplayUnits) -> None:
        """Another torque unit; the figures mean the same."""
        torque_nm = self.units.internal(self.value.value(), "N·m")
        prevailing_nm = self.units.internal(self.prevailing.value(), "N·m")
        self.units = units
        self.prevailing.setValue(units.shown(prevailing_nm, "N·m"))
        if self.direction.currentData() == "force":
            self.value.setValue(units.shown(torque_nm, "N·m"))
        self._show_units()
        self.refresh()

    def _definition(self) -> JointDefinition:
        return self.joints[str(self.joint.currentData())]

    def _meant_prevailing_nm(self) -> float:
        """The middle of the joint's limits where it is meant to have prevailing torque, else none.

        The same value that the estimate of a trace takes where the recording does not show it.
        """
        low, high = self._definition().prevailing_limits_nm or (0.0, 0.0)
        return (low + high) / 2.0 if low > 0.0 else 0.0

    def _begin(self) -> None:
        """A sensible first figure: the target torque, or the force that it gives."""
        target = self._definition().target_torque_nm
        with QSignalBlocker(self.prevailing):
            self.prevailing.setValue(self.units.shown(self._meant_prevailing_nm(), "N·m"))
        if self.direction.currentData() == "force":
            self.value.setValue(self.units.shown(target, "N·m"))
        else:
            lines = self._lines_of("force", self.units.shown(target, "N·m"))
            force = [line.value for line in lines if line.unit == "kN"]
            self.value.setValue(next((value for value in force if value is not None), 10.0))
        self._show_units()
        self.refresh()

    def _show_units(self) -> None:
        torque = f" {self.units.torque}"
        self.value.setSuffix(torque if self.direction.currentData() == "force" else " kN")
        self.prevailing.setSuffix(torque)

    def _lines_of(self, direction: str, value: float) -> Sequence[Calculation]:
        prevailing = self.units.internal(self.prevailing.value(), "N·m")
        calculate = force_for_torque if direction == "force" else torque_for_force
        learnt = self._learnt_of(str(self.joint.currentData()))
        try:
            return calculate(
                self._definition(),
                value,
                prevailing_nm=prevailing,
                torque_unit=self.units.torque,
                learnt=learnt,
            )
        except TautographError as error:
            return [Calculation(tr("result"), "", "", None, "", "", str(error))]

    def refresh(self) -> None:
        """Calculate and write it out."""
        lines = self._lines_of(str(self.direction.currentData()), self.value.value())
        self.page.setHtml(calculation_html(lines, self._faint))


def calculation_html(lines: Sequence[Calculation], faint: str) -> str:
    """Each line: name and result, then formula, numbers, source, note."""
    parts = []
    for line in lines:
        name = html.escape(line.name[:1].upper() + line.name[1:])
        if line.value is None:
            parts.append(f"<p><b>{name}</b>: {html.escape(line.note)}</p>")
            continue
        parts.append(f"<p><b>{name}: {shown(line.value)} {html.escape(line.unit)}</b>")
        if line.formula:
            parts.append(f"<br/>{html.escape(line.formula)} = {html.escape(line.substituted)}")
        about = "; ".join(part for part in (line.source, line.note) if part)
        parts.append(f'<br/><span style="color:{faint}">{html.escape(about)}</span></p>')
    parts.append(f'<p style="color:{faint}">{html.escape(tr(CAUTION))}</p>')
    return "".join(parts)
