"""The invented plant that builds electric pallet trucks: five joints, their physics and their joints file."""

from __future__ import annotations

from dataclasses import dataclass

from tests.world.fastener import Fastener
from tests.world.model import Drawdown, Instrument, Joint, Pause, Prevailing, Tool, TraceModel
from tests.world.shift import ShiftJoint

#: Outer diameters of bearing faces: hex ISO 4014, flange ISO 4162 (recalled); holes ISO 273 medium.
_FLANGE_M10 = Fastener(10.0, 1.5, 18.7, 11.0)
_HEX_M12 = Fastener(12.0, 1.75, 16.63, 13.5)
_HEX_M10 = Fastener(10.0, 1.5, 14.63, 11.0)
_HEX_M8 = Fastener(8.0, 1.25, 11.63, 9.0)
_FLANGE_M6 = Fastener(6.0, 1.0, 11.6, 6.6)


@dataclass(frozen=True)
class Station:
    """Where a joint is made."""

    joint: ShiftJoint
    tool: str
    program: str
    spindles: tuple[str, ...]  #: Taken in turn, position by position.
    lots: tuple[str, ...]  #: Lots of the part named in `lot_of`, used up one after the other over the shift.
    lot_of: str  #: What the lot is of; for the README.
    fastener: Fastener | None  #: None for a screw in plastic, whose friction coefficient is not known.
    positions: int = 8  #: Joints of this kind on a truck.
    #: Torque per clamp force of the parts that came, over that of the right ones: all of one lot.
    lever: float = 1.0


def _drive_unit() -> ShiftJoint:
    joint = Joint(
        rundown_deg=1750.0,
        clamp_kn_per_deg=_FLANGE_M10.clamp_kn_per_deg(35.0, 50.0, 205.0),
        lead_nm_per_kn=_FLANGE_M10.lead_nm_per_kn,
        friction_nm_per_kn=_FLANGE_M10.friction_nm_per_kn(0.13, 0.13),
        drawdown=Drawdown("rough-contact", 9.0, 2.4),
    )
    tool = Tool(
        target_torque_nm=65.0,
        stop_torque_nm=65.6,
        speeds_deg_per_s=(3000.0, 270.0),
        switch_deg=(1420.0,),
        dip_nm=1.2,
        droop=0.2,
        release_back_deg=2.2,
    )
    prevailing = Prevailing(level_nm=0.9, transient_nm=3.0, transient_decay_deg=18.0, ripple_nm=0.1)
    instrument = Instrument(noise_nm=0.16, ripple_nm=0.12, angle_step_deg=0.25, torque_step_nm=0.02)
    instrument = _with_losses(instrument)
    return ShiftJoint("drive-unit", TraceModel(joint, prevailing, tool, instrument), _DRIVE_UNIT_TOML)


def _wheel_hub() -> ShiftJoint:
    joint = Joint(
        rundown_deg=2300.0,
        clamp_kn_per_deg=_HEX_M12.clamp_kn_per_deg(28.0, 60.0, 205.0),
        lead_nm_per_kn=_HEX_M12.lead_nm_per_kn,
        friction_nm_per_kn=_HEX_M12.friction_nm_per_kn(0.14, 0.14),
        drawdown=Drawdown("power-law", 26.0, 1.4),
    )
    pause = Pause(45.0, duration_s=0.12, hold_share=0.35, back_deg=1.0, breakaway_share=0.07)
    tool = Tool(
        target_torque_nm=110.0,
        stop_torque_nm=111.0,
        speeds_deg_per_s=(2400.0, 240.0),
        switch_deg=(2000.0,),
        dip_nm=2.5,
        droop=0.25,
        pause=pause,
        release_back_deg=2.8,
    )
    prevailing = Prevailing(level_nm=1.4, transient_nm=5.0, transient_decay_deg=20.0, ripple_nm=0.15)
    instrument = Instrument(noise_nm=0.3, ripple_nm=0.3, angle_step_deg=0.25, torque_step_nm=0.05)
    instrument = _with_losses(instrument)
    return ShiftJoint("wheel-hub", TraceModel(joint, prevailing, tool, instrument), _WHEEL_HUB_TOML)


