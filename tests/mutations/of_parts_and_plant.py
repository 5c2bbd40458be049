"""Mutations of audits, operations, capability, parts, a plant's year and ways of tightening."""

from __future__ import annotations

from tests.mutations.mutation import Mutation, changes

_A, _C, _P = "tests/analysis/audit/", "tests/analysis/capability/", "tests/analysis/parts/"
_MOVEMENT = (_A + "test_movement.py", _A + "test_audits_of_a_shift.py")
_TURNED_BACK = (_A + "test_turned_back.py",)
_PAIRS = (_A + "test_against_dynamic.py",)
_CAPABILITY = (_C + "test_published_values.py", _C + "test_against_libraries.py", _C + "test_study.py")
_HISTORIES = (_P + "test_small_histories.py", _P + "test_histories.py")
_AGAIN = (_P + "test_wound_up.py", _P + "test_turned_on_again.py")
_PAUSES = (_P + "test_pause_losses.py",)
_CALIBRATION = ("analysis/plant/calibration.py", "tests/analysis/plant/test_calibration.py")
_YEAR = ("tests/analysis/plant/test_year.py",)
_STRATEGY = ("tests/analysis/strategy/test_strategies.py",)
_BACK_OFFS = ("tests/analysis/joint/test_back_off_values.py", "tests/analysis/joint/test_conditioning.py")
_OPERATIONS = ("tests/analysis/curve/test_loosening_runs.py", "tests/analysis/test_operations.py")

