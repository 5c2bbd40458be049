"""The rules of a joint: each limit that its definition gives, held against what the curve shows."""

from __future__ import annotations

from dataclasses import dataclass, replace
from operator import attrgetter
from typing import TYPE_CHECKING, Any, Literal

import numpy as np
from numpy.typing import NDArray

from analysis.arrays import FloatArray, finite_or_none
from analysis.catalogue.reasons import (
    BROKE_AWAY,
    CLAMP_BETWEEN,
    LIMITS_NOT_GIVEN,
    LOOSENING,
    NO_CLAMP_FORCE,
    NO_FINAL_TORQUE,
    NO_JOINT_NAMED,
    NO_RISE,
    OPPOSITE_SIGN,
    PULSED_TORQUE,
    REASONS,
    RECORDING_CUT,
    SPARSE_PULSES,
    TURNED_ON_AGAIN,
    UNKNOWN_JOINT,
)
from analysis.catalogue.rules import RULE_INDEX, RULES, Rule
from analysis.curve.curve_table import CurveTable
from analysis.joint.definition import JointDefinition
from analysis.verdict.finding import RuleCheck
from analysis.verdict.joint_rows import NO_JOINT, JointRows

if TYPE_CHECKING:
    from analysis.operation.table import OperationTable


TORQUE, ANGLE, YIELD, CLAMP = (RULE_INDEX[name] for name in ("torque", "angle", "yield", "clamp"))

#: A prevailing torque of none may read as much below zero, as a share of the final torque: common practice,
#: no source.
ZERO_SHARE = 0.01
MET, BROKEN_LOW, BROKEN_HIGH, NOT_EVALUATED, NO_LIMIT = range(5)
_WORDS: tuple[Literal["met", "broken", "not evaluated", "no limit given"], ...] = (
    "met",
    "broken",
    "broken",
    "not evaluated",
    "no limit given",
)


@dataclass(frozen=True, eq=False)
class RuleTable:
    """The outcome of every rule on every trace; all arrays have shape (n, len(RULES))."""

    status: NDArray[np.int8]  #: `MET`, `BROKEN_LOW`, `BROKEN_HIGH`, `NOT_EVALUATED` or `NO_LIMIT`.
    #: In the rule's unit; margin is positive inside the limits, negative outside, NaN where not evaluated.
    measured: FloatArray
    low: FloatArray
    high: FloatArray
    margin: FloatArray
    place_deg: FloatArray
    #: Margin over half the width of the window, so that rules of different units can be compared.
    relative_margin: FloatArray
    reason: NDArray[np.int16]  #: Code of `REASONS`; 0 where evaluated.

    def broken(self, rule: int) -> NDArray[np.bool_]:
        """Mask of the traces that break this rule."""
        status = self.status[:, rule]
        return np.asarray((status == BROKEN_LOW) | (status == BROKEN_HIGH))

    def checks(self, row: int) -> list[RuleCheck]:
        """Every rule on one trace, for the list "measured, limit, margin"."""
        return [
            RuleCheck(
                rule=rule,
                status=_WORDS[self.status[row, k]],
                measured=finite_or_none(self.measured[row, k]),
                low=finite_or_none(self.low[row, k]),
                high=finite_or_none(self.high[row, k]),
                margin=finite_or_none(self.margin[row, k]),
                place_deg=finite_or_none(self.place_deg[row, k]),
                reason=REASONS[int(self.reason[row, k])],
            )
            for k, rule in enumerate(RULES)
        ]


def keeps_limits(table: RuleTable) -> NDArray[np.bool_]:
    """Traces that break no limit and whose final torque could be judged: they may say what is usual."""
    broken = (table.status == BROKEN_LOW) | (table.status == BROKEN_HIGH)
    return np.asarray(~broken.any(axis=1) & (table.status[:, TORQUE] == MET))


def withhold_pulsed(table: RuleTable, pulsed: NDArray[np.bool_], sparse: NDArray[np.bool_]) -> RuleTable:
    """The table without a judgement of the final torque where the torque came in pulses.

    The height of a pulse is what the tool gave; the joint keeps as much or less. A pulse that stays below
    the lower limit therefore breaks it, and no other height says that the torque rule is met, or broken. The
    measured height stays in the table.

    Parameters
    ----------
    pulsed, sparse : ndarray of bool, shape (n,)
        Traces made of pulses; those whose pulses are sampled too sparsely to know their height at all.
    """
    judged = table.status[:, TORQUE]
    withheld = pulsed & (judged != NOT_EVALUATED) & (sparse | (judged != BROKEN_LOW))
    return _withheld(table, TORQUE, withheld, np.where(sparse, SPARSE_PULSES, PULSED_TORQUE))


