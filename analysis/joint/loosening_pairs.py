"""Tightening and loosening of the same bolt among the recordings, and the clamp force that their difference
gives."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from analysis.curve.curve_table import CurveTable
from analysis.curve.reasons import PULSED_TORQUE, REASONS
from analysis.joint.clamp_routes import BY_PULSES
from analysis.joint.clamp_table import ClampTable
from analysis.joint.definition import JointDefinition
from analysis.joint.pair_force import PairEstimate, estimate_force_from_pair
from analysis.joint.thread import parse_thread
from analysis.operation.back_off_ratio import BackOff
from analysis.operation.loosening_runs import BREAKAWAY_REASONS, LooseningTable
from analysis.operation.same_fastener import turned_again
from analysis.traces import Trace, TraceSet

#: The free running of a loosened bolt is read over the last half turn, where the recording goes on for a
#: whole turn beyond the break-away: common practice, no source.
FREE_OVER_DEG, FREE_AFTER_DEG = 180.0, 360.0
NO_FREE_RUNNING = "prevailing torque of the loosening not recorded, that of the tightening taken off"
BREAKAWAY_ONLY = "lower bound: the breakaway stands for the torque of the running bolt"


@dataclass(frozen=True)
class LooseningPair:
    """One bolt that was tightened and then loosened."""

    tightening_row: int
    loosening_row: int
    joint: str
    estimate: PairEstimate  #: From T_on - T_off = F P/pi.
    #: (low, high): what the final torque alone gives over the friction range.
    from_torque_kn: tuple[float, float] | None
    #: Whether the two have a clamp force in common, two standard uncertainties to each side; None where
    #: either is missing.
    agrees: bool | None
    #: What to know ("prevailing torque of the loosening not recorded ..."); empty where nothing.
    note: str = ""
    #: Torque that the loosened bolt still needed; NaN where the recording does not show it.
    free_running_nm: float = math.nan


def find_pairs(traces: TraceSet, loosenings: LooseningTable) -> list[tuple[int, int]]:
    """Rows of tightening and loosening of the same bolt: the last tightening before each loosening."""
    return [(on, off) for on, off, _ in turned_again(traces, loosenings.is_loosening)]


def free_running_nm(trace: Trace) -> float:
    """Torque that a loosened bolt needs to run free, N·m; NaN where the recording ends too early to tell.

    Median size of the torque over the last half turn, where at least a whole turn lies beyond the break-away.
    """
    angle, torque = trace.angle_deg, np.abs(trace.torque_nm)
    if not len(angle) or not np.isfinite(torque).any():
        return math.nan
    turned = np.abs(angle - angle[int(np.nanargmax(torque))])
    if turned[-1] < FREE_AFTER_DEG:
        return math.nan
    return float(np.nanmedian(torque[turned >= turned[-1] - FREE_OVER_DEG]))


def estimate_pair(
    traces: TraceSet,
    curves: CurveTable,
    loosenings: LooseningTable,
    clamp: ClampTable,
    *,
    tightening_row: int,
    loosening_row: int,
    joints: Mapping[str, JointDefinition],
    joint: str,
    back_off: BackOff | None = None,
) -> LooseningPair:
    """Clamp force of one bolt from both its recordings, prevailing torque taken off each.

    The loosening torque is that of the running bolt, drawn back to its first movement, where the recording
    shows it; else the breakaway, and the force is a lower bound.

    Parameters
    ----------
    back_off : BackOff, optional
        What was read of both recordings together.
    joint : str
        Key in `joints`; its thread gives the pitch.
    """
    definition = joints.get(joint)
    on = float(curves.final_torque_nm[tightening_row])
    off = float(loosenings.breakaway_torque_nm[loosening_row])
    reason = _why_not(loosenings, clamp, tightening_row, loosening_row, definition)
    if definition is None or definition.thread is None or reason:
        absent = PairEstimate(None, None, on, off, f"not evaluated: {reason}")
        return LooseningPair(tightening_row, loosening_row, joint, absent, None, None)
    prevailing_on = _or_zero(curves.prevailing_torque_nm[tightening_row])
    free = free_running_nm(traces[loosening_row])
    running = back_off is not None and math.isfinite(back_off.running_nm)
    if back_off is not None and running:
        off = back_off.running_nm
    estimate = estimate_force_from_pair(
        parse_thread(definition.thread),
        on,
        off,
        prevailing_on_nm=prevailing_on,
        prevailing_off_nm=free if math.isfinite(free) else prevailing_on,
        running=running,
    )
    low, high = (
        float(column[tightening_row]) for column in (clamp.torque_force_low_kn, clamp.torque_force_high_kn)
    )
    known = (low, high) if math.isfinite(low) and math.isfinite(high) else None
    notes = ["" if running else BREAKAWAY_ONLY, "" if math.isfinite(free) else NO_FREE_RUNNING]
    note = "; ".join(text for text in notes if text)
    return LooseningPair(
        tightening_row, loosening_row, joint, estimate, known, _agrees(estimate, known), note, free
    )


def _why_not(
    loosenings: LooseningTable,
    clamp: ClampTable,
    tightening_row: int,
    loosening_row: int,
    definition: JointDefinition | None,
) -> str:
    """Why two recordings give no clamp force; empty where they do."""
    if definition is None:
        return "the joint is not defined"
    if definition.thread is None:
        return "no thread given"
    pulsed = BY_PULSES in clamp.note[tightening_row]
    if pulsed or REASONS[PULSED_TORQUE] in clamp.reason[tightening_row]:
        return REASONS[PULSED_TORQUE]
    return BREAKAWAY_REASONS[int(loosenings.breakaway_reason[loosening_row])]


def _agrees(estimate: PairEstimate, bounds: tuple[float, float] | None) -> bool | None:
    if estimate.force_kn is None or estimate.uncertainty_kn is None or bounds is None:
        return None
    uncertainty = 2.0 * estimate.uncertainty_kn
    return estimate.force_kn + uncertainty >= bounds[0] and estimate.force_kn - uncertainty <= bounds[1]


def _or_zero(value: float) -> float:
    return float(value) if math.isfinite(value) else 0.0
