"""Ways of tightening a joint on one force axis: what is changed is seen at once."""

from __future__ import annotations

import html
from collections.abc import Mapping
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from PySide6.QtCore import QSignalBlocker, Signal
from PySide6.QtWidgets import (
    QCheckBox,
    QDialog,
    QDoubleSpinBox,
    QFormLayout,
    QWidget,
)

from analysis.catalogue.sentences import INTERNAL, as_text
from analysis.catalogue.units import DisplayUnits
from analysis.errors import TautographError
from analysis.joint.definition import JointDefinition
from analysis.joint.friction import friction_range
from analysis.joint.property_class import PROPERTY_CLASSES
from analysis.strategy.settings import SNUG_SHARE, StrategySettings
from app.display.messages import tr
from app.display.spacing import WIDE_WINDOW
from app.views.parts.buttons import PushButton, closing
from app.views.parts.choices import fill, named_choices
from app.views.parts.layouts import row, scrolled
from app.views.parts.plain_label import MarkupLabel
from app.views.studies.plot_sheet import PlotSheet

if TYPE_CHECKING:
    import pyarrow as pa

    from analysis.strategy.advice import Advice

_FIELDS_PX = 330
#: Friction shown where a joint states none; nothing is worked out then.
_NO_FRICTION = (0.10, 0.16)
#: Words, unit, least and largest value, decimals, step.
_FIELDS: dict[str, tuple[str, str, float, float, int, float]] = {
    "target": ("Target torque", "N·m", 0.01, 1e6, 2, 1.0),
    "snug": ("Snug torque", "N·m", 0.001, 1e6, 2, 1.0),
    "friction low": ("Friction, lowest", "", 0.01, 1.0, 3, 0.01),
    "friction high": ("Friction, highest", "", 0.01, 1.0, 3, 0.01),
    "torque": ("Torque scatter, s", "%", 0.0, 50.0, 2, 0.1),
    "snug scatter": ("Snug torque scatter, s", "%", 0.0, 50.0, 2, 0.5),
    "angle": ("Angle scatter, s", "deg", 0.0, 90.0, 2, 0.5),
    "stiffness": ("Stiffness scatter, s", "%", 0.0, 50.0, 2, 0.5),
    "correlation": ("Correlation of frictions", "", -1.0, 1.0, 2, 0.1),
}


#: What is not said by the words of a field.
_TIPS = {
    "target": "The torque at which the tool shuts off",
    "snug": "Where turning by an angle begins",
    "friction low": "In thread and under the head; the range counts as two standard deviations either way",
    "torque": "Standard deviation of the torque at shut-off, of the target",
    "snug scatter": "Standard deviation of the torque from which the angle is counted",
    "angle": "Standard deviation of the angle that is turned",
    "stiffness": "Standard deviation of the clamp force per degree",
    "correlation": "Of thread and head: 1 where one lubricant decides both, 0 where neither knows the other",
}


