"""What the kernel fills for each trace: float columns by the names of `CurveTable`, and integer codes."""

from __future__ import annotations

#: Float columns that the kernel fills, in order; the names are those of `CurveTable`.
COLUMNS = (
    "final_angle_deg",
    "final_torque_nm",
    "elastic_slope_nm_per_deg",
    "elastic_slope_uncertainty_nm_per_deg",
    "elastic_from_deg",
    "elastic_to_deg",
    "elastic_line_angle_deg",
    "elastic_line_torque_nm",
    "elastic_origin_deg",
    "elastic_origin_uncertainty_deg",
    "snug_angle_deg",
    "snug_torque_nm",
    "snug_angle_uncertainty_deg",
    "yield_angle_deg",
    "yield_torque_nm",
    "yield_angle_uncertainty_deg",
    "drawdown_angle_deg",
    "drawdown_angle_uncertainty_deg",
    "prevailing_torque_nm",
    "prevailing_uncertainty_nm",
    "prevailing_highest_nm",
    "prevailing_trend_nm_per_turn",
    "prevailing_from_deg",
    "prevailing_to_deg",
    "joint_rate_deg",
    "joint_rate_line_deg",
    "torque_noise_nm",
    "samples_per_deg",
)
(
    FINAL_ANGLE, FINAL_TORQUE, E_SLOPE, E_SLOPE_U, E_FROM, E_TO, E_LINE_A, E_LINE_T, E_ORIGIN, E_ORIGIN_U,
    SNUG_A, SNUG_T, SNUG_U, YIELD_A, YIELD_T, YIELD_U, DRAW_A, DRAW_U,
    PREV, PREV_U, PREV_HIGH, PREV_TREND, PREV_FROM, PREV_TO, RATE, RATE_LINE, NOISE, DENSITY,
) = range(len(COLUMNS))  # fmt: skip
#: Integer columns: indices, counts, verdict on yielding, reasons.
CODES = (
    "final_index",
    "snug_index",
    "yield_index",
    "drawdown_index",
    "left_out_samples",
    "yielded",
    "slope_reason",
    "snug_reason",
    "yield_reason",
    "drawdown_reason",
    "prevailing_reason",
)
(
    FINAL_I, SNUG_I, YIELD_I, DRAW_I, LEFT_OUT, YIELDED, SLOPE_WHY, SNUG_WHY, YIELD_WHY, DRAW_WHY, PREV_WHY,
) = range(len(CODES))  # fmt: skip
