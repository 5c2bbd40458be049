"""The joint of row S1 of the published stiffness checks, with what embedding needs."""

from __future__ import annotations

from analysis.joint.definition import JointDefinition

S1 = JointDefinition(
    "s1",
    48.0,
    thread="M10x1.5",
    property_class="8.8",
    head="hex",
    hole="medium",
    friction=(0.12, 0.12),
    clamp_length_mm=30.0,
    parts={
        "parts_diameter_mm": 40.0,
        "parts_modulus_gpa": 205.0,
        "counterpart": "nut",
        "surface": "10 to 40",
        "load_direction": "axial",
        "inner_interfaces": 1,
    },
)
