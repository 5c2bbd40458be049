"""Capability of processes and tools: indices with intervals, control charts, tool against process."""
