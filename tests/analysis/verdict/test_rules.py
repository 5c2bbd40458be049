"""Limits, precedence and missing data: what is broken, what could not be evaluated, and why."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from analysis.catalogue.findings import FINDING_INDEX, FINDING_NAMES
from analysis.catalogue.rules import RULES
from analysis.catalogue.verdicts import VERDICTS
from analysis.curve.reasons import STARTS_AFTER_SNUG
from analysis.joint.definition import JointDefinition, finite_ends
from analysis.traces import TraceSet
from analysis.verdict.joint_rows import JointRows, find_joint_rows
from analysis.verdict.judgement import Judgement, judge
from analysis.verdict.rules import RuleTable, evaluate_rules
from tests.analysis.verdict.curve_tables import curve_table

HUB = JointDefinition(
    "hub",
    65.0,
    torque_limits_nm=(58.0, 72.0),
    angle_limits_deg=(20.0, 70.0),
    prevailing_limits_nm=(0.0, 2.0),
    may_yield=False,
)


def rules_of(definition: JointDefinition | None, **columns: object) -> RuleTable:
    n = max((np.size(value) for value in columns.values()), default=1)
    rows = JointRows(("hub",), np.zeros(n, np.int64), (definition,))
    return evaluate_rules(curve_table(n, **columns), rows)


def judged(table: RuleTable, *oddities: str, margin: float = -0.5) -> Judgement:
    n = len(table.status)
    odd = np.zeros((n, len(FINDING_NAMES)), np.bool_)
    for name in oddities:
        odd[:, FINDING_INDEX[name]] = True
    return judge(table, odd, np.where(odd, margin, np.nan))


def verdicts(found: Judgement) -> list[str]:
    return [VERDICTS[code] for code in found.verdict]


@pytest.mark.parametrize(
    ("columns", "finding", "margin"),
    [
        ({"final_torque_nm": 57.0}, "torque-low", -1.0),
        ({"final_torque_nm": 74.5}, "torque-high", -2.5),
        ({"joint_rate_deg": 18.0}, "angle-low", -2.0),
        ({"joint_rate_deg": 71.0}, "angle-high", -1.0),
        ({"prevailing_torque_nm": -0.75}, "prevailing-low", -0.75),
        ({"prevailing_torque_nm": 2.5}, "prevailing-high-limit", -0.5),
        ({"yielded": 1, "yield_angle_deg": 795.0}, "yield-unwanted", -5.0),
    ],
)
def test_each_limit_has_its_finding(columns: dict[str, object], finding: str, margin: float) -> None:
    table = rules_of(HUB, **columns)
    found = judged(table)
    assert verdicts(found) == ["not ok"]
    assert found.findings_of(0) == (finding,)
    assert FINDING_NAMES[found.deciding[0]] == finding
    broken = [check for check in table.checks(0) if check.status == "broken"]
    assert [check.margin for check in broken] == [pytest.approx(margin)]
    assert len(table.checks(0)) == len(RULES)


@pytest.mark.parametrize(("torque", "limits", "finding", "margin", "relative"), [
    (57.0, (58.0, np.inf), ("torque-low",), -1.0, -1.0 / 58.0),
    (900.0, (58.0, np.inf), (), 842.0, 842.0 / 58.0),
    (74.5, (-np.inf, 72.0), ("torque-high",), -2.5, -2.5 / 72.0),
    (0.5, (-np.inf, 72.0), (), 71.5, 71.5 / 72.0),
])  # fmt: skip
def test_a_limit_on_one_side_alone(
    torque: float, limits: tuple[float, float], finding: tuple[str, ...], margin: float, relative: float
) -> None:
    table = rules_of(replace(HUB, torque_limits_nm=limits), final_torque_nm=torque)
    assert judged(table).findings_of(0) == finding
    check = table.checks(0)[0]
    assert check.margin == pytest.approx(margin)
    assert table.relative_margin[0, 0] == pytest.approx(relative)
    assert (check.low, check.high) == finite_ends(limits)


def test_a_prevailing_torque_of_none_that_reads_a_little_below_zero_breaks_no_limit() -> None:
    """Where the transducer's zero lies is no torque: up to 1 % of the final torque."""
    assert judged(rules_of(HUB, prevailing_torque_nm=-0.5)).findings_of(0) == ()
    assert np.nanmin(rules_of(HUB, prevailing_torque_nm=-0.5).relative_margin) == 0.0
    wanted = replace(HUB, prevailing_limits_nm=(0.2, 2.0))
    assert judged(rules_of(wanted, prevailing_torque_nm=-0.5)).findings_of(0) == ("prevailing-low",)


