"""Preferences: the name on decisions, the time zone, and the rules by which points are found."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from zoneinfo import available_timezones

from PySide6.QtWidgets import (
    QComboBox,
    QDialog,
    QDialogButtonBox,
    QDoubleSpinBox,
    QFormLayout,
    QLineEdit,
    QWidget,
)

from analysis.catalogue.point_rules import HARDNESS_BASES, SNUG_RULES, YIELD_RULES, PointRule
from analysis.catalogue.units import LOCAL, DisplayUnits
from analysis.settings import CurveSettings, Settings
from app.display.messages import tr
from app.views.parts.choices import fill, named_choices
from app.views.parts.layouts import column
from app.views.parts.plain_label import PlainLabel


class PreferencesWindow(QDialog):
    """Changed values are read from `user_name`, `zone` and `settings` after it was accepted."""

    def __init__(
        self, user_name: str, settings: Settings, units: DisplayUnits, parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self.setWindowTitle(tr("Preferences"))
        self._settings = settings
        self._units = units
        curve = settings.curve
        self.name = QLineEdit(user_name)
        self.time_zone = _zones(units.zone)
        self.snug_rule = _choice(SNUG_RULES, curve.snug_rule)
        self.snug_ratio = _figure(curve.snug_slope_ratio, 0.10, 0.99, 2, "")
        threshold = units.shown(curve.snug_threshold_nm or 0.0, "N·m")
        self.snug_threshold = _figure(threshold, 0.0, 1e6, 3, units.symbol("N·m"))
        self.yield_rule = _choice(YIELD_RULES, curve.yield_rule)
        self.yield_offset = _figure(curve.yield_offset_deg or 0.0, 0.0, 720.0, 2, "deg")
        self.yield_offset.setSpecialValueText(tr("from clamp length and pitch of each joint"))
        self.hard = _figure(curve.hard_limit_deg, 1.0, 360.0, 0, "deg")
        self.soft = _figure(curve.soft_limit_deg, 30.0, 3600.0, 0, "deg")
        self.hardness_basis = _choice(HARDNESS_BASES, curve.hardness_basis)
        self._build()
        self.snug_rule.currentIndexChanged.connect(self._enable)
        self.yield_rule.currentIndexChanged.connect(self._enable)
        self._enable()

    def _build(self) -> None:
        form = QFormLayout()
        for words, widget in (
            (tr("Your name on decisions"), self.name),
            (tr("Times shown in"), self.time_zone),
            (tr("Snug point by"), self.snug_rule),
            (tr("Share of the elastic slope"), self.snug_ratio),
            (tr("Threshold torque"), self.snug_threshold),
            (tr("Yield onset by"), self.yield_rule),
            (tr("Angle offset"), self.yield_offset),
            (tr("Hardness by"), self.hardness_basis),
            (tr("Hard up to"), self.hard),
            (tr("Soft from"), self.soft),
        ):
            form.addRow(words, widget)
        note = PlainLabel(tr("Rules apply to all open traces; every figure names the rule it was found by."))
        note.setObjectName("quiet")
        note.setWordWrap(True)
        self.buttons = QDialogButtonBox(
            QDialogButtonBox.StandardButton.Ok | QDialogButtonBox.StandardButton.Cancel
        )
        self.buttons.accepted.connect(self.accept)
        self.buttons.rejected.connect(self.reject)
        column(form, note, self.buttons, on=self)

    def _enable(self) -> None:
        self.snug_ratio.setEnabled(self.snug_rule.currentData() == "slope-ratio")
        self.snug_threshold.setEnabled(self.snug_rule.currentData() == "threshold-torque")
        self.yield_offset.setEnabled(self.yield_rule.currentData() == "offset")

    @property
    def user_name(self) -> str:
        """The name as it was written."""
        return self.name.text().strip()

    @property
    def zone(self) -> str:
        """The time zone as it was chosen, as in `DisplayUnits.zone`."""
        return str(self.time_zone.currentData())

    @property
    def settings(self) -> Settings:
        """The settings as they were chosen."""
        threshold = self._units.internal(self.snug_threshold.value(), "N·m")
        by_threshold = self.snug_rule.currentData() == "threshold-torque"
        offset = self.yield_offset.value()
        curve: CurveSettings = replace(
            self._settings.curve,
            snug_rule=self.snug_rule.currentData(),
            snug_slope_ratio=round(self.snug_ratio.value(), 2),
            snug_threshold_nm=threshold if by_threshold and threshold > 0 else None,
            yield_rule=self.yield_rule.currentData(),
            yield_offset_deg=offset if self.yield_rule.currentData() == "offset" and offset > 0 else None,
            hard_limit_deg=self.hard.value(),
            soft_limit_deg=self.soft.value(),
            hardness_basis=self.hardness_basis.currentData(),
        )
        return replace(self._settings, curve=curve)


def _zones(now: str) -> QComboBox:
    """The computer's own zone, UTC, and all that this computer knows by name."""
    named = sorted(available_timezones() - {"UTC", "localtime", "Factory"})
    own = datetime.now().astimezone().tzname() or ""
    entries = [(tr("local time of this computer ({0})", own), LOCAL), ("UTC", "UTC")]
    box = named_choices(tr("Times shown in"))
    fill(box, [*entries, *((name, name) for name in named)], now, default=1)
    return box


def _choice(rules: dict[str, PointRule], now: str) -> QComboBox:
    box = QComboBox()
    for rule in rules.values():
        box.addItem(tr(rule.words), rule.name)
    box.setCurrentIndex(box.findData(now))
    return box


def _figure(value: float, low: float, high: float, decimals: int, unit: str) -> QDoubleSpinBox:
    box = QDoubleSpinBox()
    box.setRange(low, high)
    box.setDecimals(decimals)
    box.setSingleStep(10.0**-decimals if decimals else 1.0)
    box.setSuffix(f" {unit}" if unit else "")
    box.setValue(value)
    return box
