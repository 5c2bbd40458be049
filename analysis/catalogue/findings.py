"""Everything that can be found on a trace: broken limits, oddities of the population, signs of causes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from analysis.catalogue.causes import CAUSES
from analysis.catalogue.figures import CLAMP_FORCE, ELASTIC_SLOPE, OUTLIER_SCORE, Figure
from analysis.catalogue.rules import RULES

#: Broken limit; unlike the joint's others; the sign of a cause; figures that contradict each other; the joint
#: as a whole.
Group = Literal["limit", "population", "cause", "clamp", "joint"]


@dataclass(frozen=True)
class FindingKind:
    """One finding."""

    #: In tables and filters; for people.
    name: str
    words: str
    group: Group  #: "limit" makes a trace not ok, everything else suspect.
    figure: Figure | None = None  #: What is judged; None where the finding is a sign of the whole curve.


#: Of the joint as a whole, carried by each of its traces.
UNLIKE_DEFINITION = "unlike-definition"

FINDINGS: tuple[FindingKind, ...] = (
    *(
        FindingKind(name, rule.sentence(name), "limit", rule.figure)
        for rule in RULES
        for name in (rule.low, rule.high)
        if name
    ),
    FindingKind("outlier", "unlike the others of this joint (outlier)", "population", OUTLIER_SCORE),
    *(FindingKind(cause.name, cause.words, "cause") for cause in CAUSES),
    FindingKind(
        "clamp-disagreement", "clamp force by torque and by angle contradict each other", "clamp", CLAMP_FORCE
    ),
    FindingKind(
        UNLIKE_DEFINITION, "the joint's traces contradict its stated friction and stiffness", "joint",
        ELASTIC_SLOPE,
    ),
)  # fmt: skip
FINDING_OF: dict[str, FindingKind] = {finding.name: finding for finding in FINDINGS}
FINDING_NAMES: tuple[str, ...] = tuple(FINDING_OF)
FINDING_INDEX: dict[str, int] = {name: index for index, name in enumerate(FINDING_NAMES)}
N_LIMITS = sum(finding.group == "limit" for finding in FINDINGS)


def in_words(name: str) -> str:
    """A finding, cause or verdict for people; a name that is not known is shown as it is.

    Examples
    --------
    >>> in_words("torque-low"), in_words("cross-thread"), in_words("not ok")
    ('final torque below its limit', 'cross-threaded', 'not ok')
    """
    return FINDING_OF[name].words if name in FINDING_OF else name.replace("-", " ")
