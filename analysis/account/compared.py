"""One trace's figures beside what is usual in its joint."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analysis.catalogue.sentences import Amount, Sentence, said
from analysis.facts import Facts
from analysis.figure_text import UNKNOWN, Uncertainty, number_text
from analysis.verdict.features import FEATURES, Feature

#: Standard deviations up to which a quantity counts as usual, in sentences (common practice, no source).
USUAL_SIGMAS = 2.0
#: From so many on they are written without decimals (own choice).
_MANY_SIGMAS = 10.0


@dataclass(frozen=True)
class Compared:
    """One feature of a trace beside what is usual; `z` in standard deviations, on the compared scale."""

    feature: Feature
    value: float
    usual: float
    z: float
    known: Uncertainty = UNKNOWN

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
            value=self._amount(self.value),
            usual=self._amount(self.usual, alone=True),
            sigmas=number_text(abs(self.z), 1 if abs(self.z) < _MANY_SIGMAS else 0),
            way="above" if self.z > 0 else "below",
        )

    @property
    def standing(self) -> Sentence:
        """The feature beside what is usual, as a part of a sentence."""
        name = self.feature.words[0].upper() + self.feature.words[1:]
        if self.way == "usual":
            usual = self._amount(self.usual, alone=True)
            return said(
                "{name} {value}, as usual ({usual})", name=name, value=self._amount(self.value), usual=usual
            )
        return said("{name} {apart}", name=name, apart=self.apart)

    def _amount(self, value: float, *, alone: bool = False) -> Amount:
        """A value of the feature, to the digits that it has for this trace."""
        return Amount(value, self.feature.unit, self.known, alone=alone)


def compared_of(facts: Facts, row: int) -> dict[str, Compared]:
    """Every feature that could be compared, by name."""
    tables = (facts.evidence.features, facts.evidence.typical, facts.evidence.z)
    found = {}
    for k, feature in enumerate(FEATURES):
        value, usual, z = (float(table[row, k]) for table in tables)
        if np.isfinite(z):
            found[feature.name] = Compared(feature, value, usual, z, facts.known(row, feature.figure))
    return found


def typical_of(facts: Facts, row: int, name: str) -> float:
    """What is usual for one feature in the trace's joint, in its unit; NaN where that is not known."""
    return float(facts.evidence.typical_of(name)[row])
