"""Torque-angle traces of bolted joints: reading, zones, verdicts, population, report. Free of Qt."""

from __future__ import annotations

__version__ = "0.1.0"
