"""Figures in the groups in which a list of them offers them, and those that no such list offers."""

from __future__ import annotations

from collections.abc import Collection

from analysis.catalogue.figures import FIGURE_OF, FIGURES

#: Title and figures of each group, in the order in which an engineer asks.
FIGURE_GROUPS: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("Torque", ("final_torque_nm", "prevailing_torque_nm", "prevailing_highest_nm",
     "prevailing_trend_nm_per_turn", "snug_torque_nm", "yield_torque_nm", "breakaway_torque_nm")),
    ("Angle", ("joint_rate_deg", "total_angle_deg", "rundown_deg", "drawdown_deg", "drawdown_angle_deg",
     "snug_angle_deg", "elastic_origin_deg", "yield_angle_deg", "final_angle_deg", "breakaway_angle_deg")),
    ("Slope and friction", ("elastic_slope_nm_per_deg", "measured_stiffness_n_per_deg", "measured_friction",
     "implied_friction", "friction_total", "torque_coefficient")),
    ("Clamp force", ("clamp_force_kn", "clamp_force_low_kn", "clamp_force_high_kn", "clamp_force_left_kn",
     "clamp_force_left_low_kn", "embedding_loss_kn", "clamp_force_by_angle_kn", "measured_clamp_force_kn",
     "utilisation")),
    ("Limits and oddity", ("torque_margin_nm", "angle_margin_deg", "prevailing_margin_nm", "outlier_score")),
    ("Stages and pauses", ("stages", "pause_torque_nm", "pause_s", "pause_torque_lost_nm",
     "restart_overshoot_nm")),
    ("Impulse tool", ("pulses", "pulses_after_snug", "pulses_to_95", "angle_per_pulse_last",
     "envelope_plateau_nm", "strike_time_s", "pulse_rate_per_s")),
    ("Audit", ("residual_torque_nm", "first_movement_torque_nm", "peak_torque_nm", "moved_angle_deg",
     "movement_angle_deg", "ongoing_slope_nm_per_deg", "wrench_slope_nm_per_deg", "ratio_to_dynamic",
     "minutes_since", "audit_raised_kn")),
)  # fmt: skip
#: What the program works with, and nobody plots: how well a figure is known stands beside the figure.
INTERNAL: frozenset[str] = frozenset(
    {figure.uncertainty for figure in FIGURES if figure.uncertainty}
    | {"n_samples", "deciding_margin", "joint_rate_line_deg", "torque_noise_nm", "samples_per_deg"}
    | {"cause_weight", "slip_pitch_deg"}
)
#: Heading of numbers that the recordings brought.
RECORDED = "As recorded"


def in_groups(names: Collection[str]) -> list[tuple[str, tuple[str, ...]]]:
    """These columns by group, without empty groups and internal ones; other columns last, as recorded.

    Examples
    --------
    >>> in_groups(["temperature", "snug_angle_uncertainty_deg", "final_torque_nm"])
    [('Torque', ('final_torque_nm',)), ('As recorded', ('temperature',))]
    """
    found = [(title, tuple(name for name in group if name in names)) for title, group in FIGURE_GROUPS]
    found.append((RECORDED, tuple(sorted(name for name in names if name not in FIGURE_OF))))
    return [(title, group) for title, group in found if group]
