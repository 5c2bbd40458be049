"""First-pass share, rework, re-hits and escapes of each joint over its parts, with intervals."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from analysis.parts.history import (
    AGAIN,
    LOOSENED,
    NOT_SOUND,
    OPEN,
    RE_HIT,
    TIGHTENED,
    UNKNOWN_ORDER,
    History,
)
from analysis.parts.part import Part
from analysis.spread import wilson_interval

#: Share of the parts from which on a joint belongs to each of them, as it seems (own choice).
_NEARLY_ALL = 0.9
#: States in which no part may leave.
_ESCAPED = (OPEN, NOT_SOUND, LOOSENED, UNKNOWN_ORDER)


@dataclass(frozen=True)
class Share:
    """So many of so many; interval by Wilson, 95 %, two-sided."""

    count: int
    n: int

    @property
    def interval(self) -> tuple[float, float]:
        """Low and high, between 0 and 1."""
        return wilson_interval(self.count, self.n)

    def __str__(self) -> str:
        if not self.n:
            return "none"
        low, high = (100.0 * edge for edge in self.interval)
        return f"{self.count} of {self.n} ({100.0 * self.count / self.n:.1f} %, {low:.1f} to {high:.1f} %)"


@dataclass(frozen=True)
class PartShares:
    """What the parts of a joint come to."""

    joint: str
    #: Positions that met their limits at the first attempt, of those with a record that can tell.
    first_pass: Share
    reworked: Share  #: Positions with more than one attempt, of those with a record.
    attempts: int
    re_hits: int
    missing: int
    #: Reworked positions whose last tightening from loose on is an outlier of its joint: a bolt that was used
    #: before. Of those whose order is known.
    reworked_odd: Share
    #: Parts that left with a position not sound, missing, loosened or of unknown order.
    escapes: tuple[str, ...]
    not_ok: int  #: Positions that are not sound at the end.


def shares_of(parts: Sequence[Part]) -> list[PartShares]:
    """One for each joint, in the order of their names."""
    names = sorted({one.joint for one in parts})
    return [_shares(name, [one for one in parts if one.joint == name]) for name in names]


def _shares(joint: str, parts: Sequence[Part]) -> PartShares:
    recorded = [one for part in parts for one in part.histories if one.state != OPEN]
    told = [one for one in recorded if one.first_time is not None]
    reworked = [one for one in recorded if one.reworked]
    ordered = [one for one in reworked if one.state != UNKNOWN_ORDER]
    odd = [one for one in ordered if "outlier" in _tightened_last(one)]
    return PartShares(
        joint,
        Share(sum(bool(one.first_time) for one in told), len(told)),
        Share(len(reworked), len(recorded)),
        sum(one.attempts for one in recorded),
        sum(step.kind == RE_HIT for one in recorded for step in one.steps),
        sum(len(part.missing) for part in parts),
        Share(len(odd), len(ordered)),
        tuple(part.part for part in parts if any(one.state in _ESCAPED for one in part.histories)),
        sum(one.state == NOT_SOUND for one in recorded),
    )  # fmt: skip


def _tightened_last(history: History) -> tuple[str, ...]:
    """Findings of the last tightening from loose on: what is done to a tight bolt is odd by nature."""
    anew = [step.event.findings for step in history.steps if step.kind in (TIGHTENED, AGAIN)]
    return anew[-1] if len(anew) > 1 else ()


def without_any_record(parts: Sequence[Part]) -> list[tuple[str, str]]:
    """Part and joint where a part has no record at all of a joint that nearly all others have.

    No row can be made of it, for nothing says that this part has the joint; a person is to know.
    """
    by_joint: dict[str, set[str]] = {}
    for one in parts:
        by_joint.setdefault(one.joint, set()).add(one.part)
    every = dict.fromkeys(one.part for one in parts)
    return [
        (part, joint)
        for joint, own in by_joint.items()
        if _NEARLY_ALL * len(every) <= len(own) < len(every)
        for part in every
        if part not in own
    ]


def shares_sentence(shares: PartShares) -> str:
    """One line for people."""
    parts = [f"{shares.joint}: first pass {shares.first_pass}", f"reworked {shares.reworked}"]
    for count, one, many in (
        (shares.re_hits, "re-hit", "re-hits"), (shares.missing, "position missing", "positions missing"),
        (shares.reworked_odd.count, "reworked outlier", "reworked outliers"),
        (len(shares.escapes), "part left open or not sound", "parts left open or not sound"),
    ):  # fmt: skip
        if count:
            parts.append(f"{count} {one if count == 1 else many}")
    return "; ".join(parts)
