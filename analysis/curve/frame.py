"""What all fits of one rise share, in one array."""

from __future__ import annotations

#: What the fits of one rise need to know, in one array: begin and end of the cells (deg), smallest scale
#: (N·m), widest bend (deg), snug and yield ratio, trend of the prevailing torque (N·m/deg), angle where the
#: trend is zero (deg), the share of the ripple that goes on through the rise (0 or 1), and the variances of snug (deg2)
#: and of the elastic slope by not knowing that.
(
    BEGIN,
    END,
    FLOOR,
    WIDEST,
    SNUG_RATIO,
    YIELD_RATIO,
    TREND,
    TREND_FROM,
    RIPPLE_SHARE,
    RIPPLE_SNUG_VAR,
    RIPPLE_SLOPE_VAR,
) = range(11)
FRAME_VALUES = 11
