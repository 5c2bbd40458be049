"""Evidence made by hand: a usual tightening of a usual joint, some measures changed."""

from __future__ import annotations

from dataclasses import fields
from typing import Any

import numpy as np

from analysis.joint.definition import JointDefinition
from analysis.verdict.evidence import CauseEvidence
from analysis.verdict.features import (
    FEATURE_INDEX,
    FEATURE_NAMES,
    SCALES,
    to_compared_scale,
    typical_features,
)
from analysis.verdict.joint_rows import JointRows
from analysis.verdict.quantities import Quantities
from analysis.verdict.rise_signs import RiseSigns
from analysis.verdict.rules import evaluate_rules
from tests.analysis.verdict.curve_tables import curve_table

#: What is usual for the joint: 65 N·m after 800 deg, 40 deg of climb, 20 deg of drawdown, 1 N·m prevailing.
USUAL = {
    "final_torque_nm": 65.0,
    "total_angle_deg": 800.0,
    "elastic_slope_nm_per_deg": 1.5,
    "climb_deg": 40.0,
    "drawdown_deg": 20.0,
    "snug_rise_nm": 4.0,
    "rundown_deg": 740.0,
    "prevailing_torque_nm": 1.0,
    "end_slope_share": 1.0,
}
#: Signs of a usual rise: no tooth, nothing after the final point but the release.
USUAL_SIGNS = {
    "first_share": 0.02,
    "climb_deg": 40.0,
    "end_slope_nm_per_deg": 1.5,
    "noise_nm": 0.1,
    "teeth": 0.0,
    "tooth_sum_share": 0.0,
    "tooth_largest_share": 0.0,
    "tooth_pitch_deg": np.nan,
    "tooth_from_deg": np.nan,
    "after_deg": 0.0,
    "after_steps": 9.0,
    "after_fall_share": 0.0,
    "last_share": 0.0,
}
#: The |z| that counts as odd here.
LIMIT = 3.0
JOINT = JointDefinition("hub", 65.0, torque_limits_nm=(1.0, 500.0), may_yield=False)


def evidence(
    *,
    usual: dict[str, float] | None = None,
    signs: dict[str, Any] | None = None,
    columns: dict[str, Any] | None = None,
    spread: dict[str, float] | None = None,
    definition: JointDefinition = JOINT,
    others: int = 20,
    **measures: float,
) -> CauseEvidence:
    """Row 0 with some measures (features by name) and signs changed, beside `others` usual traces.

    A sign that is an array is that of all traces.

    Every feature's spread is the least that is believed unless `spread` says otherwise.
    """
    n, typical = 1 + others, USUAL | (usual or {})
    features = np.tile([typical[name] for name in FEATURE_NAMES], (n, 1))
    for name, value in measures.items():
        features[0, FEATURE_INDEX[name]] = value
    given = {field.name: np.full(n, USUAL_SIGNS[field.name]) for field in fields(RiseSigns)}
    for name, value in (signs or {}).items():
        given[name][slice(None) if np.ndim(value) else 0] = value
    for name in ("final_torque_nm", "elastic_slope_nm_per_deg", "prevailing_torque_nm"):
        columns = {name: features[:, FEATURE_INDEX[name]]} | (columns or {})
    curves = curve_table(n, **columns)
    rows = JointRows(("hub",), np.zeros(n, np.int64), (definition,))
    top = np.full(n, typical["final_torque_nm"])
    compared = to_compared_scale(features, top)
    centre = np.tile(compared[-1], (n, 1))
    wide = SCALES.least_spread.copy()
    for name, value in (spread or {}).items():
        wide[FEATURE_INDEX[name]] = value
    return CauseEvidence(
        curves=curves,
        quantities=Quantities(*(np.full(n, np.nan) for _ in fields(Quantities))),
        signs=RiseSigns(**given),
        rules=evaluate_rules(curves, rows),
        rows=rows,
        features=features,
        compared=compared,
        z=(compared - centre) / wide,
        centre=centre,
        spread=np.tile(wide, (n, 1)),
        typical=typical_features(centre, top),
        limit=np.full(n, LIMIT),
    )