def _mast_nut() -> ShiftJoint:
    joint = Joint(
        rundown_deg=1650.0,
        clamp_kn_per_deg=_HEX_M8.clamp_kn_per_deg(36.0, 40.0, 205.0),
        lead_nm_per_kn=_HEX_M8.lead_nm_per_kn,
        friction_nm_per_kn=_HEX_M8.friction_nm_per_kn(0.12, 0.12),
        drawdown=Drawdown("raised-cosine", 55.0),
    )
    tool = Tool(
        target_torque_nm=23.0,
        stop_torque_nm=23.2,
        speeds_deg_per_s=(1500.0, 240.0),
        switch_deg=(1450.0,),
        dip_nm=0.5,
        droop=0.15,
        release_back_deg=1.8,
    )
    prevailing = Prevailing(
        level_nm=2.6,
        climb_nm_per_turn=0.12,
        wander_nm=0.09,
        enters_deg=420.0,
        transient_nm=0.8,
        transient_decay_deg=16.0,
    )
    instrument = Instrument(interval_s=None, interval_deg=0.5, noise_nm=0.07, torque_step_nm=0.01)
    return ShiftJoint("mast-nut", TraceModel(joint, prevailing, tool, instrument), _MAST_NUT_TOML)


def _gearbox_cover() -> ShiftJoint:
    joint = Joint(
        rundown_deg=1250.0,
        # Measured on such covers in this story: 52 N per degree, most of the give is the gasket's.
        clamp_kn_per_deg=0.052,
        lead_nm_per_kn=_FLANGE_M6.lead_nm_per_kn,
        friction_nm_per_kn=_FLANGE_M6.friction_nm_per_kn(0.13, 0.13),
        drawdown=Drawdown("two-knee-gasket", 150.0, 0.28),
    )
    tool = Tool(
        target_torque_nm=9.0,
        stop_torque_nm=9.08,
        speeds_deg_per_s=(2100.0, 390.0),
        switch_deg=(1050.0,),
        dip_nm=0.25,
        droop=0.2,
        release_back_deg=3.2,
    )
    prevailing = Prevailing(level_nm=0.18, transient_nm=0.5, transient_decay_deg=18.0, ripple_nm=0.02)
    instrument = Instrument(noise_nm=0.03, ripple_nm=0.02, angle_step_deg=0.5, torque_step_nm=0.005)
    instrument = _with_losses(instrument)
    return ShiftJoint("gearbox-cover", TraceModel(joint, prevailing, tool, instrument), _GEARBOX_COVER_TOML)


def _battery_clip() -> ShiftJoint:
    joint = Joint(
        rundown_deg=1150.0,
        # A thread in plastic: 1.5 kN of clamp force at the target, over some 50 degrees.
        clamp_kn_per_deg=0.026,
        lead_nm_per_kn=0.28,
        friction_nm_per_kn=0.82,
        drawdown=Drawdown("softplus", 45.0),
    )
    tool = Tool(
        target_torque_nm=2.2,
        stop_torque_nm=2.225,
        speeds_deg_per_s=(900.0, 3600.0, 1200.0, 300.0),
        switch_deg=(90.0, 1000.0, 1120.0),
        dip_nm=0.16,
        dip_recover_deg=8.0,
        droop=0.1,
        pause=Pause(1.75, 0.03, 0.85, 0.2, breakaway_share=0.02, ease_share=0.02),
        release_back_deg=3.6,
        release_s=0.025,
    )
    prevailing = Prevailing(
        level_nm=0.62, climb_nm_per_turn=0.15, wander_nm=0.02, transient_nm=0.18, transient_decay_deg=14.0
    )
    instrument = Instrument(noise_nm=0.007, ripple_nm=0.02, angle_step_deg=0.25, torque_step_nm=0.001)
    instrument = _with_losses(instrument)
    return ShiftJoint("battery-clip", TraceModel(joint, prevailing, tool, instrument), _BATTERY_CLIP_TOML)


