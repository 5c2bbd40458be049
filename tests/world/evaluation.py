"""Three joints to judge findings and causes on: plain flange bolt, self-locking nut, gasketed cover."""

from __future__ import annotations

from tests.world.fastener import Fastener
from tests.world.model import Drawdown, Instrument, Joint, Prevailing, Tool, TraceModel
from tests.world.shift import ShiftJoint

_FLANGE_M8 = Fastener(8.0, 1.25, 14.9, 9.0)
_HEX_M10 = Fastener(10.0, 1.5, 14.63, 11.0)
_FLANGE_M6 = Fastener(6.0, 1.0, 11.6, 6.6)

#: Thread and bearing of each joint, by its name.
FASTENERS = {"flange": _FLANGE_M8, "locknut": _HEX_M10, "cover": _FLANGE_M6}


def _flange_bolt() -> ShiftJoint:
    joint = Joint(
        rundown_deg=1900.0,
        clamp_kn_per_deg=_FLANGE_M8.clamp_kn_per_deg(45.0, 50.0, 205.0),
        lead_nm_per_kn=_FLANGE_M8.lead_nm_per_kn,
        friction_nm_per_kn=_FLANGE_M8.friction_nm_per_kn(0.12, 0.12),
        drawdown=Drawdown("power-law", 22.0, 1.2),
    )
    tool = Tool(
        target_torque_nm=26.0,
        stop_torque_nm=26.3,
        speeds_deg_per_s=(2700.0, 360.0),
        switch_deg=(1500.0,),
        dip_nm=0.4,
        droop=0.2,
    )
    prevailing = Prevailing(level_nm=0.35, transient_nm=1.2, transient_decay_deg=18.0)
    instrument = Instrument(noise_nm=0.07, angle_step_deg=0.25, torque_step_nm=0.01)
    definition = """[joints.flange]
title = "Flange bolt M8"
thread = "M8"
property_class = "8.8"
head = "flange"
hole = "medium"
friction = [0.10, 0.14]
clamp_length_mm = 45.0
parts_diameter_mm = 50.0
parts_modulus_gpa = 205.0
stop = "torque"
target_torque_nm = 26.0
torque_limits_nm = [24.5, 28.0]
may_yield = false
"""
    return ShiftJoint("flange", TraceModel(joint, prevailing, tool, instrument), definition)


def _locking_nut() -> ShiftJoint:
    joint = Joint(
        rundown_deg=2100.0,
        clamp_kn_per_deg=_HEX_M10.clamp_kn_per_deg(40.0, 50.0, 205.0),
        lead_nm_per_kn=_HEX_M10.lead_nm_per_kn,
        friction_nm_per_kn=_HEX_M10.friction_nm_per_kn(0.13, 0.13),
        drawdown=Drawdown("raised-cosine", 40.0),
    )
    tool = Tool(
        target_torque_nm=48.0,
        stop_torque_nm=48.5,
        speeds_deg_per_s=(2400.0, 300.0),
        switch_deg=(1750.0,),
        dip_nm=1.0,
        droop=0.25,
    )
    prevailing = Prevailing(
        level_nm=5.0,
        climb_nm_per_turn=0.15,
        wander_nm=0.15,
        enters_deg=500.0,
        transient_nm=1.5,
        transient_decay_deg=20.0,
    )
    instrument = Instrument(noise_nm=0.14, angle_step_deg=0.25, torque_step_nm=0.01)
    definition = """[joints.locknut]
title = "Self-locking nut M10"
thread = "M10"
property_class = "8.8"
head = "hex"
hole = "medium"
friction = [0.11, 0.15]
clamp_length_mm = 40.0
parts_diameter_mm = 50.0
parts_modulus_gpa = 205.0
stop = "torque"
target_torque_nm = 48.0
torque_limits_nm = [45.0, 51.0]
prevailing_limits_nm = [1.5, 10.5]
may_yield = false
"""
    return ShiftJoint("locknut", TraceModel(joint, prevailing, tool, instrument), definition)


def _gasketed_cover() -> ShiftJoint:
    joint = Joint(
        rundown_deg=1500.0,
        # A flat gasket gives way some eight times as much as bolt and cover together (common practice, no
        # source).
        clamp_kn_per_deg=0.055,
        lead_nm_per_kn=_FLANGE_M6.lead_nm_per_kn,
        friction_nm_per_kn=_FLANGE_M6.friction_nm_per_kn(0.13, 0.13),
        drawdown=Drawdown("two-knee-gasket", 130.0, 0.25),
    )
    tool = Tool(
        target_torque_nm=9.0,
        stop_torque_nm=9.1,
        speeds_deg_per_s=(2100.0, 420.0),
        switch_deg=(1250.0,),
        dip_nm=0.25,
        droop=0.2,
        release_back_deg=3.0,
    )
    prevailing = Prevailing(level_nm=0.15, transient_nm=0.5, transient_decay_deg=20.0)
    instrument = Instrument(noise_nm=0.03, angle_step_deg=0.5, torque_step_nm=0.005)
    definition = """[joints.cover]
title = "Gasketed cover M6"
thread = "M6"
property_class = "8.8"
head = "flange"
hole = "medium"
friction = [0.11, 0.15]
clamp_length_mm = 16.0
stiffness_n_per_deg = 55.0
stop = "torque"
target_torque_nm = 9.0
torque_limits_nm = [8.4, 9.7]
may_yield = false
"""
    return ShiftJoint("cover", TraceModel(joint, prevailing, tool, instrument), definition)


#: Definitions and nominal models of the evaluation shift.
EVALUATION_JOINTS = (_flange_bolt(), _locking_nut(), _gasketed_cover())


def evaluation_joints_toml() -> str:
    """The joints file of an evaluation shift."""
    return "\n".join(joint.definition for joint in EVALUATION_JOINTS)
