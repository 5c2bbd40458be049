"""One observation about one trace, and one explanation of it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from analysis.catalogue.causes import CauseKind
from analysis.catalogue.findings import FindingKind
from analysis.catalogue.rules import Rule
from analysis.catalogue.sentences import Sentence


@dataclass(frozen=True)
class Finding:
    """One observation about one trace.

    Attributes
    ----------
    measured, limit, margin : float or None
        Margin is positive inside the limit, negative outside; in the unit of the kind's figure, or in units
        of the threshold.
    place_deg : float or None
        Where on the curve, on the trace's own angle axis.
    sentence : Sentence
        For a colleague.
    """

    kind: FindingKind
    measured: float | None
    limit: float | None
    margin: float | None
    place_deg: float | None
    sentence: Sentence

    @property
    def name(self) -> str:
        """One of `analysis.catalogue.findings.FINDING_NAMES`."""
        return self.kind.name

    @property
    def is_broken_limit(self) -> bool:
        """Whether a limit of the joint is broken; everything else wants a look."""
        return self.kind.group == "limit"


@dataclass(frozen=True)
class RuleCheck:
    """One rule of the joint on one trace, met or not, for the list "measured, limit, margin".

    Attributes
    ----------
    status : {"met", "broken", "not evaluated", "no limit given"}
    measured, low, high, margin : float or None
        In the unit of the rule's figure.
    reason : str
        Why it was not evaluated; empty otherwise.
    """

    rule: Rule
    status: Literal["met", "broken", "not evaluated", "no limit given"]
    measured: float | None
    low: float | None
    high: float | None
    margin: float | None
    place_deg: float | None
    reason: str = ""

    @property
    def quantity(self) -> str:
        """Results column that was judged."""
        return self.rule.figure.name

    @property
    def unit(self) -> str:
        """Internal unit of what was judged."""
        return self.rule.figure.unit

    @property
    def bound(self) -> str:
        """Which bound of an estimate was judged, as words before the value; empty for a value itself."""
        if self.rule.kind != "bounds" or self.measured is None:
            return ""
        return "at most" if self.status == "broken" else "at least"


@dataclass(frozen=True)
class Cause:
    """A ranked explanation of one trace.

    Attributes
    ----------
    kind : CauseKind
        What it is called, what to check next, the source.
    weight : float
        0 to 1, for ranking; not a probability.
    evidence_for, evidence_against : tuple of Sentence
    """

    kind: CauseKind
    weight: float
    evidence_for: tuple[Sentence, ...]
    evidence_against: tuple[Sentence, ...]

    @property
    def name(self) -> str:
        """One of `analysis.catalogue.causes.CAUSE_NAMES`."""
        return self.kind.name