def _fork_carriage() -> ShiftJoint:
    joint = Joint(
        rundown_deg=1500.0,
        clamp_kn_per_deg=_HEX_M10.clamp_kn_per_deg(40.0, 45.0, 205.0),
        lead_nm_per_kn=_HEX_M10.lead_nm_per_kn,
        friction_nm_per_kn=_HEX_M10.friction_nm_per_kn(0.14, 0.14),
        drawdown=Drawdown("power-law", 14.0, 1.6),
    )
    tool = Tool(
        target_torque_nm=44.0,
        stop_torque_nm=44.4,
        speeds_deg_per_s=(2400.0, 300.0),
        switch_deg=(1250.0,),
        dip_nm=0.8,
        droop=0.2,
        release_back_deg=2.0,
    )
    prevailing = Prevailing(level_nm=0.6, transient_nm=2.0, transient_decay_deg=18.0, ripple_nm=0.06)
    instrument = Instrument(noise_nm=0.12, ripple_nm=0.08, angle_step_deg=0.25, torque_step_nm=0.02)
    return ShiftJoint(
        "fork-carriage", TraceModel(joint, prevailing, tool, _with_losses(instrument)), _FORK_CARRIAGE_TOML
    )


def _with_losses(instrument: Instrument) -> Instrument:
    """As recorders do: a sample in a hundred is lost, one in a thousand written twice."""
    return Instrument(**{**vars(instrument), "dropped_share": 0.01, "duplicate_share": 0.001})


