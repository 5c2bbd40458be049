"""The rules of a joint: which limit of its definition judges which figure, and what it is called broken."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from analysis.catalogue.figures import (
    CLAMP_LEFT_LOW,
    FINAL_TORQUE,
    JOINT_RATE,
    PREVAILING_TORQUE,
    PULSES_AFTER_SNUG,
    RESIDUAL_TORQUE,
    STRIKE_TIME,
    YIELD_ANGLE,
    Figure,
)


@dataclass(frozen=True)
class Rule:
    """One rule."""

    name: str
    title: str
    key: str  #: Key of the joint definition that gives the limit.
    #: A pair of limits; a least value; a least value for both bounds of an estimate; a condition that
    #: `analysis.verdict.rules` evaluates by itself; a pair of limits of audits alone.
    kind: Literal["window", "at least", "bounds", "flag", "audit"]
    figure: Figure  #: What is judged.
    #: Findings of what lies below, and above; empty where it cannot.
    low: str
    high: str
    #: Paths of attributes to the angle where the figure was read, and to the code of why it is absent.
    place: str
    reason: str
    #: For its page in the help.
    help: str
    formula: str
    source: str
    margin: str = ""  #: Figure of its margin; empty where it has none.
    needed: bool = False  #: Whether a joint without this limit is not evaluated.

    @property
    def of_pulses(self) -> bool:
        """Whether it judges what only an impulse tool gives."""
        return self.reason.startswith("operations")

    @property
    def limits(self) -> str:
        """What its limits are called: "torque limits"."""
        return self.key.rsplit("_", 1)[0].replace("_", " ")

    def sentence(self, finding: str) -> str:
        """What a broken limit says in few words."""
        if self.kind == "flag":
            return "yield before the final point, where none is wanted"
        if self.kind == "bounds":
            return f"{self.figure.said} surely below what the joint wants"
        return f"{self.figure.said} {'below' if finding == self.low else 'above'} its limit"


_GIVEN = "Limits come from the joint definition and are confirmed by its owner."

#: In the order in which they are shown.
RULES: tuple[Rule, ...] = (
    Rule(
        "torque", "Torque within limits", "torque_limits_nm", "window", FINAL_TORQUE, "torque-low",
        "torque-high",
        "curves.final_angle_deg", "curves.slope_reason",
        "The final torque lies within the joint's torque limits. A joint without torque limits is not "
        "evaluated.",
        "low ≤ T_final ≤ high", _GIVEN, "torque_margin_nm", needed=True,
    ),
    Rule(
        "angle", "Angle within limits", "angle_limits_deg", "window", JOINT_RATE, "angle-low", "angle-high",
        "curves.snug_angle_deg", "curves.snug_reason",
        "The angle from snug to the final point lies within the joint's angle limits. Where no snug point "
        "can be found the rule is not evaluated.",
        "low ≤ α_final − α_snug ≤ high", _GIVEN, "angle_margin_deg",
    ),
    Rule(
        "prevailing", "Prevailing torque within limits", "prevailing_limits_nm", "window", PREVAILING_TORQUE,
        "prevailing-low", "prevailing-high-limit", "curves.prevailing_to_deg", "curves.prevailing_reason",
        "The prevailing torque lies within the joint's limits. A lowest limit of none is not broken by a "
        "reading below zero of up to 1 % of the final torque: that is where the transducer's zero lies.",
        "low ≤ T_prevailing ≤ high",
        "Limits come from the joint definition; for lock nuts ISO 2320 gives values by size and class.",
        "prevailing_margin_nm",
    ),
    Rule(
        "yield", "No unwanted yield", "may_yield", "flag", YIELD_ANGLE, "", "yield-unwanted",
        "curves.yield_angle_deg", "curves.yield_reason",
        "Where the joint may not yield, the slope must not fall to the yield level before the final point.",
        "no α before the final point with s(α) ≤ 0.50 · s_elastic", "The joint definition's key may_yield.",
    ),
    Rule(
        "clamp", "Clamp force as wanted", "wanted_clamp_force_kn", "bounds", CLAMP_LEFT_LOW,
        "clamp-force-low", "",
        "curves.final_angle_deg", "",
        "The clamp force after embedding is at least the wanted one: met where even its lowest bound is, "
        "broken where not even its highest is; in between torque and angle cannot tell, and the rule is not "
        "evaluated.",
        "F_low − F_Z ≥ F_wanted", "The joint definition's key wanted_clamp_force_kn.",
    ),
    Rule(
        "pulses", "Pulses within limits", "pulse_limits", "window", PULSES_AFTER_SNUG, "pulses-few",
        "pulses-many", "curves.final_angle_deg", "operations.course.reason",
        "The number of an impulse tool's pulses after snug lies within the joint's limits: with the angle it "
        "is what such a tool can be watched by.",
        "low ≤ n_after snug ≤ high", _GIVEN,
    ),
    Rule(
        "time", "Time of the pulses within limits", "time_limits_s", "window", STRIKE_TIME, "time-short",
        "time-long", "curves.final_angle_deg", "operations.course.time_reason",
        "The time from an impulse tool's first to its last pulse lies within the joint's limits.",
        "low ≤ t ≤ high", _GIVEN,
    ),
    Rule(
        "residual", "Residual torque within the audit's limits", "audit.limits_nm", "audit", RESIDUAL_TORQUE,
        "residual-low", "residual-high", "curves.final_angle_deg", "",
        "The residual torque of an audit lies within the limits of the joint's table audit. An audit is "
        "judged by nothing else: the limits of the tightening are those of the running tool. A joint without "
        "such limits is not evaluated.",
        "low ≤ T_residual ≤ high", _GIVEN,
    ),
)  # fmt: skip
RULE_INDEX: dict[str, int] = {rule.name: index for index, rule in enumerate(RULES)}
#: Rules by the key of the joint definition that gives a pair of limits.
WINDOWS: dict[str, Rule] = {rule.key: rule for rule in RULES if rule.kind == "window"}


def window_of(figure: Figure) -> Rule | None:
    """The rule that holds a figure between two limits, if there is one."""
    return next((rule for rule in WINDOWS.values() if rule.figure is figure), None)
