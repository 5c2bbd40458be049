"""What was recorded: one trace, a set of traces, their schema and units."""

from __future__ import annotations

from analysis.traces.trace import Trace
from analysis.traces.trace_set import Source, TraceSet

__all__ = ["Source", "Trace", "TraceSet"]
