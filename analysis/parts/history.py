"""The history of one position: from what was recorded there to what state it is in, and how it got there."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from analysis.parts.events import Event, was_tight, was_tight_at_first

#: States of a position.
OPEN, FIRST_TIME, AFTER_REWORK, WANTS_A_LOOK, UNEVALUATED, NOT_SOUND, LOOSENED, UNKNOWN_ORDER = (
    "open", "sound first time", "sound after rework", "suspect", "not evaluated", "not sound", "loosened",
    "unknown order",
)  # fmt: skip
#: What an event was in its history.
TIGHTENED, AGAIN, NEXT_PASS, RE_HIT, NOT_LOOSENED, NO_PREDECESSOR, TURNED_BACK, AUDITED = (
    "tightened", "tightened again", "next pass", "re-hit", "rework without loosening",
    "already tight without predecessor", "loosened", "audited",
)  # fmt: skip
_STATE_OF = {"ok": FIRST_TIME, "suspect": WANTS_A_LOOK, "not evaluated": UNEVALUATED, "not ok": NOT_SOUND}
_VERDICT_OF = {
    OPEN: "not ok", FIRST_TIME: "ok", AFTER_REWORK: "ok", WANTS_A_LOOK: "suspect",
    UNEVALUATED: "not evaluated", NOT_SOUND: "not ok", LOOSENED: "not ok", UNKNOWN_ORDER: "not evaluated",
}  # fmt: skip
#: Findings that a bolt that was tight before has by nature: it turns little, and no rundown is there.
_OF_TIGHT = frozenset({"already-tight", "angle-low", "outlier", "torque-low", "torque-high"})

#: Findings that say something of a bolt in whatever state it was turned on.
_DAMAGE = frozenset({"thread-stripping", "drive-slip", "galling"})


@dataclass(frozen=True)
class Step:
    """One event, what it was in the history, and the verdict on the position after it."""

    event: Event
    kind: str
    verdict: str = ""


@dataclass(frozen=True)
class History:
    """The history of one position."""

    position: str
    steps: tuple[Step, ...] = ()  #: In order of time, as far as it is known.
    state: str = OPEN
    attempts: int = 0  #: Tightenings that began anew; re-hits, further passes and audits are none.
    #: Whether the first attempt met every limit and nothing came after it but re-hits, passes and audits;
    #: None where it cannot be told.
    first_time: bool | None = False
    findings: tuple[str, ...] = ()
    #: Row whose clamp force the position has: that of its last attempt; -1 where there is none.
    sound_row: int = -1

    @property
    def verdict(self) -> str:
        """The position's verdict: that of its final state."""
        return _VERDICT_OF[self.state]

    @property
    def reworked(self) -> bool:
        """Whether it took more than one attempt."""
        return self.attempts > 1

    @property
    def words(self) -> str:
        """The state, with the attempts where there were several."""
        return f"{self.state} ({self.attempts} attempts)" if self.attempts > 1 else self.state


def order_known(events: Sequence[Event]) -> bool:
    """Whether each of several recordings has a time of its own."""
    times = [one.started_at for one in events]
    return len(events) < 2 or (None not in times and len(set(times)) == len(times))


def history_of(
    position: str, events: Sequence[Event], passes: Sequence[int] = (), usual_rate_deg: float = math.nan
) -> History:
    """What the events of a position, in order of time, come to.

    Parameters
    ----------
    passes : sequence of int
        Rows that are a further pass over bolts that are tight: see `analysis.parts.passes`.
    usual_rate_deg : float
        Degrees from snug to final that are usual of the joint; NaN where not known.
    """
    if not events:
        return History(position, findings=("missing",))
    if not order_known(events):
        return _without_order(position, events)
    told = _Telling(frozenset(passes), usual_rate_deg)
    for event in events:
        told.take(event)
    return told.history(position)


def _without_order(position: str, events: Sequence[Event]) -> History:
    attempts = [one for one in events if one.operation not in ("loosening", "back-off", "audit")]
    steps = tuple(Step(one, TIGHTENED if one in attempts else one.operation, one.verdict) for one in events)
    return History(position, steps, UNKNOWN_ORDER, len(attempts), None, ("unknown-order",))


