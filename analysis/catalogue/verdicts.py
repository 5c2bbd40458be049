"""The four verdicts: what they mean, and the shape and colour that always go with the word.

The hues reach a contrast of 3:1 on white and on #1E1E1E and stay apart for colour-blind eyes (Okabe and Ito's
palette; the contrast by the formula of WCAG 2.1).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Shape = Literal["circle", "triangle", "square", "diamond", "cross"]


@dataclass(frozen=True)
class Verdict:
    """One verdict: its word, what it means, and how it is marked."""

    name: str
    meaning: str
    shape: Shape
    symbol: str
    colour: str


VERDICT_OF: dict[str, Verdict] = {
    verdict.name: verdict
    for verdict in (
        Verdict(
            "ok", "every rule of the joint was evaluated and met, and nothing unusual was found",
            "circle", "●", "#009E73",
        ),
        Verdict("suspect", "every limit is met, but something is unusual", "triangle", "▲", "#CC79A7"),
        Verdict("not ok", "at least one limit is broken", "square", "■", "#D55E00"),
        Verdict(
            "not evaluated",
            "a rule could not be evaluated; the reason is given. It is never counted as good",
            "diamond", "◇", "#0072B2",
        ),
    )
}  # fmt: skip
VERDICTS: tuple[str, ...] = tuple(VERDICT_OF)
OK, SUSPECT, NOT_OK, UNEVALUATED = range(len(VERDICTS))
#: The order in which a person wants to see them.
WORST_FIRST = ("not ok", "suspect", "not evaluated", "ok")
#: The order in which they are drawn and stacked.
WORST_LAST = WORST_FIRST[::-1]
#: Codes of the traces that somebody has to look at.
FLAGGED = (NOT_OK, SUSPECT)
