"""Where the view has been: back and forward, as in a browser; nothing here imports Qt."""

from __future__ import annotations

import time
from collections.abc import Callable

Range = tuple[float, float, float, float]

#: Turns of the wheel or key presses that follow within this time are one step back, seconds (own choice).
_BURST_S = 0.8
#: Oldest steps are forgotten beyond this number (own choice).
_LONGEST = 100


class ViewHistory:
    """Ranges ``(x_min, x_max, y_min, y_max)`` in the order in which they were seen.

    Examples
    --------
    >>> history = ViewHistory()
    >>> history.visit((0, 1, 0, 1)); history.visit((0, 2, 0, 1))
    >>> history.back(), history.back(), history.forward()
    ((0, 1, 0, 1), None, (0, 2, 0, 1))
    """

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._ranges: list[Range] = []
        self._at = -1
        self._clock = clock
        self._last_burst = ("", 0.0)

    @property
    def can_go_back(self) -> bool:
        """Whether there is an earlier view."""
        return self._at > 0

    @property
    def can_go_forward(self) -> bool:
        """Whether there is a later view."""
        return self._at < len(self._ranges) - 1

    def visit(self, view: Range, burst: str = "") -> None:
        """Remember a view; those of one burst (same word, shortly after each other) count once."""
        now = self._clock()
        word, when = self._last_burst
        self._last_burst = (burst, now)
        if self._at >= 0 and self._ranges[self._at] == view:
            return
        if burst and word == burst and now - when < _BURST_S and self._at > 0:
            self._ranges[self._at :] = [view]
            return
        self._ranges[self._at + 1 :] = [view]
        del self._ranges[:-_LONGEST]
        self._at = len(self._ranges) - 1

    def back(self) -> Range | None:
        """The view before this one, or None at the first."""
        self._last_burst = ("", 0.0)
        if not self.can_go_back:
            return None
        self._at -= 1
        return self._ranges[self._at]

    def forward(self) -> Range | None:
        """The view after this one, or None at the last."""
        self._last_burst = ("", 0.0)
        if not self.can_go_forward:
            return None
        self._at += 1
        return self._ranges[self._at]

    def clear(self) -> None:
        """Forget all."""
        self._ranges.clear()
        self._at = -1
