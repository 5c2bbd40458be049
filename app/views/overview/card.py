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
    """One joint of the shift, in words ready to be drawn.

    Attributes
    ----------
    joint, title : str
        Name in the joints file, empty for traces that name none; words for people.
    risk_class : str
        "A" to "C"; empty where none is given.
    rows : ndarray of int64
        Its traces that meet the conditions.
    counts : Mapping of verdict to number
        Worst first; empty while nothing is judged.
    wrong, check : str
        What is wrong in one sentence, and what to look at next; empty where there is nothing to say.
    holds, capability : str
        How many surely hold the wanted clamp force; the worst index that was worked out.
    limits : tuple of str
        The acceptance window in words: torque, angle.
    torque_nm, angle_deg : (low, high) or None
        The acceptance window; angles count from snug.
    as_a_whole : bool
        Whether all of it is wrong, and not single traces.
    """

    joint: str
    title: str
    risk_class: str = ""
    rows: NDArray[np.int64] = field(default_factory=lambda: np.empty(0, np.int64))
    counts: Mapping[str, int] = field(default_factory=dict)
    wrong: str = ""
    check: str = ""
    holds: str = ""
    capability: str = ""
    limits: tuple[str, ...] = ()
    torque_nm: Limits | None = None
    angle_deg: Limits | None = None
    as_a_whole: bool = False

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
