"""All that decides what the curve view shows, frozen: a picture for export is drawn from the same record."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from analysis.curve.curve_table import CurveTable
from analysis.traces import TraceSet
from app.items.band_item import ExpectedFan, ReferenceBand

Alignment = Literal["start", "snug", "final", "none"]
XKind = Literal["angle", "time"]
YKind = Literal["torque", "slope"]


@dataclass(frozen=True, eq=False)
class CurveState:
    """What is shown."""

    traces: TraceSet
    visible: NDArray[np.bool_]  #: Shape (n_traces,).
    curves: CurveTable | None = None  #: None while nothing is analysed yet.
    #: Codes into `analysis.verdict.finding.VERDICTS`; -1 for none yet.
    verdicts: NDArray[np.int8] | None = None
    #: Rows; `primary` is the one that is drawn bold.
    selected: NDArray[np.int64] = field(default_factory=lambda: np.empty(0, np.int64))
    primary: int | None = None
    moved: tuple[str, ...] = ()  #: Points of the primary trace that were moved by hand.
    alignment: Alignment = "start"
    x: XKind = "angle"
    y: YKind = "torque"
    torque_unit: str = "N·m"
    reference: ReferenceBand | None = None
    fan: ExpectedFan | None = None
    colour_by: tuple[str | None, ...] | None = None  #: A text (or None) per trace: none: coloured by verdict.

    @classmethod
    def empty(cls) -> CurveState:
        """Nothing to show."""
        return cls(TraceSet.empty(), np.empty(0, bool))
