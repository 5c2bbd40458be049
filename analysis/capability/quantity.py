"""What a study knows and finds of one quantity of one joint, as records."""

from __future__ import annotations

import math
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from analysis.arrays import finite_or_none
from analysis.capability.control_charts import Chart
from analysis.capability.indices import Index, Limits, counted_share, share_beyond
from analysis.capability.settings import Asked
from analysis.capability.shape import Shape
from analysis.capability.spread import Components, Within

if TYPE_CHECKING:
    from analysis.catalogue.sentences import Said

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


@dataclass(frozen=True, eq=False)
class Sample:
    """Values of one quantity in order, with what groups them."""

    values: FloatArray  #: Shape (n,). Finite.
    streams: tuple[IntArray, tuple[str, ...]]  #: (codes, names)
    subgroups: IntArray | None
    sound: NDArray[np.bool_]  #: Judged ok.
    in_time: bool
    traces: str
    notes: tuple[str, ...] = ()
    #: Standard deviation that the quantity has beside that of the values: what they were told without.
    unseen: float = 0.0
    #: Share of clamp forces past the least yield strength.
    yielded: Index | None = None


@dataclass(frozen=True)
class StreamStudy:
    """One stream (spindle, tool, programme, lot) on its own."""

    name: str
    n: int
    mean: float
    deviation: float
    cpk: Index | None
    shown: str | None

    def as_dict(self) -> dict[str, Any]:
        """Plain values, for JSON."""
        return {
            "name": self.name, "n": self.n,
            "mean": finite_or_none(self.mean), "s": finite_or_none(self.deviation),
            "cpk": None if self.cpk is None else self.cpk.as_dict(), "shown": self.shown,
        }  # fmt: skip


@dataclass(frozen=True, eq=False)
class QuantityStudy:
    """What was found about one quantity of one joint; figures in its internal unit."""

    column: str
    title: str
    unit: str
    traces: str  #: Which traces were studied.
    values: FloatArray  #: Shape (n,). In order.
    #: Stream of each value.
    codes: IntArray
    names: tuple[str, ...]
    asked: Asked
    limits: Limits  #: (low, high)
    n: int
    mean: float = math.nan
    s_overall: float = math.nan
    within: Within | None = None
    basis: str = ""  #: Which deviation Cp and Cpk stand on.
    cp: Index | None = None
    cpk: Index | None = None
    pp: Index | None = None
    ppk: Index | None = None
    decided_by: str = ""  #: "Cpk", "Ppk" or "". The index that is judged.
    bound: float | None = None  #: Its lower one-sided bound.
    shown: str | None = None  #: "shown", "met, not shown", "not met"; None with `reason`.
    needed: float | None = None  #: Index that n values must give to show what is wanted.
    values_needed: int | None = None  #: Values that would show it, should the index stay as it is.
    shape: Shape | None = None
    charts: tuple[Chart, ...] = ()
    correlation: float = math.nan  #: Of neighbours in order.
    stable: bool = False
    streams: tuple[StreamStudy, ...] = ()
    components: Components | None = None
    beyond: tuple[int, int] = (0, 0)  #: Values below the low and above the high limit.
    sound: tuple[int, float, Index | None] | None = None  #: Traces judged ok alone: number, deviation, Cpk.
    notes: tuple[Said, ...] = ()
    reason: Said = ""
    #: Share of clamp forces past the least yield strength.
    yielded: Index | None = None

    @property
    def below_wanted(self) -> Index | None:
        """Share of clamp forces below the wanted one: of the normal shape, counted where it is another."""
        if self.column != "clamp_force_kn" or self.limits[0] is None or not self.n:
            return None
        if self.ppk is None or self.shape is None or self.shape.family != "normal":
            return counted_share(self.beyond[0], self.n)
        value, low, high = map(share_beyond, (self.ppk.value, self.ppk.high, self.ppk.low))
        return Index(value, low, high, self.ppk.confidence)

    @property
    def deciding(self) -> Index | None:
        """The index that is judged."""
        return {"Cpk": self.cpk, "Ppk": self.ppk}.get(self.decided_by)

    def as_dict(self) -> dict[str, Any]:
        """Plain values, for JSON."""
        figures = {
            "n": self.n, "mean": finite_or_none(self.mean), "s_overall": finite_or_none(self.s_overall),
            "s_within": None if self.within is None else self.within.deviation,
            "low_limit": self.limits[0], "high_limit": self.limits[1],
        }  # fmt: skip
        indices = {
            name: None if index is None else index.as_dict()
            for name, index in (("cp", self.cp), ("cpk", self.cpk), ("pp", self.pp), ("ppk", self.ppk))
        }
        shares = {"share_below_wanted": self.below_wanted, "share_yielded": self.yielded}
        if self.column == "clamp_force_kn":
            indices |= {name: None if one is None else one.as_dict() for name, one in shares.items()}
        return {
            **figures, **indices, "shown": self.shown, "wanted": self.asked.wanted_cpk,
            "decided_by": self.decided_by.lower() or None, "lower_bound": self.bound,
            "confidence": self.asked.confidence, "index_needed": self.needed,
            "traces": self.traces, "basis": self.basis,
            "shape": None if self.shape is None else self.shape.family, "stable": self.stable,
            "streams": [one.as_dict() for one in self.streams],
            "components": None if self.components is None else asdict(self.components),
            "beyond": list(self.beyond), "notes": [str(note) for note in self.notes],
            "reason": str(self.reason),
        }  # fmt: skip
