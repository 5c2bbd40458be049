"""What was done to the fastener: tightened by steady rotation, by blows, audited, backed off, or loosened."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from analysis.curve.curve_table import CurveTable
from analysis.curve.reasons import (
    AUDITED,
    LOOSENING,
    NO_FORWARD_ROTATION,
    NOT_FINITE,
    OPPOSITE_SIGN,
    TOO_FEW_SAMPLES,
)
from analysis.operation.back_off_ratio import BackOff
from analysis.operation.back_offs import find_back_offs
from analysis.operation.hand_wrench import AUDIT_WORD, find_audits, stated_operations
from analysis.operation.impulse import FEWEST_HIGH_SAMPLES, Pulses, find_pulses
from analysis.operation.loosening_runs import LooseningTable, find_loosenings
from analysis.operation.pulse_course import PulseCourse, follow_pulses
from analysis.operation.pulsed_points import with_pulsed_points
from analysis.operation.same_fastener import turned_again
from analysis.operation.stages import StageTable, find_stages, stops_in_rise
from analysis.traces import TraceSet

#: Columns that say why a point is absent.
REASON_COLUMNS = ("slope_reason", "snug_reason", "yield_reason", "drawdown_reason", "prevailing_reason")
#: Names by code; -1 where the recording shows no rotation that could be told.
OPERATIONS = ("tightening", "impulse tightening", "loosening", "back-off", "audit")
TIGHTENING, IMPULSE, LOOSENED, BACKED_OFF, AUDIT = range(len(OPERATIONS))
UNTOLD = -1


@dataclass(frozen=True, eq=False)
class OperationTable:
    """What was done in each of n traces, and the figures that only this kind of operation has."""

    operation: NDArray[np.int8]  #: Shape (n,). Index into `OPERATIONS`; -1 where it cannot be told.
    pulses: Pulses  #: Envelopes of the traces tightened by blows.
    loosenings: LooseningTable
    stages: StageTable  #: Of the traces tightened by steady rotation.
    course: PulseCourse  #: How the angle went on from pulse to pulse.
    back_offs: tuple[BackOff, ...] = ()  #: Within one trace, and over several of one fastener.

    def back_off_of(self, row: int) -> BackOff | None:
        """The back-off that a trace is part of, where there is one."""
        return next((one for one in self.back_offs if row in one.rows), None)

    @property
    def pulsed(self) -> NDArray[np.bool_]:
        """Where the torque came in pulses."""
        return np.asarray(self.operation == IMPULSE)

    @property
    def audited(self) -> NDArray[np.bool_]:
        """Where a hand wrench turned a joint that was tightened before."""
        return np.asarray(self.operation == AUDIT)

    @property
    def tightened(self) -> NDArray[np.bool_]:
        """Where the fastener was tightened, by steady rotation or by blows."""
        return np.asarray(np.isin(self.operation, (TIGHTENING, IMPULSE)))

    @property
    def unscrewed(self) -> NDArray[np.bool_]:
        """Where the fastener was turned back, for good or to be turned on again."""
        return np.asarray(np.isin(self.operation, (LOOSENED, BACKED_OFF)))

    @property
    def turned_back(self) -> NDArray[np.bool_]:
        """Where a fastener was turned back and the drive held."""
        return np.asarray(self.loosenings.is_loosening & ~self.loosenings.slipped)

    @property
    def sparse(self) -> NDArray[np.bool_]:
        """Where the pulses are sampled too sparsely to know their height."""
        mask = np.zeros(len(self.operation), np.bool_)
        mask[self.pulses.rows] = self.pulses.high_samples < FEWEST_HIGH_SAMPLES
        return mask

    @property
    def unsteady(self) -> NDArray[np.bool_]:
        """Where the curve is none of a tightening by steady rotation, and is not compared with such
        curves."""
        return is_unsteady(self.operation, self.loosenings.is_loosening)

    @property
    def turned_on(self) -> NDArray[np.bool_]:
        """Recordings that only tighten a fastener again that was backed off: begun tight, and known to be."""
        again = np.zeros(len(self.operation), np.bool_)
        again[[row for one in self.back_offs for row in one.rows if row != one.tightening_row]] = True
        return np.asarray(again & (self.operation == TIGHTENING))

    @property
    def apart(self) -> NDArray[np.bool_]:
        """What is not compared with tightenings from loose by steady rotation."""
        return np.asarray(self.unsteady | self.turned_on)


def is_unsteady(operation: NDArray[np.int8], is_loosening: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Where steady rotation is not what was done, by the codes of `OPERATIONS`."""
    return np.asarray(np.isin(operation, (IMPULSE, AUDIT)) | is_loosening)


