"""Why an estimate is absent or a rule not evaluated: codes that fit into arrays, and sentences."""

from __future__ import annotations

PRESENT = 0
TOO_FEW_SAMPLES = 1
NO_FORWARD_ROTATION = 2
NO_RISE = 3
STARTS_AFTER_SNUG = 4
STARTS_IN_RISE = 5
NO_STRAIGHT_STRETCH = 8
NOT_YIELDED = 9
SETTING_MISSING = 10
LOOSENING = 11
NOT_FINITE = 12
OFFSET_UNKNOWN = 13
FEW_PULSES = 14
SPARSE_PULSES = 15
PULSED_YIELD = 16
PULSED_TORQUE = 17
OPPOSITE_SIGN = 18
AUDITED = 19
NO_PULSES = 20
NO_TIME = 21
#: Reasons of the rules themselves, beside those of the curve.
NO_JOINT_NAMED = 100
UNKNOWN_JOINT = 101
LIMITS_NOT_GIVEN = 102
NO_FINAL_TORQUE = 103
NO_CLAMP_FORCE = 104
CLAMP_BETWEEN = 105
BROKE_AWAY = 106
TURNED_ON_AGAIN = 114
RECORDING_CUT = 107
AUDIT_LIMITS_NOT_GIVEN = 108
#: Why an audit gives no residual torque.
NOT_MOVED = 109
STOPPED_EARLY = 110
TURNED_FAST = 111
PULLED_TWICE = 112
NO_READING = 113

REASONS: dict[int, str] = {
    PRESENT: "",
    TOO_FEW_SAMPLES: "the recording has too few samples",
    NO_FORWARD_ROTATION: "the recording shows no forward rotation",
    NO_RISE: "the torque does not rise above the prevailing level",
    STARTS_AFTER_SNUG: "the recording starts after snug",
    STARTS_IN_RISE: "the recording starts in the rise, there is no rundown",
    NO_STRAIGHT_STRETCH: "no straight stretch is sustained",
    NOT_YIELDED: "the slope does not fall to the yield level before the final point",
    SETTING_MISSING: "the chosen rule needs a setting that is not given",
    LOOSENING: "the recording shows loosening, not tightening",
    NOT_FINITE: "the recording holds values that are not numbers",
    OFFSET_UNKNOWN: "the joint's thread and clamp length, which give the offset, are not both known",
    FEW_PULSES: "the torque comes in pulses, and too few of them lie in the rise to find this point",
    SPARSE_PULSES: "the torque comes in pulses that are sampled too sparsely to know their height",
    PULSED_YIELD: "the torque comes in pulses: their envelope does not tell whether the bolt yields",
    PULSED_TORQUE: "the torque comes in pulses: their height is what the tool gave, not what the joint keeps",
    OPPOSITE_SIGN: "the torque is below zero and highest at the end: a tightening recorded with the "
    "opposite sign",
    AUDITED: "the recording is an audit with a hand wrench of a joint that was tightened before",
    NO_PULSES: "the torque does not come in pulses",
    NO_TIME: "the recording has no time",
    NO_JOINT_NAMED: "the recording names no joint",
    UNKNOWN_JOINT: "the joint is not in the joints file",
    LIMITS_NOT_GIVEN: "no torque limits are given for this joint",
    NO_FINAL_TORQUE: "the recording has no final torque",
    NO_CLAMP_FORCE: "no clamp force is estimated",
    CLAMP_BETWEEN: "the wanted clamp force lies between the bounds of the estimate: torque and angle cannot "
    "tell",
    BROKE_AWAY: "the joint was already tight: its breakaway is not yield",
    TURNED_ON_AGAIN: "the fastener was tightened before and turned on again while it was tight: the angle "
    "limits are those of a first tightening",
    RECORDING_CUT: "the recording ends in the rise",
    AUDIT_LIMITS_NOT_GIVEN: "no limits of the residual torque are given for this joint",
    NOT_MOVED: "the fastener did not move: its residual torque is above the highest torque of the audit",
    STOPPED_EARLY: "the wrench stopped before the fastener moved on",
    TURNED_FAST: "the wrench was turned faster than an audit may be",
    PULLED_TWICE: "the wrench was pulled more than once: the movement was not steady",
    NO_READING: "the chosen definition of the residual torque cannot be read from this audit",
}