class StrategyWindow(QDialog):
    """Stays beside the window; reads the joint's data, changes nothing."""

    #: (definition, settings): the joint and the settings as they stand in the fields.
    pages_wanted = Signal(object, object)

    def __init__(
        self,
        joints: Mapping[str, JointDefinition],
        chosen: str,
        parent: QWidget | None = None,
        units: DisplayUnits = INTERNAL,
    ) -> None:
        super().__init__(parent)
        self.setWindowTitle(tr("Tightening strategies"))
        self.resize(*WIDE_WINDOW)
        self.joints = dict(joints)
        self.results: pa.Table | None = None
        self.advice: Advice | None = None
        self.joint = named_choices(tr("Joint"))
        self.strength = named_choices(tr("Property class"), [(name, name) for name in PROPERTY_CLASSES])
        self.units = units
        self.fields = {key: _field(key, units) for key in _FIELDS}
        #: What each field shows untouched, and what it stands for: with all of its digits.
        self._stands: dict[str, tuple[float, float]] = {}
        self.own = QCheckBox(tr("Scatter of torque and friction from its own traces"))
        self.answer, self.text = MarkupLabel(), MarkupLabel()
        for label, name in ((self.answer, tr("Answer")), (self.text, tr("Strategies in words"))):
            label.setWordWrap(True)
            label.setAccessibleName(name)
        self.sheet = PlotSheet(tr("Clamp force of each strategy"))
        self.pages = PushButton(tr("Print preview …"), tip=tr("As it will print; PDF, HTML, spreadsheet"))
        self._build()
        self.joint.currentIndexChanged.connect(self.begin)
        self.strength.currentIndexChanged.connect(self.refresh)
        self.own.toggled.connect(self.refresh)
        for field in self.fields.values():
            field.valueChanged.connect(self.refresh)
        self.pages.clicked.connect(self._ask_pages)
        self.set_joints(joints, chosen)

    def _build(self) -> None:
        form = QFormLayout()
        form.addRow(self.joint)  # over the whole width: its title is long
        form.addRow(tr("Property class"), self.strength)
        for field in self.fields.values():
            form.addRow(field.accessibleName(), field)
        form.addRow(self.own)
        form.addRow(row(self.pages, None, closing(self)))
        left = QWidget()
        left.setLayout(form)
        left.setFixedWidth(_FIELDS_PX)
        row(left, (scrolled(self.answer, self.sheet, self.text), 1), on=self)

    def set_joints(self, joints: Mapping[str, JointDefinition], chosen: str = "") -> None:
        """Other or edited joints."""
        self.joints = dict(joints)
        entries = [(f"{name} – {one.title}" if one.title else name, name) for name, one in joints.items()]
        fill(self.joint, entries, chosen or self.joint.currentData())
        self.begin()

    def set_results(self, results: pa.Table | None) -> None:
        """Results of the traces that are open, whose scatter can be taken."""
        self.results = results
        self.own.setEnabled(results is not None)
        self.refresh()

    def begin(self) -> None:
        """The fields as the joint states them."""
        definition = self.joints.get(str(self.joint.currentData()))
        if definition is None:
            self.answer.setText(tr("No joints file is open."))
            return
        mu, settings = _stated_friction(definition), StrategySettings()
        values = {
            "target": definition.target_torque_nm,
            "snug": SNUG_SHARE * definition.target_torque_nm,
            "friction low": _NO_FRICTION[0] if mu is None else mu[0],
            "friction high": _NO_FRICTION[1] if mu is None else mu[1],
            "torque": settings.torque_scatter_percent,
            "snug scatter": settings.snug_torque_scatter_percent,
            "angle": settings.angle_scatter_deg,
            "stiffness": settings.stiffness_scatter_percent,
            "correlation": settings.friction_correlation,
        }
        for key, value in values.items():
            self._put(key, value)
        for key in ("friction low", "friction high"):
            self.fields[key].setEnabled(mu is not None)
        fill(
            self.strength, [(name, name) for name in PROPERTY_CLASSES], definition.property_class, default=-1
        )
        self.strength.setEnabled(definition.property_class is not None)
        self.refresh()

    def _put(self, key: str, value: float) -> None:
        """Show a value, internal unit."""
        field = self.fields[key]
        with QSignalBlocker(field):
            field.setValue(self.units.shown(value, _FIELDS[key][1]))
        self._stands[key] = field.value(), value

    def _value(self, key: str) -> float:
        """What stands in a field, internal unit."""
        typed, (shown, value) = self.fields[key].value(), self._stands[key]
        return value if typed == shown else self.units.internal(typed, _FIELDS[key][1])

    def set_units(self, units: DisplayUnits) -> None:
        """Another torque unit; what stands in the fields stays the same."""
        values = {key: self._value(key) for key in self._stands}
        self.units = units
        for key, value in values.items():
            with QSignalBlocker(self.fields[key]):
                self.fields[key].setSuffix(_suffix(_FIELDS[key][1], units))
            self._put(key, value)
        self.refresh()

    def asked(self) -> tuple[JointDefinition, StrategySettings]:
        """Joint and settings as they stand in the fields; what was not touched stays as the joint has it."""
        definition = self.joints[str(self.joint.currentData())]
        value = {key: self._value(key) for key in self.fields}
        low, high = sorted((value["friction low"], value["friction high"]))
        changed: dict[str, Any] = {"target_torque_nm": value["target"]}
        if _stated_friction(definition) not in (None, (low, high)):
            changed |= _with_friction(definition, (low, high))
        if definition.property_class is not None:
            changed["property_class"] = self.strength.currentData()
        settings = StrategySettings(
            value["snug"], value["torque"], value["snug scatter"], value["angle"], value["stiffness"],
            value["correlation"],
        )  # fmt: skip
        return replace(definition, **changed), settings

    def refresh(self) -> None:
        """Work it out, and show it."""
        from analysis.report.strategy_pages import CAUTION, force_axis_plot
        from analysis.strategy.words import cautions, choice

        if str(self.joint.currentData()) not in self.joints:
            return
        definition, _ = self.asked()
        try:
            self.advice, source = self._advise()
        except TautographError as error:
            self.advice = None
            self.answer.setText(html.escape(str(error)))
            self.text.clear()
            self.sheet.set_rows([])
            return
        self.answer.setText(f"<b>{html.escape(choice(self.advice, definition))}</b>")
        self.sheet.set_rows([[force_axis_plot(self.advice, "strategy")]])
        lines = [as_text(words, self.units) for words in cautions(self.advice, definition)]
        lines = [*strategy_lines(self.advice, definition, self.units), *lines]
        self.text.setText(
            "".join(f"<p>{html.escape(line)}</p>" for line in [*lines, source, tr(CAUTION)] if line)
        )

    def _advise(self) -> tuple[Advice, str]:
        from analysis.strategy.advice import advise
        from analysis.strategy.draws import TRIAL_POWER
        from analysis.strategy.joint_scatter import joint_scatter
        from analysis.strategy.own_traces import scatter_of_traces

        scatter, source = joint_scatter(*self.asked()), ""
        if self.own.isChecked() and self.results is not None:
            scatter, source = scatter_of_traces(scatter, self.results)
        return advise(scatter, TRIAL_POWER), source

    def _ask_pages(self) -> None:
        if self.advice is not None:
            self.pages_wanted.emit(*self.asked())


