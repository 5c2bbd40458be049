"""The points of a curve that a person may move, and what they are called."""

from __future__ import annotations

MOVABLE_POINTS = {"drawdown": "drawdown start", "snug": "snug point", "yield": "yield onset"}
