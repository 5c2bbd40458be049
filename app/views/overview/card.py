"""What stands on the card of one joint."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from app.display.messages import count_words, tr

Limits = tuple[float, float]


@dataclass(frozen=True, eq=False)
class JointCard:
    """One joint of the shift, in words ready to be drawn."""

    #: Name in the joints file, empty for traces that name none; words for people.
    joint: str
    title: str
    risk_class: str = ""  #: "A" to "C"; empty where none is given.
    #: Its traces that meet the conditions.
    rows: NDArray[np.int64] = field(default_factory=lambda: np.empty(0, np.int64))
    #: By verdict, worst first; empty while nothing is judged.
    counts: Mapping[str, int] = field(default_factory=dict)
    #: What is wrong in one sentence, and what to look at next; empty where there is nothing to say.
    wrong: str = ""
    check: str = ""
    #: How many surely hold the wanted clamp force; the worst index that was worked out.
    holds: str = ""
    capability: str = ""
    limits: tuple[str, ...] = ()  #: The acceptance window in words: torque, angle.
    #: (low, high): the acceptance window; angles count from snug.
    torque_nm: Limits | None = None
    angle_deg: Limits | None = None
    as_a_whole: bool = False  #: Whether all of it is wrong, and not single traces.

    @property
    def n(self) -> int:
        """Its traces."""
        return len(self.rows)

    @property
    def wants_attention(self) -> bool:
        """Whether any trace is anything but ok."""
        return self.n > self.counts.get("ok", self.n)

    def spoken(self) -> str:
        """The card for a screen reader."""
        numbers = ", ".join(f"{n} {tr(word)}" for word, n in self.counts.items() if n)
        parts = (self.title, count_words(self.n, "trace", "traces"), numbers, self.wrong, self.check)
        return ". ".join(part.rstrip(".") for part in (*parts, self.holds, self.capability) if part)
