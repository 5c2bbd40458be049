"""The joint form's sections: which keys stand together, and the pickers beside them."""

from __future__ import annotations

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QComboBox

from analysis.joint.friction import LUBRICANT_FRICTION, LUBRICANT_SOURCE, lubricant_range
from analysis.joint.property_class import PROPERTY_CLASSES, shorten_marking
from app.display.messages import tr

#: Heading and keys of each section, in the order in which an engineer knows them.
SECTIONS: tuple[tuple[str, tuple[str, ...]], ...] = (
    (
        "Tightening",
        (
            "title",
            "target_torque_nm",
            "torque_limits_nm",
            "angle_limits_deg",
            "prevailing_limits_nm",
            "pulse_limits",
            "time_limits_s",
            "stop",
            "may_yield",
            "tightening_method",
        ),
    ),
    (
        "Bolt",
        (
            "thread",
            "property_class",
            "yield_strength_mpa",
            "head",
            "bearing_diameter_mm",
            "hole",
            "hole_diameter_mm",
            "nut_class",
        ),
    ),
    ("Friction", ("friction", "friction_thread", "friction_bearing", "torque_coefficient")),
    (
        "Stiffness",
        (
            "clamp_length_mm",
            "shank_length_mm",
            "washer_thickness_mm",
            "counterpart",
            "parts_diameter_mm",
            "parts_modulus_gpa",
            "bolt_modulus_gpa",
            "stiffness_n_per_deg",
            "stiffness_scatter_percent",
        ),
    ),
    (
        "After tightening",
        ("surface", "inner_interfaces", "load_direction", "wanted_clamp_force_kn"),
    ),
    ("Strength of the parts", ("pressure_limit_mpa", "engaged_length_mm", "counterpart_shear_mpa")),
)


def class_words(property_class: str | None, diameter_mm: float) -> str:
    """What the marking of a bolt's class stands for; empty where none is chosen."""
    if property_class not in PROPERTY_CLASSES:
        return ""
    return shorten_marking(str(property_class), diameter_mm)


class LubricantPicker(QComboBox):
    """Offers a friction range for a lubricant; a default that the user confirms, never taken by itself."""

    range_chosen = Signal(float, float)  #: (low, high)

    def __init__(self) -> None:
        super().__init__()
        self.setAccessibleName(tr("Friction by lubricant"))
        self.setToolTip(
            tr("{0}, plus and minus 20 %: a default to be confirmed for your parts", LUBRICANT_SOURCE)
        )
        self.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
        self.addItem(tr("fill in by lubricant …"), None)
        for name in LUBRICANT_FRICTION:
            low, high = lubricant_range(name)
            self.addItem(f"{tr(name)}: {low:g} … {high:g}", (low, high))
        self.activated.connect(self._choose)

    def _choose(self, index: int) -> None:
        chosen = self.itemData(index)
        self.setCurrentIndex(0)
        if chosen is not None:
            self.range_chosen.emit(*chosen)