def strategy_lines(advice: Advice, definition: JointDefinition, units: DisplayUnits = INTERNAL) -> list[str]:
    """One sentence a strategy: force, scatter, what to set, what carries it, what speaks against it."""
    from analysis.strategy.words import FEW_DIGITS, SMALL_KN, failing, what_carries

    lines = []
    for one in advice.strategies:
        if one.mean_kn is None or one.s_percent is None or one.p0135_kn is None or one.p99865_kn is None:
            lines.append(f"{one.name}: {one.reason}")
            continue
        digits = FEW_DIGITS if one.mean_kn < SMALL_KN else 1
        text = (
            f"{one.name} ({as_text(one.settings_words, units)}): {one.mean_kn:.{digits}f} kN, "
            f"s {one.s_percent:.1f} %, {one.p0135_kn:.{digits}f} to {one.p99865_kn:.{digits}f} kN; "
            f"{what_carries(one, advice.joint)}"
        )
        against = failing(one, advice.joint, definition)
        lines.append(f"{text}. {tr('Against it')}: {against}." if against else f"{text}.")
    return lines


def _field(key: str, units: DisplayUnits) -> QDoubleSpinBox:
    words, unit, low, high, decimals, step = _FIELDS[key]
    field = QDoubleSpinBox()
    field.setRange(low, high)
    field.setDecimals(decimals)
    field.setSingleStep(step)
    field.setSuffix(_suffix(unit, units))
    field.setAccessibleName(tr(words))
    field.setToolTip(tr(_TIPS.get(key, "")))
    return field


def _suffix(unit: str, units: DisplayUnits) -> str:
    return f" {units.symbol(unit)}" if unit else ""


def _stated_friction(definition: JointDefinition) -> tuple[float, float] | None:
    """Of the thread, from a joint's data or, in plastic, from the screw's; None where none is stated."""
    plastic = definition.parts.get("plastic")
    if isinstance(plastic, dict):
        return plastic.get("friction_thread")
    mu = friction_range(definition)
    return None if mu is None else (mu.thread_low, mu.thread_high)


def _with_friction(definition: JointDefinition, pair: tuple[float, float]) -> dict[str, Any]:
    """What changes in a definition whose thread and head have this range."""
    plastic = definition.parts.get("plastic")
    if isinstance(plastic, dict):
        table = plastic | {"friction_thread": pair, "friction_head": pair}
        return {"parts": {**definition.parts, "plastic": table}}
    return {"friction": pair, "friction_thread": None, "friction_bearing": None}
