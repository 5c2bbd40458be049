"""How a plant audits a joint: the table ``[joints.NAME.audit]`` with what it leaves out."""

from __future__ import annotations

from dataclasses import dataclass

from analysis.joint.definition import JointDefinition, Limits
from analysis.operation.hand_wrench import HAND_SPEED

#: Degrees after the movement at which the torque is read, and most degrees that an audit may turn (own
#: choice).
AT_ANGLE_DEG, MOST_TURN_DEG = 2.0, 10.0


@dataclass(frozen=True)
class AuditSettings:
    """One joint's audit."""

    #: One of `analysis.joint.key_tables.AUDIT_DEFINITIONS`: what is called the residual torque.
    definition: str = "ongoing"
    limits_nm: Limits | None = None  #: (low, high): of the residual torque; never those of the tightening.
    #: (from, to): degrees after the movement between which a plain straight line is fitted, where the plant
    #: wants one; None: line, dip and movement are fitted together.
    fit_deg: Limits | None = None
    at_angle_deg: float = AT_ANGLE_DEG
    max_turn_deg: float = MOST_TURN_DEG
    max_speed_deg_per_s: float = HAND_SPEED
    sample: str = ""  #: What the plant has laid down of how many are audited.


def audit_settings(definition: JointDefinition | None) -> AuditSettings:
    """What a joint lays down of its audits.

    Examples
    --------
    >>> audit_settings(JointDefinition("hub", 65.0, parts={"audit": {"definition": "peak"}})).definition
    'peak'
    """
    return AuditSettings(**({} if definition is None else definition.parts.get("audit", {})))
