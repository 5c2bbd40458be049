"""What all fits of one rise share, in one array."""

from __future__ import annotations

#: What the fits of one rise need to know, in one array: begin and end of the cells (deg), smallest scale
#: (N·m), widest bend (deg), snug and yield ratio, trend of the prevailing torque (N·m/deg), angle where the
#: trend is zero (deg), and the share of the ripple that goes on through the rise (0 or 1).
BEGIN, END, FLOOR, WIDEST, SNUG_RATIO, YIELD_RATIO, TREND, TREND_FROM, RIPPLE_SHARE = range(9)
FRAME_VALUES = 9
