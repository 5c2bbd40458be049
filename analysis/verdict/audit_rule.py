"""The rule of audits: the residual torque against the audit's own limits, and nothing else."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from analysis.audit.settings import audit_settings
from analysis.audit.table import AuditTable
from analysis.catalogue.reasons import (
    AUDIT_LIMITS_NOT_GIVEN,
    NO_JOINT_NAMED,
    NO_READING,
    NOT_MOVED,
    UNKNOWN_JOINT,
)
from analysis.catalogue.rules import RULE_INDEX
from analysis.verdict.joint_rows import NO_JOINT, JointRows
from analysis.verdict.rules import BROKEN_HIGH, BROKEN_LOW, MET, NO_LIMIT, NOT_EVALUATED, RuleTable

RESIDUAL = RULE_INDEX["residual"]


def judge_audits(table: RuleTable, audits: AuditTable, rows: JointRows) -> RuleTable:
    """The table with audits judged by the audit's limits, and by no limit of the tightening.

    Where nothing moved the residual torque is above the highest torque that was read: above the upper limit
    it breaks that, below nothing is known.
    """
    at = audits.rows
    if not len(at):
        return table
    given = np.full((len(rows.definitions) + 1, 2), np.nan)
    lacking = np.full(len(given), NO_JOINT_NAMED, np.int16)
    for k, definition in enumerate(rows.definitions):
        limits = audit_settings(definition).limits_nm
        given[k] = (np.nan, np.nan) if limits is None else limits
        lacking[k] = UNKNOWN_JOINT if definition is None else AUDIT_LIMITS_NOT_GIVEN if limits is None else 0
    code = np.where(rows.codes[at] == NO_JOINT, len(rows.definitions), rows.codes[at])
    low, high = given[code].T
    measured = audits.residual_torque_nm[at]
    above = np.isnan(measured) & (audits.reason[at] == NOT_MOVED) & (audits.peak_torque_nm[at] > high)
    measured = np.where(above, audits.peak_torque_nm[at], measured)
    status = np.full(len(at), MET, np.int8)
    status[measured < low] = BROKEN_LOW
    status[measured > high] = BROKEN_HIGH
    status[np.isnan(measured) | (lacking[code] > 0)] = NOT_EVALUATED
    margin = np.where(status == NOT_EVALUATED, np.nan, np.fmin(measured - low, high - measured))
    absent = np.where(audits.reason[at] > 0, audits.reason[at], NO_READING)
    changed = {name: getattr(table, name).copy() for name in RuleTable.__dataclass_fields__}
    changed["status"][at] = NO_LIMIT
    changed["reason"][at] = 0
    for name in ("low", "high", "margin", "relative_margin"):
        changed[name][at] = np.nan
    for name, values in {
        "status": status,
        "measured": measured,
        "low": low,
        "high": high,
        "margin": margin,
        "relative_margin": margin / (0.5 * (high - low)),
        "place_deg": audits.movement_angle_deg[at],
        "reason": np.where(status != NOT_EVALUATED, 0, np.where(lacking[code] > 0, lacking[code], absent)),
    }.items():
        changed[name][at, RESIDUAL] = values
    return replace(table, **changed)
