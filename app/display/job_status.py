"""How far work in the background is."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class JobStatus:
    """How far a job is; `total` is 0 where that is not known."""

    kind: str
    number: int
    done: int
    total: int
    text: str
    running_for_s: float
