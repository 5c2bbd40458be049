"""Synthetic tightenings with known truth, by the program's own definitions."""

from __future__ import annotations

from analysis.synthetic.cases import CASES, make_cases
from analysis.synthetic.model import (
    Drawdown,
    Instrument,
    Joint,
    Pause,
    Plastic,
    Prevailing,
    Tool,
    TraceModel,
)
from analysis.synthetic.recording import Recording, make_trace, record
from analysis.synthetic.truth import Truth

__all__ = [
    "CASES",
    "Drawdown",
    "Instrument",
    "Joint",
    "Pause",
    "Plastic",
    "Prevailing",
    "Recording",
    "Tool",
    "TraceModel",
    "Truth",
    "make_cases",
    "make_trace",
    "record",
]
