"""Every cause that a curve can speak for: its name, what the curve shows, what to check, the source."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

Way = Literal["up", "down", "usual"]

#: Strength from which a sign that no clamp force was made is believed before a number, unless its cause says
#: otherwise: less than the 1 that makes it a finding. Own choice: of 12 000 sound traces none came above
#: 0.25, of 1 440 seeded ones one of the cross-threaded and six of those that stripped below it (measured).
REFUSING = 0.65
COMMON_PRACTICE = "common practice, no source"
FROM_SLOPE = (
    "direction by the elastic slope dT/da = F per degree x T/F (MIL-HDBK-60 100.5); "
    "thresholds: common practice"
)
_SLOPE_CAUSES = (
    "low-friction", "high-friction", "friction-or-stiffness", "softer-joint", "stiffer-joint", "bottomed-out",
)  # fmt: skip
_LEVEL_CAUSES = ("seated-early", "seated-late", "prevailing-missing", "prevailing-high")


@dataclass(frozen=True)
class CauseKind:
    """One cause; its strength is measured by the function of its name in `analysis.verdict.causes`."""

    #: In tables and filters; for people.
    name: str
    words: str
    sentence: str  #: What the curve shows, as it stands as a finding.
    comes_from: str  #: What usually brings it about, for the help; empty where the sentence says it all.
    next_check: str  #: What to do on the line to decide.
    #: By compared figure: which way each of `analysis.verdict.features.FEATURES` moves.
    expects: dict[str, Way] = field(default_factory=dict)
    explains: tuple[str, ...] = ()  #: Causes whose signs it brings about as well, where it is there.
    no_force: str = ""  #: Why the torque was not turned into clamp force, where that is so; empty otherwise.
    refuses_from: float = REFUSING  #: Strength of the sign from which that is believed.
    alarming: bool = True  #: Its sign wants a look by itself; the others show as outliers.
    source: str = COMMON_PRACTICE

    @property
    def help(self) -> str:
        """What the curve shows and where it comes from."""
        return f"{self.sentence} {self.comes_from}".rstrip()


_SLOPE, _CLIMB, _WIDTH, _SNUG = "elastic_slope_nm_per_deg", "climb_deg", "drawdown_deg", "snug_rise_nm"
_RUNDOWN, _PREVAILING, _TOTAL = "rundown_deg", "prevailing_torque_nm", "total_angle_deg"
_TORQUE, _END = "final_torque_nm", "end_slope_share"

CAUSES: tuple[CauseKind, ...] = (
    CauseKind(
        "low-friction", "low friction",
        "The rise is flatter in torque by the same factor all along, and no longer in degrees.",
        "Larger angle from snug to final, rundown as usual or lower: oil, wrong lubricant, wrong coating.",
        "Compare the loosening torque with a usual joint's: low friction gives a lower one. Look for oil, "
        "wrong lubricant or coating on threads and under the head.",
        {_SLOPE: "down", _CLIMB: "up", _WIDTH: "usual", _SNUG: "down", _RUNDOWN: "usual"},
        alarming=False, source=FROM_SLOPE,
    ),
    CauseKind(
        "high-friction", "high friction",
        "The rise is steeper in torque by the same factor all along, and no shorter in degrees.",
        "Smaller angle from snug to final, rundown often higher: dry, corroded, dirty.",
        "Compare the loosening torque with a usual joint's: high friction gives a higher one. Look for dry, "
        "corroded or dirty threads and bearing faces.",
        {_SLOPE: "up", _CLIMB: "down", _WIDTH: "usual", _SNUG: "up", _RUNDOWN: "usual"},
        alarming=False, source=FROM_SLOPE,
    ),
    CauseKind(
        "friction-or-stiffness", "friction or stiffness changed (torque and angle cannot tell which)",
        "The slope lies apart from the joint's others; nothing else tells why.",
        "Loosening torque, yield point, a clamp-force measurement or the prevailing level can tell.",
        "Measure the loosening torque (moves with friction, not with stiffness), or the clamp force or bolt "
        "elongation of this joint; compare the parts' thickness.",
        {_RUNDOWN: "usual", _PREVAILING: "usual"},
        alarming=False, source=FROM_SLOPE,
    ),
    CauseKind(
        "softer-joint", "softer joint", "Drawdown and elastic stretch are longer together.",
        "A gasket, a doubled part.",
        "Look for a doubled, missing or wrong gasket, a burr or dirt between the parts; measure the grip.",
        {_SLOPE: "down", _CLIMB: "up", _WIDTH: "up", _SNUG: "usual"},
        alarming=False, source=FROM_SLOPE,
    ),
    CauseKind(
        "stiffer-joint", "stiffer joint", "Drawdown and elastic stretch are shorter together.",
        "A missing gasket or part.",
        "Look for a missing gasket or spacer, or a shorter grip; compare the parts with the drawing.",
        {_SLOPE: "up", _CLIMB: "down", _WIDTH: "down", _SNUG: "usual"},
        alarming=False, source=FROM_SLOPE,
    ),
    CauseKind(
        "seated-early", "seated early", "The parts meet earlier than in the joint's others.",
        "A doubled washer, wrong length, cross start.",
        "Count the washers, measure the bolt's length and the grip, look for a cross start or a bolt that "
        "was started by hand.",
        {_RUNDOWN: "down", _TOTAL: "down", _SLOPE: "usual"}, alarming=False,
    ),
    CauseKind(
        "seated-late", "seated late", "The parts meet later than in the joint's others.",
        "A missing washer, wrong length.",
        "Look for a missing washer or part, a longer bolt, or a start further out.",
        {_RUNDOWN: "up", _TOTAL: "up", _SLOPE: "usual"}, alarming=False,
    ),
    CauseKind(
        "prevailing-missing", "prevailing torque missing",
        "There is no prevailing torque where the joint's others have it.",
        "A plain nut instead of a self-locking one.",
        "Check that the self-locking nut or patch is the specified one and was not used before.",
        {_PREVAILING: "down", _RUNDOWN: "usual", _SLOPE: "usual"},
    ),
    CauseKind(
        "prevailing-high", "prevailing torque too high",
        "The prevailing torque is higher than in the joint's others.", "A damaged or dirty thread.",
        "Check thread for damage, paint or wrong nut; turn the fastener by hand over the first turns.",
        {_PREVAILING: "up", _RUNDOWN: "usual", _SLOPE: "usual"},
    ),
    CauseKind(
        "cross-thread", "cross-threaded", "The torque climbs early and unevenly, without a straight part.",
        "",
        "Loosen, look at the first threads of both parts, try by hand; replace what is damaged.",
        {_CLIMB: "up", _TOTAL: "down", _TORQUE: "usual"},
        (*_SLOPE_CAUSES, *_LEVEL_CAUSES, "incomplete-recording", "yielded", "galling"),
        "the torque went into a cross-threaded start",
    ),
    CauseKind(
        "thread-stripping", "thread stripping",
        "The slope collapses and the torque falls away before the target.", "",
        "Loosen and look at the threads; check property class, engagement length and hole size.",
        {_TORQUE: "down", _RUNDOWN: "usual"}, (*_SLOPE_CAUSES, "yielded", "incomplete-recording"),
        "the thread stripped: the clamp force left is unknown and near zero",
        # One step of a coarse angle between peak and release reads 0.6 to 0.8, threads that strip from 2.8 on
        # (measured); weaker ones show in the torque that they reach as well, and are named by that.
        refuses_from=1.0,
    ),
    CauseKind(
        "yielded", "yielded", "The slope falls to the yield level before the final point.", "",
        "Measure the bolt's length against a new one, replace it if stretched; check class and torque "
        "setting.",
        {_END: "down", _SLOPE: "usual", _WIDTH: "usual"},
        ("low-friction", "softer-joint", "friction-or-stiffness", "incomplete-recording"),
        source="slope fallen to the yield level of the settings",
    ),
    CauseKind(
        "already-tight", "already tight",
        "There is no rundown: the torque is there at once, within a few degrees.",
        "The joint had been tightened before.",
        "Find out whether this fastener was tightened before (repeated cycle, rework).",
        {_TOTAL: "down", _TORQUE: "usual"},
        (*_SLOPE_CAUSES, *_LEVEL_CAUSES, "incomplete-recording", "yielded", "cross-thread"),
        "the joint was already tight, and this torque does not tell how tight",
    ),
    CauseKind(
        "galling", "galling", "The torque rises in a saw-tooth over the angle.", "Surfaces seize.",
        "Loosen and look for smeared metal on threads and under the head; check lubricant and speed.",
        {_RUNDOWN: "usual"}, (*_SLOPE_CAUSES, "yielded", "thread-stripping", "incomplete-recording"),
    ),
    CauseKind(
        "drive-slip", "drive slipping", "The torque oscillates with the pitch of the drive.",
        "30 deg for a twelve-point socket, 60 deg for hexagon and six-lobe, 90 deg for cross recess.",
        "Look at the bit or socket and the drive for wear; check end force and alignment.",
        {_TORQUE: "down", _RUNDOWN: "usual"},
        (*_SLOPE_CAUSES, *_LEVEL_CAUSES, "yielded", "incomplete-recording", "galling", "cross-thread",
         "thread-stripping"),
        "the drive slipped, and its torque is not what reached the fastener",
    ),
    CauseKind(
        "bottomed-out", "bottomed out", "The rise is very steep and very short.",
        "The bolt stands on the bottom of its hole and makes no clamp force.",
        "Measure bolt length and hole depth: the bolt may stand on the bottom, without clamp force.",
        {_SLOPE: "up", _CLIMB: "down", _TOTAL: "down"},
        ("high-friction", "stiffer-joint", "friction-or-stiffness", "seated-early", "galling"),
        "the bolt stands on the bottom of its hole, and the torque does not press the parts together",
    ),
    CauseKind(
        "incomplete-recording", "incomplete recording",
        "The recording does not contain the whole tightening; nothing about the joint is claimed.",
        "It ends in the rise, or starts after it.",
        "Check trigger and buffer length of the recorder; record the joint again.",
        {_SLOPE: "usual"}, (*_SLOPE_CAUSES, *_LEVEL_CAUSES),
        "the recording does not contain the whole tightening",
    ),
)  # fmt: skip
CAUSE_OF: dict[str, CauseKind] = {cause.name: cause for cause in CAUSES}
CAUSE_INDEX: dict[str, int] = {cause.name: index for index, cause in enumerate(CAUSES)}
CAUSE_NAMES: tuple[str, ...] = tuple(CAUSE_OF)