def test_margins_of_different_units_are_compared_by_half_the_window() -> None:
    """58 to 72 N·m: 1 N·m below is a seventh of half the window; 20 to 70 deg: 2 deg below is 0.08 of it."""
    table = rules_of(HUB, final_torque_nm=57.0, joint_rate_deg=18.0)
    assert table.relative_margin[0, :2].tolist() == pytest.approx([-1.0 / 7.0, -2.0 / 25.0])
    assert FINDING_NAMES[judged(table).deciding[0]] == "torque-low"


def test_values_on_the_limit_are_inside() -> None:
    found = judged(
        rules_of(HUB, final_torque_nm=np.array([58.0, 72.0]), joint_rate_deg=np.array([20.0, 70.0]))
    )
    assert verdicts(found) == ["ok", "ok"]
    assert found.deciding.tolist() == [-1, -1]


def test_precedence() -> None:
    """Broken limit, then not evaluated, then suspect, then ok."""
    absent = {"joint_rate_deg": np.nan, "snug_reason": STARTS_AFTER_SNUG}
    assert verdicts(judged(rules_of(HUB))) == ["ok"]
    assert verdicts(judged(rules_of(HUB), "outlier")) == ["suspect"]
    assert verdicts(judged(rules_of(HUB, **absent), "outlier")) == ["not evaluated"]
    # Beyond its threshold by as much again, an oddity needs no rule to be suspected.
    assert verdicts(judged(rules_of(HUB, **absent), "outlier", margin=-1.2)) == ["suspect"]
    assert verdicts(judged(rules_of(HUB, final_torque_nm=40.0, **absent), "outlier")) == ["not ok"]


def test_absent_quantity_is_not_evaluated_with_its_reason() -> None:
    table = rules_of(HUB, joint_rate_deg=np.nan, snug_reason=STARTS_AFTER_SNUG)
    (angle,) = [check for check in table.checks(0) if check.rule.name == "angle"]
    assert (angle.status, angle.reason) == ("not evaluated", "the recording starts after snug")
    assert angle.margin is None


def test_limits_that_a_joint_does_not_give_are_no_rule_of_it() -> None:
    plain = JointDefinition("hub", 65.0, torque_limits_nm=(58.0, 72.0))
    table = rules_of(plain, joint_rate_deg=np.nan, prevailing_torque_nm=np.nan, yielded=-1)
    assert [check.status for check in table.checks(0)] == ["met", *["no limit given"] * (len(RULES) - 1)]
    assert verdicts(judged(table)) == ["ok"]


@pytest.mark.parametrize(
    ("definition", "reason"),
    [
        (None, "the joint is not in the joints file"),
        (JointDefinition("hub", 65.0), "no torque limits are given for this joint"),
    ],
)
def test_without_torque_limits_nothing_is_good(definition: JointDefinition | None, reason: str) -> None:
    table = rules_of(definition)
    assert verdicts(judged(table)) == ["not evaluated"]
    assert table.checks(0)[0].reason == reason


def test_whether_it_yielded_must_be_known_where_it_may_not() -> None:
    table = rules_of(HUB, yielded=-1, yield_reason=10)
    assert verdicts(judged(table)) == ["not evaluated"]
    assert "setting" in table.checks(0)[3].reason


def test_worst_margin_decides_across_units() -> None:
    """2 N·m outside a window of 14 N·m is less than 20 deg outside one of 50 deg."""
    found = judged(rules_of(HUB, final_torque_nm=56.0, joint_rate_deg=90.0), "outlier")
    assert FINDING_NAMES[found.deciding[0]] == "angle-high"
    assert set(found.findings_of(0)) == {"torque-low", "angle-high", "outlier"}


def test_a_joint_is_never_guessed() -> None:
    traces = TraceSet.from_lists(["a", "b", "c"], [[0.0]] * 3, [[1.0]] * 3, {"joint": ["hub", None, "axle"]})
    rows = find_joint_rows(traces, {"hub": HUB})
    assert rows.per_trace() == ["hub", None, "axle"]
    assert (rows.definition_of(0), rows.definition_of(1), rows.definition_of(2)) == (HUB, None, None)
    table = evaluate_rules(curve_table(3), rows)
    assert [table.checks(row)[0].reason for row in (1, 2)] == [
        "the recording names no joint",
        "the joint is not in the joints file",
    ]
    assert find_joint_rows(traces, {"hub": HUB}, "hub").per_trace() == ["hub", "hub", "axle"]
    assert find_joint_rows(traces, {"hub": HUB}, "hub", {"b": "axle"}).per_trace() == ["hub", "axle", "axle"]
