"""One observation about one trace, and one explanation of it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

VERDICTS = ("ok", "suspect", "not ok", "not evaluated")
#: Worst first, the order in which a person wants to see them.
WORST_FIRST = ("not ok", "suspect", "not evaluated", "ok")

LIMIT_FINDINGS = (
    "torque-low",
    "torque-high",
    "angle-low",
    "angle-high",
    "prevailing-low",
    "prevailing-high-limit",
    "yield-unwanted",
)
POPULATION_FINDINGS = ("outlier",)
#: Clamp force by torque and by angle contradict each other.
CLAMP_FINDINGS = ("clamp-disagreement",)
CAUSES = (
    "low-friction",
    "high-friction",
    "friction-or-stiffness",
    "softer-joint",
    "stiffer-joint",
    "seated-early",
    "seated-late",
    "prevailing-missing",
    "prevailing-high",
    "cross-thread",
    "thread-stripping",
    "yielded",
    "already-tight",
    "galling",
    "drive-slip",
    "bottomed-out",
    "incomplete-recording",
)


@dataclass(frozen=True)
class Finding:
    """One observation about one trace.

    Attributes
    ----------
    name : str
        One of `LIMIT_FINDINGS`, `POPULATION_FINDINGS`, `CAUSES` or `CLAMP_FINDINGS`.
    status : {"broken", "odd"}
        "broken": a limit of the joint definition; "odd": wants a look.
    quantity, unit : str
        Results column that was judged and its internal unit.
    measured, limit, margin : float or None
        Margin is positive inside the limit, negative outside, in the quantity's unit.
    place_deg : float or None
        Where on the curve, on the trace's own angle axis.
    sentence : str
        For a colleague.
    """

    name: str
    status: Literal["broken", "odd"]
    quantity: str
    unit: str
    measured: float | None
    limit: float | None
    margin: float | None
    place_deg: float | None
    sentence: str


@dataclass(frozen=True)
class RuleCheck:
    """One rule of the joint on one trace, met or not, for the list "measured, limit, margin".

    Attributes
    ----------
    rule : str
        "torque", "angle", "prevailing", "yield" ...
    status : {"met", "broken", "not evaluated", "no limit given"}
    reason : str
        Why it was not evaluated; empty otherwise.
    """

    rule: str
    status: Literal["met", "broken", "not evaluated", "no limit given"]
    quantity: str
    unit: str
    measured: float | None
    low: float | None
    high: float | None
    margin: float | None
    place_deg: float | None
    reason: str = ""


@dataclass(frozen=True)
class Cause:
    """A ranked explanation.

    Attributes
    ----------
    name : str
        One of `CAUSES`.
    weight : float
        0 to 1, for ranking; not a probability.
    evidence_for, evidence_against : tuple of str
    next_check : str
        What to do on the line to decide.
    source : str
        Where the rule comes from, or "common practice, no source".
    """

    name: str
    weight: float
    evidence_for: tuple[str, ...]
    evidence_against: tuple[str, ...]
    next_check: str
    source: str
