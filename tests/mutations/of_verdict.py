"""Mutations of rules, causes, next checks and verdicts."""

from __future__ import annotations

from tests.mutations.mutation import Mutation, changes

_RULES = ("tests/analysis/verdict/test_rules.py",)
_CAUSES = ("tests/analysis/verdict/test_thresholds.py", "tests/analysis/verdict/test_causes.py")
_SIGNS = ("tests/analysis/verdict/test_rise_kernel.py", *_CAUSES)
_SHORT = ("tests/analysis/verdict/test_short_recordings.py", *_CAUSES)
_NEXT_CHECKS = ("tests/analysis/verdict/test_next_checks.py",)
_CATALOGUE = "analysis/catalogue/causes.py"


#: Causes in pairs whose next checks are exchanged.
_PAIRS = (
    ("low-friction", "high-friction"),
    ("friction-or-stiffness", "softer-joint"),
    ("stiffer-joint", "softer-joint"),
    ("seated-early", "seated-late"),
    ("prevailing-missing", "prevailing-high"),
    ("cross-thread", "thread-stripping"),
    ("yielded", "already-tight"),
    ("galling", "drive-slip"),
    ("bottomed-out", "incomplete-recording"),
)


def _exchanged(one: str, other: str) -> tuple[str, str]:
    before = "CAUSE_OF: dict[str, CauseKind] = {"
    change = (
        "import dataclasses\n"
        "_checks = {cause.name: cause.next_check for cause in CAUSES}\n"
        f'_checks["{one}"], _checks["{other}"] = _checks["{other}"], _checks["{one}"]\n'
        "CAUSES = tuple(dataclasses.replace(cause, next_check=_checks[cause.name]) for cause in CAUSES)\n"
    )
    return before, change + before


