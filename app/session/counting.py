"""The sentence that is always true: how many traces, how they were judged, how many are shown; no Qt."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analysis.catalogue.verdicts import VERDICTS
from app.session.state import Condition

#: Verdicts that the sentence counts, worst first; "ok" follows where any is.

#: Letters of a condition within the sentence, which stays one line; its chip has more (own choice).
LONGEST_IN_SENTENCE = 32


@dataclass(frozen=True)
class Counts:
    """How many traces there are, of each verdict (None while they are worked out), shown and selected."""

    total: int
    by_verdict: dict[str, int] | None
    shown: int
    selected: int


def count(
    verdicts: NDArray[np.int8] | None, visible: NDArray[np.bool_], selected: NDArray[np.bool_]
) -> Counts:
    """Count once, in one place."""
    by_verdict = None
    if verdicts is not None:
        numbers = np.bincount(verdicts, minlength=len(VERDICTS))
        by_verdict = {word: int(numbers[code]) for code, word in enumerate(VERDICTS)}
    return Counts(len(visible), by_verdict, int(visible.sum()), int(selected.sum()))


def condition_words(conditions: Sequence[Condition], longest: int | None = None) -> str:
    """The active conditions in words, each of so many letters at most."""
    return ", ".join(_shortened(condition.words or condition.text, longest) for condition in conditions)


def _shortened(words: str, longest: int | None) -> str:
    return words if longest is None or len(words) <= longest else f"{words[: longest - 1].rstrip()}…"
