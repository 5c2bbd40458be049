"""One observation about one trace, and one explanation of it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from analysis.catalogue.causes import CauseKind
from analysis.catalogue.findings import FindingKind
from analysis.catalogue.rules import Rule
from analysis.catalogue.sentences import Sentence
from analysis.figure_text import ABSENT, Uncertainty, difference_text, with_uncertainty


@dataclass(frozen=True)
class Finding:
    """One observation about one trace."""

    kind: FindingKind
    #: Margin is positive inside the limit, negative outside; in the unit of the kind's figure, or in units of
    #: the threshold.
    measured: float | None
    limit: float | None
    margin: float | None
    place_deg: float | None  #: Where on the curve, on the trace's own angle axis.
    sentence: Sentence  #: For a colleague.

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
    """One rule of the joint on one trace, met or not, for the list "measured, limit, margin"."""

    rule: Rule
    status: Literal["met", "broken", "not evaluated", "no limit given"]
    #: In the unit of the rule's figure.
    measured: float | None
    low: float | None
    high: float | None
    margin: float | None
    place_deg: float | None
    reason: str = ""  #: Why it was not evaluated; empty otherwise.

    def margin_text(self, known: Uncertainty, factor: float = 1.0, *, signed: bool = False) -> str:
        """The margin as the difference of figure and nearer limit as both are written.

        Parameters
        ----------
        known : Uncertainty
            How well what was measured is known, in its internal unit.
        factor : float
            To the unit that is shown.

        Examples
        --------
        >>> from analysis.catalogue.rules import RULES
        >>> check = RuleCheck(RULES[0], "met", 70.04, 58.0, 72.25, 2.21, 0.0)
        >>> check.margin_text(Uncertainty(step=0.1))
        '2.25'
        """
        if self.margin is None or self.measured is None:
            return ABSENT
        # A margin of none is that of a zero offset that the rule puts up with, not of the figures.
        if self.rule.kind == "flag" or self.margin == 0.0:
            return with_uncertainty(self.margin * factor, known.times(factor), signed=signed)[0]
        limits = [(self.measured - self.low, self.low)] if self.low is not None else []
        limits += [(self.high - self.measured, self.high)] if self.high is not None else []
        _, limit = min(limits)
        side = 1.0 if limit == self.low else -1.0

        return difference_text(side * self.measured, side * limit, known, factor, signed=signed)

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
    """A ranked explanation of one trace."""

    kind: CauseKind  #: What it is called, what to check next, the source.
    weight: float  #: 0 to 1, for ranking; not a probability.
    evidence_for: tuple[Sentence, ...]
    evidence_against: tuple[Sentence, ...]

    @property
    def name(self) -> str:
        """One of `analysis.catalogue.causes.CAUSE_NAMES`."""
        return self.kind.name
