"""Mutations of how points are found on a curve: kernels (interpreted), tables of bends, chosen rules."""

from __future__ import annotations

from tests.mutations.mutation import Mutation, changes

#: The twin sees nearly everything, and is quick; what it sees is a disagreement, the bars see the truth.
_TWIN = ("tests/twins/test_whole_fit.py",)
_BARS = ("tests/analysis/curve/test_bars.py",)
_CURVE = "analysis/curve/"

OF_CURVE: tuple[Mutation, ...] = (
    *changes(
        _CURVE + "rise_report.py",
        _TWIN,
        ("SNUG_SPREAD, SLOPE_SPREAD, YIELD_SPREAD = 1.9,", "SNUG_SPREAD, SLOPE_SPREAD, YIELD_SPREAD = 0.95,"),
        ("min(np.hypot(by_shape, wave),", "min(3.0 * np.hypot(by_shape, wave),"),
        ("RIPPLE_CHANGE = 0.35", "RIPPLE_CHANGE = 3.5"),
        ("STILL_RISING_SHARE = 0.4", "STILL_RISING_SHARE = 0.05"),
        ("SHORT_RUNDOWN = 0.1", "SHORT_RUNDOWN = 0.001"),
        interpreted=True,
    ),
    *changes(
        _CURVE + "rise_fit.py",
        _TWIN,
        ("CELL_WORTH = 8.0", "CELL_WORTH = 2.0"),
        ("return n, samples / (end - begin)", "return n, 2.0 * samples / (end - begin)"),
        ("TREND_SHARE = 0.01", "TREND_SHARE = 1e9"),
        ("LEAD_SHARE = 0.35", "LEAD_SHARE = 0.70"),
        ("float(MAD_TO_SIGMA * median_in_place(away", "float(3.0 * MAD_TO_SIGMA * median_in_place(away"),
        ("RIPPLE_LEAST = 1e-3", "RIPPLE_LEAST = 1e3"),
        interpreted=True,
    ),
    *changes(
        _CURVE + "least_squares.py",
        _TWIN,
        ("BISQUARE = 4.685", "BISQUARE = 3.0"),
        ("return (1.0 + r) / (1.0 - r)", "return 1.0"),
        interpreted=True,
    ),
    *changes(
        _CURVE + "readings.py",
        _TWIN,
        ("SUSTAINED_SHARE = 0.2", "SUSTAINED_SHARE = 0.4"),
        ("LAYER_GAIN = 3.5", "LAYER_GAIN = 0.0"),
        ("START_SHARE, TOUCH_SHARE = 0.02,", "START_SHARE, TOUCH_SHARE = 0.10,"),
        ("SHAPE_TEMPERATURE = 2.0", "SHAPE_TEMPERATURE = 1.0"),
        ("WIDTH_KNOWN_TO = 3.0", "WIDTH_KNOWN_TO = 1.0"),
        ("(readings[k, q + 1] + (readings[k, q] - out[q]) ** 2)", "readings[k, q + 1]"),
        interpreted=True,
    ),
    *changes(
        _CURVE + "shape_fits.py",
        _TWIN,
        ("YIELD_GAIN = 12.0", "YIELD_GAIN = 120.0"),
        ("NO_SAY = 9.0", "NO_SAY = 0.5"),
        interpreted=True,
    ),
    *changes(
        _CURVE + "prevailing.py",
        _TWIN,
        ("MEDIAN_EFFICIENCY = 1.2533", "MEDIAN_EFFICIENCY = 1.0"),
        ("START_TRANSIENT_DEG = 60.0", "START_TRANSIENT_DEG = 6.0"),
        interpreted=True,
    ),
    *changes(
        _CURVE + "rundown.py",
        _TWIN,
        ("START_SPREAD, START_SHAPE = 1.8, 0.2", "START_SPREAD, START_SHAPE = 0.9, 0.1"),
        interpreted=True,
    ),
    *changes(
        _CURVE + "ripple.py",
        _TWIN,
        ("RIPPLE_BELIEF = 3.0", "RIPPLE_BELIEF = 0.0"),
        interpreted=True,
    ),
    *changes(
        _CURVE + "tightening.py",
        _TWIN,
        ("kept = reached <= a <= end", "kept = a <= end"),
        interpreted=True,
    ),
    *changes(
        _CURVE + "shapes.py",
        _TWIN,
        ("ROUGH_POWERS = (0.6, 2.5)", "ROUGH_POWERS = (1.0, 1.5)"),
        ('"soft-layer": (0.15, 0.7)', '"soft-layer": (0.4, 0.7)'),
        ('"ease-out": (1.0, 2.0)', '"ease-out": (1.0, 1.0)'),
    ),
    *changes(
        _CURVE + "chosen_rules.py",
        (*_BARS, "tests/analysis/curve/test_points.py", "tests/analysis/joint/test_yield_rules.py"),
        ("a - offset_deg[row] - curves", "a + offset_deg[row] - curves"),
        ("np.hypot(curves.torque_noise_nm / slope,", "10.0 * np.hypot(curves.torque_noise_nm / slope,"),
        ("a, t >= threshold_nm)", "a, t <= threshold_nm)"),
    ),
    *changes(
        _CURVE + "shapes.py",
        _TWIN,
        ('"asperities-of-eight": (8.0, 0.0)', '"asperities-of-eight": (4.0, 0.0)'),
        ('"gap-of-six": (6.0, 0.12)', '"gap-of-six": (6.0, 1.2)'),
        ('"uneven-gap-of-two": (2.0, 0.35)', '"uneven-gap-of-two": (0.2, 0.35)'),
    ),
    *changes(
        _CURVE + "prevailing.py",
        _TWIN,
        ("step_nm * step_nm / 12.0", "step_nm * step_nm / 1200.0"),
        ("max(total / n / step_nm - 0.5, 0.0)", "max(total / n / step_nm, 0.0)"),
        interpreted=True,
    ),
    *changes(
        _CURVE + "yield_fit.py",
        _TWIN,
        ("UPPER_SHARE = 0.15", "UPPER_SHARE = 0.6"),
        interpreted=True,
    ),
)
