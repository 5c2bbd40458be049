"""One tightening curve to points and zones; estimators that do not know each other."""

from __future__ import annotations

from typing import Any

from analysis.curve.curve_table import ZONES, CurveTable
from analysis.curve.estimate import Estimate, Evidence

__all__ = ["ZONES", "CurveTable", "Estimate", "Evidence", "explain_curve", "find_points"]


def __getattr__(name: str) -> Any:
    # The compiler takes a fifth of a second to import: only when points are asked for.
    if name == "find_points":
        from analysis.curve.points import find_points

        return find_points
    if name == "explain_curve":
        from analysis.curve.explanation import explain_curve

        return explain_curve
    raise AttributeError(name)