_DRIVE_UNIT_TOML = """[joints.drive-unit]
title = "Drive unit to chassis, flange bolt"
thread = "M10x1.5"
property_class = "10.9"
head = "flange"
hole = "medium"
friction = [0.10, 0.16]
clamp_length_mm = 35.0
counterpart = "nut"
parts_diameter_mm = 50.0
parts_modulus_gpa = 205.0
surface = "10 to 40"
inner_interfaces = 1
load_direction = "shear"
wanted_clamp_force_kn = 22.0
stop = "torque"
target_torque_nm = 65.0
torque_limits_nm = [61.0, 69.0]
angle_limits_deg = [27.0, 58.0]
prevailing_limits_nm = [-0.5, 4.0]
may_yield = false
"""
_WHEEL_HUB_TOML = """[joints.wheel-hub]
title = "Wheel hub nut, two stages"
thread = "M12"
property_class = "10.9"
head = "hex"
hole = "medium"
friction = [0.11, 0.17]
clamp_length_mm = 28.0
counterpart = "nut"
parts_diameter_mm = 60.0
parts_modulus_gpa = 205.0
surface = "10 to 40"
inner_interfaces = 1
load_direction = "axial"
wanted_clamp_force_kn = 32.0
stop = "torque"
target_torque_nm = 110.0
torque_limits_nm = [103.0, 117.0]
angle_limits_deg = [17.0, 42.0]
prevailing_limits_nm = [-1.0, 6.0]
may_yield = false
"""
_MAST_NUT_TOML = """[joints.mast-nut]
title = "Mast roller, self-locking nut"
thread = "M8"
property_class = "8.8"
head = "hex"
hole = "medium"
friction = [0.09, 0.15]
clamp_length_mm = 36.0
counterpart = "nut"
parts_diameter_mm = 40.0
parts_modulus_gpa = 205.0
surface = "10 to 40"
inner_interfaces = 2
load_direction = "shear"
nut_class = "8"
wanted_clamp_force_kn = 9.0
stop = "torque"
target_torque_nm = 23.0
torque_limits_nm = [21.5, 24.5]
angle_limits_deg = [14.0, 42.0]
prevailing_limits_nm = [0.9, 6.0]
may_yield = false
"""
_GEARBOX_COVER_TOML = """[joints.gearbox-cover]
title = "Gearbox cover on gasket, flange bolt"
thread = "M6"
property_class = "8.8"
head = "flange"
hole = "medium"
friction = [0.10, 0.16]
clamp_length_mm = 16.0
stiffness_n_per_deg = 52.0
stiffness_scatter_percent = 15.0
load_direction = "axial"
wanted_clamp_force_kn = 4.5
stop = "torque"
target_torque_nm = 9.0
torque_limits_nm = [8.4, 9.7]
angle_limits_deg = [70.0, 165.0]
prevailing_limits_nm = [-0.1, 1.0]
may_yield = false
"""
_BATTERY_CLIP_TOML = """[joints.battery-clip]
# A thread-forming screw in plastic: a model of its own; plastic creeps, so no clamp force is estimated.
title = "Sheet-metal clip on battery box, screw in plastic"
stop = "torque"
target_torque_nm = 2.2
torque_limits_nm = [2.0, 2.4]
angle_limits_deg = [30.0, 70.0]
prevailing_limits_nm = [0.3, 1.0]
may_yield = false

[joints.battery-clip.plastic]
screw_diameter_mm = 4.0
pitch_mm = 1.79
core_hole_mm = 3.2
engaged_mm = 10.0
head_mm = 8.0
clearance_mm = 4.5
flank_angle_deg = 30.0
yield_strength_mpa = 50.0
friction_thread = [0.2, 0.3]
friction_head = [0.2, 0.3]
"""
_FORK_CARRIAGE_TOML = """[joints.fork-carriage]
title = "Fork carriage to mast, hex bolt"
thread = "M10x1.5"
property_class = "10.9"
head = "hex"
hole = "medium"
friction = [0.11, 0.17]
clamp_length_mm = 40.0
stiffness_n_per_deg = 765.0
stiffness_scatter_percent = 10.0
load_direction = "shear"
wanted_clamp_force_kn = 16.0
stop = "torque"
target_torque_nm = 44.0
torque_limits_nm = [41.5, 46.5]
angle_limits_deg = [15.0, 60.0]
prevailing_limits_nm = [-0.5, 3.0]
may_yield = false
"""

STATIONS = (
    Station(
        _drive_unit(),
        "multi-spindle D",
        "drive-65",
        ("D1", "D2", "D3", "D4"),
        ("FB-07", "FB-08"),
        "flange bolts",
        _FLANGE_M10,
    ),
    Station(
        _wheel_hub(),
        "multi-spindle H",
        "hub-45-110",
        ("H1", "H2", "H3", "H4"),
        ("W-118", "W-119", "W-121", "W-120"),
        "washers",
        _HEX_M12,
    ),
    Station(
        _mast_nut(),
        "nutrunner M",
        "mast-23",
        ("M1", "M2"),
        ("LN-31", "LN-32", "LN-33"),
        "self-locking nuts",
        _HEX_M8,
    ),
    Station(
        _gearbox_cover(), "nutrunner G", "cover-9", ("G1", "G2"), ("GK-4", "GK-5"), "gaskets", _FLANGE_M6
    ),
    Station(
        _battery_clip(),
        "screwdriver C",
        "clip-2.2",
        ("C1",),
        ("BX-12", "BX-13", "BX-14"),
        "battery boxes",
        None,
    ),
    # Every bolt of the shift from one lot that came oiled: torque per clamp force 0.62 of what was meant.
    Station(
        _fork_carriage(), "nutrunner F", "fork-44", ("F1", "F2"), ("FC-9",), "hex bolts", _HEX_M10, 4, 0.62
    ),
)


def plant_joints_toml() -> str:
    """The joints file of the plant."""
    head = "# Joints of an invented plant that builds electric pallet trucks; figures for demonstration.\n\n"
    return head + "\n".join(station.joint.definition for station in STATIONS)