OF_PARTS_AND_PLANT: tuple[Mutation, ...] = (
    *changes(
        "analysis/audit/movement_fit.py",
        _MOVEMENT,
        ("LEAST_GAIN = 8.0", "LEAST_GAIN = 800.0"),
        ("SHAPE_UNCERTAINTY = 0.065", "SHAPE_UNCERTAINTY = 0.0065"),
        ("LARGEST_SLOPE_RATIO = 0.85", "LARGEST_SLOPE_RATIO = 0.2"),
    ),
    *changes(
        "analysis/audit/readings.py",
        _MOVEMENT,
        ("LEAST_MOVED_DEG = 1.5", "LEAST_MOVED_DEG = 15.0"),
        ("DIP_WITHIN_DEG, BESIDE_DEG = 5.0, 0.5", "DIP_WITHIN_DEG, BESIDE_DEG = 0.1, 0.5"),
        ("PULL_SHARE, DEEP_SHARE = 0.08, 0.30", "PULL_SHARE, DEEP_SHARE = 0.80, 0.30"),
        ("WINDING_SHARE = 0.2", "WINDING_SHARE = 0.95"),
    ),
    *changes(
        "analysis/audit/turned_back.py",
        _TURNED_BACK,
        ("LOOSE_SHARE = 0.1", "LOOSE_SHARE = 0.95"),
        ("CLIMB = (0.2, 0.9)", "CLIMB = (0.7, 0.9)"),
    ),
    *changes(
        "analysis/audit/against_dynamic.py",
        _PAIRS,
        ("ODD_SCORE = 3.5", "ODD_SCORE = 350.0"),
        ("LOW_SIGMA = 3.0", "LOW_SIGMA = 30.0"),
        ("NormalDist().inv_cdf(0.975)", "NormalDist().inv_cdf(0.75)"),
        ("LEAST_TIME_RATIO = 5, 8, 2.0", "LEAST_TIME_RATIO = 5, 800, 2.0"),
    ),
    *changes("analysis/audit/low_together.py", _PAIRS, ("CHANCE = 2, 0.01", "CHANCE = 2, 0.9")),
    *changes(
        "analysis/operation/hand_wrench.py",
        (_A + "test_audits_of_a_shift.py", *_OPERATIONS),
        ("HAND_SPEED = 30.0", "HAND_SPEED = 3.0"),
        ("LARGEST_TURN_DEG = 55.0", "LARGEST_TURN_DEG = 5.0"),
        ("LEAST_WIND_UP_DEG = 2.0", "LEAST_WIND_UP_DEG = 40.0"),
    ),
    *changes(
        "analysis/operation/back_offs.py",
        _BACK_OFFS,
        ("CLIMB = (0.2, 0.95)", "CLIMB = (0.8, 0.95)"),
        ("RISE_SHARE = 0.25", "RISE_SHARE = 0.99"),
    ),
    *changes(
        "analysis/operation/loosening_runs.py",
        _OPERATIONS,
        ("BACKWARD_DEG, BACKWARD_SHARE = 10.0, 0.8", "BACKWARD_DEG, BACKWARD_SHARE = 1e4, 0.8"),
        ("PITCH_TOLERANCE = 0.10", "PITCH_TOLERANCE = 0.001"),
        ("FEWEST_PERIODS = 3", "FEWEST_PERIODS = 30"),
    ),
    *changes(
        "analysis/operation/straight_line.py",
        _BACK_OFFS,
        ("WITHIN_SIGMAS = 3.0", "WITHIN_SIGMAS = 300.0"),
        ("SELECTION = 1.1", "SELECTION = 0.2"),
    ),
    *changes(
        "analysis/capability/shaped_indices.py",
        _CAPABILITY,
        ("ZERO_SHARE = 0.3", "ZERO_SHARE = 30.0"),
        ("ZERO_SHARE = 0.3", "ZERO_SHARE = 0.0"),
    ),
    *changes(
        "analysis/capability/indices.py",
        _CAPABILITY,
        ("HIGH_SHARE = 0.99865", "HIGH_SHARE = 0.9865"),
        (
            "MACHINE_CAPABILITY, MACHINE_TIGHTENINGS = 1.67,",
            "MACHINE_CAPABILITY, MACHINE_TIGHTENINGS = 1.33,",
        ),
    ),
    *changes(
        "analysis/capability/control_charts.py",
        _CAPABILITY,
        ("WEIGHT, WEIGHTED_LIMIT = 0.2, 3.0", "WEIGHT, WEIGHTED_LIMIT = 0.6, 3.0"),
        ("SLACK, THRESHOLD = 0.5, 5.0", "SLACK, THRESHOLD = 0.5, 2.0"),
        ("MOST_CORRELATION = 0.3", "MOST_CORRELATION = 3.0"),
    ),
    *changes(
        "analysis/capability/shape.py",
        _CAPABILITY,
        ("SIGNIFICANCE = 0.005", "SIGNIFICANCE = 0.5"),
        ("LIKELIER = 2.0", "LIKELIER = 2000.0"),
        ("FEWEST_SHAPED = 10", "FEWEST_SHAPED = 100000"),
    ),
    *changes(
        "analysis/capability/stability.py", _CAPABILITY, ("STABLE_CHANCE = 0.01", "STABLE_CHANCE = 0.9")
    ),
    *changes(
        "analysis/capability/spread.py",
        _CAPABILITY,
        ("D2_OF_TWO = 2.0 / math.sqrt(math.pi)", "D2_OF_TWO = 1.0"),
        ("COARSEST_STEP = 1.7", "COARSEST_STEP = 170.0"),
    ),
    *changes(
        "analysis/capability/study_notes.py",
        _CAPABILITY,
        ("CUT_OFF = 3.0", "CUT_OFF = 0.01"),
        ("TOLD_SHARE = 5.0", "TOLD_SHARE = 500.0"),
    ),
    *changes(
        "analysis/parts/wound_up.py",
        _AGAIN,
        ("_LEAST_HELD, _MOST_TURNED = 0.2, 1.5", "_LEAST_HELD, _MOST_TURNED = 0.99, 1.5"),
        ("_LEAST_HELD, _MOST_TURNED = 0.2, 1.5", "_LEAST_HELD, _MOST_TURNED = 0.0, 1.5"),
        ("_LEAST_HELD, _MOST_TURNED = 0.2, 1.5", "_LEAST_HELD, _MOST_TURNED = 0.2, 0.1"),
    ),
    *changes(
        "analysis/parts/restart.py",
        _AGAIN,
        ("_WIND_UP_FROM, _STEEPER = 0.4, 0.03, 0.5, 1.5", "_WIND_UP_FROM, _STEEPER = 0.4, 0.03, 0.5, 150.0"),
        (
            "_BELOW_SHARE, _WIND_UP_FROM, _STEEPER = 0.4, 0.03,",
            "_BELOW_SHARE, _WIND_UP_FROM, _STEEPER = 0.4, 3.0,",
        ),
        ("LEAST_TURNED_DEG = 1.5", "LEAST_TURNED_DEG = 1500.0"),
    ),
    *changes(
        "analysis/parts/passes.py",
        (_P + "test_interaction.py", *_HISTORIES),
        ("_ROUND_SHARE, _LEAST_ROUND = 0.5, 2", "_ROUND_SHARE, _LEAST_ROUND = 5.0, 2"),
        ("_ROUND_SHARE, _LEAST_ROUND = 0.5, 2", "_ROUND_SHARE, _LEAST_ROUND = 0.01, 1"),
    ),
    *changes(
        "analysis/parts/together.py",
        (*_HISTORIES, _P + "test_interaction.py"),
        ("LATE_SIGMAS = 3.0", "LATE_SIGMAS = 300.0"),
        ("LATE_SIGMAS = 3.0", "LATE_SIGMAS = 0.3"),
    ),
    *changes("analysis/parts/events.py", _HISTORIES, ("TIGHT_SHARE = 0.5", "TIGHT_SHARE = 0.99")),
    *changes(
        "analysis/parts/interaction.py",
        (_P + "test_interaction.py",),
        ("MOST_PASSES, EVEN_ENOUGH = 10, 0.01", "MOST_PASSES, EVEN_ENOUGH = 10, 0.9"),
        ("_SAME_DISTANCE = 0.01", "_SAME_DISTANCE = 10.0"),
    ),
    *changes(
        "analysis/parts/pause_losses.py",
        _PAUSES,
        ("_READ_SHARE = 0.05", "_READ_SHARE = 0.0005"),
        ("_LAST_SHARE = 0.6", "_LAST_SHARE = 0.05"),
        ("_LEAST_TIMES, _LEAST_BEYOND = 0.02, 2.0, 3", "_LEAST_TIMES, _LEAST_BEYOND = 0.02, 2000.0, 3"),
    ),
    *changes(
        _CALIBRATION[0],
        _CALIBRATION[1:],
        ("FIRST_DAYS, TOLERANCE_PERCENT = 365.0, 4.0", "FIRST_DAYS, TOLERANCE_PERCENT = 180.0, 4.0"),
        ("FIRST_DAYS, TOLERANCE_PERCENT = 365.0, 4.0", "FIRST_DAYS, TOLERANCE_PERCENT = 365.0, 6.0"),
        ("WITHIN, BEYOND = 0.5, 0.8", "WITHIN, BEYOND = 0.9, 0.8"),
        ("WITHIN, BEYOND = 0.5, 0.8", "WITHIN, BEYOND = 0.5, 0.99"),
        ("LONGER, SHORTER, HALVED = 1.5, 0.7, 0.5", "LONGER, SHORTER, HALVED = 1.5, 0.7, 0.7"),
        ("_SHORTEST_DAYS, _LONGEST_DAYS = 30.0, 1095.0", "_SHORTEST_DAYS, _LONGEST_DAYS = 3.0, 1095.0"),
        ("_SHORTEST_DAYS, _LONGEST_DAYS = 30.0, 1095.0", "_SHORTEST_DAYS, _LONGEST_DAYS = 30.0, 9999.0"),
        ("for one in some[:-1] if one.share <= 1.0", "for one in some[:-1] if one.share <= 2.0"),
    ),
    *changes(
        "analysis/plant/discovery.py",
        _YEAR,
        ("FALSE_DISCOVERIES = 0.05", "FALSE_DISCOVERIES = 0.9"),
        ("LEAST_SIDE, LEAST_WEEKS = 2, 6", "LEAST_SIDE, LEAST_WEEKS = 2, 60"),
    ),
    *changes("analysis/plant/tool_care.py", _YEAR, ("LIMIT_SHARE = 0.01", "LIMIT_SHARE = 0.1")),
    *changes(
        "analysis/plant/sketch.py",
        ("tests/analysis/plant/test_sketch.py",),
        ("ACCURACY = 0.0025", "ACCURACY = 0.1"),
    ),
    *changes(
        "analysis/strategy/joint_scatter.py",
        _STRATEGY,
        ("RANGE_DEVIATIONS = 4.0", "RANGE_DEVIATIONS = 2.0"),
        ("LOT_MEAN, LOT_DEVIATION = 1.07, 0.035", "LOT_MEAN, LOT_DEVIATION = 1.0, 0.035"),
    ),
    *changes(
        "analysis/strategy/models.py",
        _STRATEGY,
        ("WINDOW_SHARE = 0.95", "WINDOW_SHARE = 0.5"),
        ("HARDENING = (0.03, 0.08)", "HARDENING = (0.3, 0.8)"),
        ("STRONG_BOLT = 3.0", "STRONG_BOLT = 0.0"),
    ),
    *changes("analysis/strategy/settings.py", _STRATEGY, ("SNUG_SHARE = 0.3", "SNUG_SHARE = 0.9")),
    *changes(
        "analysis/parts/pause_losses.py",
        _PAUSES,
        ("_LEAST_SAMPLES, _SLOPE_KNOWN = 0.4, 6, 0.03", "_LEAST_SAMPLES, _SLOPE_KNOWN = 0.4, 6, 0.003"),
        ("_LEAST_SAMPLES, _SLOPE_KNOWN = 0.4, 6, 0.03", "_LEAST_SAMPLES, _SLOPE_KNOWN = 0.4, 20, 0.03"),
    ),
    *changes(
        "analysis/joint/company.py",
        _BACK_OFFS[1:],
        ("np.where(begun_tight, np.nan, ratio)", "np.where(begun_tight, ratio, ratio)"),
    ),
)
