"""Joint conditioning: run, back off, run again; what it did to friction, beside what the joint asks for."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from analysis.errors import CallError
from analysis.joint.definition import JointDefinition
from analysis.operation.back_off_ratio import BackOff
from analysis.operation.back_off_words import slope_of

#: Table of a joint that states it, and its keys.
CONDITIONING = "conditioning"
_KEYS = ("runs", "back_off_deg", "torque_nm")
#: A run is as asked where its torque, and a back-off where its angle, lies within this share (own choice).
AS_ASKED = 0.10


@dataclass(frozen=True)
class Conditioning:
    """What a joint asks for."""

    runs: int  #: Tightenings, the last one among them.
    #: Turned back by, after each run but the last; torque of the runs ahead of the last.
    back_off_deg: float | None = None
    torque_nm: float | None = None


@dataclass(frozen=True)
class ConditioningResult:
    """What the runs of a joint's fasteners show."""

    fasteners: int  #: With a straight stretch in their first and last run.
    runs: int  #: Most tightenings of one fastener.
    #: Slope of the last over that of the first run: median, and standard deviation over the fasteners.
    ratio: float
    ratio_scatter: float
    #: Standard deviation of the slope over the fasteners, as shares; NaN of a single one.
    first_scatter: float
    last_scatter: float
    as_asked: int | None = None  #: Fasteners that were turned as the joint asks; None where it does not ask.

    @property
    def sentences(self) -> list[str]:
        """The result for a colleague."""
        n = self.fasteners
        bolts = "one bolt" if n == 1 else f"{n} bolts"
        spread = "" if n == 1 else f" ± {self.ratio_scatter:.3f}"
        told = [f"Slope of the last over that of the first run, {bolts}: {self.ratio:.3f}{spread}."]
        if n > 1:
            told.append(
                f"Scatter of the slope from bolt to bolt: {100.0 * self.first_scatter:.1f} % in the first "
                f"run, {100.0 * self.last_scatter:.1f} % in the last."
            )
        if self.as_asked is not None:
            told.append(f"Conditioned as the joint asks: {self.as_asked} of {n}.")
        return told


def read_conditioning(table: object) -> Conditioning:
    """Check the table of a joints file.

    Raises
    ------
    CallError
        Where a key is unknown, or a value cannot be used.

    Examples
    --------
    >>> read_conditioning({"runs": 2, "back_off_deg": 60.0, "torque_nm": 20.0})
    Conditioning(runs=2, back_off_deg=60.0, torque_nm=20.0)
    """
    if not isinstance(table, Mapping):
        raise CallError(f"conditioning is no table; expected {', '.join(_KEYS)}")
    strange = sorted(set(table) - set(_KEYS))
    if strange:
        raise CallError(f"conditioning does not know {', '.join(strange)}; expected {', '.join(_KEYS)}")
    runs = table.get("runs", 2)
    if isinstance(runs, bool) or not isinstance(runs, int) or runs < 2:
        raise CallError(f"runs of conditioning is {runs!r}; expected a whole number, at least 2")
    return Conditioning(runs, _above_zero(table, "back_off_deg"), _above_zero(table, "torque_nm"))


def _above_zero(table: Mapping[str, Any], key: str) -> float | None:
    value = table.get(key)
    if value is None:
        return None
    if isinstance(value, bool) or not isinstance(value, int | float) or not 0.0 < value < float("inf"):
        raise CallError(f"{key} of conditioning is {value!r}; expected a number above 0")
    return float(value)


def conditioning_of(definition: JointDefinition | None) -> Conditioning | None:
    """What a joint asks for, where it does."""
    if definition is None or CONDITIONING not in definition.extra:
        return None
    return read_conditioning(definition.extra[CONDITIONING])


def judge_conditioning(back_offs: Sequence[BackOff], asked: Conditioning | None) -> ConditioningResult | None:
    """What the runs did to the slope, over the fasteners of a joint; None where none was tightened again."""
    ons = [[turn for turn in one.turns if turn.forward] for one in back_offs]
    slopes = np.array([(slope_of(on[0]), slope_of(on[-1])) for on in ons if len(on) > 1]).reshape(-1, 2)
    slopes = slopes[np.isfinite(slopes).all(axis=1)]
    if not len(slopes):
        return None
    ratio = slopes[:, 1] / slopes[:, 0]
    scatter = slopes.std(axis=0, ddof=1) / slopes.mean(axis=0) if len(slopes) > 1 else np.full(2, np.nan)
    return ConditioningResult(
        len(slopes),
        max(len(on) for on in ons),
        float(np.median(ratio)),
        float(ratio.std(ddof=1)) if len(ratio) > 1 else float("nan"),
        float(scatter[0]),
        float(scatter[1]),
        None if asked is None else sum(_as_asked(one, asked) for one in back_offs),
    )


def _as_asked(back_off: BackOff, asked: Conditioning) -> bool:
    ons = [turn for turn in back_off.turns if turn.forward]
    backs = [turn for turn in back_off.turns if not turn.forward]
    return (
        len(ons) == asked.runs
        and all(_near(turn.turned_deg, asked.back_off_deg) for turn in backs)
        and all(_near(turn.end_torque_nm, asked.torque_nm) for turn in ons[:-1])
    )


def _near(value: float, wanted: float | None) -> bool:
    return wanted is None or abs(value - wanted) <= AS_ASKED * wanted
