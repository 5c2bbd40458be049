"""One trace's figures beside what is usual in its joint."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analysis.catalogue.sentences import Amount, Sentence, said
from analysis.facts import Facts
from analysis.verdict.features import FEATURES, Feature

#: Standard deviations up to which a quantity counts as usual, in sentences (common practice, no source).
USUAL_SIGMAS = 2.0


@dataclass(frozen=True)
class Compared:
    """One feature of a trace beside what is usual; `z` in standard deviations, on the compared scale."""

    feature: Feature
    value: float
    usual: float
    z: float

    @property
    def way(self) -> str:
        """ "up", "down", or "usual"."""
        if abs(self.z) <= USUAL_SIGMAS:
            return "usual"
        return "up" if self.z > 0 else "down"

    @property
    def apart(self) -> Sentence:
        """Value, what is usual, and how far apart they are."""
        return said(
            "{value} where {usual} is usual, {sigmas} standard deviations {way}",
            value=Amount(self.value, self.feature.unit),
            usual=Amount(self.usual, self.feature.unit),
            sigmas=f"{abs(self.z):.1f}",
            way="above" if self.z > 0 else "below",
        )

    @property
    def standing(self) -> Sentence:
        """The feature beside what is usual, as a part of a sentence."""
        name = self.feature.words[0].upper() + self.feature.words[1:]
        if self.way == "usual":
            value, usual = (Amount(x, self.feature.unit) for x in (self.value, self.usual))
            return said("{name} {value}, as usual ({usual})", name=name, value=value, usual=usual)
        return said("{name} {apart}", name=name, apart=self.apart)


def compared_of(facts: Facts, row: int) -> dict[str, Compared]:
    """Every feature that could be compared, by name."""
    evidence = facts.evidence
    return {
        feature.name: Compared(
            feature,
            *(float(table[row, k]) for table in (evidence.features, evidence.typical, evidence.z)),
        )
        for k, feature in enumerate(FEATURES)
        if np.isfinite(evidence.z[row, k])
    }


def typical_of(facts: Facts, row: int, name: str) -> float:
    """What is usual for one feature in the trace's joint, in its unit; NaN where that is not known."""
    return float(facts.evidence.typical_of(name)[row])
