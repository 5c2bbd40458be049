"""Joints as a form: what is given on the left, what follows from it, live, on the right.

Saved with comments kept.
"""

from __future__ import annotations

import html
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from PySide6.QtCore import QSignalBlocker, Signal
from PySide6.QtWidgets import (
    QComboBox,
    QDialog,
    QFileDialog,
    QFormLayout,
    QHBoxLayout,
    QInputDialog,
    QLabel,
    QPushButton,
    QScrollArea,
    QSplitter,
    QTextBrowser,
    QVBoxLayout,
    QWidget,
)

from analysis.errors import CallError, JointDefinitionError, ReadError
from analysis.joint import JointDefinition, JointsDocument
from analysis.joint.definition_keys import KEYS
from analysis.joint.derived import derive
from analysis.joint.friction import friction_range
from analysis.joint.thread import parse_thread
from app.display_units import DisplayUnits
from app.look import Look
from app.messages import tr
from app.views.joint_fields import FieldError, JointField, make_field
from app.views.utilisation_gauge import UtilisationGauge

_SIZE_PX = (980, 660)


class JointForm(QDialog):
    """Edits a joints document; nothing reaches the analysis before "Apply", nothing the disk before "Save".

    Signals
    -------
    applied(joints) · saved(path)
    """

    applied = Signal(object)
    saved = Signal(str)

    def __init__(
        self,
        document: JointsDocument,
        chosen: str,
        units: DisplayUnits,
        look: Look,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self.document = document
        self.units = units
        self.look = look
        self.setWindowTitle(tr("Joints"))
        self.resize(*_SIZE_PX)
        self.joint = QComboBox()
        self.joint.setAccessibleName(tr("Joint"))
        self.new, self.copy, self.remove = (QPushButton(tr(w)) for w in ("New …", "Copy …", "Remove"))
        self.limits = QPushButton(tr("Import limits …"))
        self.fields: dict[str, JointField] = {}
        self.problem = QLabel()
        self.problem.setObjectName("refusal")
        self.problem.setWordWrap(True)
        self.gauge = UtilisationGauge()
        self.gauge.look = look
        self.figures = QTextBrowser()
        self.figures.setAccessibleName(tr("What follows"))
        self.apply, self.save = QPushButton(tr("Apply")), QPushButton(tr("Save"))
        self.save_as, self.close_button = QPushButton(tr("Save as …")), QPushButton(tr("Close"))
        self._build()
        self._connect()
        self._list_joints(chosen)

    def _build(self) -> None:
        head, foot = QHBoxLayout(), QHBoxLayout()
        head.addWidget(self.joint, 1)
        for button in (self.new, self.copy, self.remove, self.limits):
            head.addWidget(button)
        form = QFormLayout()
        for key in KEYS.values():
            field = make_field(key, self.units)
            field.edited.connect(self._edited)
            self.fields[key.name] = field
            form.addRow(tr(key.title), field)
        inner = QWidget()
        inner.setLayout(form)
        scroll = QScrollArea()
        scroll.setWidget(inner)
        scroll.setWidgetResizable(True)
        right = QWidget()
        column = QVBoxLayout(right)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(self.gauge)
        column.addWidget(self.figures, 1)
        splitter = QSplitter()
        splitter.addWidget(scroll)
        splitter.addWidget(right)
        splitter.setSizes([440, 520])
        foot.addWidget(self.problem, 1)
        for button in (self.apply, self.save, self.save_as, self.close_button):
            foot.addWidget(button)
        layout = QVBoxLayout(self)
        layout.addLayout(head)
        layout.addWidget(splitter, 1)
        layout.addLayout(foot)

    def _connect(self) -> None:
        self.joint.activated.connect(self._show_joint)
        self.new.clicked.connect(lambda: self._ask_name({"target_torque_nm": 10.0}))
        self.copy.clicked.connect(self._copy)
        self.remove.clicked.connect(self._remove)
        self.limits.clicked.connect(self._ask_limits)
        self.apply.clicked.connect(lambda: self.applied.emit(self.document.joints))
        self.save.clicked.connect(self.save_document)
        self.save_as.clicked.connect(self._ask_save)
        self.close_button.clicked.connect(self.close)

    @property
    def name(self) -> str:
        """The joint that is shown; empty where there is none."""
        return str(self.joint.currentData() or "")

    def _list_joints(self, chosen: str) -> None:
        with QSignalBlocker(self.joint):
            self.joint.clear()
            for name, definition in self.document.joints.items():
                self.joint.addItem(f"{name} – {definition.title}" if definition.title else name, name)
            self.joint.setCurrentIndex(max(self.joint.findData(chosen), 0))
        self._show_joint()

    def _show_joint(self) -> None:
        known = bool(self.name)
        for widget in (*self.fields.values(), self.copy, self.remove, self.apply, self.save, self.save_as):
            widget.setEnabled(known)
        if not known:
            self.figures.setHtml(f"<p>{tr('No joint yet: make a new one.')}</p>")
            return
        definition = self.document[self.name]
        for name, field in self.fields.items():
            field.set_value(value_of(definition, name))
        self.problem.clear()
        self._show_figures(definition)

    def _edited(self) -> None:
        """Take what was typed into the document at once, or say why it cannot be used."""
        values: dict[str, Any] = {}
        definition = self.document[self.name]
        for name, field in self.fields.items():
            try:
                value = field.value()
            except FieldError as error:
                self.problem.setText(f"{tr(field.key.title)}: {error}")
                return
            if value != value_of(definition, name):
                values[name] = value
        try:
            self.document.update(self.name, values)
        except JointDefinitionError as error:
            self.problem.setText(str(error))
            return
        self.problem.clear()
        self._show_figures(self.document[self.name])

    def _show_figures(self, definition: JointDefinition) -> None:
        self.figures.setHtml(figures_html(definition, self.units, self.look.faint))
        shares = utilisation_at_target(definition)
        if isinstance(shares, str):
            self.gauge.set_reason(shares)
        else:
            self.gauge.set_share(*shares)

    def _ask_name(self, values: Mapping[str, Any]) -> None:
        name, taken = QInputDialog.getText(self, tr("New joint"), tr("Short name, as the recordings give it"))
        if taken and name.strip():
            self.add(name.strip(), values)

    def add(self, name: str, values: Mapping[str, Any]) -> None:
        """Add a joint and show it."""
        try:
            self.document.add(name, values)
        except (JointDefinitionError, CallError) as error:
            self.problem.setText(str(error))
            return
        self._list_joints(name)

    def _copy(self) -> None:
        definition = self.document[self.name]
        values = {name: value_of(definition, name) for name in KEYS}
        self._ask_name({name: value for name, value in values.items() if value is not None})

    def _remove(self) -> None:
        self.document.remove(self.name)
        self._list_joints("")

    def _ask_limits(self) -> None:
        path, _ = QFileDialog.getOpenFileName(
            self, tr("Import limits"), "", tr("Tables and joints files (*.csv *.txt *.toml)")
        )
        if path:
            self.import_limits(Path(path))

    def import_limits(self, file: Path) -> None:
        """Take limits from a table into the document, and say what changed; not applied yet."""
        from analysis.joint.limits_import import read_limits

        try:
            found = read_limits(file, self.document)
        except (ReadError, JointDefinitionError) as error:
            self.problem.setText(str(error))
            return
        found.apply(self.document)
        self._list_joints(self.name)
        skipped = f", {len(found.problems)} {tr('rows skipped')}" if found.problems else ""
        self.problem.setText(tr("{0} values taken from {1}{2}", len(found.changes), file.name, skipped))

    def save_document(self) -> None:
        """Write to the file that it came from; ask where there is none."""
        if self.document.path is None:
            self._ask_save()
        else:
            self.save_to(self.document.path)

    def _ask_save(self) -> None:
        suggestion = str(self.document.path or "joints.toml")
        path, _ = QFileDialog.getSaveFileName(
            self, tr("Save the joints"), suggestion, tr("Joints files (*.toml)")
        )
        if path:
            self.save_to(Path(path))

    def save_to(self, file: Path) -> bool:
        """Write the file; True where it worked."""
        try:
            written = self.document.save(file)
        except OSError as error:
            self.problem.setText(str(error))
            return False
        self.saved.emit(str(written))
        self.applied.emit(self.document.joints)
        return True


def value_of(definition: JointDefinition, name: str) -> Any:
    """The value of a key, wherever the definition keeps it; None where it is not given."""
    if KEYS[name].part:
        return definition.parts.get(name)
    value = getattr(definition, name)
    return None if value == "" else value


def utilisation_at_target(definition: JointDefinition) -> tuple[float, float, float] | str:
    """Combined stress over minimum yield at the target torque: low, middle, high.

    Or why it cannot be told.
    """
    from analysis.joint.clamp_basis import clamp_basis, joint_yield_mpa
    from analysis.joint.utilisation import combined_stress_mpa

    basis, limit = clamp_basis(definition), joint_yield_mpa(definition)
    mu = friction_range(definition)
    if isinstance(basis, str):
        return tr("not evaluated: {0}", basis)
    if limit is None:
        return tr("not evaluated: no property class given")
    if mu is None or definition.thread is None:
        return tr("not evaluated: no friction range given")
    thread = parse_thread(definition.thread)
    torque_nmm = definition.target_torque_nm * 1000.0
    shares = [
        float(combined_stress_mpa(thread, torque_nmm / lever / 1000.0, friction)) / limit
        for lever, friction in (
            (basis.lever_high_mm, mu.thread_high),
            (basis.lever_middle_mm, mu.thread_middle),
            (basis.lever_low_mm, mu.thread_low),
        )
    ]
    return min(shares), shares[1], max(shares)


def figures_html(definition: JointDefinition, units: DisplayUnits, faint: str) -> str:
    """Everything that follows from the definition, with formula and source."""
    rows = []
    for line in derive(definition):
        value = units.text(line.value, line.unit, with_symbol=True) if line.value is not None else "–"
        about = "; ".join(part for part in (line.formula, line.source, line.note) if part)
        rows.append(
            f"<tr><td><b>{html.escape(line.name)}</b></td><td>{html.escape(value)}</td></tr>"
            f'<tr><td colspan="2" style="color:{faint}">{html.escape(about)}</td></tr>'
        )
    return f"<table cellpadding='2' width='100%'>{''.join(rows)}</table>"
