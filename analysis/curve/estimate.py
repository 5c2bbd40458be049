"""One estimate: a value with unit, method, uncertainty and evidence, or the reason why there is none."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from analysis.catalogue.sentences import Sentence


@dataclass(frozen=True)
class Evidence:
    """Where on the curve an estimate was read, so that it can be drawn."""

    #: The stretch, on the trace's own angle axis.
    from_deg: float
    to_deg: float
    line: tuple[tuple[float, float], ...] = ()  #: (angle_deg, torque_nm): a line to draw, or empty.
    sentence: str | Sentence = ""  #: What was done, in words that a colleague can check on a printed curve.


@dataclass(frozen=True)
class Estimate:
    """A value (None where absent) with all that is needed to question it."""

    value: float | None
    unit: str  #: Internal unit of the value.
    method: str  #: Name of the rule, settings included ("slope ratio 0.80").
    uncertainty: float | None = None  #: Standard uncertainty, in the value's unit.
    evidence: Evidence | None = None
    reason: str = ""  #: Why there is no value; empty where there is one.