def withhold_cut(table: RuleTable, cut: NDArray[np.bool_], tight: NDArray[np.bool_]) -> RuleTable:
    """The table without what a cut recording or an already tight joint only seems to say.

    A recording that ends in the rise says nothing of the torque that was reached: a final torque below its
    limit is none of its own. A joint that was tight before breaks away, which is no yield.

    Parameters
    ----------
    cut, tight : ndarray of bool, shape (n,)
        Traces whose recording is incomplete; traces of joints that were tight before.
    """
    ends = np.full(len(cut), RECORDING_CUT)
    for rule in range(YIELD):
        table = _withheld(table, rule, cut & (table.status[:, rule] == BROKEN_LOW), ends)
    broke_away = tight & (table.status[:, YIELD] == BROKEN_HIGH)
    return _withheld(table, YIELD, broke_away, np.full(len(cut), BROKE_AWAY))


def withhold_again(table: RuleTable, again: NDArray[np.bool_]) -> RuleTable:
    """The table without the angle of fasteners that were tight and turned on: a further pass, a re-hit.

    Too far is too far however tight it was.

    Parameters
    ----------
    again : ndarray of bool, shape (n,)
    """
    judged = np.isin(table.status[:, ANGLE], (MET, BROKEN_LOW))
    return _withheld(table, ANGLE, again & judged, np.full(len(again), TURNED_ON_AGAIN))


def _withheld(table: RuleTable, rule: int, rows: NDArray[np.bool_], reason: NDArray[np.integer]) -> RuleTable:
    if not rows.any():
        return table
    names = ("status", "reason", "margin", "relative_margin")
    changed = {name: getattr(table, name).copy() for name in names}
    changed["status"][rows, rule] = NOT_EVALUATED
    changed["reason"][rows, rule] = reason[rows]
    changed["margin"][rows, rule] = changed["relative_margin"][rows, rule] = np.nan
    return replace(table, **changed)


def judge_clamp(table: RuleTable, rows: JointRows, low_kn: FloatArray, high_kn: FloatArray) -> RuleTable:
    """The table with the clamp force held against the wanted one.

    Parameters
    ----------
    low_kn, high_kn : ndarray, shape (n,)
        Bounds of what is left after embedding; NaN where there is no estimate.
    """
    wanted = _limits(rows, RULES[CLAMP])[0]
    absent = ~np.isfinite(low_kn)
    status = np.full(len(wanted), NOT_EVALUATED, np.int8)
    status[low_kn >= wanted] = MET
    status[high_kn < wanted] = BROKEN_LOW
    status[np.isnan(wanted)] = NO_LIMIT
    decided = np.where(status == BROKEN_LOW, high_kn, low_kn)
    margin = decided - wanted
    reason = np.where(absent, NO_CLAMP_FORCE, CLAMP_BETWEEN)
    columns = {
        "status": status,
        "measured": decided,
        "low": wanted,
        "margin": margin,
        "relative_margin": margin / wanted,
        "reason": np.where(status == NOT_EVALUATED, reason, 0),
    }
    changed = {name: getattr(table, name).copy() for name in columns}
    for name, values in columns.items():
        changed[name][:, CLAMP] = values
    return replace(table, **changed)


@dataclass(frozen=True, eq=False)
class Measured:
    """The tables that rules read; the paths of the catalogue's rules and figures begin here."""

    curves: CurveTable
    operations: OperationTable | None = None


def evaluate_rules(
    curves: CurveTable, rows: JointRows, operations: OperationTable | None = None
) -> RuleTable:
    """Hold what was measured against the joint's limits, rule by rule of the catalogue.

    A limit is broken where the measured value lies outside it; a value on the limit is inside. A limit that
    the joint does not give is no rule of that joint, but for the limits that every joint needs: without them
    nothing can be called good. A figure that the curve does not have makes its rule "not evaluated", with
    the curve's reason. The clamp force is known later (`judge_clamp`), audits are judged apart
    (`analysis.verdict.audit_rule`).
    """
    tables = Measured(curves, operations)
    judged = []
    for rule in RULES:
        untold = operations is None and rule.of_pulses
        if untold or rule.kind in ("bounds", "audit"):
            one = _not_yet(curves, rule)
        else:
            judge = _judge_yield if rule.kind == "flag" else _judge_window
            one = judge(tables, rows, rule)
        judged.append(_required(one, rows, rule) if rule.needed else one)
    return RuleTable(**{name: np.column_stack([one[name] for one in judged]) for name in judged[0]})


#: Arrays of one rule, by the names of `RuleTable`.
_Judged = dict[str, NDArray[Any]]


def _not_yet(curves: CurveTable, rule: Rule) -> _Judged:
    """No limit, as long as what it judges is not known."""
    n = len(curves)
    blank = ("measured", "low", "high", "margin", "relative_margin")
    return {name: np.full(n, np.nan) for name in blank} | {
        "status": np.full(n, NO_LIMIT, np.int8),
        "place_deg": attrgetter(rule.place)(Measured(curves)),
        "reason": np.zeros(n, np.int16),
    }


