"""The rules of a joint: each limit that its definition gives, held against what the curve shows."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from analysis.curve.curve_table import CurveTable
from analysis.curve.reasons import LOOSENING, NO_RISE, OPPOSITE_SIGN, PULSED_TORQUE, REASONS, SPARSE_PULSES
from analysis.joint.definition import JointDefinition
from analysis.verdict.finding import RuleCheck
from analysis.verdict.joint_rows import NO_JOINT, JointRows

FloatArray = NDArray[np.float64]

#: Rules in the order in which they are shown.
RULES = ("torque", "angle", "prevailing", "yield")
TORQUE, ANGLE, PREVAILING, YIELD = range(len(RULES))
QUANTITIES = ("final_torque_nm", "joint_rate_deg", "prevailing_torque_nm", "yield_angle_deg")
UNITS = ("N·m", "deg", "N·m", "deg")

MET, BROKEN_LOW, BROKEN_HIGH, NOT_EVALUATED, NO_LIMIT = range(5)
_WORDS: tuple[Literal["met", "broken", "not evaluated", "no limit given"], ...] = (
    "met",
    "broken",
    "broken",
    "not evaluated",
    "no limit given",
)

#: Reasons of the rules themselves, beside those of the curve.
NO_JOINT_NAMED, UNKNOWN_JOINT, NO_TORQUE_LIMITS, NO_FINAL_TORQUE = 100, 101, 102, 103
RULE_REASONS: dict[int, str] = REASONS | {
    NO_JOINT_NAMED: "the recording names no joint",
    UNKNOWN_JOINT: "the joint is not in the joints file",
    NO_TORQUE_LIMITS: "no torque limits are given for this joint",
    NO_FINAL_TORQUE: "the recording has no final torque",
}


@dataclass(frozen=True, eq=False)
class RuleTable:
    """The outcome of every rule on every trace; all arrays have shape (n, len(RULES)).

    Attributes
    ----------
    status : ndarray of int8
        `MET`, `BROKEN_LOW`, `BROKEN_HIGH`, `NOT_EVALUATED` or `NO_LIMIT`.
    measured, low, high, margin, place_deg : ndarray of float64
        In the rule's unit; margin is positive inside the limits, negative outside, NaN where not evaluated.
    relative_margin : ndarray of float64
        Margin over half the width of the window, so that rules of different units can be compared.
    reason : ndarray of int16
        Code of `RULE_REASONS`; 0 where evaluated.
    """

    status: NDArray[np.int8]
    measured: FloatArray
    low: FloatArray
    high: FloatArray
    margin: FloatArray
    place_deg: FloatArray
    relative_margin: FloatArray
    reason: NDArray[np.int16]

    def broken(self, rule: int) -> NDArray[np.bool_]:
        """Mask of the traces that break this rule."""
        status = self.status[:, rule]
        return np.asarray((status == BROKEN_LOW) | (status == BROKEN_HIGH))

    def checks(self, row: int) -> list[RuleCheck]:
        """Every rule on one trace, for the list "measured, limit, margin"."""
        return [
            RuleCheck(
                rule=RULES[rule],
                status=_WORDS[self.status[row, rule]],
                quantity=QUANTITIES[rule],
                unit=UNITS[rule],
                measured=_number(self.measured[row, rule]),
                low=_number(self.low[row, rule]),
                high=_number(self.high[row, rule]),
                margin=_number(self.margin[row, rule]),
                place_deg=_number(self.place_deg[row, rule]),
                reason=RULE_REASONS[int(self.reason[row, rule])],
            )
            for rule in range(len(RULES))
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
    rows = np.flatnonzero(pulsed & (judged != NOT_EVALUATED) & (sparse | (judged != BROKEN_LOW)))
    if not len(rows):
        return table
    status, reason = table.status.copy(), table.reason.copy()
    margin, relative = table.margin.copy(), table.relative_margin.copy()
    status[rows, TORQUE] = NOT_EVALUATED
    reason[rows, TORQUE] = np.where(sparse[rows], SPARSE_PULSES, PULSED_TORQUE)
    margin[rows, TORQUE] = relative[rows, TORQUE] = np.nan
    return replace(table, status=status, reason=reason, margin=margin, relative_margin=relative)


def _number(value: np.float64) -> float | None:
    return None if np.isnan(value) else float(value)


def _limits(
    rows: JointRows, key: Literal["torque_limits_nm", "angle_limits_deg", "prevailing_limits_nm"]
) -> tuple[FloatArray, FloatArray]:
    """Low and high limit of each trace, NaN where its joint gives none."""
    table = np.full((len(rows.names) + 1, 2), np.nan)  # last row: no joint
    for code, definition in enumerate(rows.definitions):
        limits = getattr(definition, key) if definition is not None else None
        if limits is not None:
            table[code] = limits
    chosen = table[rows.codes]
    return chosen[:, 0], chosen[:, 1]


def evaluate_rules(curves: CurveTable, rows: JointRows) -> RuleTable:
    """Hold final torque, snug-to-final angle, prevailing torque and yield against the joint's limits.

    A limit is broken where the measured value lies outside it; a value on the limit is inside. A limit that
    the joint does not give is no rule of that joint, but for the torque limits: without them nothing can be
    called good. A quantity that the curve does not have makes its rule "not evaluated", with the curve's
    reason.
    """
    n = len(curves)
    shape = (n, len(RULES))
    table = RuleTable(
        status=np.full(shape, NO_LIMIT, np.int8),
        measured=np.full(shape, np.nan),
        low=np.full(shape, np.nan),
        high=np.full(shape, np.nan),
        margin=np.full(shape, np.nan),
        place_deg=np.full(shape, np.nan),
        relative_margin=np.full(shape, np.nan),
        reason=np.zeros(shape, np.int16),
    )
    torque_reason = np.where(curves.slope_reason > 0, curves.slope_reason, NO_FINAL_TORQUE).astype(np.int16)
    # The highest torque of a loosening is its breakaway, not what a tightening reached.
    no_tightening = np.isin(curves.slope_reason, (LOOSENING, OPPOSITE_SIGN))
    final_torque_nm = np.where(no_tightening, np.nan, curves.final_torque_nm)
    windows = (
        (TORQUE, "torque_limits_nm", final_torque_nm, curves.final_angle_deg, torque_reason),
        (ANGLE, "angle_limits_deg", curves.joint_rate_deg, curves.snug_angle_deg, curves.snug_reason),
        (
            PREVAILING,
            "prevailing_limits_nm",
            curves.prevailing_torque_nm,
            curves.prevailing_to_deg,
            curves.prevailing_reason,
        ),
    )
    for rule, key, measured, place, reason in windows:
        _judge_window(table, rule, _limits(rows, key), measured, place, reason)  # type: ignore[arg-type]
    _judge_yield(table, curves, rows)
    _require_torque_limits(table, rows)
    return table


def _judge_window(
    table: RuleTable,
    rule: int,
    limits: tuple[FloatArray, FloatArray],
    measured: FloatArray,
    place_deg: FloatArray,
    reason: NDArray[np.integer],
) -> None:
    low, high = limits
    given = ~np.isnan(low)
    absent = np.isnan(measured)
    margin = np.minimum(measured - low, high - measured)
    status = np.full(len(low), MET, np.int8)
    status[measured < low] = BROKEN_LOW
    status[measured > high] = BROKEN_HIGH
    status[absent] = NOT_EVALUATED
    status[~given] = NO_LIMIT
    table.status[:, rule] = status
    table.measured[:, rule] = measured
    table.low[:, rule] = low
    table.high[:, rule] = high
    table.margin[:, rule] = margin
    table.place_deg[:, rule] = place_deg
    half_width = np.maximum((high - low) / 2.0, np.finfo(np.float64).tiny)
    table.relative_margin[:, rule] = margin / half_width
    # A reason of 0 beside an absent value would read as "present": say at least that nothing rises.
    code = np.where(reason > 0, reason, NO_RISE)
    table.reason[:, rule] = np.where(given & absent, code, 0)


def _judge_yield(table: RuleTable, curves: CurveTable, rows: JointRows) -> None:
    """Yield before the final point, where the joint says that none is wanted."""
    wanted = np.array([d is not None and d.may_yield is False for d in rows.definitions] + [False], np.bool_)
    given = wanted[rows.codes]
    status = np.full(len(curves), MET, np.int8)
    status[curves.yielded == 1] = BROKEN_HIGH
    status[curves.yielded < 0] = NOT_EVALUATED
    status[~given] = NO_LIMIT
    plastic_deg = curves.final_angle_deg - curves.yield_angle_deg
    table.status[:, YIELD] = status
    table.measured[:, YIELD] = curves.yield_angle_deg
    table.low[:, YIELD] = np.where(given, curves.final_angle_deg, np.nan)
    table.margin[:, YIELD] = np.where(given, -plastic_deg, np.nan)
    table.place_deg[:, YIELD] = curves.yield_angle_deg
    rate = np.maximum(curves.joint_rate_deg, np.finfo(np.float64).tiny)
    table.relative_margin[:, YIELD] = np.where(given, -plastic_deg / rate, np.nan)
    code = np.where(curves.yield_reason > 0, curves.yield_reason, NO_RISE)
    table.reason[:, YIELD] = np.where(status == NOT_EVALUATED, code, 0)


def _require_torque_limits(table: RuleTable, rows: JointRows) -> None:
    """Without a known joint, or without its torque limits, the torque rule could not be evaluated."""

    def code_of(definition: JointDefinition | None) -> int:
        if definition is None:
            return UNKNOWN_JOINT
        return NO_TORQUE_LIMITS if definition.torque_limits_nm is None else 0

    by_code = np.array([code_of(d) for d in rows.definitions] + [NO_JOINT_NAMED], np.int16)
    reason = by_code[np.where(rows.codes == NO_JOINT, len(rows.names), rows.codes)]
    lacking = reason > 0
    table.status[lacking, TORQUE] = NOT_EVALUATED
    table.reason[lacking, TORQUE] = reason[lacking]
