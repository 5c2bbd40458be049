"""Mutations of the engineering of the joint: thread, friction, clamp force, stiffness, settling."""

from __future__ import annotations

from tests.mutations.mutation import Mutation, changes

_J = "tests/analysis/joint/"
_BOLTS, _TORQUE, _STIFFNESS = (_J + "test_bolts.py",), (_J + "test_torque.py",), (_J + "test_stiffness.py",)
_CLAMP = (_J + "test_clamp_force.py", _J + "test_routes.py", "tests/analysis/test_bars_of_a_shift.py")

OF_JOINT: tuple[Mutation, ...] = (
    *changes(
        "analysis/joint/thread.py",
        _BOLTS,
        ("self.diameter_mm - 0.649519 * self.pitch_mm", "self.diameter_mm - 0.619519 * self.pitch_mm"),
        ("self.diameter_mm - 1.226869 * self.pitch_mm", "self.diameter_mm - 1.082532 * self.pitch_mm"),
        ("12: 1.75, 14: 2.0", "12: 1.5, 14: 2.0"),
    ),
    *changes(
        "analysis/joint/property_class.py",
        _BOLTS,
        ('"10.9": Strength(1040, 940, 830)', '"10.9": Strength(1000, 900, 830)'),
        ("CLASS_8_8_STEP_MM = 16.0", "CLASS_8_8_STEP_MM = 24.0"),
    ),
    *changes(
        "analysis/joint/torque.py",
        _TORQUE,
        ("FLANK_ANGLE_DEG = 30.0", "FLANK_ANGLE_DEG = 27.5"),
        (
            "return thread.pitch_mm / (2.0 * math.pi) + thread_part",
            "return thread.pitch_mm / math.pi + thread_part",
        ),
    ),
    *changes(
        "analysis/joint/utilisation.py",
        (*_TORQUE, _J + "test_bolts.py"),
        ("ASSEMBLY_USE = 0.9", "ASSEMBLY_USE = 0.95"),
        ("ratio = 1.5 * thread.pitch_diameter_mm", "ratio = 1.0 * thread.pitch_diameter_mm"),
    ),
    *changes(
        "analysis/joint/stiffness.py",
        _STIFFNESS,
        ("0.362 + 0.032 * math.log(beta / 2.0)", "0.362 - 0.032 * math.log(beta / 2.0)"),
        ("thread.pitch_mm / (360.0 * (bolt_mm_per_n", "thread.pitch_mm / (180.0 * (bolt_mm_per_n"),
        ("ENGAGED_THREAD_LENGTH = 0.5", "ENGAGED_THREAD_LENGTH = 1.0"),
        (
            "COMPUTED_SCATTER, MEASURED_SCATTER = 0.20, 0.10",
            "COMPUTED_SCATTER, MEASURED_SCATTER = 0.05, 0.10",
        ),
    ),
    *changes(
        "analysis/joint/stiffness.py",
        (_J + "test_yield_rules.py",),
        ("PERMANENT_SHARE = 0.002", "PERMANENT_SHARE = 0.005"),
    ),
    *changes(
        "analysis/joint/routes.py",
        _CLAMP,
        ("COVERAGE = 2.0", "COVERAGE = 1.0"),
        ("CONTRADICTED = 2.0", "CONTRADICTED = 20.0"),
    ),
    *changes(
        "analysis/joint/clamp_routes.py",
        _CLAMP,
        ("np.maximum(final - most, 0.0), np.nan) / high", "np.maximum(final - most, 0.0), np.nan) / low"),
        ("~(final - prevailing > 0.0)", "~(final + prevailing > 0.0)"),
        ("np.where(usable, final - prevailing, np.nan)", "np.where(usable, final, np.nan)"),
        ("np.where(elastic, turned, on_line)", "np.where(elastic, on_line, turned)"),
    ),
    *changes(
        "analysis/joint/company.py",
        ("tests/analysis/verdict/test_clamp_evidence.py",),
        ("company.shift, np.nan_to_num(routes.slope_spread)", "company.shift, routes.angle.spread"),
        ("company.shift, np.nan_to_num(routes.slope_spread)", "company.shift, np.zeros_like(stated)"),
        ("MORE_LIKELY, LEFT_OUT = 0.5,", "MORE_LIKELY, LEFT_OUT = 1.5,"),
    ),
    *changes(
        "analysis/joint/clamp_force.py",
        (_J + "test_seizing.py",),
        ("np.log(MOST_SEIZED)", "-np.log(MOST_SEIZED)"),
        ('{"log_force": nan, "spread": nan,', '{"log_force": highest, "spread": nan,'),
    ),
    *changes(
        "analysis/joint/force_population.py",
        (_J + "test_force_population.py",),
        ("np.mean(own * found**2)", "np.mean(own)"),
    ),
    *changes(
        "analysis/joint/calculator.py",
        (_J + "test_calculator.py",),
        ("learnt.bounds[1], reached", "learnt.bounds[0], reached"),
        ("max(mu.bearing_middle + off, 0.0)", "mu.bearing_middle"),
    ),
    *changes(
        "analysis/joint/relaxation.py",
        (*_STIFFNESS, _J + "test_remaining.py"),
        ('("10 to 40", "axial"): (3.0, 3.0, 2.0)', '("10 to 40", "axial"): (3.0, 4.5, 2.0)'),
        ('(2 if counterpart == "nut" else 1) * face', '(1 if counterpart == "nut" else 1) * face'),
    ),
    *changes(
        "analysis/joint/prevailing_limits.py",
        (_J + "test_prevailing_limits.py",),
        ("10: (10.5, 1.5, 1.0)", "10: (10.5, 1.0, 1.0)"),
        ("limits.first_on_highest_nm - highest_nm", "highest_nm - limits.first_on_highest_nm"),
    ),
    *changes(
        "analysis/joint/scatter.py",
        _TORQUE + _BOLTS,
        ("(1.0 - scatter) * (torque_nm - tolerance_nm)", "(1.0 - scatter) * (torque_nm + tolerance_nm)"),
        ('"torque wrench": 0.25', '"torque wrench": 0.35'),
    ),
    *changes(
        "analysis/audit/movement_fit.py",
        ("tests/analysis/audit/test_movement.py",),
        ("np.array([0.6, 1.0, 1.5, 2.1, 2.9, 3.9])", "np.array([0.6, 1.0])"),
        ("np.array([0.6, 1.0, 1.5, 2.1, 2.9, 3.9])", "np.array([0.6, 1.2, 2.4, 4.8, 9.6])"),
        ("np.minimum(0.5 * behind_deg / length, 1.0)", "np.minimum(behind_deg / length, 1.0)"),
        ("np.array([0.3, 0.9])", "np.array([0.01, 0.02])"),
    ),
    *changes(
        "analysis/joint/clamp_routes.py",
        (_J + "test_clamp_force.py", _J + "test_routes.py"),
        ("TWIST_SHARE = 0.1", "TWIST_SHARE = 0.0"),
        ("np.where(elastic, origin, slope)", "origin"),
        ("TORQUE_UNCERTAINTY = 0.01", "TORQUE_UNCERTAINTY = 0.2"),
    ),
    *changes(
        "analysis/joint/laboratory.py",
        (_J + "test_laboratory.py",),
        ("REFERENCE_SHARE = 0.75", "REFERENCE_SHARE = 0.5"),
        ("RATE_FROM = 0.5", "RATE_FROM = 0.9"),
    ),
    *changes(
        "analysis/joint/pair_force.py",
        (*_TORQUE, _J + "test_loosening_pairs.py"),
        ("BREAKAWAY_UNCERTAINTY = 0.05", "BREAKAWAY_UNCERTAINTY = 0.5"),
    ),
    *changes(
        "analysis/joint/loosening_pairs.py",
        (_J + "test_loosening_pairs.py",),
        ("FREE_OVER_DEG, FREE_AFTER_DEG = 180.0, 360.0", "FREE_OVER_DEG, FREE_AFTER_DEG = 180.0, 36.0"),
    ),
    *changes(
        "analysis/joint/plastic_screw.py",
        (_J + "test_plastic_screw.py",),
        ("INDENTATION = 3.0", "INDENTATION = 1.0"),
        ("IDLE_TURNS = 1.0", "IDLE_TURNS = 0.0"),
        ("SHEAR_SHARE = 1.0 / math.sqrt(3.0)", "SHEAR_SHARE = 0.5"),
        ("FLANK_PRESSURE = (0.3, 1.0)", "FLANK_PRESSURE = (0.6, 1.0)"),
        ("STRENGTH_DEVIATION = 0.05", "STRENGTH_DEVIATION = 0.5"),
    ),
    *changes(
        "analysis/joint/thread.py",
        (*_BOLTS, _J + "test_parts_not_of_one_piece.py"),
        ("INCH_STRESS_DEPTH = 0.9743", "INCH_STRESS_DEPTH = 0.9382"),
        ("INCH_MM = 25.4", "INCH_MM = 25.0"),
    ),
    *changes(
        "analysis/joint/utilisation.py", _TORQUE, ("INVERSE_COS_FLANK = 1.155", "INVERSE_COS_FLANK = 1.0")
    ),
    *changes("analysis/joint/bearing.py", _BOLTS, ("HEX_BEARING_SHARE = 0.95", "HEX_BEARING_SHARE = 1.0")),
    *changes(
        "analysis/joint/bearing_strength.py",
        ("analysis/joint/bearing_strength.py", _J + "test_parts_not_of_one_piece.py"),
        ("0.5 + 0.649519 * math.tan", "0.5 - 0.649519 * math.tan"),
    ),
    *changes(
        "analysis/joint/stiffness.py",
        (*_STIFFNESS, _J + "test_parts_not_of_one_piece.py"),
        ("WASHER_SPREAD = 1.6", "WASHER_SPREAD = 1.0"),
        ("STEEL_MODULUS_GPA = 205.0", "STEEL_MODULUS_GPA = 190.0"),
    ),
    *changes(
        "analysis/joint/conditioning.py",
        (_J + "test_conditioning.py",),
        ("AS_ASKED = 0.10", "AS_ASKED = 10.0"),
    ),
    *changes(
        "analysis/joint/back_off_values.py",
        (_J + "test_back_off_values.py",),
        ("OTHER_FRICTION = 0.05", "OTHER_FRICTION = 5.0"),
        ("SAME_INSTRUMENT = 0.005", "SAME_INSTRUMENT = 0.5"),
    ),
    *changes(
        "analysis/joint/back_off_learning.py",
        (_J + "test_back_off_values.py",),
        ("BOLT_TO_BOLT = 0.03", "BOLT_TO_BOLT = 0.3"),
        ("HALVED = 0.55", "HALVED = 0.01"),
    ),
    *changes(
        "analysis/joint/friction.py",
        (*_TORQUE, _J + "test_joints_file.py"),
        ("LUBRICANT_SCATTER = 0.20", "LUBRICANT_SCATTER = 0.02"),
    ),
)