def _measured(tables: Measured, rule: Rule) -> tuple[FloatArray, NDArray[np.integer]]:
    """What a rule judges, and the code of why it is absent."""
    values, reason = (attrgetter(path)(tables) for path in (rule.figure.read, rule.reason))
    if rule.name == "torque":
        # The highest torque of a loosening is its breakaway, not what a tightening reached.
        values = np.where(np.isin(reason, (LOOSENING, OPPOSITE_SIGN)), np.nan, values)
        return values, np.where(reason > 0, reason, NO_FINAL_TORQUE)
    # A reason of 0 beside an absent value would read as "present": say at least that nothing rises.
    return values, np.where(reason > 0, reason, NO_RISE)


def _limits(rows: JointRows, rule: Rule) -> FloatArray:
    """Low and high limit of each trace, shape (2, n); NaN where its joint gives none."""
    table = np.full((len(rows.names) + 1, 2), np.nan)  # last row: no joint
    for code, definition in enumerate(rows.definitions):
        limits = None if definition is None else getattr(definition, rule.key, definition.parts.get(rule.key))
        if limits is not None:
            table[code] = limits if rule.kind == "window" else (limits, np.nan)
    return table[rows.codes].T


def _judge_window(tables: Measured, rows: JointRows, rule: Rule) -> _Judged:
    measured, reason = _measured(tables, rule)
    low, high = _limits(rows, rule)
    given, absent = ~np.isnan(low), np.isnan(measured)
    status = np.full(len(low), MET, np.int8)
    below = measured < low
    if rule.name == "prevailing":
        # No torque is less than none: what is read below zero is where the transducer's zero lies.
        below &= (low > 0.0) | (measured < -ZERO_SHARE * np.abs(tables.curves.final_torque_nm))
    status[below] = BROKEN_LOW
    status[measured > high] = BROKEN_HIGH
    status[absent] = NOT_EVALUATED
    status[~given] = NO_LIMIT
    margin = np.fmin(measured - low, high - measured)
    margin = np.where((status == MET) & (margin < 0.0), 0.0, margin)
    # One limit alone is its own measure; half the window is that of two.
    one = np.where(np.isfinite(low), np.abs(low), np.abs(high))
    scale = np.where(np.isfinite(low) & np.isfinite(high), (high - low) / 2.0, one)
    return {
        "status": status,
        "measured": measured,
        "low": low,
        "high": high,
        "margin": margin,
        "place_deg": attrgetter(rule.place)(tables),
        "relative_margin": margin / np.maximum(scale, np.finfo(np.float64).tiny),
        "reason": np.where(given & absent, reason, 0).astype(np.int16),
    }


def _judge_yield(tables: Measured, rows: JointRows, rule: Rule) -> _Judged:
    """Yield before the final point, where the joint says that none is wanted."""
    curves = tables.curves
    wanted = np.array([d is not None and getattr(d, rule.key) is False for d in rows.definitions] + [False])
    given = wanted[rows.codes]
    status = np.full(len(curves), MET, np.int8)
    status[curves.yielded == 1] = BROKEN_HIGH
    status[curves.yielded < 0] = NOT_EVALUATED
    status[~given] = NO_LIMIT
    plastic_deg = np.where(given, curves.final_angle_deg - curves.yield_angle_deg, np.nan)
    rate = np.maximum(curves.joint_rate_deg, np.finfo(np.float64).tiny)
    measured, reason = _measured(tables, rule)
    return {
        "status": status,
        "measured": measured,
        "low": np.where(given, curves.final_angle_deg, np.nan),
        "high": np.full(len(curves), np.nan),
        "margin": -plastic_deg,
        "place_deg": attrgetter(rule.place)(tables),
        "relative_margin": -plastic_deg / rate,
        "reason": np.where(status == NOT_EVALUATED, reason, 0).astype(np.int16),
    }


def _required(judged: _Judged, rows: JointRows, rule: Rule) -> _Judged:
    """Without a known joint, or without these limits of it, the rule could not be evaluated."""

    def code_of(definition: JointDefinition | None) -> int:
        if definition is None:
            return UNKNOWN_JOINT
        return LIMITS_NOT_GIVEN if getattr(definition, rule.key) is None else 0

    by_code = np.array([code_of(d) for d in rows.definitions] + [NO_JOINT_NAMED], np.int16)
    reason = by_code[np.where(rows.codes == NO_JOINT, len(rows.names), rows.codes)]
    status = np.where(reason > 0, NOT_EVALUATED, judged["status"]).astype(np.int8)
    return judged | {"status": status, "reason": np.where(reason > 0, reason, judged["reason"])}