class _Telling:
    """Walks through the events of one position."""

    def __init__(self, passes: frozenset[int], usual_rate_deg: float) -> None:
        self.passes = passes
        self.usual_rate_deg = usual_rate_deg
        self.steps: list[Step] = []
        self.findings: list[str] = []
        self.last: Event | None = None
        self.verdict = ""
        self.tight = False
        self.attempts = 0
        self.first = ""

    def take(self, event: Event) -> None:
        """One event more."""
        # A bolt that was turned back cannot be audited: whatever turned it on again tightened it.
        if event.operation == "audit" and (self.tight or self.last is None):
            if self.last is None:
                self.findings.append("out-of-order")
            self.steps.append(Step(event, AUDITED, self.verdict))
        elif event.operation in ("loosening", "back-off"):
            if self.last is None:
                self.findings.append("out-of-order")
            self.tight = False
            self.steps.append(Step(event, TURNED_BACK))
        elif self._was_tight(event):
            self._on_tight(event)
        else:
            if self.tight:
                self.findings.append("loosening-not-recorded")
            self._attempt(event, AGAIN if self.attempts else TIGHTENED, event.verdict)

    def _was_tight(self, event: Event) -> bool:
        if self.last is None or not self.tight:
            never_before = self.last is None and not self.steps
            return never_before and was_tight_at_first(event, self.usual_rate_deg)
        return event.row in self.passes or was_tight(self.last, event)

    def _on_tight(self, event: Event) -> None:
        if self.last is None:
            self.findings.append("already-tight-without-predecessor")
            self._attempt(event, NO_PREDECESSOR, "suspect" if event.verdict == "ok" else event.verdict)
        elif event.row in self.passes:
            self._pass(event)
        elif self.verdict in ("ok", "suspect"):
            self.findings.append("re-hit")
            if "torque-high" in event.findings:
                self.verdict = "suspect"
            self.steps.append(Step(event, RE_HIT, self.verdict))
        else:
            self.findings.append("rework-without-loosening")
            self._attempt(event, NOT_LOOSENED, self.verdict)

    def _pass(self, event: Event) -> None:
        """Of a bolt that is tight only the torque of the last pass can be judged, and how it went before."""
        broken = {"torque-low", "torque-high"} & set(event.findings)
        before = set() if self.last is None else set(self.last.findings) - _OF_TIGHT
        if before and self.last is not None and self.last.verdict == "not ok":
            broken = before
        worse = before or _DAMAGE & set(event.findings)
        self.verdict = "not ok" if broken else "suspect" if worse else "ok"
        if self.attempts == 1:
            self.first = self.verdict
        self.steps.append(Step(event, NEXT_PASS, self.verdict))

    def _attempt(self, event: Event, kind: str, verdict: str) -> None:
        self.attempts += 1
        self.last, self.verdict, self.tight = event, verdict, True
        if self.attempts == 1:
            self.first = verdict
        self.steps.append(Step(event, kind, verdict))

    def history(self, position: str) -> History:
        """What it comes to."""
        state = LOOSENED if not self.tight else _STATE_OF[self.verdict]
        if self.last is None and not any(step.kind == TURNED_BACK for step in self.steps):
            state = OPEN  # nothing but audits
        if state == FIRST_TIME and self.attempts > 1:
            state = AFTER_REWORK
        sound = self.first in ("ok", "suspect")
        once = self.attempts == 1 and self.tight
        first_time = None if once and self.first == "not evaluated" else once and sound
        row = -1 if self.last is None or not self.tight else self.last.row
        findings = tuple(dict.fromkeys(self.findings))
        return History(position, tuple(self.steps), state, self.attempts, first_time, findings, row)


def with_reuse(history: History, limit: int | None) -> History:
    """Notes a bolt that was used more often than the joint allows; the records cannot tell a new one."""
    if limit is None or history.attempts - 1 <= limit:
        return history
    state = WANTS_A_LOOK if history.state == AFTER_REWORK else history.state
    return replace(history, state=state, findings=(*history.findings, "re-used"))
