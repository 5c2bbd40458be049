"""The rules by which snug point and yield onset are found, and the options of commands that choose them."""

from __future__ import annotations

from dataclasses import dataclass

from analysis.catalogue.sentences import Amount, Said, said
from analysis.settings import CurveSettings


@dataclass(frozen=True)
class PointRule:
    """One rule for one point: its name in settings, what it is called in a choice, and what it means."""

    name: str
    words: str
    meaning: str


SNUG_RULES: dict[str, PointRule] = {
    rule.name: rule
    for rule in (
        PointRule(
            "slope-ratio", "slope ratio: the slope reaches this share of the elastic slope",
            "first angle from which the local slope stays at or above {ratio} of the elastic slope, up to "
            "the yield onset or the final point",
        ),
        PointRule(
            "threshold-torque", "threshold torque: the torque passes this level for good",
            "first angle at which the torque passes {threshold} for good",
        ),
        PointRule("elastic-line", "elastic line: where it meets the prevailing torque", "the elastic origin"),
    )
}  # fmt: skip
YIELD_RULES: dict[str, PointRule] = {
    rule.name: rule
    for rule in (
        PointRule(
            "half-slope", "half of the elastic slope",
            "first later angle at which the local slope has fallen to 0.50 of the elastic slope and stays "
            "below it",
        ),
        PointRule(
            "two-thirds-slope", "two thirds of the elastic slope (Johnson's approximate method)",
            "first later angle at which the local slope has fallen to 2/3 of the elastic slope and stays "
            "below it (Johnson's approximate method, MSFC-STD-486B Fig. 1)",
        ),
        PointRule(
            "offset", "angle offset that stands for 0.2 % permanent elongation",
            "the angle at which the curve lies to the right of the elastic line by the offset that stands "
            "for 0.2 % permanent elongation of the free length",
        ),
    )
}  # fmt: skip
HARDNESS_BASES: dict[str, PointRule] = {
    rule.name: rule
    for rule in (
        PointRule("snug-to-final", "degrees from snug to final point", "degrees from snug to final point"),
        PointRule(
            "10-100 %", "line from 10 to 100 % of final torque, drawn to zero",
            "straight line from 10 to 100 % of final torque, drawn to zero",
        ),
        PointRule(
            "50-100 %", "line from 50 to 100 % of final torque, drawn to zero",
            "straight line from 50 to 100 % of final torque, drawn to zero",
        ),
    )
}  # fmt: skip


def hardness_meaning(settings: CurveSettings) -> str:
    """What hard and soft are by these settings."""
    basis = HARDNESS_BASES[settings.hardness_basis]
    return (
        f"Hardness ({basis.name}: {basis.meaning}): hard at most {settings.hard_limit_deg:g} deg, "
        f"soft at least {settings.soft_limit_deg:g} deg, medium between (common practice)."
    )


def snug_meaning(settings: CurveSettings) -> Said:
    """What the snug point is by these settings."""
    threshold = settings.snug_threshold_nm
    return said(
        "Snug point ({rule} rule): " + SNUG_RULES[settings.snug_rule].meaning + ".",
        rule=settings.snug_rule,
        ratio=f"{settings.snug_slope_ratio:.2f}",
        threshold="a torque that is not given" if threshold is None else Amount(threshold, "N·m", given=True),
    )


def yield_meaning(settings: CurveSettings) -> str:
    """What the yield onset is by these settings."""
    return f"Yield onset ({settings.yield_rule} rule): {YIELD_RULES[settings.yield_rule].meaning}."


@dataclass(frozen=True)
class PointOption:
    """One key of `CurveSettings` that commands have an option for; without choices it is a number."""

    key: str
    help: str
    choices: tuple[str, ...] = ()
    metavar: str = ""

    @property
    def flag(self) -> str:
        """As it is typed."""
        return "--" + self.key.replace("_", "-")


POINT_OPTIONS: tuple[PointOption, ...] = (
    PointOption("snug_rule", "what the snug point is; slope-ratio unless said otherwise", tuple(SNUG_RULES)),
    PointOption("snug_threshold_nm", "torque for --snug-rule threshold-torque, in N·m", metavar="NM"),
    PointOption(
        "yield_rule", "what the yield onset is; half-slope unless said otherwise", tuple(YIELD_RULES)
    ),
    PointOption(
        "yield_offset_deg",
        "angle for --yield-rule offset, in degrees; from the joint's clamp length where not given",
        metavar="DEG",
    ),
)
