"""What each cause is, for people: what the curve says, what to check next, where the rule comes from."""

from __future__ import annotations

COMMON_PRACTICE = "common practice, no source"
FROM_S3 = (
    "direction by the elastic slope dT/da = F per degree x T/F (MIL-HDBK-60 100.5); "
    "thresholds: common practice"
)

#: What a cause says when it stands as a finding.
SIGN_SENTENCES: dict[str, str] = {
    "low-friction": "The rise is flatter in torque by the same factor all along, and no longer in degrees.",
    "high-friction": (
        "The rise is steeper in torque by the same factor all along, and no shorter in degrees."
    ),
    "friction-or-stiffness": "The slope lies apart from the joint's others; nothing else tells why.",
    "softer-joint": "Drawdown and elastic stretch are longer together.",
    "stiffer-joint": "Drawdown and elastic stretch are shorter together.",
    "seated-early": "The parts meet earlier than in the joint's others.",
    "seated-late": "The parts meet later than in the joint's others.",
    "prevailing-missing": "There is no prevailing torque where the joint's others have it.",
    "prevailing-high": "The prevailing torque is higher than in the joint's others.",
    "cross-thread": "The torque climbs early and unevenly, without a straight part.",
    "thread-stripping": "The slope collapses and the torque falls away before the target.",
    "yielded": "The slope falls to the yield level before the final point.",
    "already-tight": "There is no rundown: the torque is there at once, within few degrees.",
    "galling": "The torque rises in a saw-tooth over the angle.",
    "drive-slip": "The torque oscillates with the pitch of the drive.",
    "bottomed-out": "The rise is very steep and very short.",
    "incomplete-recording": (
        "The recording does not hold the whole tightening; nothing about the joint is claimed."
    ),
}

#: What to do on the line to decide.
NEXT_CHECKS: dict[str, str] = {
    "low-friction": (
        "Compare the loosening torque with a usual joint's: low friction gives a lower one. Look for "
        "oil, wrong lubricant or coating on threads and under the head."
    ),
    "high-friction": (
        "Compare the loosening torque with a usual joint's: high friction gives a higher one. Look "
        "for dry, corroded or dirty threads and bearing faces."
    ),
    "friction-or-stiffness": (
        "Measure the loosening torque (moves with friction, not with stiffness), or the clamp force "
        "or bolt elongation of this joint; compare the parts' thickness."
    ),
    "softer-joint": (
        "Look for a doubled, missing or wrong gasket, a burr or dirt between the parts; measure the grip."
    ),
    "stiffer-joint": (
        "Look for a missing gasket or spacer, or a shorter grip; compare the parts with the drawing."
    ),
    "seated-early": (
        "Count the washers, measure the bolt's length and the grip, look for a cross start or a bolt "
        "that was started by hand."
    ),
    "seated-late": "Look for a missing washer or part, a longer bolt, or a start further out.",
    "prevailing-missing": (
        "Check that the self-locking nut or patch is the specified one and was not used before."
    ),
    "prevailing-high": (
        "Check thread for damage, paint or wrong nut; turn the fastener by hand over the first turns."
    ),
    "cross-thread": (
        "Loosen, look at the first threads of both parts, try by hand; replace what is damaged."
    ),
    "thread-stripping": (
        "Loosen and look at the threads; check property class, engagement length and hole size."
    ),
    "yielded": (
        "Measure the bolt's length against a new one, replace it if stretched; check class and torque"
        " setting."
    ),
    "already-tight": "Find out whether this fastener was tightened before (repeated cycle, rework).",
    "galling": (
        "Loosen and look for smeared metal on threads and under the head; check lubricant and speed."
    ),
    "drive-slip": "Look at the bit or socket and the drive for wear; check end force and alignment.",
    "bottomed-out": (
        "Measure bolt length and hole depth: the bolt may stand on the bottom, without clamp force."
    ),
    "incomplete-recording": "Check trigger and buffer length of the recorder; record the joint again.",
}

SOURCES: dict[str, str] = {
    "low-friction": FROM_S3,
    "high-friction": FROM_S3,
    "friction-or-stiffness": FROM_S3,
    "softer-joint": FROM_S3,
    "stiffer-joint": FROM_S3,
    "yielded": "slope fallen to the yield level of the settings",
}


def source_of(cause: str) -> str:
    """Where the rule of a cause comes from."""
    return SOURCES.get(cause, COMMON_PRACTICE)
