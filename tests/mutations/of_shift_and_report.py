"""Mutations of the statistics of a shift, of the report, of stages and of settings."""

from __future__ import annotations

from tests.mutations.mutation import Mutation, changes

_S, _R = "tests/analysis/shift/", "tests/analysis/report/"
_POPULATION = (_S + "test_population.py", _S + "test_groups.py")
_NIST = (_S + "test_nist.py",)
_DRIFT = (_S + "test_shared_and_drift.py",)
_CAPABILITY = ("tests/analysis/capability/test_published_values.py",)
_STATISTICS = (_R + "test_statistics.py",)
_ODD = (*_POPULATION, "tests/analysis/test_bars_of_a_shift.py")

OF_SHIFT_AND_REPORT: tuple[Mutation, ...] = (
    *changes(
        "analysis/shift/outliers.py",
        _ODD,
        ("SHAPE_QUANTILE, SHAPE_TIMES = 0.90, 2.5", "SHAPE_QUANTILE, SHAPE_TIMES = 0.90, 10.0"),
        ("MOST_WIDENING = 1.5", "MOST_WIDENING = 15.0"),
        ("MANY_ODD = 0.25", "MANY_ODD = 0.75"),
        ("inv_cdf(1.0 - share / 2.0)", "inv_cdf(1.0 - share * 20.0)"),
        ("table.flagged[:] = table.score > 1.0", "table.flagged[:] = table.score > 3.0"),
    ),
    *changes(
        "analysis/spread.py",
        _NIST + _POPULATION,
        ("MAD_TO_SIGMA = 1.0 / 0.6745", "MAD_TO_SIGMA = 1.0"),
    ),
    *changes(
        "analysis/shift/groups.py",
        _POPULATION,
        ("APART = 5.0", "APART = 2.0"),
        ("SMALLEST_SHARE = 0.2", "SMALLEST_SHARE = 0.45"),
        ("VALLEY = 2.0", "VALLEY = 8.0"),
    ),
    *changes(
        "analysis/shift/drift.py",
        _DRIFT,
        ("STEP_PENALTY = 4.0", "STEP_PENALTY = 0.4"),
        ("(n * (n - 1) * (2 * n + 5) - ties) / 18.0", "(n * (n - 1) * (2 * n + 5) - ties) / 9.0"),
        ("LEAST_STRETCH = 8", "LEAST_STRETCH = 40"),
    ),
    *changes(
        "analysis/shift/sharing.py",
        _DRIFT,
        ("SIGNIFICANT = 0.01", "SIGNIFICANT = 0.5"),
        ("one.probability * (len(ordered) - rank)", "one.probability"),
    ),
    *changes(
        "analysis/capability/indices.py",
        _CAPABILITY,
        ("three = 3.0 * standard_deviation", "three = 2.0 * standard_deviation"),
        ("min(sides) if sides else None", "max(sides) if sides else None"),
    ),
    *changes(
        "analysis/capability/control_charts.py",
        _CAPABILITY,
        ("weight / (2.0 - weight)", "weight / (1.0 - weight)"),
    ),
    *changes(
        "analysis/shift/outlier_tests.py",
        _NIST,
        ("significance / (2.0 * n)):\n", "significance / n):\n"),
        ("            found = i\n", "            found = i\n        else:\n            break\n"),
    ),
    *changes(
        "analysis/shift/tolerance.py",
        _NIST + _DRIFT + _POPULATION,
        ("factor / math.sqrt(1.0 + 1.0 / n)", "factor / math.sqrt(1.0 - 1.0 / n)"),
        ("1.0 - n * coverage ** (n - 1) +", "1.0 - coverage ** (n - 1) +"),
    ),
    *changes(
        "analysis/shift/band_depth.py",
        _POPULATION,
        ("2.0 * share.var(axis=0)", "share.std(axis=0)"),
    ),
    *changes(
        "analysis/spread.py",
        _STATISTICS,
        ("CONFIDENCE = 0.95", "CONFIDENCE = 0.80"),
        ("z * z / (4.0 * n * n)", "z * z / (2.0 * n * n)"),
    ),
    *changes(
        "analysis/report/statistics.py",
        _STATISTICS,
        ("0.7413 * float(upper - lower)", "7.413 * float(upper - lower)"),
    ),
    *changes(
        "analysis/spread.py",
        _STATISTICS,
        ("np.percentile(array, [5, 50, 95])", "np.percentile(array, [10, 50, 90])"),
        ("ddof=1", "ddof=0"),
    ),
    *changes(
        "analysis/report/histogram_plot.py",
        (_R + "test_report.py",),
        ("np.clip(values, edges[0], edges[-1])", "values"),
    ),
    *changes(
        "analysis/catalogue/figures.py",
        ("analysis/catalogue/figures.py", _R + "test_report.py"),
        ("return 100.0 if self.per_cent", "return 1.0 if self.per_cent"),
        ("self.decimals - round(math.log10(factor))", "self.decimals + round(math.log10(factor))"),
    ),
    *changes(
        "analysis/report/answer.py",
        (_R + "test_report.py", _R + "test_words.py"),
        ("    if open_ == n:\n", "    if open_ == n + 1:\n"),
        ('if verdict in ("not ok", "suspect"):', 'if verdict in ("not ok", "ok"):'),
    ),
    *changes(
        "analysis/report/ticks.py",
        (_R + "test_ticks.py",),
        ("digits = max(0, -math.floor(math.log10(step)))", "digits = max(0, -math.ceil(math.log10(step)))"),
    ),
    *changes(
        "analysis/report/curve_reduction.py",
        (_R + "test_curve_reduction.py",),
        ("by_height[starts], by_height[stops - 1]", "by_height[starts]"),
    ),
    *changes(
        "analysis/operation/stages.py",
        ("tests/analysis/curve/test_stages.py",),
        (
            "LEAST_STOP_SHARE, LEAST_FALL_SHARE, FALL_SIGMAS = 0.10, 0.05, 6.0",
            "LEAST_STOP_SHARE, LEAST_FALL_SHARE, FALL_SIGMAS = 0.10, 0.50, 6.0",
        ),
        ("SHORTEST_STOP_S = 0.02", "SHORTEST_STOP_S = 2.0"),
    ),
    *changes(
        "analysis/settings.py",
        ("tests/analysis/test_settings_stand.py", "tests/analysis/test_results.py"),
        ("hard_limit_deg: float = 30.0", "hard_limit_deg: float = 60.0"),
        ("soft_limit_deg: float = 720.0", "soft_limit_deg: float = 360.0"),
        ("return 2.0 / 3.0 if self.yield_rule", "return 0.6 if self.yield_rule"),
        ("outlier_share: float = 0.006", "outlier_share: float = 0.06"),
    ),
    *changes(
        "analysis/shift/joint_proposal.py",
        ("analysis/shift/joint_proposal.py",),
        ("SET_ASIDE = 5.0", "SET_ASIDE = 5000.0"),
        ("TARGET_DIGITS = 3", "TARGET_DIGITS = 1"),
    ),
    *changes(
        "analysis/shift/tolerance.py",
        ("tests/analysis/shift/test_nist.py", "tests/app/shift/test_limits_from_data.py"),
        ("COVERAGE, CONFIDENCE = 0.99, 0.95", "COVERAGE, CONFIDENCE = 0.90, 0.95"),
        ("_FARTHEST_MEAN, _QUADRATURE_POINTS = 7.7, 800", "_FARTHEST_MEAN, _QUADRATURE_POINTS = 0.7, 800"),
    ),
    *changes(
        "analysis/shift/robust.py",
        _NIST + _ODD,
        ("SIDE_SHARE, MOST_SKEW = 0.6, 1.6", "SIDE_SHARE, MOST_SKEW = 0.1, 1.6"),
        ("_NINTHS = 2.0 / 9.0", "_NINTHS = 2.0 / 90.0"),
    ),
    *changes("analysis/shift/outliers.py", _ODD, ("LEAST_SHAPE = 0.02", "LEAST_SHAPE = 2.0")),
    *changes(
        "analysis/shift/course.py",
        (*_DRIFT, "tests/app/shift/test_over_time.py"),
        ("TREND_PROBABILITY = 0.01", "TREND_PROBABILITY = 0.9"),
    ),
    *changes(
        "analysis/shift/curve_band.py",
        ("tests/analysis/shift/test_curve_band.py",),
        ("ENVELOPE_PERCENTILES = (5.0, 50.0, 95.0)", "ENVELOPE_PERCENTILES = (25.0, 50.0, 75.0)"),
        ("BEFORE, BEHIND = 1.6, 1.5", "BEFORE, BEHIND = 0.2, 1.5"),
    ),
    *changes(
        "analysis/shift/sharing.py", _DRIFT, ("MOST_DISTINCT_SHARE = 0.5", "MOST_DISTINCT_SHARE = 50.0")
    ),
    *changes("analysis/spread.py", ("tests/analysis/plant/test_year.py",), ("Z95 = 1.96", "Z95 = 1.0")),
)