def classify_operations(
    traces: TraceSet, curves: CurveTable, find: Callable[[TraceSet, NDArray[np.int64]], CurveTable]
) -> tuple[CurveTable, OperationTable]:
    """Tell what was done in each trace, and give those that are no steady tightening the points, or reasons,
    they can have.

    Parameters
    ----------
    curves : CurveTable
        As if all traces were tightened by steady rotation.
    find : callable
        From envelopes, and the rows of the traces that they belong to, to points by the settings of the
        analysis.

    Returns
    -------
    CurveTable
        Pulsed traces by the envelope of their pulses; loosened and audited ones without points, with that reason.
    OperationTable
    """
    loosenings = find_loosenings(traces, curves)
    curves = _with_reasons(curves, loosenings)
    back_offs = find_back_offs(traces, curves, loosenings)
    audits = find_audits(traces, curves) & ~loosenings.is_loosening
    # A fastener that is turned on after it was turned back is no audit, unless it is said to be one.
    runs = [row for one in back_offs for row in one.rows[1:] or one.rows]
    back = loosenings.is_loosening & ~loosenings.slipped
    runs += [again for _, _, again in turned_again(traces, back) if again >= 0]
    audits[runs] &= np.array([word == AUDIT_WORD for word in stated_operations(traces)], np.bool_)[runs]
    curves = _without_points(curves, audits, AUDITED)
    told = ~np.isin(curves.slope_reason, (NOT_FINITE, TOO_FEW_SAMPLES, NO_FORWARD_ROTATION, OPPOSITE_SIGN))
    steady = told & ~loosenings.is_loosening
    back_offs = tuple(one for one in back_offs if not audits[list(one.rows)].any())
    # Pulses make a poor curve: what steady rotation says of them is no reason to pass them over.
    rotated = (curves.slope_reason != NOT_FINITE) & ~loosenings.is_loosening & ~audits
    stops = stops_in_rise(traces, curves, rotated)
    pulses = find_pulses(traces, curves.final_index, stops)
    operation = np.where(steady, TIGHTENING, UNTOLD).astype(np.int8)
    operation[loosenings.is_loosening] = LOOSENED
    operation[pulses.rows] = IMPULSE
    operation[audits] = AUDIT
    operation[[row for one in back_offs for row in one.back_rows]] = BACKED_OFF
    curves = with_pulsed_points(curves, pulses, find)
    tightened = (operation == TIGHTENING) | (operation == BACKED_OFF) & ~loosenings.is_loosening
    stages = find_stages(traces, curves, tightened, stops)
    course = follow_pulses(traces, curves, pulses)
    return curves, OperationTable(operation, pulses, loosenings, stages, course, back_offs)


def _with_reasons(curves: CurveTable, loosenings: LooseningTable) -> CurveTable:
    """Loosening by an angle that runs backward, and what only looks like loosening, told in the reasons."""
    opposite = (curves.slope_reason == LOOSENING) & ~loosenings.is_loosening
    curves = _without_points(curves, opposite, OPPOSITE_SIGN)
    return _without_points(curves, loosenings.is_loosening, LOOSENING)


def _without_points(curves: CurveTable, rows: NDArray[np.bool_], reason: int) -> CurveTable:
    """The table with no point in these rows, and why: the highest torque of a loosening is no final torque."""
    if not rows.any():
        return curves
    changed = {}
    for name in REASON_COLUMNS:
        changed[name] = getattr(curves, name).copy()
        changed[name][rows] = reason
    for name in CurveTable.__dataclass_fields__:
        column = getattr(curves, name)
        if column.dtype.kind == "f":
            changed[name] = column.copy()
            changed[name][rows] = np.nan
    for name in ("snug_index", "yield_index", "drawdown_index"):
        changed[name] = getattr(curves, name).copy()
        changed[name][rows] = -1
    yielded, bounds = curves.yielded.copy(), curves.zone_bounds.copy()
    yielded[rows] = -1
    bounds[rows, 1:6] = np.maximum(curves.final_index[rows] + 1, 0)[:, None]
    return replace(curves, **changed, yielded=yielded, zone_bounds=bounds)