OF_VERDICT: tuple[Mutation, ...] = (
    *changes(
        "analysis/verdict/rules.py",
        _RULES,
        ("below = measured < low", "below = measured <= low"),
        ("status[measured > high] = BROKEN_HIGH", "status[measured >= high] = BROKEN_HIGH"),
        ("np.fmin(measured - low, high - measured)", "np.fmax(measured - low, high - measured)"),
        ("(high - low) / 2.0, one)", "(high - low) / 1.0, one)"),
        ("status[curves.yielded == 1] = BROKEN_HIGH", "status[curves.yielded == 0] = BROKEN_HIGH"),
        ("status[absent] = NOT_EVALUATED", "status[absent] = MET"),
    ),
    *changes(
        "analysis/verdict/judgement.py",
        _RULES,
        ("verdict[broken] = NOT_OK", "verdict[broken & (verdict != UNEVALUATED)] = NOT_OK"),
        ("ranked.argmin(axis=1), -1)", "ranked.argmax(axis=1), -1)"),
    ),
    *changes(
        "analysis/verdict/causes.py",
        _CAUSES,
        ("EXPLAINED_SHARE = 0.95", "EXPLAINED_SHARE = 0.50"),
        ("NAMED_WEIGHT, NAMED_IF_FLAGGED = 0.45, 0.10", "NAMED_WEIGHT, NAMED_IF_FLAGGED = 0.80, 0.10"),
        ("NAMED_WEIGHT, NAMED_IF_FLAGGED = 0.45, 0.10", "NAMED_WEIGHT, NAMED_IF_FLAGGED = 0.45, 0.45"),
        ("np.minimum(strength, 100.0) ** 4", "np.minimum(strength, 100.0) ** 2"),
        ("alarming = (strength >= 1.0)", "alarming = (strength >= 2.0)"),
    ),
    *changes(
        "analysis/verdict/collapse.py",
        _CAUSES,
        ("STRIP_FALL, STRIP_TURN = 0.05, 0.08", "STRIP_FALL, STRIP_TURN = 0.15, 0.08"),
        ("STRIP_FALL, STRIP_TURN = 0.05, 0.08", "STRIP_FALL, STRIP_TURN = 0.05, 0.24"),
        ("YIELD_DROP, YIELD_BEYOND = 0.30, 2.0", "YIELD_DROP, YIELD_BEYOND = 0.60, 2.0"),
        ("YIELD_FOUND = 1.6", "YIELD_FOUND = 0.8"),
        ("GALLING_TEETH, GALLING_SHARE = 1.9, 0.06", "GALLING_TEETH, GALLING_SHARE = 0.9, 0.06"),
        ("GALLING_TEETH, GALLING_SHARE = 1.9, 0.06", "GALLING_TEETH, GALLING_SHARE = 1.9, 0.18"),
        ("USUAL_TEETH_SHARE = 0.8", "USUAL_TEETH_SHARE = 0.2"),
        ("= 0.40, (30.0, 60.0, 90.0), 0.15", "= 0.80, (30.0, 60.0, 90.0), 0.15"),
        ("= 0.40, (30.0, 60.0, 90.0), 0.15", "= 0.40, (40.0, 80.0, 120.0), 0.15"),
        ("SLIP_TEETH = 3", "SLIP_TEETH = 6"),
    ),
    *changes(
        "analysis/verdict/entry.py",
        _SHORT,
        ("TIGHT_SHARE = 0.70", "TIGHT_SHARE = 0.35"),
        ("LATE_FIRST_SHARE = 0.25", "LATE_FIRST_SHARE = 0.75"),
        ("CUT_SHARE = 0.93", "CUT_SHARE = 0.60"),
        ("RELEASED_SHARE = 0.80", "RELEASED_SHARE = 0.10"),
        ("CUT_SLOPE_SHARE = 0.55", "CUT_SLOPE_SHARE = 1.20"),
        ("np.minimum(np.minimum(longer, shorter), early) * uneven", "np.minimum(longer, shorter) * uneven"),
    ),
    *changes(
        "analysis/verdict/entry.py",
        ("tests/analysis/verdict/test_thresholds.py",),
        ("CROSSED_CLIMB, CROSSED_TEETH = 3.0, 1", "CROSSED_CLIMB, CROSSED_TEETH = 6.0, 1"),
        ("CROSSED_CLIMB, CROSSED_TEETH = 3.0, 1", "CROSSED_CLIMB, CROSSED_TEETH = 3.0, 0"),
    ),
    *changes(
        "analysis/verdict/friction_stiffness.py",
        _CAUSES,
        ("PLACE_FLOOR = 0.15", "PLACE_FLOOR = 0.30"),
        ("np.sqrt(weight.max(axis=0))", "np.sqrt(weight.sum(axis=0))"),
        ("np.fmax(apart, 1.0)", "1.0"),
        ("np.clip(place, 0.0, 1.0)", "np.clip(place, -1.0, 2.0)"),
        ("BOTTOMED_RATIO = 2.8", "BOTTOMED_RATIO = 5.6"),
        ("by_width = -evidence", "by_width = evidence"),
        ('"low-friction": down * share', '"low-friction": up * share'),
        ("agree = np.sign(steeper) == np.sign(shorter)", "agree = np.sign(steeper) != np.sign(shorter)"),
    ),
    *changes(
        "analysis/verdict/seating.py",
        _CAUSES,
        ("LEAST_SEATING_DEG = 24.0", "LEAST_SEATING_DEG = 96.0"),
        ("LEAST_PREVAILING_SHARE = 0.03", "LEAST_PREVAILING_SHARE = 0.12"),
        ("MISSING_SHARE = 0.4", "MISSING_SHARE = 0.9"),
        ("BROKEN_STRENGTH = 1.5", "BROKEN_STRENGTH = 0.5"),
        ("np.where(difference < 0, counted, 0.0)", "np.where(difference > 0, counted, 0.0)"),
    ),
    *changes(
        "analysis/verdict/rise_kernel.py",
        ("tests/analysis/verdict/test_rise_kernel.py",),
        ("_RISEN_AGAIN = 0.5", "_RISEN_AGAIN = 0.05"),
        interpreted=True,
    ),
    *changes(
        "analysis/verdict/rise_signs.py",
        _SIGNS,
        ("TOOTH_SHARE = 0.02", "TOOTH_SHARE = 0.08"),
        (
            "FOOT_SHARE, CLIMB_SHARE, END_SHARE = 0.15, 0.30, 0.90",
            "FOOT_SHARE, CLIMB_SHARE, END_SHARE = 0.15, 0.30, 0.60",
        ),
        ("MOST_NOISE = 2.0", "MOST_NOISE = 10.0"),
        ("2.0 * np.sqrt(2.0 * np.log(", "1.0 * np.sqrt(2.0 * np.log("),
    ),
    *changes(
        "analysis/verdict/features.py",
        _CAUSES,
        ("CUT_SCATTER = 0.5", "CUT_SCATTER = 50.0"),
        ("PREVAILING_TURN = 0.02", "PREVAILING_TURN = 0.5"),
    ),
    *changes(
        "analysis/verdict/expectation.py",
        ("tests/analysis/verdict/test_thresholds.py", "tests/analysis/test_late_lot.py"),
        ("MANY_OUTSIDE = 0.2", "MANY_OUTSIDE = 0.6"),
        ("APART_SIGMAS, LEAST_SPREAD = 4.2, 0.01", "APART_SIGMAS, LEAST_SPREAD = 2.0, 0.01"),
    ),
    *changes(
        "analysis/joint/company.py",
        ("tests/analysis/verdict/test_clamp_evidence.py",),
        ("UNLIKE = math.sqrt(5.0)", "UNLIKE = math.sqrt(40.0)"),
        ("UNLIKE = math.sqrt(5.0)", "UNLIKE = 1.0"),
        ("MORE_LIKELY, LEFT_OUT = 0.5, 0.05", "MORE_LIKELY, LEFT_OUT = 0.5, 0.6"),
    ),
    *changes(_CATALOGUE, _NEXT_CHECKS, *(_exchanged(one, other) for one, other in _PAIRS)),
    *changes(
        _CATALOGUE,
        (*_NEXT_CHECKS, *_CAUSES),
        ('(*_SLOPE_CAUSES, "yielded", "thread-stripping", "incomplete-recording")', '("yielded",)'),
        ('"up", _CLIMB: "down", _WIDTH: "usual"', '"up", _CLIMB: "down", _WIDTH: "up"'),
        ('{_RUNDOWN: "down", _TOTAL: "down"', '{_RUNDOWN: "up", _TOTAL: "down"'),
    ),
    *changes(
        "analysis/account/compared.py",
        _NEXT_CHECKS,
        ("USUAL_SIGMAS = 2.0", "USUAL_SIGMAS = 8.0"),
        ('return "up" if self.z > 0 else "down"', 'return "up" if self.z < 0 else "down"'),
    ),
    *changes("analysis/account/causes.py", _NEXT_CHECKS, ("SHOWN_WEIGHT = 0.10", "SHOWN_WEIGHT = 0.60")),
    *changes(
        "analysis/verdict/rules.py",
        _RULES,
        ("ZERO_SHARE = 0.01", "ZERO_SHARE = 1.0"),
        ("ZERO_SHARE = 0.01", "ZERO_SHARE = 0.0"),
    ),
    *changes(
        "analysis/verdict/entry.py",
        _SHORT,
        ("LATE_WHOLE_SHARE, LATE_LOW_SHARE = 0.90, 0.10", "LATE_WHOLE_SHARE, LATE_LOW_SHARE = 0.90, 0.24"),
        ("LATE_WHOLE_SHARE, LATE_LOW_SHARE = 0.90, 0.10", "LATE_WHOLE_SHARE, LATE_LOW_SHARE = 0.40, 0.00"),
        ("CROSSED_CLIMB, CROSSED_TEETH = 3.0, 1", "CROSSED_CLIMB, CROSSED_TEETH = 300.0, 1"),
        ("CUT_SLOPE_SHARE = 0.55", "CUT_SLOPE_SHARE = 5.5"),
        ("reached | released", "reached"),
    ),
    *changes(
        "analysis/verdict/judgement.py",
        (*_RULES, *_CAUSES),
        ("STRONG_MARGIN = -1.0", "STRONG_MARGIN = -1000.0"),
    ),
    *changes("analysis/verdict/no_rise.py", _SHORT[:1], ("RISE_SHARE = 0.03", "RISE_SHARE = 0.9")),
    *changes(
        "analysis/verdict/rise_signs.py",
        ("tests/analysis/verdict/test_first_feet.py", *_SIGNS),
        ("NO_RUNDOWN, FIRST_CLIMB = 0.65, 0.45", "NO_RUNDOWN, FIRST_CLIMB = 0.65, 0.01"),
        ("HIGHEST_BASE = 0.5", "HIGHEST_BASE = 0.01"),
    ),
    *changes(
        "analysis/verdict/moved_drawdown.py",
        ("tests/analysis/test_moved_edges.py",),
        ("drawdown_deg - HALF_TURN_DEG, settled", "drawdown_deg - 0.1 * HALF_TURN_DEG, settled"),
    ),
    *changes(
        "analysis/verdict/rise_match.py",
        ("tests/analysis/verdict/test_rise_match.py",),
        ("FEWEST_USUAL, MOST_USUAL, REACHED_BY = 5,", "FEWEST_USUAL, MOST_USUAL, REACHED_BY = 1,"),
        ("ODD_TIMES = 3.0", "ODD_TIMES = 300.0"),
        ("np.maximum.accumulate(", "np.asarray("),
        ("(stiffness.loss - friction.loss)", "(friction.loss - stiffness.loss)"),
        ("log_levels - FACTORS[:, None]", "log_levels + FACTORS[:, None]"),
    ),
    *changes(
        "analysis/verdict/unfinished_bend.py",
        ("tests/analysis/verdict/test_unfinished_bend.py",),
        ("WORST_FIT = 8.0", "WORST_FIT = 1e6"),
        ("HALF, LEAST_BEND, UNCERTAIN = 0.5,", "HALF, LEAST_BEND, UNCERTAIN = 0.0,"),
    ),
    *changes(
        "analysis/verdict/clamp_evidence.py",
        ("tests/analysis/joint/test_clamp_columns.py",),
        ("LOAD_CELL_UNCERTAINTY = 0.01", "LOAD_CELL_UNCERTAINTY = 1.0"),
    ),
)
