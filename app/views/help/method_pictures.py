"""The picture of the family of bends: several ways from one straight line into another."""

from __future__ import annotations

import numpy as np

from app.views.help.sheet import PREVAILING, SLOPE, Sheet

#: Foot of the line, and width of the bends, degrees; schematic ones.
_FOOT, _WIDTH = 360.0, 210.0


def family_of_bends(sheet: Sheet) -> None:
    """The parabola, dashed ones beside it, and the two lines that all of them join."""
    # Imported late: the tables come with what finds points.
    from analysis.curve.shapes import SHAPES, TABLE_POINTS, TABLE_START, TABLE_STEP, bend_tables

    u = TABLE_START + TABLE_STEP * np.arange(TABLE_POINTS)
    angle = np.linspace(0.0, 470.0, 471)
    shown = [SHAPES.index("quartic"), SHAPES.index("exponential"), SHAPES.index("stiff-layer"), 0]
    for shape in shown:
        height = np.interp((angle - _FOOT) / _WIDTH, u, bend_tables()[shape, 0])
        sheet.line(angle, PREVAILING + SLOPE * _WIDTH * height, usual=shape != 0)
    end = float(angle[-1])
    sheet.straight((0.0, PREVAILING), (_FOOT, PREVAILING))
    sheet.straight((_FOOT, PREVAILING), (end, PREVAILING + SLOPE * (end - _FOOT)))
    sheet.mark(_FOOT, PREVAILING + SLOPE * _WIDTH / 8.0, "all sag by an eighth of their width")
