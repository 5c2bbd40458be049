"""What all fits of one rise share, in one array."""

from __future__ import annotations

#: What the fits of one rise need to know, in one array: begin and end of the cells (deg), smallest scale
#: (N·m), widest bend (deg), snug and yield ratio, climb of the prevailing torque (N·m/deg), angle where the
#: climb is zero (deg).
BEGIN, END, FLOOR, WIDEST, SNUG_RATIO, YIELD_RATIO, CLIMB, CLIMB_FROM = range(8)
